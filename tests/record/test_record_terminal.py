"""Terminal text: the four verdict words with their shapes, 100 columns, honest numbers."""

from __future__ import annotations

import re

import pytest
from sample_results import AMBER_GATE, NO_GATE, sample_check
from sample_stresses import (
    sample_both_signs,
    sample_faults,
    sample_impulse,
    sample_leakages,
    sample_rank,
    sample_window,
)

from clampwright.record.plain_text import aligned
from clampwright.record.terminal import (
    check_text,
    faults_text,
    gate_text,
    leakages_text,
    rank_text,
)
from clampwright.record.words import corner_words, times
from clampwright.verdict.results import Gate, Verdict

MARKS = {
    Verdict.PASS: "● PASS",
    Verdict.FAIL: "⊗ FAIL",
    Verdict.UNDECIDED: "◐ UNDECIDED",
    Verdict.NOT_MEASURED: "○ NOT MEASURED",
}
RED_GATE = Gate(
    level="red",
    reasons=("a patient is connected",),
    cautions=(),
    acknowledged="",
    held=True,
)


def every_text() -> list[str]:
    return [
        check_text(sample_check(t, v, gate))
        for t in ("T1", "T2", "T5", "T6")
        for v in Verdict
        for gate in (NO_GATE, AMBER_GATE, RED_GATE)
    ] + [
        faults_text(sample_faults(gate=AMBER_GATE)),
        rank_text(sample_rank()),
        rank_text(sample_rank(opened=False)),
        leakages_text(sample_leakages()),
        leakages_text(sample_leakages(), components=True),
    ]


def test_every_line_fits_in_100_columns_and_is_plain() -> None:
    for text in every_text():
        assert max(len(line) for line in text.splitlines()) <= 100
        assert "\x1b" not in text
        assert all(line == line.rstrip() for line in text.splitlines())


def test_long_words_are_folded_at_100_columns() -> None:
    long = "x" * 250
    check = sample_check()
    judgement = check.judgements[0]
    term = judgement.terms[0].model_copy(update={"name": long, "source": "word " * 60})
    judged = judgement.model_copy(update={"name": long, "terms": (term,), "reason": long})
    changed = check.model_copy(
        update={"judgements": (judged,), "defaults": (long,), "reason": "word " * 80}
    )
    text = check_text(changed)
    assert max(len(line) for line in text.splitlines()) <= 100
    assert text.count("x") >= 4 * 250


@pytest.mark.parametrize("verdict", list(Verdict))
def test_every_verdict_leads_with_shape_and_word_alike(verdict: Verdict) -> None:
    text = check_text(sample_check("T5", verdict))
    assert text.splitlines()[0] == MARKS[verdict]
    assert rank_text(sample_rank(verdict)).splitlines()[0] == MARKS[verdict]
    coloured = check_text(sample_check("T5", verdict), colour=True)
    assert re.match(rf"\x1b\[1;3\dm{MARKS[verdict]}\x1b\[0m\n", coloured)
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == text


def test_a_held_gate_hides_the_verdict_and_shows_a_triangle() -> None:
    text = check_text(sample_check("T5", Verdict.PASS, AMBER_GATE))
    assert text.startswith("▲ HELD by a safety gate; the numbers say PASS\n")
    assert "▲ AMBER GATE: the verdict is held" in text
    assert AMBER_GATE.reasons[0] in text


def test_behind_a_red_gate_no_line_carries_a_verdict() -> None:
    text = check_text(sample_check("T5", Verdict.PASS, RED_GATE))
    assert text.startswith("▲ NUMBERS SHOWN\n")
    assert "PASS" not in text
    assert gate_text(NO_GATE) == ""


def test_cautions_are_printed_without_a_gate_too() -> None:
    cautious = NO_GATE.model_copy(update={"cautions": ("Resistors can exceed 200 °C.",)})
    for text in (
        check_text(sample_check(gate=cautious)),
        faults_text(sample_faults(gate=cautious)),
        rank_text(sample_rank(gate=cautious)),
    ):
        assert "Resistors can exceed 200 °C." in text
        assert "GATE" not in text


def test_a_part_that_was_not_detected_is_an_upper_bound_never_zero() -> None:
    text = leakages_text(sample_leakages())
    assert "not detected, ≤ 1.90\u2009pA" in text
    assert "3.7 ± 1.5\u2009pA" in text
    assert "−2.4 ± 1.4\u2009pA" in text
    assert "negative beyond the decision limit" in text
    assert not re.search(r"(?<![\d.])0\u2009pA", text)
    assert "repeatability" not in text
    assert "repeatability" in leakages_text(sample_leakages(), components=True)


def test_the_lowest_margin_stands_first() -> None:
    text = faults_text(sample_faults())
    order = [text.index(name) for name in ("static discharge,", "battery lead,", "valve wire,")]
    assert order == sorted(order)
    assert text.index("not stated") < text.index("0.50×")


def test_signs_that_agree_are_printed_once_and_others_apart() -> None:
    cases = sample_both_signs("battery lead", 15.0)
    faults = sample_faults().model_copy(update={"cases": cases})
    text = faults_text(faults)
    assert text.count("15 V direct") == 1
    assert "±15 V direct" in text
    assert "either rail" in text and "positive rail" not in text
    assert "clamp node ±3.05\u2009V" in text
    line = cases[1].stresses[0].model_copy(update={"stress": 25e-6})
    apart = cases[1].model_copy(update={"stresses": (line, *cases[1].stresses[1:])})
    text = faults_text(faults.model_copy(update={"cases": (cases[0], apart)}))
    assert "+15 V direct" in text and "−15 V direct" in text


def test_states_that_agree_in_every_figure_are_printed_once() -> None:
    cases = sample_both_signs("battery lead", 15.0)
    asleep = [
        c.model_copy(update={"name": "asleep", "words": c.words.replace("powered on", "asleep")})
        for c in cases
    ]
    text = faults_text(sample_faults().model_copy(update={"cases": (*cases, *asleep)}))
    assert text.count("15 V direct") == 1
    assert "powered on or asleep" in text


def test_three_lowest_margins_stand_unless_everything_is_asked_for() -> None:
    faults = sample_faults().model_copy(update={"cases": sample_both_signs("battery lead", 15.0)})
    short, full = faults_text(faults), faults_text(faults, everything=True)
    assert "forward current" not in short
    assert "… and 1 more" in short
    assert "forward current" in full
    assert "more with larger" not in full


def test_an_impulse_that_was_not_solved_says_so() -> None:
    text = faults_text(sample_faults().model_copy(update={"cases": (sample_impulse(),)}))
    assert "not solved" in text
    assert "not a number" not in text


def test_a_tiny_margin_is_bounded_and_never_zero() -> None:
    assert times(0.0013) == "<0.01×"
    assert times(0.0051) == "<0.01×"  # 0.0051 < 0.01: a margin is cut, never rounded up
    assert times(0.99996) == "0.99×"
    assert times(3.979) == "3.97×"
    assert times(None) == "–"


def test_rejected_wirings_stand_behind_their_reason() -> None:
    rank = sample_rank()
    sample = rank.candidates[-1]
    many = tuple(sample.model_copy(update={"wiring": f"{n}/E"}) for n in range(43))
    text = rank_text(rank.model_copy(update={"candidates": many}))
    assert text.count(sample.reason) == 1
    assert "and 37 more" in text.replace("\n    ", " ")


def test_a_corner_and_a_topology_are_said_once() -> None:
    check = sample_check("T6")
    judged = check.judgements[0]
    where = corner_words(judged.corner)
    reasoned = judged.model_copy(update={"reason": f"stays below at {where}; no more."})
    changed = check.model_copy(
        update={"judgements": (reasoned,), "topology_title": "T6 resistor, clamp, resistor"}
    )
    text = " ".join(check_text(changed).split())
    assert text.count(" ".join(where.split())) == 1
    assert text.count("T6") == 1


def test_long_names_leave_the_values_in_their_column() -> None:
    check = sample_check()
    assert check.clamp is not None
    law = {"reverse leakage at 5 V, 23 °C, dark": "3.79 pA", "responsivity": "4 fA/lx"}
    changed = check.model_copy(update={"clamp": check.clamp.model_copy(update={"law": law})})
    lines = check_text(changed).splitlines()
    first, second = (next(x for x in lines if value in x) for value in law.values())
    assert first.index("3.79") == second.index("4 fA")


def test_the_window_comes_before_the_shortlist_and_says_when_it_is_shut() -> None:
    text = rank_text(sample_rank())
    assert text.index("Series resistor: open") < text.index("Shortlist")
    assert "no wall" in text
    assert "NO OPEN WINDOW" in rank_text(sample_rank(opened=False))
    assert sample_window(opened=False).reason in sample_window(opened=False).model_dump_json()


def test_a_verdict_of_the_shortlist_is_never_broken_over_lines() -> None:
    rank = sample_rank()
    long = rank.candidates[4].model_copy(update={"wiring": "IO1+IO2+IO3+IO4/V-+V+", "error": -9e-4})
    text = rank_text(rank.model_copy(update={"candidates": (long, *rank.candidates[1:])}))
    assert "1 ○ NOT MEASURED" in text


def test_the_limit_shortens_the_list_and_says_so() -> None:
    text = rank_text(sample_rank(), limit=2)
    assert "… and 4 more" in text
    assert "glass-diode" not in text


def test_decimal_points_stand_in_one_column() -> None:
    cells = aligned(["3.7 pA", "21.95 pA", "−120 pA", "≤ 1.9 pA", "–", "3\u2009937×"])
    points = {cell.index(".") for cell in cells if "." in cell}
    assert len(points) == 1
    assert cells[2].index(" pA") == points.pop()
    assert cells[4] == "–"
    assert cells[5].index("×") == cells[2].index(" pA")


def test_control_characters_in_names_never_reach_the_terminal() -> None:
    item = sample_leakages()[0]
    hostile = type(item)(**(item.__dict__ | {"part": "npn\x1b[2J\x07\u202e"}))
    assert "npn[2J" in leakages_text([hostile])
    assert not set("\x1b\x07\u202e") & set(leakages_text([hostile]))
