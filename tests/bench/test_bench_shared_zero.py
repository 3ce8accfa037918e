"""Results between the same zeros have them in common: differences are better known than either."""

from itertools import pairwise

import numpy as np
import pytest
from bench_sessions import adapter, readings, rows, scattered

from clampwright.bench import fits
from clampwright.bench.columns import readings_from_rows
from clampwright.bench.leakage import evidence_points
from clampwright.bench.reduce import reduce_readings
from clampwright.parts.evidence import own_covariance


def test_what_is_shared_is_the_scatter_of_the_zero_and_half_of_its_drift():
    """Zeros 12.4 and 13.0 µV (s 1.1 µV, n 10): √(1.1²/20 + 0.3²/2) pA in common."""
    zero, other = (rows("zero fixture", scattered(m, 1.1)) for m in (12.4, 13.0))
    dark, lit = (
        rows("reading", scattered(20, 1.1)),
        rows("reading", scattered(30, 1.1), light=100.0),
    )
    later = rows("reading", scattered(20, 1.1), part="later")
    found = reduce_readings(readings(zero, dark, lit, other, later, zero), {"A1": adapter()})
    expected = np.sqrt(1.1**2 / 20 + 0.3**2 / 2) * 1e-12
    assert found[0].zero_uncertainty == pytest.approx(expected, rel=1e-6, abs=0)
    one, two, three = evidence_points(found)
    covariance = own_covariance([one, two, three])
    assert covariance[0, 1] == pytest.approx(
        expected**2 * one.widening * two.widening, rel=1e-6, abs=0
    )
    assert covariance[0, 2] == covariance[1, 2] == 0
    assert np.all(np.linalg.eigvalsh(covariance) > 0)


def lit_sessions(count: int, seed: int, wander: float):
    """Zero, dark, lit (1000 lx, 4 fA/lx), zero, the zero walking from run to run."""
    random = np.random.default_rng(seed)
    profiles, made = {}, []
    for number in range(count):
        name = f"s{number}"
        profiles[name] = adapter(name, resolution="0.1 µV", tolerance_shape="normal")
        walk = 12 + np.cumsum([0, *random.normal(0, wander, 3)])
        for k, (state, signal, lux) in enumerate(
            (
                ("zero fixture", 0, 0),
                ("reading", 4, 0),
                ("reading", 8, 1000),
                ("zero fixture", 0, 0),
            )
        ):
            values = np.round(walk[k] + signal + random.normal(0, 1.1, 10), 1).tolist()
            light = {"light": float(lux), "lamp": "LED"} if state == "reading" else {}
            made += rows(state, values, instrument=name, **light)
    return evidence_points(reduce_readings(readings_from_rows(made), profiles))


def responsivities(count: int, seed: int, wander: float):
    points = lit_sessions(count, seed, wander)
    return [fits.responsivity(pair) for pair in pairwise(points)][::2]


@pytest.mark.parametrize("wander", [0.0, 0.5, 3.0])
def test_current_for_each_lux_covers_what_it_says(wander):
    found = responsivities(400, 1, wander)
    held = np.mean([abs(f.responsivity - 4e-15) <= fits.NORMAL_95 * f.uncertainty for f in found])
    print(f"zero walking by {wander} µV: {held:.3f} hold 4 fA/lx")
    assert held >= 0.93


def test_sharing_the_zero_narrows_a_difference():
    points = lit_sessions(1, 1, 0.5)
    apart = [type(p)(**{**vars_of(p), "zero": ""}) for p in points]
    assert fits.responsivity(points).uncertainty < 0.9 * fits.responsivity(apart).uncertainty


def vars_of(point):
    return {name: getattr(point, name) for name in point.__dataclass_fields__}
