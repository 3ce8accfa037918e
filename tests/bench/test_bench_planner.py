"""Methods and plans: floors from first principles, and plans that simulated benches keep."""

from math import exp, sqrt

import numpy as np
import pytest
from bench_sessions import adapter

from clampwright.bench import methods
from clampwright.bench.planner import (
    Expectation,
    charge_plan,
    plan_claim,
    plan_to_see,
    plans,
)
from clampwright.errors import InputError

K = 8.617333262e-5  # [eV/K] CODATA
Z95 = 1.6448536269514722  # [1] 95 % point of a normal distribution (tables)


def a1(scatter=1.1e-6):
    profile = adapter(feedback_resistance="1 MΩ", offset_drift="0.5 µV/K")
    return methods.feedback_adapter(profile, scatter)


def test_thermal_noise():
    """√(4kT/R): 128 fA/√Hz at 1 MΩ and 4.06 at 1 GΩ, 25 °C (textbook)."""
    for resistance, expected in ((1e6, 128e-15), (1e9, 4.06e-15)):
        made = methods.shunt(resistance, temperature=298.15)
        assert made.noise == pytest.approx(expected, rel=3e-3, abs=0)
    one_hertz = methods.shunt(1e9, temperature=298.15).errors(0.0, gate=0.5, count=1)
    assert one_hertz.scatter == pytest.approx(4.06e-15, rel=3e-3, abs=0)


def test_meter_bias_doubles_each_8_degrees_above_30():
    """Manuals of bench multimeters."""
    assert methods.meter_bias(296.15) == 30e-12
    assert methods.meter_bias(303.15 + 16) == pytest.approx(120e-12, rel=1e-12, abs=0)


def test_what_each_method_sees():
    alone = methods.meter_alone()
    assert alone.burden(1e-9) == pytest.approx(0.01, rel=1e-12, abs=0)  # 1 nA · 10 MΩ
    assert alone.smallest_step == pytest.approx(1e-12, rel=1e-12, abs=0)  # 10 µV/10 MΩ
    charge = methods.timed_charge(100e-12, 60.0)
    assert charge.smallest_seen() < 1e-15
    with pytest.raises(InputError, match="class 2"):
        methods.timed_charge(100e-12, 60.0, dielectric="class 2 ceramic")
    worse = methods.timed_charge(100e-12, 60.0, dielectric="class 1 ceramic")
    assert worse.floor > 20 * charge.floor


def test_averaging_helps_only_the_scatter():
    few, many = a1().errors(0.0, 0.2, 10), a1().errors(0.0, 0.2, 1000)
    assert many.scatter == pytest.approx(few.scatter / 10, rel=1e-9, abs=0)
    assert many.drift == few.drift
    assert many.zero > sqrt(many.drift**2 + many.resolution**2) * 0.999
    assert few.scatter == pytest.approx(1.1e-12 / sqrt(10), rel=1e-9, abs=0)


def test_heat_before_patience():
    loud = plan_to_see([a1()], Expectation(2e-9))
    quiet = plan_to_see([a1()], Expectation(2e-12))
    assert loud.plan.temperature == 296.15 and loud.plan.count == 10
    assert quiet.plan.temperature > 310
    hopeless = plan_to_see([a1()], Expectation(5e-15))
    assert hopeless.plan is None
    assert "this adapter cannot see this part" in hopeless.words
    assert "use the timed charge method" in hopeless.words
    assert "does not reach it" in charge_plan(Expectation(1e-19))


def test_claims():
    good = plan_claim([a1()], Expectation(0.3e-12), 1e-12)
    assert good.plan.upper_bound <= 1e-12 and "the bound would be" in good.words
    assert good.plan.temperature > 300
    assert "choose another part" in plan_claim([a1()], Expectation(3e-12), 1e-12).words
    assert 'cannot support "below' in plan_claim([a1()], Expectation(50e-15), 80e-15).words
    with pytest.raises(InputError, match="above 0"):
        plans(a1(), Expectation(0.0))


def test_a_planned_claim_is_kept():
    """2 000 benches do as planned; the part is at the claim itself, so few may claim below it."""
    part, claim = Expectation(0.3e-12), 1e-12
    plan = plan_claim([a1()], part, claim).plan
    errors = a1().errors(plan.expected, plan.gate, plan.count)
    random = np.random.default_rng(1)
    energy = part.energy + part.energy_uncertainty * random.normal(size=2000)
    heat = plan.temperature + part.temperature_uncertainty * random.normal(size=2000)
    true_hot = claim * np.exp(energy / K * (1 / 296.15 - 1 / heat))
    seen = true_hot + errors.total * random.normal(size=2000)
    step = (1 / 296.15 - 1 / plan.temperature) / K
    kelvin = part.energy / (K * plan.temperature**2) * part.temperature_uncertainty
    carried = exp(Z95 * sqrt(kelvin**2 + (part.energy_uncertainty * step) ** 2))
    bound = (seen + Z95 * errors.total) / exp(part.energy * step) * carried
    as_expected = (plan.expected + Z95 * errors.total) / exp(part.energy * step) * carried
    assert plan.upper_bound == pytest.approx(as_expected, rel=1e-9, abs=0)
    assert np.mean(bound < claim) < 0.065
