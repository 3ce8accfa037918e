"""Heat, source resistance, operating gate and range flags."""

import numpy as np
import pytest

from clampwright.errors import InputError
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope
from clampwright.physics.gate import operating_gate_current
from clampwright.physics.ranges import flags
from clampwright.physics.source_resistance import source_resistance
from clampwright.physics.thermal import (
    junction_temperature,
    self_heated_clamp,
    self_heated_temperature,
    thermal_impedance,
)


def test_source_resistance_laws():
    # halves per 6 °C hotter, doubles per 8 °C colder: common practice, no source; doublings exact
    assert source_resistance(318.15, 1e3, 298.15) == 1e3
    assert source_resistance(310.15, 500e6, 298.15, "photodiode shunt") == pytest.approx(
        125e6, abs=0
    )
    assert source_resistance(282.15, 50e6, 298.15, "glass electrode") == pytest.approx(200e6, abs=0)
    assert source_resistance(288.15, 50e6, 298.15, "glass electrode", 10.0) == pytest.approx(
        100e6, abs=0
    )
    both = source_resistance(np.array([290.15, 298.15]), 50e6, 298.15, "glass electrode")
    assert both == pytest.approx([100e6, 50e6], abs=0)


@pytest.mark.parametrize(
    ("law", "interval", "words"),
    [
        ("copper", None, 'unknown source law "copper"; expected constant, glass electrode'),
        ("glass electrode", -8.0, "interval -8 K is not positive"),
    ],
)
def test_source_resistance_refuses(law, interval, words):
    with pytest.raises(InputError, match=words):
        source_resistance(298.15, 1e3, 298.15, law, interval)


def test_junction_temperature_and_one_thermal_pole():
    # definition of R_th; the step response of one pole reaches 1 − 1/e after its time constant
    assert junction_temperature(298.15, 0.1, 350.0) == pytest.approx(333.15, abs=0)
    assert thermal_impedance(0.5, 350.0, 0.5) == pytest.approx(
        350 * (1 - np.exp(-1)), rel=1e-12, abs=0
    )
    assert thermal_impedance(1e-12, 350.0, 1.0) == pytest.approx(350e-12, rel=1e-9, abs=0)


def test_self_heating_closes_the_balance():
    law = ClampLaw(diffusion_current=1e-14)
    hot, current = self_heated_clamp(law, 0.7, 298.15, 300.0)
    assert hot > 299
    expected = current_and_slope(0.7, at_conditions(law, hot))[0]
    assert current == pytest.approx(expected, rel=1e-12, abs=0)
    assert hot == pytest.approx(298.15 + 300.0 * 0.7 * current, abs=1e-6)


def test_self_heating_with_constant_power_and_runaway():
    powers = np.array([0.0, 0.1, 1.0])
    hot = self_heated_temperature(lambda t: powers + 0 * t, np.full(3, 298.15), 350.0)
    assert hot == pytest.approx([298.15, 333.15, np.inf], rel=1e-12, abs=0)
    # a large Schottky junction held at 30 V on a poor heat path runs away
    leaky = ClampLaw(diffusion_current=1e-3, diffusion_activation_energy=0.6)
    hot, current = self_heated_clamp(leaky, -30.0, 298.15, 350.0)
    assert np.isinf(hot) and np.isinf(current)


def test_operating_gate_current_rises_above_its_breakpoint():
    v = np.array([2.0, 5.0, 10.0, 20.0])
    current, slope = operating_gate_current(v, 1e-3, 1e-12, 1.0, 250.0, 1.0)
    assert current[0] == pytest.approx(1e-12, rel=1e-12, abs=0)
    assert current[3] > 100 * current[2] > 100 * current[1]
    step = 1e-6
    ahead = operating_gate_current(v + step, 1e-3, 0.0, 1.0, 250.0, 1.0)[0]
    behind = operating_gate_current(v - step, 1e-3, 0.0, 1.0, 250.0, 1.0)[0]
    assert slope == pytest.approx((ahead - behind) / (2 * step), rel=1e-6, abs=1e-100)
    below = operating_gate_current(0.5, 1e-3, 1e-12, 1.0, 250.0, 1.0)
    assert below == (pytest.approx(1e-12, abs=0), 0.0)


def test_flags_say_what_leaves_the_range():
    law = ClampLaw(
        breakdown_voltage=30.0,
        valid_temperature_minimum=283.15,
        valid_temperature_maximum=343.15,
        valid_reverse_voltage_maximum=5.0,
        valid_illuminance_maximum=1000.0,
    )
    assert flags(law, -5.0, 298.15, 1000.0) == ()
    assert flags(law, -6.0, 298.15) == ("more reverse voltage than its evidence",)
    assert flags(law, np.array([-5.0, -31.0]), 298.15) == (
        "more reverse voltage than its evidence",
        "past its breakdown voltage",
    )
    assert flags(law, 0.3, 263.15) == ("colder than its evidence",)
    assert flags(law, 0.3, np.array([298.15, 358.15]), 2e3) == (
        "hotter than its evidence",
        "more light than its evidence",
    )
    assert flags(ClampLaw(), 2e4, 600.0) == (
        "outside 100 to 500 K of the formula",
        "outside ±10 kV of the formula",
    )
