"""The minimiser against certified answers: NIST Statistical Reference Datasets (StRD)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from strd_models import MODELS, SETS, problem

from clampwright.errors import InputError
from clampwright.parts.least_squares import inverse_information, minimise

NORRIS = Path(__file__).parents[1] / "data" / "nist_norris.csv"
ROUNDED = {"Lanczos1"}  # residuals of 1e-13, the rounding of its own data in double precision


def digits(found, certified) -> float:
    """Smallest number of agreeing decimal digits."""
    worst = np.max(np.abs((np.asarray(found) - certified) / np.asarray(certified)))
    return float(-np.log10(max(worst, 1e-16)))


def standard_deviations(found) -> np.ndarray:
    """Of the parameters, with the residual variance taken from the fit itself, as NIST does."""
    variance = found.sum_of_squares / found.degrees_of_freedom
    return np.sqrt(np.diag(found.covariance) * variance)


@pytest.mark.parametrize("start", ["start1", "start2"])
@pytest.mark.parametrize("name", SETS)
def test_certified_answer_from_both_certified_starts(name: str, start: str) -> None:
    """NIST StRD nonlinear regression: certified parameters, standard deviations and residual sum
    of squares; the starts are NIST's too, the first far and the second near."""
    certified = SETS[name]
    found = minimise(*problem(name), np.array(certified[start], float))
    assert found.converged, found.reason
    assert found.degrees_of_freedom == certified["dof"]
    assert digits(found.values, certified["certified"]) >= 6
    if name in ROUNDED:
        assert "near rounding" in found.reason
        assert digits(standard_deviations(found), certified["certified_sd"]) >= 2
        assert found.sum_of_squares == pytest.approx(certified["rss"], rel=0.01, abs=0)
    else:
        assert "near rounding" not in found.reason
        assert digits(standard_deviations(found), certified["certified_sd"]) >= 4
        assert found.sum_of_squares == pytest.approx(certified["rss"], rel=1e-8, abs=0)


def test_every_set_has_its_model() -> None:
    assert set(MODELS) == set(SETS)


def test_a_line_is_fitted_in_one_step() -> None:
    """NIST StRD Norris, linear regression, certified values."""
    y, x = np.loadtxt(NORRIS, delimiter=",", skiprows=1, unpack=True)
    design = np.stack([np.ones_like(x), x], axis=1)
    found = minimise(lambda b: design @ b - y, lambda b: design, np.array([0.0, 0.0]))
    assert digits(found.values, [-0.262323073774029, 1.00211681802045]) >= 9
    assert digits(standard_deviations(found), [0.232818234301152, 0.000429796848199937]) >= 9
    residual = np.sqrt(found.sum_of_squares / found.degrees_of_freedom)
    assert residual == pytest.approx(0.884796396144373, rel=1e-9, abs=0)
    assert found.converged


def test_wrong_end_from_one_start_is_left_for_a_lower_one_from_several() -> None:
    """NIST StRD Misra1a, started where the exponential has died out at every point."""
    certified = SETS["Misra1a"]
    wrong = np.array([250.0, 0.5])
    alone = minimise(*problem("Misra1a"), wrong)
    assert not alone.converged
    assert alone.sum_of_squares > 1000 * certified["rss"]
    several = minimise(*problem("Misra1a"), wrong, further_starts=60)
    assert several.converged
    assert digits(several.values, certified["certified"]) >= 6
    assert 1 <= several.starts_agreeing < several.starts == 61


def test_undetermined_parameters_are_reported_and_get_no_deviation() -> None:
    """y = (a + b)·x tells the sum only: the certified fact is linear algebra."""
    x = np.arange(1.0, 9.0)
    y = 3 * x + np.where(np.arange(8) % 2, 0.1, -0.1)
    found = minimise(
        lambda b: (b[0] + b[1]) * x - y, lambda b: np.stack([x, x], axis=1), np.array([1.0, 1.0])
    )
    assert not found.converged
    assert "no full rank" in found.reason
    assert np.all(np.isinf(found.covariance))


def test_too_few_evaluations_are_reported_as_no_convergence() -> None:
    residuals, jacobian = problem("MGH09")
    found = minimise(residuals, jacobian, np.array([2500.0, 3900.0, 4150.0, 3900.0]), evaluations=3)
    assert not found.converged
    assert "stopped short" in found.reason or "rank" in found.reason


def test_covariance_keeps_its_digits_when_columns_differ_by_many_decades() -> None:
    """Scaling a column by c scales the covariance by 1/c, exactly; without column scaling a factor
    of 1e9 squared would use up every digit."""
    x = np.linspace(0.0, 1.0, 12)
    design = np.stack([np.ones_like(x), x, x**2], axis=1)
    factors = np.array([1.0, 1e-9, 1e9])
    plain = inverse_information(design)
    scaled = inverse_information(design * factors)
    assert scaled * np.outer(factors, factors) == pytest.approx(plain, rel=1e-10, abs=0)
    assert plain == pytest.approx(np.linalg.inv(design.T @ design), rel=1e-9, abs=0)


def test_start_without_a_number_is_refused_in_one_sentence() -> None:
    with pytest.raises(InputError, match="a fit cannot start here"):
        minimise(lambda b: np.log(b), lambda b: np.diag(1 / b), np.array([-1.0]))
    with pytest.raises(InputError, match="fewer rows than parameters"):
        minimise(lambda b: b[:1], lambda b: np.eye(2)[:1], np.array([1.0, 2.0]))
