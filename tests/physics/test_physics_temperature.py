"""Temperature laws against published constants, textbook rules and data-sheet pairs."""

import mpmath
import numpy as np
import pytest

from clampwright.physics import constants
from clampwright.physics.temperature import (
    apparent_activation_energy,
    doubling_interval,
    silicon_band_gap,
    silicon_intrinsic_concentration,
    temperature_factor,
    thermal_voltage,
)


def test_constants_are_those_of_the_si():
    # SI 2019 (exact) and CODATA 2022
    assert constants.BOLTZMANN == 1.380649e-23
    assert constants.ELEMENTARY_CHARGE == 1.602176634e-19
    assert pytest.approx(8.8541878188e-12, rel=1e-9, abs=0) == constants.VACUUM_PERMITTIVITY
    assert pytest.approx(8.617333262e-5, rel=1e-9, abs=0) == constants.BOLTZMANN_PER_CHARGE


def test_thermal_voltage():
    # kT/q with the exact constants
    kelvin = np.array([233.15, 273.15, 298.15, 300, 398.15, 423.15])
    expected = [
        0.020091312500691485,
        0.02353824580554955,
        0.02569257912108585,
        0.025851999786435535,
        0.03430991238323103,
        0.03646424569876732,
    ]
    assert thermal_voltage(kelvin) == pytest.approx(expected, rel=1e-9, abs=0)


def test_band_gap_of_silicon():
    # Varshni form with Eg0 1.17 eV, 4.73e-4 eV/K, 636 K as tabulated in semiconductor texts
    kelvin = np.array([200, 250, 273.15, 298.15, 300, 350, 398.15, 423.15])
    expected = [
        1.1473684210526316,
        1.1366337471783294,
        1.1311824601633393,
        1.1249894675988865,
        1.1245192307692307,
        1.1112347870182555,
        1.0974944845114345,
        1.090036395843365,
    ]
    assert silicon_band_gap(kelvin) == pytest.approx(expected, rel=1e-9, abs=0)
    # a second published fit, 1.1701 − 8.45e-4·T²/(T + 1390), Archiv für Elektrotechnik 59 (1977) 1
    kelvin = np.array([250, 300, 350, 400])
    other = [1.1378972560975609, 1.1251, 1.1106100574712643, 1.0945692737430166]
    assert silicon_band_gap(kelvin) == pytest.approx(other, rel=3e-3, abs=0)  # two fits


def test_intrinsic_concentration_of_silicon():
    # Misiakos and Tsamakis 1993, computed independently, and textbook values at 300 K within ×1.6
    kelvin = np.array([273.15, 298.15, 300, 348.15, 398.15])
    per_cm3 = [
        843396752.9100528,
        8304875965.775834,
        9695570927.400055,
        314345167085.00385,
        5001415043446.706,
    ]
    got = silicon_intrinsic_concentration(kelvin)
    assert got == pytest.approx(np.array(per_cm3) * 1e6, rel=1e-9, abs=0)
    for published in (1.0e10, 9.7e9, 1.45e10, 1.5e10):
        assert 1 / 1.6 < got[2] / (published * 1e6) < 1.6


def test_doubling_interval():
    # d ln I/dT of T³·exp(−Eg/kT) and T^1.5·exp(−Eg/2kT), Eg 1.12 eV
    assert doubling_interval(300.0, 1.12, 3.0) == pytest.approx(4.488952693667161, rel=1e-6, abs=0)
    assert doubling_interval(300.0, 0.56, 1.5) == pytest.approx(8.977905387334323, rel=1e-6, abs=0)
    # at 125 °C, recomputed
    assert doubling_interval(398.0, 1.12, 3.0) == pytest.approx(7.742661708705162, rel=1e-3, abs=0)


def test_doubling_interval_is_the_derivative_of_the_factor():
    slope = mpmath.diff(lambda t: mpmath.log(float(temperature_factor(float(t), 298.15, 0.6, 1.5))),
                        330.0, h=0.01)  # fmt: skip
    assert doubling_interval(330.0, 0.6, 1.5) == pytest.approx(
        float(mpmath.log(2) / slope), rel=1e-4, abs=0
    )


def test_a_fit_reports_the_apparent_energy():
    # an Arrhenius line through two points of T^1.5·exp(−0.60 eV/kT): 0.638 eV around 25 °C
    near = np.array([297.15, 299.15])
    current = temperature_factor(near, 298.15, 0.60, 1.5)
    fitted = (
        constants.BOLTZMANN_PER_CHARGE
        * np.log(current[1] / current[0])
        / (1 / near[0] - 1 / near[1])
    )
    assert fitted == pytest.approx(apparent_activation_energy(0.60, 1.5, 298.15), rel=1e-4, abs=0)
    assert fitted == pytest.approx(0.6385, abs=5e-4)


def test_ten_kelvin_rule_against_generation():
    # ×2 per 10 °C makes ×64 from 25 to 85 °C; generation (0.56…0.60 eV, T^1.5) makes ×51…66
    assert temperature_factor(358.15, 298.15, 0.56, 1.5) == pytest.approx(51, rel=0.01, abs=0)
    assert temperature_factor(358.15, 298.15, 0.60, 1.5) == pytest.approx(66, rel=0.01, abs=0)


def test_the_clamp_law_obeys_the_coefficient():
    # (V − 3kT/q − Eg)/T at constant current, by finite difference of the whole law
    # Source: Gray, Hurst, Lewis and Meyer, Analysis and Design of Analog Integrated Circuits, ch. 4
    from clampwright.physics.clamp import ClampLaw, at_conditions
    from clampwright.physics.terminal import voltage_at_current

    law = ClampLaw(diffusion_current=1e-14, reference_temperature=300.0)
    volts = [voltage_at_current(1e-3, at_conditions(law, t))[0] for t in (299.5, 300.0, 300.5)]
    expected = (volts[1] - 3 * thermal_voltage(300.0) - 1.12) / 300.0
    assert volts[2] - volts[0] == pytest.approx(float(expected), rel=1e-4, abs=0)
