"""Raw readings of the press and the dark box return the truth they were made from.

`pytest -rA` prints how many; the orchard has its own file.
"""

import numpy as np
import pytest

from clampwright.bench.pretend import (
    demo_profiles,
    demo_readings,
    demo_truth,
    pretend_readings,
    session_plan,
    true_leakage,
)
from clampwright.bench.readings import read_readings
from clampwright.bench.reduce import reduce_readings

SCHOTTKY = "schottky-small"


def truth_of(leakage, parts):
    part = parts[leakage.part, leakage.wiring]
    return true_leakage(part, leakage.reverse_voltage, leakage.temperature, leakage.illuminance)


@pytest.mark.parametrize("name", ["press", "darkbox"])
@pytest.mark.parametrize("seed", [None, 1, 2, 3, 4])
def test_reduction_returns_the_truth(name, seed):
    parts = {(p.part, p.wiring): p for p in demo_truth(name).parts}
    read = read_readings(demo_readings(name, seed), f"{name}.csv")
    found = reduce_readings(read, demo_profiles(name), name)
    off = [abs(x.value - truth_of(x, parts)) / x.expanded_uncertainty for x in found]
    print(f"{name}, seed {seed}: {np.mean(np.array(off) <= 1):.3f} of {len(off)} results hold")
    assert np.mean(np.array(off) <= 1) >= 0.93
    for x in found:
        if x.upper_bound is not None:
            assert x.upper_bound >= abs(truth_of(x, parts))


def test_stated_leakages_come_back_from_the_raw_file():
    """The press as stated at 2.5 V and 23 °C: 4.4 pA, 1.9 nA, 1.2 nA, 30 pA, 310 nA, 1.4 µA."""
    found = reduce_readings(
        read_readings(demo_readings("press"), "press.csv"), demo_profiles("press")
    )
    stated = {
        "npn-general": 4.4e-12,
        "glass-diode": 1.9e-9,
        "npn-fast": 1.2e-9,
        "esd-array": 30e-12,
        "schottky-pair": 310e-9,
        "suppressor-5v": 1.4e-6,
    }
    seen = {
        x.part: x
        for x in found
        if x.part in stated and x.reverse_voltage == 2.5 and abs(x.temperature - 296.15) < 0.1
    }
    assert set(seen) == set(stated)
    for part, x in seen.items():
        print(
            f"{part}: {x.value:.4g} ± {x.expanded_uncertainty:.2g} A, stated {stated[part]:.4g} A"
        )
        assert abs(x.value - stated[part]) <= x.expanded_uncertainty


def schottky(with_fitted_zero: bool):
    """The Schottky diode of the dark box at ±10 mV, with and without the zero of the part fitted."""
    truth, profiles = demo_truth("darkbox"), demo_profiles("darkbox")
    plan = [
        step
        for step in session_plan(truth)
        if with_fitted_zero
        or not (step.state == "zero part-fitted" and step.part and step.part.part == SCHOTTKY)
    ]
    found = reduce_readings(pretend_readings(truth, plan, profiles, 1), profiles)
    return [x for x in found if x.part == SCHOTTKY and abs(x.reverse_voltage) == 0.01]


def test_the_part_fitted_zero_catches_the_burden():
    """48 µV of offset across 64 kΩ is 0.75 nA, 0.75 mV at 1 mV/nA: with that zero it is subtracted,
    without it the reading at 23 °C is off by it."""
    parts = {(p.part, p.wiring): p for p in demo_truth("darkbox").parts}
    with_it, without = schottky(True), schottky(False)
    assert len(with_it) == len(without) >= 2
    for right, wrong in zip(with_it, without, strict=True):
        truth = truth_of(right, parts)
        caught = wrong.value - right.value
        print(
            f"{right.reverse_voltage * 1e3:+.0f} mV, {right.temperature - 273.15:.0f} °C: truth "
            f"{truth * 1e9:.1f} nA; with the part-fitted zero {right.value * 1e9:.1f}, without "
            f"{wrong.value * 1e9:.1f}: it takes {caught * 1e9:.2f} nA out"
        )
        assert any("that zero was subtracted" in flag for flag in right.flags)
        if abs(right.temperature - 296.15) < 0.1:
            assert abs(caught) == pytest.approx(0.75e-9, rel=0.1, abs=0)
            assert abs(right.value - truth) <= right.expanded_uncertainty
