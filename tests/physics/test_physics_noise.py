"""Noise against Nyquist, Schottky and the equilibrium theorem."""

from dataclasses import replace

import numpy as np
import pytest

from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope
from clampwright.physics.constants import BOLTZMANN, ELEMENTARY_CHARGE
from clampwright.physics.laws import MECHANISMS
from clampwright.physics.noise import (
    capacitor_noise,
    clamp_noise_density,
    resistor_current_noise,
    resistor_voltage_noise,
    shot_noise,
)


def test_resistor_noise():
    # the standard worked figure: 1 kΩ at 300 K makes 4.07 nV/√Hz
    assert resistor_voltage_noise(1000.0, 300.0) == pytest.approx(4.0703548e-9, rel=1e-6, abs=0)
    assert resistor_voltage_noise(1000.0, 298.15) == pytest.approx(4.0577851e-9, rel=1e-6, abs=0)
    # 1 kΩ, 10 kHz, 290 K: 400 nV
    assert resistor_voltage_noise(1e3, 290.0) * 100 == pytest.approx(400.194e-9, rel=1e-5, abs=0)
    ohms = np.array([1e4, 1e5, 1e6, 1e8, 1e9, 1e10])
    volts = np.array([12.83184319, 40.57785107, 128.3184319, 1283.184319, 4057.785107, 12831.84319])
    amps = np.array([1283.184319, 405.7785107, 128.3184319, 12.83184319, 4.057785107, 1.283184319])
    assert resistor_voltage_noise(ohms, 298.15) == pytest.approx(volts * 1e-9, rel=1e-9, abs=0)
    assert resistor_current_noise(ohms, 298.15) == pytest.approx(amps * 1e-15, rel=1e-9, abs=0)


def test_shot_noise():
    # √(2qI), computed independently
    amps = np.array([1e-12, 1e-10, 1e-9, -1e-6])
    expected = [5.660700723408719e-16, 5.66070072340872e-15, 1.790070743853438e-14,
                5.660700723408719e-13]  # fmt: skip
    assert shot_noise(amps) == pytest.approx(expected, rel=1e-9, abs=0)


def test_capacitor_noise():
    # √(kT/C): 64 µV for 1 pF at 300 K
    farads = np.array([1e-12, 1e-11, 1e-10])
    expected = np.array([64.35795988, 20.35177388, 6.435795988]) * 1e-6
    assert capacitor_noise(farads, 300.0) == pytest.approx(expected, rel=1e-6, abs=0)


@pytest.mark.parametrize("mechanism", MECHANISMS, ids=lambda m: m.name)
@pytest.mark.parametrize("temperature", [200.0, 298.15, 398.15])
def test_zero_bias_noise_is_thermal(mechanism, temperature):
    # fluctuation–dissipation: 4kT·dI/dV at 0 V in the dark, whatever the mechanism
    state = at_conditions(ClampLaw(**mechanism.example), temperature)
    slope = current_and_slope(0.0, state)[1]
    expected = 4 * BOLTZMANN * temperature * slope
    for v in (0.0, 1e-12, -1e-9):
        assert clamp_noise_density(v, state) == pytest.approx(expected, rel=1e-7, abs=1e-300)


def test_ideal_junction_noise_counts_both_streams():
    # 2q(I + 2·I_0) for an ideal junction (van der Ziel, Noise in Solid State Devices)
    state = at_conditions(ClampLaw(diffusion_current=1e-14), 298.15)
    v = np.array([-5.0, -0.02, -1e-4, 1e-4, 0.02, 0.3])
    current = current_and_slope(v, state)[0]
    expected = 2 * ELEMENTARY_CHARGE * (current + 2e-14)
    assert clamp_noise_density(v, state) == pytest.approx(expected, rel=1e-9, abs=0)


def test_noise_of_two_clamps_adds_where_their_currents_cancel():
    state = at_conditions(ClampLaw(generation_current=1e-12), 298.15)
    up, down = current_and_slope(-5.0, state)[0], -current_and_slope(-5.0, state)[0]
    assert up + down == 0
    both = 2 * clamp_noise_density(-5.0, state)
    assert np.sqrt(both) == pytest.approx(shot_noise(2 * up), rel=1e-9, abs=0)


def test_light_adds_its_own_shot_noise():
    law = ClampLaw(diffusion_current=1e-14, responsivity=1e-14)
    dark, lit = (clamp_noise_density(0.0, at_conditions(law, 298.15, e)) for e in (0.0, 1e3))
    assert lit - dark == pytest.approx(2 * ELEMENTARY_CHARGE * 1e-11, rel=1e-9, abs=0)


def test_film_noise_stays_thermal_under_bias():
    state = at_conditions(ClampLaw(film_conductance=1e-9), 298.15)
    expected = resistor_current_noise(1e9, 298.15) ** 2
    assert clamp_noise_density(5.0, state) == pytest.approx(expected, rel=1e-9, abs=0)


@pytest.mark.parametrize("illuminance", [0.0, 1e4])
def test_avalanche_noise_grows_with_the_cube(illuminance):
    # McIntyre, IEEE Trans. Electron Devices 13 (1966) 164: 2q·I·M²·F with F = M for equal ionisation
    law = ClampLaw(generation_current=1e-12, breakdown_exponent=3.0, responsivity=1e-14)
    quiet = at_conditions(law, 298.15, illuminance)
    loud = at_conditions(replace(law, breakdown_voltage=40.0), 298.15, illuminance)
    m = 8 / 7  # Miller's multiplication at half the breakdown voltage
    expected = clamp_noise_density(-20.0, quiet) * m**3
    assert clamp_noise_density(-20.0, loud) == pytest.approx(expected, rel=1e-12, abs=0)
