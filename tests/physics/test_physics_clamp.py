"""The clamp law against a 50-digit second writing, and the properties no junction may break."""

from dataclasses import fields

import clamp_reference
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from mpmath import diff, mpf

from clampwright.errors import InputError
from clampwright.physics.clamp import (
    ClampLaw,
    ClampState,
    at_conditions,
    capacitance,
    current_and_slope,
    mechanism_currents,
    multiplication,
    take,
)
from clampwright.physics.laws import MECHANISMS

TEMPERATURES = (100.0, 233.15, 298.15, 398.15, 500.0)
VOLTAGES = (1e-200, 1e-15, 1e-9, 1e-3, 0.1, 0.3, 0.75, 2.0, 17.9, 19.5, 1e4)
REVERSE = (*VOLTAGES, 4.3, 4.9, 5.6, 20.0, 29.99, 29.9999, 30.001, 31.0, 300.0)
EVERYTHING = {key: value for m in MECHANISMS for key, value in m.example.items()}
CASES = {m.name: dict(m.example) for m in MECHANISMS} | {"everything": EVERYTHING}


@pytest.mark.parametrize("case", CASES)
def test_current_and_slope_against_fifty_digits(case):
    # Tolerance: one rounding of V/V_T is magnified by |V/V_T| ≤ 600, one of V_BR by the
    # multiplication; elsewhere a few units in the last place.
    law = ClampLaw(**CASES[case])
    for temperature in TEMPERATURES:
        state = at_conditions(law, temperature, 100.0)
        for v in (*VOLTAGES, *(-np.array(REVERSE))):
            current, slope = current_and_slope(v, state)
            exact = clamp_reference.current(law, v, temperature, 100.0)
            step = mpf(10) ** -25 * max(abs(mpf(v)), mpf(10) ** -5)
            steep = diff(
                lambda x, t=temperature: clamp_reference.current(law, x, t, 100.0), v, h=step
            )
            scale = sum(abs(part) for part in mechanism_currents(v, state).values())
            m = multiplication(v, state)
            tolerance = 4e-13 + 1e-15 * m if "breakdown_voltage" in CASES[case] else 4e-13
            allowed = tolerance * max(scale, abs(exact)) + mpf(10) ** -300  # underflow
            assert abs(current - exact) <= allowed, (temperature, v)
            allowed = 2 * tolerance * abs(steep) + mpf(10) ** -48 * scale / step
            assert abs(slope - steep) <= allowed + mpf(10) ** -280, (temperature, v)


def test_kinks_only_at_knees():
    # the slope is the derivative on both sides of 0 V, where widening and lowering begin
    state = at_conditions(ClampLaw(**EVERYTHING), 298.15, 100.0)
    left, right = (current_and_slope(v, state)[1] for v in (-1e-12, 1e-12))
    assert left == pytest.approx(right, rel=1e-9, abs=0)


positive = st.floats(-18, -4).map(lambda x: 10.0**x)
maybe = st.one_of(st.just(0.0), positive)
laws = st.builds(
    ClampLaw,
    diffusion_current=positive,
    diffusion_ideality=st.floats(1.0, 2.0),
    diffusion_activation_energy=st.floats(0.3, 2.0),
    generation_current=maybe,
    grading=st.floats(0.0, 0.9),
    built_in_voltage=st.floats(0.2, 1.5),
    film_conductance=maybe,
    responsivity=st.one_of(st.just(0.0), st.floats(-15, -9).map(lambda x: 10.0**x)),
    image_force_lowering=st.floats(0.0, 0.05),
    breakdown_voltage=st.one_of(st.just(float("inf")), st.floats(3.0, 1000.0)),
    breakdown_exponent=st.floats(2.0, 8.0),
    breakdown_temperature_coefficient=st.floats(-1e-3, 1e-3),
    breakdown_resistance=st.floats(0.01, 1000.0),
    tunnelling_current=maybe,
    tunnelling_voltage=st.floats(1.0, 8.0),
    tunnelling_width=st.floats(0.1, 0.5),
    symmetric_current=maybe,
    symmetric_voltage=st.floats(2.0, 500.0),
    symmetric_exponent=st.floats(2.0, 60.0),
)
voltages = st.one_of(st.floats(-1e4, 1e4), st.floats(-40, 2), st.floats(-1e-6, 1e-6))
temperatures = st.floats(100.0, 500.0)
quick = settings(max_examples=200, deadline=None, derandomize=True)


@quick
@given(laws, temperatures, st.floats(0, 1e5), st.lists(voltages, min_size=2, max_size=30))
def test_current_rises_with_voltage_and_stays_finite(law, temperature, illuminance, several):
    v = np.sort(np.array(several))
    state = at_conditions(law, temperature, illuminance)
    current, slope = current_and_slope(v, state)
    assert np.all(np.isfinite(current)) and np.all(np.isfinite(slope))
    assert np.all(slope >= 0)
    rounding = sum(np.abs(part) for part in mechanism_currents(v, state).values())
    # a multiplication of 1e9 magnifies the rounding of V_R/V_BR by as much
    magnified = 1e-13 + 1e-15 * multiplication(v, state)
    assert np.all(np.diff(current) >= -(rounding * magnified)[1:])


@quick
@given(laws, temperatures, voltages)
def test_a_dark_clamp_only_takes_power_and_is_quiet_only_at_zero(law, temperature, v):
    state = at_conditions(law, temperature)
    current = current_and_slope(v, state)[0]
    assert current * v >= 0
    assert current_and_slope(0.0, state)[0] == 0
    if abs(v) > 1e-100 and temperature > 200:
        assert current != 0


@quick
@given(laws, temperatures, voltages)
def test_multiplication_is_never_below_one(law, temperature, v):
    assert multiplication(v, at_conditions(law, temperature)) >= 1


def test_light_flows_out_of_the_anode_at_zero_bias():
    state = at_conditions(ClampLaw(diffusion_current=1e-14, responsivity=1e-14), 298.15, 200.0)
    assert current_and_slope(0.0, state)[0] == pytest.approx(-2e-12, rel=1e-15, abs=0)


def test_multiplication_below_the_knee_is_millers():
    # Miller, Phys. Rev. 99 (1955) 1234: M = 1/(1 − (V/V_BR)^n); closed form at half breakdown
    state = at_conditions(
        ClampLaw(generation_current=1e-12, breakdown_voltage=40.0, breakdown_exponent=3.0), 298.15
    )
    assert multiplication(-20.0, state) == pytest.approx(8 / 7, rel=1e-14, abs=0)


@pytest.mark.parametrize(("coefficient", "sign"), [(1e-3, 1), (-5e-4, -1)])
def test_breakdown_moves_with_temperature(coefficient, sign):
    # avalanche breakdown rises when hot, tunnelling falls (Sze, ch. 2): sign of the shift at 1 mA
    from clampwright.physics.terminal import voltage_at_current

    if sign > 0:
        law = ClampLaw(
            generation_current=1e-12,
            breakdown_voltage=20.0,
            breakdown_temperature_coefficient=coefficient,
        )
    else:
        law = ClampLaw(
            diffusion_current=1e-15,
            tunnelling_current=1e-3,
            tunnelling_voltage=4.0,
            tunnelling_temperature_coefficient=coefficient,
        )
    drop = [-voltage_at_current(-1e-3, at_conditions(law, t))[0] for t in (298.15, 348.15)]
    assert (drop[1] - drop[0]) / drop[0] / 50 == pytest.approx(coefficient, rel=0.1, abs=0)


def test_soft_knee_gives_its_named_point():
    law = ClampLaw(tunnelling_current=5e-3, tunnelling_voltage=4.7, tunnelling_width=0.2)
    current, slope = current_and_slope(-4.7, at_conditions(law, 298.15))
    assert current == pytest.approx(-5e-3, rel=1e-9, abs=0)
    assert slope == pytest.approx(5e-3 / 0.2, rel=1e-12, abs=0)


def test_symmetric_law_is_odd_and_gives_its_named_point():
    law = ClampLaw(symmetric_current=1e-3, symmetric_voltage=18.0, film_conductance=1e-9)
    state = at_conditions(law, 298.15)
    v = np.array([1e-6, 0.1, 5.0, 18.0, 25.0, 1e4])
    up, down = current_and_slope(v, state), current_and_slope(-v, state)
    assert np.array_equal(up[0], -down[0]) and np.array_equal(up[1], down[1])
    assert up[0][3] == pytest.approx(1e-3 + 18e-9, rel=1e-12, abs=0)


def test_past_the_knee_the_slope_resistance_is_the_breakdown_resistance():
    law = ClampLaw(generation_current=1e-14, breakdown_voltage=12.0, breakdown_resistance=3.0)
    slope = current_and_slope(-13.0, at_conditions(law, 298.15))[1]
    # 1 V past the knee the widening depletion layer still adds some percent
    assert 1 / slope == pytest.approx(3.0, rel=0.1, abs=0)


def test_cases_broadcast_and_can_be_taken():
    law = ClampLaw(generation_current=np.array([1e-12, 1e-11, 1e-10]), breakdown_voltage=30.0)
    state = at_conditions(law, 298.15)
    grid = current_and_slope(np.linspace(-5, 0.3, 4)[:, np.newaxis], state)[0]
    assert grid.shape == (4, 3)
    one = take(state, 1)
    assert current_and_slope(-5.0, one)[0] == grid[0, 1]
    assert {f.name for f in fields(ClampState)} >= {"thermal_voltage", "photocurrent"}


def test_capacitance_power_law():
    # closed form C0/(1 + V_R/V_bi)^m, values recomputed independently to 16 digits
    for m, expected in (
        (0.5, [4.0, 2.618614682831909, 1.4446302370292303, 0.8728715609439696]),
        (0.333333, [4.0, 3.0157906162741406, 2.0285766665692826, 1.4498419686952446]),
    ):
        law = ClampLaw(zero_bias_capacitance=4.0, built_in_voltage=0.75, grading=m)
        got = capacitance(-np.array([0.0, 1.0, 5.0, 15.0]), at_conditions(law, 298.15))
        assert got == pytest.approx(expected, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("law", "temperature", "sentence"),
    [
        (
            ClampLaw(),
            -25.0,
            (
                "clamp law: temperature -25 K is not positive; expected kelvin above 0; "
                "add 273.15 to a Celsius value."
            ),
        ),
        (
            ClampLaw(breakdown_voltage=30.0, breakdown_temperature_coefficient=-0.1),
            398.15,
            (
                "clamp law: breakdown voltage becomes -270 V; expected a positive voltage at every "
                "temperature; check breakdown_temperature_coefficient (per kelvin, not percent)."
            ),
        ),
        (
            ClampLaw(tunnelling_current=1e-3, tunnelling_voltage=60.0, tunnelling_width=0.1),
            298.15,
            (
                "clamp law: tunnelling voltage is 600 times its width; expected a ratio of at most "
                "500; widen the soft knee or use the avalanche form."
            ),
        ),
    ],
)
def test_errors_say_how_to_mend(law, temperature, sentence):
    with pytest.raises(InputError) as caught:
        at_conditions(law, temperature)
    assert str(caught.value) == sentence
