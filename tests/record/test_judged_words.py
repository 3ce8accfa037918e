"""What a verdict speaks of is said beside it: faults of a shortlist, both verdicts of a kept record."""

from __future__ import annotations

import pytest
from sample_results import sample_check
from sample_stresses import sample_faults, sample_rank

from clampwright.record.answers import both_verdicts, every_default
from clampwright.record.page import record_html
from clampwright.record.shortlist import faults_judged, filter_example, shown_candidates
from clampwright.record.terminal import rank_text
from clampwright.verdict.design import Fault
from clampwright.verdict.results import RankResult, Verdict


def ranked(*kinds: str) -> RankResult:
    """A shortlist of a design with one fault of each kind, F1 first."""
    rank = sample_rank(Verdict.PASS)
    faults = tuple(
        Fault(name=f"F{n}", kind=kind, voltage=15.0)  # type: ignore[arg-type]
        for n, kind in enumerate(kinds, 1)
    )
    return rank.model_copy(update={"design": rank.design.model_copy(update={"faults": faults})})


@pytest.mark.parametrize(("kinds", "words"), [
    ((), "PASS here is of the error alone: no fault is listed."),
    (("dc",), "PASS here is of the error and of fault F1."),
    (("dc", "dc", "esd", "surge"), "PASS here is of the error and of faults F1 and F2. "
     "Not judged, because an impulse: F3, F4."),
    (("esd",), "PASS here is of the error alone. Not judged, because an impulse: F1."),
])  # fmt: skip
def test_a_shortlist_says_which_faults_it_does_not_judge(
    kinds: tuple[str, ...], words: str
) -> None:
    rank = ranked(*kinds)
    assert faults_judged(rank) == words
    assert words in " ".join(rank_text(rank).split())
    page = record_html(sample_check("T5"), sample_faults("T5"), rank, made_on="today")
    assert page.count(words.removesuffix(".")) == 2, "beside the verdict and above the table"


@pytest.mark.parametrize(("error", "faults", "first"), [
    ("PASS", "NOT MEASURED", "faults"),
    ("FAIL", "NOT MEASURED", "error"),
    ("UNDECIDED", "PASS", "error"),
])  # fmt: skip
def test_a_kept_record_shows_both_verdicts_the_worse_first(
    error: str, faults: str, first: str
) -> None:
    shown = both_verdicts({"verdict": error, "fault stress: verdict": faults})
    assert dict(shown) == {"error": error, "faults": faults}
    assert shown[0][0] == first


def test_a_record_that_knows_one_verdict_shows_that_one() -> None:
    assert both_verdicts({"verdict": "PASS"}) == (("error", "PASS"),)


def test_the_defaults_of_every_page_are_those_of_error_and_faults_each_once() -> None:
    check, faults = sample_check("T5"), sample_faults("T5")
    found = every_default(check, faults)
    assert {*found} == {*check.defaults, *faults.defaults} and len(found) == len({*found})


def test_the_example_of_the_filter_is_of_this_very_shortlist() -> None:
    rank = sample_rank(Verdict.PASS)
    first = shown_candidates(rank)[0].first
    assert filter_example(rank).split(", ")[:2] == [first.part, first.topology]
    assert filter_example(rank.model_copy(update={"candidates": ()})) == ""
