"""Lots with hidden parts: factors against exact ones, stated confidence by simulation, words."""

from itertools import pairwise
from math import exp, log

import numpy as np
import pytest
from bench_sessions import adapter, readings, rows, scattered
from scipy import optimize, stats

from clampwright.bench import censored
from clampwright.bench.lot_statement import compare_lots, lot_statement
from clampwright.bench.reduce import reduce_readings
from clampwright.errors import InputError
from clampwright.parts.lots import tolerance_factor

CONTENT = float(stats.norm.ppf(0.95))


def test_factors_without_hidden_parts_are_the_exact_ones():
    """Noncentral t (ISO 16269-6), times √(n/(n − 1)) for the maximum-likelihood spread."""
    for count in (4, 5, 8, 10, 20, 30):
        exact = tolerance_factor(count) * (count / (count - 1)) ** 0.5
        assert censored.censored_factor(count, 0) == pytest.approx(exact, rel=0.015, abs=0)


def test_factors_grow_with_what_is_hidden():
    for count in (5, 8, 20):
        some = [censored.censored_factor(count, r) for r in range(count - 2)]
        assert all(a < b for a, b in pairwise(some))
    assert censored.censored_factor(11, 3) >= censored.censored_factor(12, 3)
    with pytest.raises(InputError, match="no tolerance factor"):
        censored.censored_factor(8, 6)


def test_maximum_likelihood_against_a_general_search():
    """scipy minimises the same likelihood from scratch."""
    y = np.array([0.2, -0.4, 0.9, 1.4, -0.7, -0.7, -0.7, 0.1])
    below = np.array([False, False, False, False, True, True, True, False])

    def minus(p):
        z = (y - p[0]) / np.exp(p[1])
        return -np.where(below, stats.norm.logcdf(z), stats.norm.logpdf(z) - p[1]).sum()

    best = optimize.minimize(
        minus, [0.0, 0.0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12}
    )
    found = censored.fit_lot(y, below)
    assert found.mean == pytest.approx(best.x[0], abs=1e-5)
    assert found.spread == pytest.approx(np.exp(best.x[1]), abs=1e-5)
    h = 1e-4
    bend = np.array([[_second(minus, best.x, i, j, h) for j in (0, 1)] for i in (0, 1)])
    uncertainty = np.linalg.inv(bend)[0, 0] ** 0.5  # of the mean, from the curvature
    assert found.mean_uncertainty == pytest.approx(uncertainty, rel=1e-3, abs=0)


def _second(f, x, i, j, h):
    a, b = np.eye(2)[i] * h, np.eye(2)[j] * h
    return (f(x + a + b) - f(x + a - b) - f(x - a + b) + f(x - a - b)) / (4 * h * h)


def covered(lots, hidden_share, measurement, seed, count=8):
    """Share of limits above the true 95 % point, among lots that give a limit, and their share."""
    random = np.random.default_rng(seed)
    limit = stats.norm.ppf(hidden_share) * (1 + measurement**2) ** 0.5
    y = random.normal(0, 1, (lots, count)) + random.normal(0, measurement, (lots, count))
    below = y < limit
    given = count - below.sum(axis=1) >= censored.FEWEST_DETECTED
    values, hidden = np.where(below, limit, y)[given], below[given]
    means, spreads = censored.solve(values, hidden)
    found = [
        log(
            censored.upper_tolerance_limit(
                censored.CensoredLot(count, int(h.sum()), m, s, s / count**0.5), measurement
            )
        )
        for m, s, h in zip(means, spreads, hidden, strict=True)
    ]
    return np.mean(np.array(found) >= CONTENT), given.mean()


CASES = [(0.05, 0.0), (0.2, 0.3), (0.35, 0.0), (0.5, 0.3), (0.35, 1.0)]


@pytest.mark.parametrize(("hidden_share", "measurement"), CASES)
def test_lots_of_eight_keep_their_confidence(hidden_share, measurement):
    """1 000 lots of 8, some parts below a fixed limit: at least 93.5 % of the limits hold."""
    held, given = covered(1000, hidden_share, measurement, 1)
    assert held >= 0.935
    assert given > 0.8


@pytest.mark.long
@pytest.mark.parametrize(("hidden_share", "measurement"), CASES)
def test_lots_of_eight_keep_their_confidence_long(hidden_share, measurement):
    assert covered(10_000, hidden_share, measurement, 2)[0] >= 0.945


def lot(means, spread=1.1):
    zero = rows("zero fixture", scattered(12.4, 0.2))
    parts = [
        rows("reading", scattered(12.4 + m, spread), part=f"p{k}") for k, m in enumerate(means)
    ]
    return reduce_readings(readings(zero, *parts, zero), {"A1": adapter(resolution="0.1 µV")})


def test_statement_of_a_lot():
    """Eight strong parts: limit exp(ȳ + K·s) with K = 3.187 (ISO 16269-6, n = 8, 95/95)."""
    means = [300 * exp(0.4 * z) for z in stats.norm.ppf((np.arange(8) + 0.5) / 8)]
    said = lot_statement(lot(means))
    y = np.log(np.array(means) * 1e-12)
    assert said.upper_limit == pytest.approx(exp(y.mean() + 3.187 * y.std(ddof=1)), rel=0.02, abs=0)
    assert said.spread == pytest.approx(y.std(ddof=1), rel=0.01, abs=0)
    assert said.largest_confidence == pytest.approx(1 - 0.95**8, abs=1e-12)
    assert [limit for _, limit in said.more] == sorted([m for _, m in said.more], reverse=True)
    assert said.more[0][1] < said.upper_limit
    assert "95 % of the lot below" in said.words and "if log-normal" in said.words


def test_scatter_of_the_measurement_is_taken_out():
    means = [6.0, 6.0, 6.0, 6.0, 6.2, 5.8, 6.1, 5.9]
    said = lot_statement(lot(means))
    assert said.spread == 0.0
    assert said.measurement > 0.04


def test_too_quiet_lots_still_say_something():
    said = lot_statement(lot([0.05, 0.0, 5.0, 0.1]))
    assert said.upper_limit is None and said.hidden == 3
    assert "no spread can be told" in said.words and "59 parts would give 95 %" in said.words
    with pytest.raises(InputError, match="two parts"):
        lot_statement(lot([5.0]))


def test_two_lots():
    """Without hidden parts it is scipy's Welch test on ln I."""
    a, b = [0.1, 0.5, -0.2, 0.3, 0.0], [0.9, 1.4, 0.8, 1.1, 0.2, 0.7]
    none = lambda y: censored.fit_lot(y, [False] * len(y))  # noqa: E731
    found = compare_lots(none(a), none(b), ("old", "new"))
    expected = stats.ttest_ind(a, b, equal_var=False)
    assert found.chance == pytest.approx(float(expected.pvalue), rel=1e-4, abs=0)
    assert found.degrees_of_freedom == pytest.approx(float(expected.df), rel=1e-4, abs=0)
    assert "different lots" in found.words
    hidden = compare_lots(
        censored.fit_lot(a, [False, False, True, False, True]), none(a), ("x", "y")
    )
    assert "2 parts not detected" in hidden.words and "no difference shown" in hidden.words
