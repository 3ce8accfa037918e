"""What a fitted law promises: interval coverage counted over many draws (the frequentist meaning
of coverage, JCGM 101), bounds of data sheets, lots, and doubt far from the evidence."""

import math
from dataclasses import replace

import numpy as np
import pytest
from law_truth import HOT, PRIOR, ROOM, WARM, point
from scipy.optimize import brentq

from clampwright.parts.evidence import EvidencePoint, MaximumFigure, TypicalFigure
from clampwright.parts.law_fit import fit_law
from clampwright.parts.law_interval import (
    energy_doubt,
    leakage_interval,
    lowest_bound,
    maximum_bound,
    principal_directions,
)
from clampwright.parts.law_model import law_with, leakage_and_gradient, reverse_leakage
from clampwright.parts.lots import LotSpread
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE
from clampwright.record.words import interval


def draw_case(generator):
    """A truth from the prior, five readings with all kinds of error, and the truth's law."""
    theta = generator.multivariate_normal(PRIOR.values, PRIOR.covariance)
    law = law_with(PRIOR.law, PRIOR.names, theta)
    scale = 1 + 0.02 * generator.standard_normal()
    readings = []
    for temperature, illuminance in ((ROOM, 0.0), (WARM, 0.0), (HOT, 0.0), (ROOM, 1000.0)):
        true_temperature = temperature + generator.standard_normal()
        value = float(reverse_leakage(law, 5.0, true_temperature, illuminance)) * scale
        u = float(np.hypot(0.3e-12, 0.005 * value))
        readings.append(
            EvidencePoint(
                5.0,
                temperature,
                illuminance,
                value + u * generator.standard_normal(),
                u,
                scale_uncertainty=0.02,
                session=f"s{illuminance:g}",
                temperature_uncertainty=1.0,
            )
        )
    return law, [replace(r, session="one") if r.illuminance == 0 else r for r in readings]


def covered(count, seed):
    """Share of synthetic sets whose 95 % interval holds the truth, over three conditions."""
    generator = np.random.default_rng(seed)
    hits = []
    for _ in range(count):
        law, readings = draw_case(generator)
        fitted = fit_law(PRIOR, readings)
        for condition in ((5.0, ROOM, 0.0), (2.5, WARM, 0.0), (0.001, WARM, 0.0)):
            low, high = leakage_interval(fitted, *condition)[1:]
            hits.append(low <= float(reverse_leakage(law, *condition)) <= high)
    return float(np.mean(hits))


def test_intervals_cover_the_truth_as_often_as_they_say():
    assert covered(300, seed=20261125) >= 0.92


@pytest.mark.long
def test_intervals_cover_the_truth_long():
    assert 0.93 <= covered(2000, seed=7) <= 0.99


def test_energy_doubt_starts_twenty_kelvin_beyond_the_evidence():
    fitted = fit_law(PRIOR, [point(5.0, ROOM), point(5.0, WARM)])
    assert energy_doubt(fitted, WARM + 20.0) == 0.0
    doubt = 0.1 / BOLTZMANN_PER_CHARGE * (1 / WARM - 1 / 358.15)  # ±0.1 eV, Arrhenius
    assert energy_doubt(fitted, 358.15) == pytest.approx(doubt, abs=0, rel=1e-9)
    assert energy_doubt(fitted, ROOM - 30.0) > 0
    assert energy_doubt(fit_law(PRIOR), 400.0) == 0.0


@pytest.mark.filterwarnings("error")
def test_an_end_beyond_every_float_is_infinite_without_a_warning() -> None:
    """Dark, where the law is hardly known; lit, where dark current and photocurrent cancel."""
    fitted = fit_law(PRIOR, [point(5.0, ROOM), point(5.0, HOT)])
    vague = replace(fitted, covariance=fitted.covariance * 1e12)
    median, low, high = leakage_interval(vague, 5.0, ROOM)
    assert (low, high) == (0.0, math.inf) and 0 < median < 1e-9
    assert interval(median, low, high, "current").endswith("not bounded")

    def lit(volt: float) -> float:
        return float(reverse_leakage(fitted.law, volt, ROOM, 200.0))

    nothing = brentq(lit, -1.0, -1e-4, xtol=1e-16)
    median, low, high = leakage_interval(fitted, nothing, ROOM, 200.0)
    assert median == pytest.approx(0.0, abs=1e-24)
    assert -1e-9 < low < 0 < high < 1e-9, "either sign, and bounded"


def test_principal_directions_carry_the_whole_variance():
    """Sum of squared changes along the axes equals gᵀCg (linear algebra)."""
    fitted = fit_law(PRIOR, [point(5.0, ROOM), point(5.0, HOT)])
    value, gradient = leakage_and_gradient(
        fitted.law, fitted.names, fitted.values, [5.0], WARM, 0.0
    )
    exact = float(gradient[0] @ fitted.covariance @ gradient[0])
    changes = [
        float(reverse_leakage(law, 5.0, WARM)) - value[0] for law in principal_directions(fitted)
    ]
    assert len(changes) == len(fitted.names)
    assert np.sum(np.square(changes)) == pytest.approx(exact, rel=0.02, abs=0)


def test_zero_bias_in_the_dark_is_exactly_zero():
    assert leakage_interval(fit_law(PRIOR), 0.0, ROOM) == (0.0, 0.0, 0.0)


def test_maximum_alone_is_a_bound_and_never_an_estimate():
    maximum = MaximumFigure(30.0, 298.15, 50e-9, source="data sheet")
    fitted = fit_law(PRIOR, maxima=[maximum])
    assert fitted.basis == "maximum"
    assert fitted.values == pytest.approx(
        PRIOR.values, abs=0, rel=1e-9
    )  # the maximum moved nothing
    assert leakage_interval(fitted, 5.0, 298.15).high == 50e-9
    hot = leakage_interval(fitted, 5.0, 328.15)
    assert hot.high > 50e-9 * np.exp(0.64 / BOLTZMANN_PER_CHARGE * (1 / 298.15 - 1 / 328.15))
    measured = fit_law(PRIOR, [point(5.0, ROOM)], maxima=[maximum])
    assert leakage_interval(measured, 5.0, ROOM).high < 1e-10


def test_bound_holds_below_its_own_conditions_and_grows_above():
    maximum = MaximumFigure(30.0, 298.15, 50e-9)
    assert maximum_bound(maximum, PRIOR, 5.0, 273.15) == 50e-9
    assert maximum_bound(maximum, PRIOR, 60.0, 298.15) > 50e-9
    assert lowest_bound([], PRIOR, 5.0, ROOM) is None
    dark = lowest_bound([maximum], PRIOR, 5.0, ROOM)
    lit = lowest_bound([maximum], PRIOR, 5.0, ROOM, 1e5)
    stated = lowest_bound([replace(maximum, illuminance=1e5)], PRIOR, 5.0, ROOM, 1e5)
    assert dark == stated == 50e-9
    assert lit > dark


def test_typical_figure_moves_the_magnitude_and_stays_wide():
    fitted = fit_law(PRIOR, typical=[TypicalFigure(5.0, 298.15, 20e-12)])
    assert fitted.basis == "typical"
    interval = leakage_interval(fitted, 5.0, 298.15)
    # Two Gaussians in ln: weights 1/1.2² and 1/1.0² (textbook); diffusion is 0.3 % of the current.
    weight = 1 / (1 + 1 / 1.2**2)
    assert np.log(interval.median / 4e-12) == pytest.approx(weight * np.log(5.0), rel=2e-3, abs=0)
    assert interval.high / interval.low > 15


def test_lot_widens_the_interval_to_the_tolerance_limit():
    fitted = fit_law(PRIOR, [point(5.0, ROOM)])
    lot = LotSpread(10, 0.5)
    assert lot.upper_factor() == pytest.approx(4.3, abs=0.05)  # exp(2.911·0.5)
    alone, spread = (leakage_interval(fitted, 5.0, ROOM, lot=x) for x in (None, lot))
    assert spread.median == alone.median
    assert spread.high / spread.median == pytest.approx(4.3, rel=0.02, abs=0)
