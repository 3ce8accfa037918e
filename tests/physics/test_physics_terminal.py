"""Series resistance solved: 50-digit reference points, an independent library, closed forms."""

import json
from pathlib import Path

import mpmath
import numpy as np
import pvlib
import pytest

from clampwright.errors import InputError
from clampwright.physics.clamp import ClampLaw, ClampState, at_conditions, current_and_slope
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE
from clampwright.physics.terminal import (
    junction_voltage,
    terminal_current_and_slope,
    voltage_at_current,
)

DATA = Path(__file__).parents[1] / "data" / "junction_reference_points.json"
POINTS = json.loads(DATA.read_text(encoding="utf-8"))["points"]


def ideal(saturation, ideality, temperature, light=0.0, series=0.0, shunt=None):
    """The state of one exponential with light, series and shunt resistance."""
    return ClampState(
        thermal_voltage=BOLTZMANN_PER_CHARGE * temperature,
        diffusion_current=saturation,
        diffusion_ideality=ideality,
        generation_current=0.0,
        generation_ideality=2.0,
        built_in_voltage=0.7,
        grading=0.5,
        film_conductance=0.0 if shunt is None else 1 / shunt,
        photocurrent=light,
        series_resistance=series,
        zero_bias_capacitance=0.0,
    )


@pytest.mark.parametrize("point", POINTS, ids=lambda point: point["id"])
def test_reference_points(point):
    # 50-digit solutions of the single-exponential equation, 20 digits kept; Lambert W and an
    # independent photovoltaic library agree
    state = ideal(
        point["saturation_current_A"],
        point["ideality"],
        point["temperature_K"],
        point["light_current_A"],
        point["series_ohm"],
        point["shunt_ohm"],
    )
    current, slope = terminal_current_and_slope(point["terminal_voltage_V"], state)
    assert current == pytest.approx(float(point["current_A"]), rel=1e-12, abs=0)
    junction = junction_voltage(point["terminal_voltage_V"], state)
    assert junction == pytest.approx(float(point["junction_voltage_V"]), rel=1e-12, abs=0)
    assert slope == pytest.approx(
        1 / (point["series_ohm"] + 1 / current_and_slope(junction, state)[1]), rel=1e-12, abs=0
    )


@pytest.mark.parametrize("method", ["lambertw", "newton"])
def test_two_thousand_illuminated_junctions_against_a_reference_library(method):
    # pvlib.pvsystem.i_from_v; Lambert W loses digits by subtraction, Newton stops at its own
    # tolerance: 1e-8 of the sum of the terms holds for both
    random = np.random.default_rng(20261125)
    n = 2000
    saturation, light = 10 ** random.uniform(-15, -8, n), 10 ** random.uniform(-9, -2, n)
    series, shunt = 10 ** random.uniform(-2, 2, n), 10 ** random.uniform(4, 9, n)
    ideality, temperature = random.uniform(1, 2, n), random.uniform(250, 400, n)
    scale = ideality * BOLTZMANN_PER_CHARGE * temperature
    voltage = random.uniform(-1, 1, n) * scale * np.log1p(light / saturation)
    state = ideal(saturation, ideality, temperature, light, series, shunt)
    got = terminal_current_and_slope(voltage, state)[0]
    theirs = -pvlib.pvsystem.i_from_v(
        voltage, light, saturation, series, shunt, scale, method=method
    )
    terms = np.abs(theirs) + light + np.abs(voltage) / shunt
    assert np.max(np.abs(got - theirs) / terms) < 1e-8


def test_against_lambert_w_in_fifty_digits():
    # no shunt: I = n·V_T/R·W(I_0·R/(n·V_T)·exp((V + I_0·R)/(n·V_T))) − I_0 (Corless et al. 1996)
    mpmath.mp.dps = 50
    for voltage in (1e-12, 1e-3, 0.3, 0.7, 5.0, 300.0, 1e4):
        for saturation, series in ((1e-14, 1.0), (1e-9, 1e5), (1e-18, 1e-3)):
            scale = mpmath.mpf(BOLTZMANN_PER_CHARGE * 298.15)
            drive = saturation * mpmath.mpf(series)
            argument = drive / scale * mpmath.exp((voltage + drive) / scale)
            exact = scale / series * mpmath.lambertw(argument).real - saturation
            got = terminal_current_and_slope(voltage, ideal(saturation, 1.0, 298.15, 0.0, series))
            assert got[0] == pytest.approx(float(exact), rel=1e-12, abs=0)


def test_textbook_iteration():
    # Sedra and Smith, Microelectronic Circuits: 5 V, 1 kΩ, 1 mA at 0.7 V, 60 mV per decade give
    # 4.262 mA and 0.738 V; the −1 of the exponential is below the digits here
    scale = 0.06 / np.log(10)
    state = ideal(1e-3 * np.exp(-0.7 / scale), scale / (BOLTZMANN_PER_CHARGE * 300), 300, 0, 1e3)
    current = terminal_current_and_slope(5.0, state)[0]
    assert current == pytest.approx(4.262221837e-3, rel=1e-8, abs=0)
    # problem 4.34: 1 V, 1 kΩ, 1e-15 A, kT/q taken as 25 mV
    state = ideal(1e-15, 1.0, 0.025 / BOLTZMANN_PER_CHARGE, 0, 1e3)
    current = terminal_current_and_slope(1.0, state)[0]
    assert current == pytest.approx(0.3364566232e-3, rel=1e-9, abs=0)


def random_clamps(n):
    random = np.random.default_rng(7)
    law = ClampLaw(
        diffusion_current=10 ** random.uniform(-18, -9, n),
        generation_current=10 ** random.uniform(-15, -9, n),
        film_conductance=10 ** random.uniform(-15, -8, n),
        series_resistance=10 ** random.uniform(-3, 8, n),
        responsivity=10 ** random.uniform(-14, -9, n),
        breakdown_voltage=random.uniform(5, 80, n),
        tunnelling_current=np.where(random.random(n) < 0.3, 1e-3, 0.0),
        symmetric_current=np.where(random.random(n) < 0.3, 1e-3, 0.0),
        symmetric_voltage=20.0,
    )
    light = random.uniform(0, 1000, n) * (random.random(n) < 0.5)
    state = at_conditions(law, random.uniform(200, 450, n), light)
    return state, np.sign(random.random(n) - 0.5) * 10 ** random.uniform(-12, 4, n)


def test_every_kind_of_clamp_closes_its_loop():
    state, voltage = random_clamps(20_000)
    junction = junction_voltage(voltage, state)
    current, slope = current_and_slope(junction, state)
    drop = state.series_resistance
    terms = np.abs(voltage) + np.abs(junction) * (1 + drop * slope) + drop * state.photocurrent
    assert np.max(np.abs(junction + drop * current - voltage) / terms) < 2e-15


def test_voltage_at_current_is_the_inverse():
    state, voltage = random_clamps(5_000)
    current = terminal_current_and_slope(voltage, state)[0]
    back, resistance = voltage_at_current(current, state)
    terms = np.abs(voltage) + resistance * (np.abs(current) + state.photocurrent)
    assert np.max(np.abs(back - voltage) / terms) < 1e-13


def test_a_current_that_cannot_flow_is_refused():
    with pytest.raises(InputError, match=r"cannot carry -0.001 A to -0.001 A; expected a current"):
        voltage_at_current(-1e-3, ideal(1e-15, 1.0, 298.15))
