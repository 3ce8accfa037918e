"""What an instrument sheet states is used: bias, hum, calibration, warm-up; soakage and light too."""

from math import log, sqrt

import numpy as np
import pytest
from bench_sessions import adapter, readings, rows, scattered

from clampwright.bench.instrument import Profile
from clampwright.bench.leakage import Leakage
from clampwright.bench.reduce import reduce_readings

METER = {"method": "meter alone", "scale": "10 MΩ", "tolerance": "1 %", "resolution": "1 µV"}


def reduced(*blocks, profile: Profile) -> Leakage:
    (found,) = reduce_readings(readings(*blocks), {"A1": profile}, "day")
    return found


def timed(block: list[dict], start: str, step: float, note: str = "") -> list[dict]:
    """The rows with times `step` seconds apart from `start`."""
    first = np.datetime64(start)
    times = [str(first + np.timedelta64(round(1000 * k * step), "ms")) for k in range(len(block))]
    made = [row | {"time": time} for row, time in zip(block, times, strict=True)]
    made[0]["note"] = note
    return made


def component(found: Leakage, name: str) -> float:
    return next((c.value for c in found.components if c.name == name), 0.0)


ZERO, READ = rows("zero fixture", scattered(12.4, 1.1)), rows("reading", scattered(112.4, 1.3))


def test_bias_of_a_meter_is_a_line_of_the_budget_that_doubles():
    """30 pA, doubling each 8 K (manuals of bench meters): ±(2^(1/8) − 1)·30 pA for ±1 K."""
    found = reduced(ZERO, READ, ZERO, profile=adapter(**METER))
    expected = 30e-12 * (2 ** (1 / 8) - 1) / sqrt(3)
    assert component(found, "change of the bias current") == pytest.approx(
        expected, rel=1e-9, abs=0
    )
    assert any("30.0\u2009pA assumed" in flag for flag in found.flags)
    warmer = adapter(**METER, bias_current="10 pA", bench_change="8 K")
    found = reduced(ZERO, READ, ZERO, profile=warmer)
    assert component(found, "change of the bias current") == pytest.approx(
        10e-12 / sqrt(3), rel=1e-9, abs=0
    )
    assert not any("assumed" in flag for flag in found.flags)


def test_bias_of_an_adapter_counts_where_its_zero_was_taken_once():
    profile = adapter(bias_current="36 pA")
    twice = reduced(ZERO, READ, ZERO, profile=profile)
    assert component(twice, "change of the bias current") == 0
    once = reduced(ZERO, READ, profile=profile)
    assert component(once, "change of the bias current") > 1e-12


@pytest.mark.parametrize(("cycles", "told"), [(10, False), (1, False), (2.5, True), (0.2, True)])
def test_part_of_a_mains_cycle_is_told(cycles, told):
    found = reduced(ZERO, READ, ZERO, profile=adapter(mains_cycles=cycles))
    assert any("hum stays in it" in flag for flag in found.flags) == told


def test_an_old_calibration_is_told_and_widens_the_scale_where_stated():
    """Two years at 0.5 % a year: half-width 2 % instead of 1 %."""
    day = timed(ZERO, "2026-11-25T10:00", 1), timed(READ, "2026-11-25T10:01", 1)
    found = reduced(*day, profile=adapter(calibrated="2026-05-04"))
    assert not any("calibrated" in flag for flag in found.flags)
    old = reduced(*day, profile=adapter(calibrated="2024-11-25"))
    assert any("730 days before it was read" in flag for flag in old.flags)
    assert any("state scale_drift" in flag for flag in old.flags)
    drifting = adapter(calibrated="2024-11-25", scale_drift="0.5 %")
    widened = reduced(*day, profile=drifting)
    assert widened.relative_scale_uncertainty == pytest.approx(0.02 / sqrt(3), rel=1e-3, abs=0)
    later = reduced(*day, profile=adapter(calibrated="2027-01-01"))
    assert any("after it was read" in flag for flag in later.flags)


def test_readings_before_the_warm_up_is_over_are_told():
    on = timed(ZERO, "2026-11-25T10:00", 1, note="switched on")
    early = reduced(on, timed(READ, "2026-11-25T10:10", 1), profile=adapter())
    assert any("before the warm-up of 30.0\u2009min" in flag for flag in early.flags)
    late = reduced(on, timed(READ, "2026-11-25T10:31", 1), profile=adapter())
    assert not any("warm-up" in flag for flag in late.flags)


def soaking(slope: float, seed: int = 1, count: int = 40) -> Leakage:
    """Readings from 10 to 400 s after the last zero, 100 + slope/t µV, scatter 0.3 µV."""
    seconds = np.linspace(10, 400, count)
    random = np.random.default_rng(seed)
    values = 112.4 + slope / seconds + random.normal(0, 0.3, count)
    block = rows("reading", values.tolist())
    start = np.datetime64("2026-11-25T10:01:00", "ms")
    for row, at in zip(block, seconds, strict=True):
        row["time"] = str(start + np.timedelta64(round(1000 * at), "ms"))
    zero = timed(rows("zero fixture", scattered(12.4, 0.3)), "2026-11-25T10:00:51", 1)
    return reduced(
        zero, block, timed(zero, "2026-11-25T11:00", 1), profile=adapter(resolution="0.1 µV")
    )


def test_soakage_that_creeps_is_a_line_of_the_budget():
    """b·mean(1/t) of reading = a + b/t, as a one-sided rectangle (GUM F.2.4.5)."""
    found = soaking(100.0)
    left = 100e-12 * np.mean(1 / np.linspace(10, 400, 40))
    assert component(found, "soakage left over") == pytest.approx(left / sqrt(3), rel=0.15, abs=0)
    assert any("creeps like soakage" in flag for flag in found.flags)
    assert abs(found.value - 100e-12) <= found.expanded_uncertainty
    still = [soaking(0.0, seed) for seed in range(30)]
    assert sum(component(x, "soakage left over") > 0 for x in still) <= 2


def test_without_times_nothing_is_said_of_soakage():
    found = reduced(ZERO, READ, ZERO, profile=adapter())
    assert component(found, "soakage left over") == 0


def test_light_seen_at_zero_volts_is_a_line_of_the_budget():
    """The part fitted at 0 V in the dark shows 20 µV more than open leads: up to 20 pA of light."""
    leads = rows("zero open", scattered(12.4, 1.1))
    fitted = rows("zero part-fitted", scattered(32.4, 1.1))
    found = reduced(leads, ZERO, fitted, READ, ZERO, leads, profile=adapter())
    assert component(found, "light on the dark part") == pytest.approx(
        20e-12 / sqrt(3), rel=1e-6, abs=0
    )
    assert any("may be light" in flag for flag in found.flags)
    assert found.value - found.expanded_uncertainty < 80e-12
    against = rows("zero part-fitted", scattered(-7.6, 1.1))  # no photocurrent runs that way
    found = reduced(leads, ZERO, against, READ, ZERO, leads, profile=adapter())
    assert component(found, "light on the dark part") == 0


def test_the_burden_through_a_low_resistance_is_no_photocurrent_of_weight():
    leads = rows("zero open", scattered(12.4, 1.1))
    fitted = rows("zero part-fitted", scattered(13.0, 1.1))
    found = reduced(leads, ZERO, fitted, READ, ZERO, leads, profile=adapter())
    assert component(found, "light on the dark part") == 0
    assert log(found.value / 100e-12) == pytest.approx(0.0, abs=1e-9)
