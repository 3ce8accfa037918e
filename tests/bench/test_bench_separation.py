"""Separation on the board: planted terms come back, blind combinations are named, intervals hold."""

from dataclasses import replace
from math import exp

import numpy as np
import pytest

from board_truth import predicted_errors
from clampwright.bench.board_terms import BoardReading
from clampwright.bench.separation import separate
from clampwright.errors import InputError

K = 8.617333262e-5  # [eV/K] CODATA
TRUTH = {"offset": 120e-6, "upper clamp": 3e-12, "lower clamp": 1.5e-12, "amplifier bias": -0.4e-12}
TERMS = ("upper clamp", "lower clamp", "amplifier bias")


def conditions(rails=True, warm=True, resistors=True):
    some = []
    for resistance in (1e4, 1e9) if resistors else (1e9,):
        for signal in (-1.0, 0.0, 1.0):
            for upper, lower in (
                ((2.5, -2.5), (1.5, -2.5), (2.5, -1.5)) if rails else ((2.5, -2.5),)
            ):
                for t in (298.15, 318.15) if warm else (298.15,):
                    some.append(BoardReading(0.0, 2e-6, resistance, signal, upper, lower, t))
    return some


def measured(some, random, truth=TRUTH):
    errors = predicted_errors(some, truth) + random.normal(0, 2e-6, len(some))
    return [replace(r, error=float(e)) for r, e in zip(some, errors, strict=True)]


def test_prediction_by_hand():
    """1 GΩ, 3 pA·√(1 + 2.5/0.7) upward, doubled by temperature as Arrhenius says: volts by hand."""
    (error,) = predicted_errors(
        [BoardReading(0, 1e-6, 1e9, 0.0, temperature=318.15)], {"upper clamp": 3e-12}
    )
    warm = exp(0.64 / K * (1 / 298.15 - 1 / 318.15))
    assert error == pytest.approx(3e-3 * (1 + 2.5 / 0.7) ** 0.5 * warm, rel=1e-6, abs=0)


def test_planted_terms_come_back_with_honest_intervals():
    """400 boards: each term's 95 % interval holds the truth in 92…98 %."""
    random = np.random.default_rng(1)
    some = conditions()
    held = dict.fromkeys(TRUTH, 0)
    for _ in range(400):
        found = separate(measured(some, random), TERMS)
        assert found.mixed == ()
        for term in found.found:
            held[term.name] += abs(term.value - TRUTH[term.name]) < 1.96 * term.standard_uncertainty
    assert all(0.92 <= count / 400 <= 0.99 for count in held.values()), held


def test_what_cannot_be_told_apart_is_said():
    """One signal, fixed rails, one temperature: everything that flows through R is one number."""
    random = np.random.default_rng(2)
    some = [r for r in conditions(rails=False, warm=False) if r.signal == 0.0]
    found = separate(measured(some, random), TERMS)
    assert all(found.value(name).value is None for name in TERMS)
    assert found.value("offset").value == pytest.approx(120e-6, abs=8e-6)
    assert any("could not be told apart: vary" in text for text in found.mixed)
    one_resistor = separate(measured(conditions(warm=False, resistors=False), random), TERMS)
    assert one_resistor.value("offset").value is None
    assert any("offset and" in text for text in one_resistor.mixed)
    dark = separate(
        measured(conditions(), random), (*TERMS, "photocurrent of upper clamp less lower")
    )
    assert any("leaves no trace" in text and "vary light" in text for text in dark.mixed)
    assert dark.value("upper clamp").value is not None


def test_a_film_that_is_not_asked_for_is_a_contradiction():
    random = np.random.default_rng(3)
    dirty = measured(conditions(), random, TRUTH | {"film to upper rail": 2e-12})
    assert separate(dirty, TERMS).chance < 1e-6
    found = separate(dirty, (*TERMS, "film to upper rail"))
    assert found.chance > 0.001
    film = found.value("film to upper rail")
    assert film.value == pytest.approx(2e-12, abs=4 * film.standard_uncertainty)


def test_an_unknown_term_is_refused():
    board = measured(conditions(), np.random.default_rng(4))
    with pytest.raises(InputError, match='no term "magic"'):
        separate(board, ("magic",))
