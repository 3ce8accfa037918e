"""Readings of an assembled board: the file, conditions, hidden truth, doubts, sittings together."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from board_truth import predicted_errors, true_terms
from clampwright.bench.board_readings import conditions, read_board, write_board
from clampwright.bench.board_solve import Sitting, solve_board
from clampwright.bench.board_terms import TERMS, BoardReading, Doubt, Shape
from clampwright.bench.board_trend import NET, seconds, trends
from clampwright.bench.pretend import Truth, demo_truth
from clampwright.bench.pretend_board import HiddenBoard, demo_boards, pretend_board
from clampwright.bench.separation import separate
from clampwright.errors import InputError
from clampwright.uncertain import coverage_factor

HEADER = "signal (V),upper rail (V),lower rail (V),resistance (MΩ),temperature (°C),light (lx),error (µV)"
ROWS = ("0,2.5,-2.5,0.94,23,0,92", "0,2.5,-2.5,0.94,23,0,94", "0.2,2.5,-2.5,100.94,23,0,180")
MARCH = "board-7-march"
ALL = tuple(TERMS)
STATED = 2.5  # [V]


@pytest.fixture(scope="module")
def truth() -> Truth:
    """What the board of the orchard hides."""
    return demo_truth("orchard")


@pytest.fixture(scope="module")
def board(truth: Truth) -> HiddenBoard:
    """Board 7."""
    return HiddenBoard.model_validate(truth.boards[0])


# The file


def test_spellings_of_the_same_file() -> None:
    plain = read_board("\n".join((HEADER, *ROWS)))
    european = "\n".join((HEADER, *ROWS)).replace(",", ";").replace(".", ",")
    for text in (european, "\ufeff" + "\r\n".join((HEADER, *ROWS)), write_board(plain)):
        again = read_board(text)
        for field, column in plain.numbers.items():
            np.testing.assert_allclose(again.numbers[field], column, rtol=1e-12)
    assert plain.numbers["resistance"].tolist() == pytest.approx(
        [0.94e6, 0.94e6, 100.94e6], rel=1e-12, abs=0
    )
    assert plain.numbers["error"][0] == pytest.approx(92e-6, rel=1e-12, abs=0)
    assert (plain.board, plain.resistor, plain.tolerance, plain.time) == ("", "", None, "")


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (("0,2.5,-2.5,1,23,0,x",), 'line 2, column "error"'),
        (
            ("0,2.5,-2.5,1,23,0,1", "3,2.5,-2.5,1,23,0,1"),
            r'line 3, column "signal": .*between the r',
        ),
        (("0,2.5,-2.5,,23,0,1",), "the resistance is missing"),
        (("0,2.5,-2.5,-1,23,0,1",), 'line 2, column "resistance"'),
        (("0,2.5,-2.5,1,23,0",), "6 cells where the header has 7"),
        ((), "no readings"),
    ],
)
def test_a_wrong_cell_is_named(rows: tuple[str, ...], told: str) -> None:
    with pytest.raises(InputError, match=told):
        read_board("\n".join((HEADER, *rows)) + "\n")


def test_two_boards_in_one_file_are_refused() -> None:
    rows = [f"{name},{row}" for name, row in zip(("a", "b"), ROWS, strict=False)]
    with pytest.raises(InputError, match='line 3, column "board": another board'):
        read_board("\n".join((f"board,{HEADER}", *rows)))


def test_conditions_by_hand() -> None:
    """Two readings 2 µV apart: mean 93 µV, scatter √2 µV, so ±1 µV; typed 3 µV add in quadrature."""
    few = read_board("\n".join((HEADER, *ROWS[:2])))
    (one,) = conditions(few).readings
    assert one.error == pytest.approx(93e-6, rel=1e-9, abs=0)
    assert one.standard_uncertainty == pytest.approx(1e-6, rel=1e-9, abs=0)
    assert conditions(few).degrees_of_freedom == 1
    with pytest.raises(InputError, match=r"100\.94 MΩ: the scatter is not known"):
        conditions(read_board("\n".join((HEADER, *ROWS))))
    typed = [f"{row},3" for row in ROWS]
    found = conditions(read_board("\n".join((f"{HEADER},uncertainty (µV)", *typed))))
    assert [r.standard_uncertainty for r in found.readings] == pytest.approx(
        [sqrt(10) * 1e-6, 3e-6], rel=1e-9, abs=0
    )
    assert found.counts == (2, 1)


# Hidden truth


def held(found: object, expected: dict[str, float]) -> dict[str, bool]:
    return {
        term.name: abs(term.value - expected[term.name]) <= term.expanded  # type: ignore[attr-defined]
        for term in found.found  # type: ignore[attr-defined]
    }


@pytest.mark.parametrize("name", sorted(demo_boards("orchard")))
def test_the_board_of_the_demonstration_gives_back_its_truth(
    truth: Truth, board: HiddenBoard, name: str
) -> None:
    """With the usual shapes only, which are not those of the part."""
    readings = read_board(demo_boards("orchard")[name])
    taken = conditions(readings)
    assert (len(readings), len(taken.readings), readings.board) == (190, 38, "board 7")
    (day,) = [s for s in board.sittings if s.name == name]
    found = separate(
        taken.readings,
        ALL,
        Shape(stated_voltage=STATED),
        doubt=Doubt(),
        scale_uncertainty=0.02 / sqrt(3),
        coverage_factor=coverage_factor(taken.degrees_of_freedom),
    )
    assert found.mixed == () and found.chance > 0.001
    assert all(held(found, true_terms(truth, board, day, STATED)).values()), found.found


def drawn(random: np.random.Generator, board: HiddenBoard) -> tuple[HiddenBoard, dict[str, float]]:
    """A board whose resistor, bias law and film differ within what is usual."""
    error = float(random.uniform(-0.02, 0.02))
    doubling = 300.0 * np.log(2) / (0.53 + 0.06 * random.normal()) * 8.617e-5 * 300.0
    changes = {"resistor_error": error, "bias_doubling": float(doubling)}
    changes["film_energy"] = float(np.clip(0.3 + 0.15 * random.normal(), 0.01, 1.0))
    return board.model_copy(update=changes), changes


def coverage(boards: int, truth: Truth, board: HiddenBoard, doubt: Doubt) -> dict[str, float]:
    """Share of boards, each with laws and resistor of its own, whose interval holds each truth."""
    random = np.random.default_rng(7)
    counts = dict.fromkeys(("offset", *ALL), 0)
    for k in range(boards):
        some, _ = drawn(random, board)
        part = truth.parts[0].model_copy(
            update={
                "activation_energy": 0.64 + 0.05 * random.normal(),
                "reverse_exponent": float(np.clip(0.5 + 0.1 * random.normal(), 0.0, 1.0)),
            }
        )
        hidden = truth.model_copy(update={"parts": (part, *truth.parts[1:])})
        day = some.sittings[2]
        taken = conditions(pretend_board(hidden, some, day, 1000 + k))
        found = separate(
            taken.readings,
            ALL,
            Shape(stated_voltage=STATED),
            doubt=doubt,
            scale_uncertainty=0.02 / sqrt(3),
            coverage_factor=coverage_factor(taken.degrees_of_freedom),
        )
        for name, inside in held(found, true_terms(hidden, some, day, STATED)).items():
            counts[name] += inside
    return {name: count / boards for name, count in counts.items()}


def test_intervals_hold_the_truth(truth: Truth, board: HiddenBoard) -> None:
    """60 boards: at most a handful outside (95 % ± 3 standard deviations of so few is 87 %)."""
    found = coverage(60, truth, board, Doubt())
    assert min(found.values()) >= 0.86, found


@pytest.mark.long
def test_intervals_hold_the_truth_in_two_thousand_boards(truth: Truth, board: HiddenBoard) -> None:
    """What docs/measuring.md says: 94 to 98 %."""
    found = coverage(2000, truth, board, Doubt())
    print("share of truths in 95 % intervals:", found)
    assert min(found.values()) >= 0.93, found


# Doubts


def plan(uncertainty: float = 2e-6) -> list[BoardReading]:
    return [
        BoardReading(0.0, uncertainty, ohms, signal, upper, lower, kelvin)
        for ohms in (1e6, 1e8)
        for signal in (-0.2, 0.0, 0.2)
        for upper, lower in ((2.5, -2.5), (1.5, -2.5), (2.5, -1.5))
        for kelvin in (296.15, 318.15)
    ]


PLANTED = {"offset": 90e-6, "upper clamp": 3e-12, "lower clamp": 2e-12, "amplifier bias": -1e-13}
TERMS_PLANTED = tuple(PLANTED)[1:]


def without_noise(some: list[BoardReading], terms: dict[str, float]) -> tuple[BoardReading, ...]:
    errors = predicted_errors(some, terms)
    return tuple(replace(r, error=float(e)) for r, e in zip(some, errors, strict=True))


def test_the_scale_of_the_resistor_is_a_floor_by_hand() -> None:
    """1 % of the resistor is 1 % of a clamp, whatever the readings; the offset does not care."""
    readings = without_noise(plan(1e-7), PLANTED)
    found = separate(readings, TERMS_PLANTED, scale_uncertainty=0.01)
    for name in ("upper clamp", "lower clamp"):
        term = found.value(name)
        assert term.value == pytest.approx(PLANTED[name], rel=1e-6, abs=0)
        assert term.standard_uncertainty == pytest.approx(0.01 * term.value, rel=0.02, abs=0)
    assert found.value("offset").standard_uncertainty < 1e-7


def test_the_scale_drops_out_of_a_difference() -> None:
    """Two sittings with one resistor: 1 % of 0.3 pA is left, not 1 % of 3 pA; two resistors: √2 of it."""
    later = PLANTED | {"upper clamp": 3.3e-12}
    days = [without_noise(plan(1e-7), terms) for terms in (PLANTED, later)]
    same = [Sitting(d, "R1", 0.01) for d in days]
    other = [Sitting(days[0], "R1", 0.01), Sitting(days[1], "R2", 0.01)]
    for sittings, expected in ((same, 0.01 * 0.3e-12), (other, 0.01 * sqrt(3**2 + 3.3**2) * 1e-12)):
        some, _ = trends(
            sittings, (0.0, 1e7), TERMS_PLANTED, Shape(), None, at=days[0][0], coverage_factor=1.0
        )
        upper = next(t for t in some if t.name == "upper clamp")
        assert upper.change == pytest.approx(0.3e-12, rel=1e-6, abs=0)
        assert upper.change_uncertainty == pytest.approx(expected, rel=0.1, abs=0)
        assert upper.uncertainties[0] == pytest.approx(0.03e-12, rel=0.05, abs=0)


def test_doubt_widens_and_readings_sharpen_the_shape() -> None:
    truth = Shape(clamp_energy=0.70)
    errors = predicted_errors(plan(), PLANTED, truth)
    readings = tuple(replace(r, error=float(e)) for r, e in zip(plan(), errors, strict=True))
    sure = separate(readings, TERMS_PLANTED)
    doubtful = separate(readings, TERMS_PLANTED, doubt=Doubt())
    assert sure.chance < 1e-3 < 0.2 < doubtful.chance
    assert doubtful.shape.clamp_energy == pytest.approx(0.70, abs=0.02)
    for name in TERMS_PLANTED:
        term = doubtful.value(name)
        assert abs(term.value - PLANTED[name]) < 2 * term.standard_uncertainty


def test_what_is_told_together_is_told_as_a_sum() -> None:
    """One signal and fixed rails: no term by itself, but all that flows is known."""
    some = [r for r in plan() if r.signal == 0 and (r.upper_rail, r.lower_rail) == (2.5, -2.5)]
    readings = without_noise([r for r in some if r.temperature < 300], PLANTED)
    found = separate(readings, TERMS_PLANTED)
    assert all(found.value(name).value is None for name in TERMS_PLANTED) and found.mixed
    expected = float(predicted_errors([readings[-1]], PLANTED)[0] - 90e-6) / 1e8
    net = found.net_current(readings[-1])
    assert net.value == pytest.approx(expected, rel=1e-6, abs=0)
    assert net.standard_uncertainty == pytest.approx(sqrt(2) * 2e-6 / (1e8 - 1e6), rel=0.02, abs=0)


def test_a_line_through_three_sittings_by_hand() -> None:
    """Steps of 0.1 pA in 30 days each: slope by the month, and nothing left over."""
    days = [PLANTED | {"upper clamp": (3 + 0.1 * k) * 1e-12} for k in range(3)]
    sittings = [Sitting(without_noise(plan(), d)) for d in days]
    times = [k * 30 * 86400.0 for k in range(3)]
    some, solved = trends(sittings, times, TERMS_PLANTED, Shape(), None, at=plan()[0])
    upper = next(t for t in some if t.name == "upper clamp")
    assert upper.slope == pytest.approx(0.1e-12 * (365.25 / 12) / 30, rel=1e-6, abs=0)
    assert upper.changed and "CHANGED" in upper.words()
    lower = next(t for t in some if t.name == "lower clamp")
    assert not lower.changed and "no change beyond" in lower.words()
    assert solved.chi_square < 1e-9
    assert some[0].name == NET


def test_false_alarms_are_one_in_twenty() -> None:
    """400 pairs of sittings of a board that stays as it is: 2.5 to 8 % of changes are said wrongly."""
    random, wrong = np.random.default_rng(3), 0
    for _ in range(400):
        days = []
        for _ in range(2):
            errors = predicted_errors(plan(), PLANTED) + random.normal(0, 2e-6, len(plan()))
            made = [replace(r, error=float(e)) for r, e in zip(plan(), errors, strict=True)]
            days.append(Sitting(tuple(made), "R", 0.01))
        some, _ = trends(days, (0.0, 1e7), TERMS_PLANTED, Shape(), Doubt(), at=plan()[0])
        wrong += next(t for t in some if t.name == "upper clamp").changed
    assert 0.015 <= wrong / 400 <= 0.08, wrong


def test_times_are_utc_unless_they_say_otherwise() -> None:
    assert seconds("2026-03-10") == seconds("2026-03-10T00:00:00Z")
    assert seconds("2026-03-10T02:00:00+02:00") == seconds("2026-03-10")


def test_the_solver_says_how_much_it_knows() -> None:
    solved = solve_board([Sitting(without_noise(plan(), PLANTED))], TERMS_PLANTED, Shape(), None)
    assert solved.degrees_of_freedom == len(plan()) - 4 and len(solved.blind) == 0
