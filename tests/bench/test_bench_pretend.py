"""Readings made from a hidden truth: the reduction must find the truth again."""

import numpy as np
import pytest

from clampwright.bench.leakage import evidence_points, sentence
from clampwright.bench.pretend import (
    demo_profiles,
    demo_readings,
    demo_truth,
    hidden_law,
    pretend_readings,
    session_plan,
    true_leakage,
)
from clampwright.bench.readings import read_readings
from clampwright.bench.reduce import reduce_readings

TRUTH = demo_truth("orchard")
PARTS = {(p.part, p.wiring): p for p in TRUTH.parts}


def reduced(text: str):
    return reduce_readings(
        read_readings(text, "orchard.csv"), demo_profiles("orchard"), "orchard-bench"
    )


@pytest.fixture(scope="module")
def leakages():
    return reduced(demo_readings("orchard"))


def found(leakages, part, wiring, volts, celsius, lux=0.0):
    (leakage,) = (
        x
        for x in leakages
        if (x.part, x.wiring) == (part, wiring)
        and x.reverse_voltage == pytest.approx(volts, abs=0, rel=1e-9)
        and x.temperature == pytest.approx(celsius + 273.15, abs=0, rel=1e-9)
        and x.illuminance == lux
    )
    return leakage


def truth_of(leakage):
    part = PARTS[leakage.part, leakage.wiring]
    return true_leakage(part, leakage.reverse_voltage, leakage.temperature, leakage.illuminance)


def test_hidden_law_gives_the_stated_leakage():
    for part in TRUTH.parts:
        assert true_leakage(part, 5.0, 296.15) == pytest.approx(part.leakage, rel=1e-12, abs=0)
        lit = true_leakage(part, 5.0, 296.15, 1000.0) - part.leakage
        assert lit == pytest.approx(1000 * part.responsivity, rel=1e-6, abs=0)
        # Arrhenius by hand from 23 to 45 °C
        growth = np.exp(part.activation_energy / 8.617333e-5 * (1 / 296.15 - 1 / 318.15))
        warm = true_leakage(part, 5.0, 318.15) / part.leakage
        assert warm == pytest.approx(growth, rel=1e-5, abs=0)


def test_ten_millivolt_currents():
    """I_0·w·(1 − exp(−V/nV_T)) worked by hand: +0.360/−0.282 pA for the transistor at ±10 mV,
    −0.103/+0.079 pA for the gate, 169/137 pA for glass, 190/131 nA for the Schottky diode."""
    for name, forward, reverse in (
        ("npn-small C/B+E", 0.360e-12, 0.282e-12),
        ("jfet-small G/D+S", 0.103e-12, 0.079e-12),
        ("glass-diode K/A", 169e-12, 137e-12),
        ("schottky-small K/A", 190e-9, 131e-9),
    ):
        part = PARTS[tuple(name.split())]
        assert -true_leakage(part, -0.01, 296.15) == pytest.approx(forward, rel=0.015, abs=0)
        assert true_leakage(part, 0.01, 296.15) == pytest.approx(reverse, rel=0.015, abs=0)
    assert hidden_law(part).grading == 0


def test_same_seed_same_readings():
    assert demo_readings("orchard") == demo_readings("orchard")
    assert demo_readings("orchard", 1) != demo_readings("orchard", 2)


def test_reduction_returns_the_truth(leakages):
    held = [abs(x.value - truth_of(x)) <= x.expanded_uncertainty for x in leakages]
    assert len(leakages) == 49
    assert np.mean(held) >= 0.93


@pytest.mark.parametrize("seed", range(5))
def test_reduction_returns_the_truth_for_other_noise(seed):
    held = [
        abs(x.value - truth_of(x)) <= x.expanded_uncertainty
        for x in reduced(demo_readings("orchard", seed))
    ]
    assert np.mean(held) >= 0.93


def test_quiet_gate_is_not_detected_cold_and_quantified_hot(leakages):
    cold = found(leakages, "jfet-small", "G/D+S", 5, 23)
    assert cold.outcome == "not detected"
    assert truth_of(cold) < cold.upper_bound < 3e-12
    assert sentence(cold).startswith("not detected, ≤ ")
    assert found(leakages, "jfet-small", "G/D+S", 5, 70).outcome == "quantified"
    for part, wiring, celsius in (
        ("npn-small", "C/B+E", 60),
        ("npn-small", "C+B/E", 60),
        ("glass-diode", "K/A", 45),
        ("esd-array", "IO1/V-", 70),
        ("schottky-small", "K/A", 45),
    ):
        volts = 2.5 if wiring == "C+B/E" else 5
        assert found(leakages, part, wiring, volts, celsius).outcome == "quantified"


def test_bounds_hold(leakages):
    for leakage in leakages:
        if leakage.upper_bound is not None:
            assert leakage.upper_bound >= abs(truth_of(leakage))


def test_light_and_low_resistance_are_told(leakages):
    lit = found(leakages, "glass-diode", "K/A", 5, 23, 1000.0)
    assert lit.value == pytest.approx(14.1e-9, rel=0.02, abs=0)
    assert lit.lamp == "LED lamp"
    low = found(leakages, "schottky-small", "K/A", 0.01, 23)
    assert any("fitting the part moves the zero" in flag for flag in low.flags)
    assert any(c.name == "bias voltage and burden" for c in low.components)


def test_no_demo_condition_fails_its_session(leakages):
    assert not any("session fails" in flag for x in leakages for flag in x.flags)
    assert not any(x.outcome == "negative" for x in leakages)


def test_the_rectifier_has_no_readings(leakages):
    assert {x.part for x in leakages} == {
        "npn-small",
        "jfet-small",
        "glass-diode",
        "esd-array",
        "schottky-small",
        "led-red",
    }


def test_evidence_points_carry_forward_bias(leakages):
    points = evidence_points(leakages)
    assert len(points) == len(leakages)
    assert any(p.reverse_voltage < 0 and p.leakage < 0 for p in points)


def test_inverting_adapter_gives_the_same_leakages():
    plan, profiles = session_plan(TRUTH), demo_profiles("orchard")
    turned = {k: v.model_copy(update={"inverting": True}) for k, v in profiles.items()}
    same = reduce_readings(pretend_readings(TRUTH, plan, turned, 1), turned)
    strong = found(same, "glass-diode", "K/A", 5, 45)
    assert strong.value == pytest.approx(truth_of(strong), rel=0.012, abs=0)
