"""Few readings: never a tighter limit than many, and an honest one where there is but one."""

from itertools import pairwise

import numpy as np
import pytest
from bench_sessions import adapter, readings, rows, scattered

from clampwright.bench.columns import readings_from_rows
from clampwright.bench.reduce import reduce_readings
from clampwright.uncertain import upper_bound

SESSIONS = 400


def limits(counts, zeros, *, runs=2, scatter=1.1, sheet=None, seed=1):
    """Mean decision limit (A) of sessions without current: `counts` readings, `zeros` a run."""
    random = np.random.default_rng(seed)
    made, profiles = [], {}
    for number in range(SESSIONS):
        name = f"s{number}"
        profiles[name] = adapter(name, resolution="0.1 µV", **(sheet or {}))
        blocks = [("zero fixture", zeros), ("reading", counts), ("zero fixture", zeros)]
        for state, count in blocks[: 1 + runs]:
            values = np.round(12 + random.normal(0, scatter, count), 1)
            made += rows(state, values.tolist(), instrument=name)
    found = reduce_readings(readings_from_rows(made), profiles)
    return float(np.mean([x.decision_limit for x in found]))


@pytest.mark.parametrize("scatter", [0.3, 1.1, 5.0])
@pytest.mark.parametrize("runs", [1, 2])
def test_fewer_readings_never_give_a_tighter_limit(scatter, runs):
    """One, two, four, ten and twenty of each; and one of each less than two."""
    found = [limits(n, n, runs=runs, scatter=scatter) for n in (1, 2, 4, 10, 20)]
    assert all(fewer >= more for fewer, more in pairwise(found)), found


@pytest.mark.parametrize("runs", [1, 2])
def test_taking_readings_or_zeros_away_alone_never_tightens(runs):
    full = limits(6, 6, runs=runs)
    for counts, zeros in ((6, 2), (6, 1), (2, 6), (1, 6)):
        assert limits(counts, zeros, runs=runs) >= full, (counts, zeros)


def test_a_zero_taken_once_never_promises_more_than_one_taken_twice():
    """Without a stated drift (nothing known) and with one as large as the zero really moves."""
    for sheet in ({"offset_drift": "0 V/K"}, {"offset_drift": "2 µV/K"}):
        assert limits(10, 10, runs=1, sheet=sheet) >= limits(10, 10, runs=2, sheet=sheet)


def test_a_stated_noise_stands_in_for_scatter_that_nobody_saw():
    stated = {"A1": adapter(noise="1.1 µV")}
    (found,) = reduce_readings(
        readings(rows("zero open", [12.4]), rows("reading", [112.4])), stated
    )
    scatter = next(c for c in found.components if c.name == "scatter of reading")
    assert scatter.value == pytest.approx(1.1e-12, rel=1e-9, abs=0)
    assert scatter.degrees_of_freedom == 8  # known to 25 %: JCGM 100:2008, G.4.2
    assert found.outcome == "quantified"
    assert any("as the instrument sheet states it" in flag for flag in found.flags)


def test_one_reading_and_one_zero_detect_nothing():
    (found,) = reduce_readings(
        readings(rows("zero open", [12.4]), rows("reading", [112.4])), {"A1": adapter()}
    )
    assert found.outcome == "not detected" and found.upper_bound > 5 * found.value
    assert any("take at least 2 readings" in flag for flag in found.flags)


def test_two_single_zeros_tell_the_scatter():
    (found,) = reduce_readings(
        readings(rows("zero open", [12.0]), rows("reading", [112.4]), rows("zero open", [13.0])),
        {"A1": adapter()},
    )
    scatter = next(c for c in found.components if c.name == "scatter of reading")
    assert scatter.value == pytest.approx(1e-12 / 2**0.5, rel=1e-9, abs=0)
    assert any("difference of the zeros" in flag for flag in found.flags)


@pytest.mark.parametrize("size", [0.0, 0.3, 1.0, 3.0, 10.0, 100.0])
def test_a_single_difference_still_bounds_its_mean(size):
    """x ± 9.68·|x| holds the mean in 95 % whatever the scatter (Abbott and Rosenblatt 1963)."""
    net = size + np.random.default_rng(3).normal(0, 1, 40_000)
    u = 0.7666 * np.abs(net)
    assert np.mean(np.abs(net - size) <= 12.7062 * u) >= 0.947
    assert np.mean(upper_bound(net, u, 1.0) >= size) >= 0.947


def test_readings_that_scatter_by_their_own_current_do_not_widen_the_limit():
    zero = rows("zero fixture", scattered(12.4, 1.1))
    (found,) = reduce_readings(
        readings(zero, rows("reading", scattered(5000.0, 90.0)), zero), {"A1": adapter()}
    )
    assert found.decision_limit < 2e-12


def one_session(zeros, measured, **more):
    """The reduced reading of one session, zeros before it alone."""
    (found,) = reduce_readings(
        readings(rows("zero fixture", zeros), rows("reading", measured, **more)), {"A1": adapter()}
    )
    return found


def test_two_zeros_that_agree_do_not_make_a_quiet_meter():
    """Zeros 0.1 µV apart, readings 50 µV: pooled √((0.071² + 35.4²)/2) = 25 µV with 2 degrees.

    Two of each: L_D = 2·t(0.95, 2)·s·√(1/2 + 1/2) = 2·2.92·25 µV at 1 mV/nA, and drift widens it
    (Currie 1968; Student's t from a handbook table).
    """
    found = one_session([12.4, 12.5], [3900.0, 3950.0])
    assert found.detection_limit >= 2 * 2.92 * 25e-12 * 0.999


def test_many_zeros_say_by_themselves_how_quiet_the_meter_is():
    """Six zeros within 1 µV and readings 50 µV apart: the current makes the scatter, not the meter."""
    found = one_session([12.0, 12.4, 12.9, 12.2, 12.6, 12.1], [3900.0, 3950.0])
    assert found.detection_limit < 2 * 2.92 * 25e-12 / 3


@pytest.mark.parametrize(("kelvin", "told"), [(503.15, True), (333.15, False), (213.15, True)])
def test_a_temperature_that_plastic_does_not_stand_is_flagged(kelvin, told):
    found = one_session([12.4, 12.5], [112.0, 112.5], temperature=kelvin)
    assert any("parts in plastic stand" in flag for flag in found.flags) == told
