"""Next measurement: laws of the probability, and what the invented demonstrations should be told.

Closed form for one log-normal term (Raiffa and Schlaifer 1961, preposterior analysis, from memory):
P(PASS) = Φ((ln L − ln v − w')/s), P(FAIL) = Φ((ln v − w' − ln L)/s), s = √(w² − w'²)/1.96.
"""

from __future__ import annotations

import re
from math import exp, log, sqrt
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from clampwright import actions
from clampwright.record.next_text import action_row, judged_words, next_text
from clampwright.verdict.judge import verdict_of
from clampwright.verdict.next_probability import (
    FAILED,
    OPEN,
    OUTCOMES,
    PASSED,
    chance_beyond,
    moved,
    outcomes,
    together,
    unmoved,
    verdicts,
)
from clampwright.verdict.results import Term, Verdict

Z = outcomes()
ONE = 1.0 / OUTCOMES
CODES = {Verdict.PASS: PASSED, Verdict.FAIL: FAILED}
widths = st.floats(0.05, 3.0)
shares = st.floats(0.0, 1.0)


TERMS = st.lists(
    st.tuples(
        st.floats(-2, 2),
        st.floats(0, 2),
        st.floats(0, 2),
        st.sampled_from(["measured", "typical", "maximum", "assumed"]),
        st.sampled_from(["clamp", "light", "bias", "leak"]),
    ),
    min_size=1,
    max_size=4,
)


def normal_term(group: str, value: float, half: float) -> Term:
    return Term(
        name=group, value=value, low=value - half, high=value + half, basis="measured",
        group=group, source="",
    )  # fmt: skip


def log_term(value: float, width: float, basis: str = "measured", group: str = "clamp") -> Term:
    ends = sorted((value * exp(-width), value * exp(width)))
    return Term(
        name=group, value=value, low=ends[0], high=ends[1], basis=basis, group=group, source=""
    )


def decided(before: Term, after: Term, allowance: float, *others: Term) -> float:
    some = [moved(before, after, Z), *(unmoved(t) for t in others)]
    return float(np.mean(verdicts(some, allowance) != OPEN))


@given(st.floats(0.1, 10.0), widths, shares)
def test_closed_form_of_one_log_normal_term(value: float, width: float, share: float) -> None:
    rest = share * width
    spread = sqrt(width**2 - rest**2) / 1.959963984540054
    found = verdicts([moved(log_term(value, width), log_term(value, rest), Z)], 1.0)
    if spread > 1e-6:
        passed = norm.cdf((0.0 - log(value) - rest) / spread)
        failed = norm.cdf((log(value) - rest) / spread)
        assert np.mean(found == PASSED) == pytest.approx(passed, abs=2 * ONE)
        assert np.mean(found == FAILED) == pytest.approx(failed, abs=2 * ONE)


@given(st.floats(-1.0, 1.0), widths, shares, shares)
def test_a_sharper_reading_never_lowers_the_chance_of_a_decision(
    place: float, width: float, one: float, other: float
) -> None:
    value = exp(place * width)  # the interval straddles the allowance of 1
    before = log_term(value, width)
    if verdict_of((before,), 1.0) != Verdict.UNDECIDED:
        return
    sharp, blunt = sorted((one, other))
    chances = [decided(before, log_term(value, width * share), 1.0) for share in (sharp, blunt)]
    assert chances[0] >= chances[1] - 2 * ONE
    assert decided(before, log_term(value, 1e-9), 1.0) >= chances[0] - 2 * ONE


@given(st.floats(0.0, 3.0), widths, st.floats(0.0, 1.0), shares)
def test_perfect_knowledge_of_one_input_beats_any_reading_of_it(
    value: float, half: float, reach: float, share: float
) -> None:
    """Normal terms, one of them left alone; an interval that is open on one side only."""
    term = normal_term("clamp", value, half)
    rest = normal_term("bias", 0.0, reach)
    known, read = normal_term("clamp", value, 0.0), normal_term("clamp", value, share * half)
    if decided(term, term, 1.0, rest) == 0.0 and value - np.hypot(half, reach) > -1.0:
        assert decided(term, known, 1.0, rest) >= decided(term, read, 1.0, rest) - 0.03


@given(TERMS)
def test_the_array_rule_is_the_rule_of_the_verdict(
    rows: list[tuple[float, float, float, str, str]],
) -> None:
    terms = tuple(
        Term(name=str(i), value=v, low=v - d, high=v + u, basis=b, group=g, source="")
        for i, (v, d, u, b, g) in enumerate(rows)
    )
    found = verdicts([unmoved(t) for t in terms], 1.0)
    assert set(found.tolist()) == {CODES.get(verdict_of(terms, 1.0), OPEN)}


def test_several_judgements_pass_together_and_fail_alone() -> None:
    found = together([np.array([PASSED, PASSED, OPEN]), np.array([PASSED, FAILED, PASSED])])
    assert found.tolist() == [PASSED, FAILED, OPEN]


def test_chance_beyond_a_limit_is_the_normal_one() -> None:
    """Standard normal tables: P(|z| > 1.96) = 0.05; P(z > 0) = 0.5."""
    assert chance_beyond(0.0, -1.0, 1.0, 1.0) == pytest.approx(0.05, abs=1e-9)
    assert chance_beyond(1.0, 0.9, 1.1, 1.0) == pytest.approx(0.5, abs=1e-9)
    assert chance_beyond(0.0, 0.0, 0.0, 1.0) == 0.0


@pytest.fixture(scope="module")
def benches(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    root = tmp_path_factory.mktemp("next")
    for name in actions.DEMOS:
        actions.demo_workspace(root / name, name)
    return {name: root / name / "designs" for name in actions.DEMOS}


def asked(path: Path) -> actions.NextResult:
    return actions.next_readings(actions.open_case(path))


def test_the_jfet_on_the_rails_is_told_to_read_hot_and_by_the_lot(benches: dict[str, Path]) -> None:
    """0.81 mV of 0.93 mV, open: the lot of six carries nearly all the width."""
    found = asked(benches["orchard"] / "orchard-rails-jfet.toml")
    assert found.verdict == Verdict.UNDECIDED and not found.stop
    first, second = found.actions[:2]
    assert first.input == "the part itself" and "45.0" in first.action
    assert second.input == "lot"
    assert first.decided == pytest.approx(0.7, abs=0.15)
    assert found.contributions[0].share > 0.9


def test_the_array_on_the_press_is_told_to_read_the_match_in_one_package_at_55_degrees(
    benches: dict[str, Path],
) -> None:
    found = asked(benches["press"] / "press-load-array.toml")
    assert found.verdict == Verdict.UNDECIDED and not found.stop
    assert [a.input for a in found.actions[:2]] == ["the part itself", "match"]
    assert "match" in found.actions[0].action and "55.0" in found.actions[0].action
    assert "55.0" in found.actions[1].action


def test_the_dark_box_is_told_to_stop_and_why(benches: dict[str, Path]) -> None:
    found = asked(benches["darkbox"] / "dark-box.toml")
    assert found.stop and found.reason.startswith("stop measuring")
    assert "the clamp is not the limiting term" in found.reason
    assert all(a.gain == 0.0 for a in found.actions)


def test_a_current_that_is_asked_for_is_told_at_the_input(benches: dict[str, Path]) -> None:
    """1 GΩ of feedback: 1 mV at the output for each pA, so 500 µV are 500 fA."""
    found = asked(benches["darkbox"] / "dark-box.toml")
    assert found.volts_per_ampere == pytest.approx(1e9, rel=1e-12, abs=0)
    words = judged_words(found)
    assert "fA) at the input against ± 500\u2009fA; that is +" in words
    assert "µV against ± 500\u2009µV" in words
    for action in found.actions:
        assert re.fullmatch("[+−0-9.\u2009]+fA … [+−0-9.\u2009]+fA", action_row(action, 1e9)[-1])
    rows = next_text(found)
    assert rows.count("V …") == 0 and "fA …" in rows


def test_a_voltage_that_is_asked_for_is_told_as_one(benches: dict[str, Path]) -> None:
    found = asked(benches["press"] / "press-load.toml")
    assert found.volts_per_ampere is None
    assert "at the input" not in judged_words(found)
    assert action_row(found.actions[0])[-1].endswith("V")


def test_what_fails_is_named_where_no_reading_mends_it(benches: dict[str, Path]) -> None:
    """By the error; by the dynamics while the error keeps its allowance; and PASS says the other thing."""
    path = benches["press"] / "press-load.toml"
    case = actions.open_case(path)

    def told(name: str, text: str) -> str:
        found = actions.next_readings(actions.what_if(case, path, {name: text}))
        assert found.stop and found.verdict == Verdict.FAIL
        return found.reason

    error = told("requirement.accuracy", "1 nV")
    assert error.startswith("stop measuring: the error that is judged (protection")
    assert "exceeds its allowance even at the favourable end of its interval" in error
    rejection = told("requirement.common_mode_rejection", "140")
    assert rejection.startswith(
        "stop measuring: common-mode rejection at 50.0\u2009Hz may be as low"
    )
    assert rejection.endswith("below the required 140 dB; no reading changes that.")
    kept = asked(path)
    assert kept.verdict == Verdict.PASS
    assert "the error keeps its allowance even at the unfavourable end" in kept.reason


def test_the_order_follows_gain_a_minute_and_minutes_scale_it(benches: dict[str, Path]) -> None:
    found = asked(benches["press"] / "press-load-array.toml")
    rates = [a.per_minute for a in found.actions]
    assert rates == sorted(rates, reverse=True)
    for action in found.actions:
        assert action.per_minute * action.minutes == pytest.approx(action.gain, abs=1e-12)
        assert action.decided == pytest.approx(action.passed + action.failed, abs=1e-12)
    total = sum(c.share for c in found.contributions)
    assert total == pytest.approx(1.0, abs=1e-9)
