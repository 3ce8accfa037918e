"""Depletion layer against worked textbook problems, and stored charge against its integral."""

import numpy as np
import pytest
from scipy.integrate import quad

from clampwright.physics.charge import (
    capacitance,
    diffusion_capacitance,
    stored_charge,
)
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE, ELEMENTARY_CHARGE
from clampwright.physics.constants import VACUUM_PERMITTIVITY as EPSILON
from clampwright.physics.depletion import (
    built_in_voltage,
    depletion_capacitance,
    depletion_width,
    image_force_lowering,
    largest_field,
)

PER_CM3 = 1e6


def test_widths_of_a_lightly_doped_junction():
    # Jaeger and Blalock, Microelectronic Circuit Design, problem 3.37: kT/q 25 mV, n_i 1e10 cm⁻³
    doping = (1e16 * PER_CM3, 1e15 * PER_CM3)
    built_in = built_in_voltage(*doping, 0.025 / BOLTZMANN_PER_CHARGE, 1e10 * PER_CM3)
    assert built_in == pytest.approx(0.633211, rel=5e-4, abs=0)
    width = depletion_width(np.array([0.0, 10.0, 100.0]), built_in, *doping)
    assert width * 1e6 == pytest.approx([0.949111, 3.889332, 11.96502], rel=5e-4, abs=0)


def test_width_and_field():
    # Neamen, Semiconductor Physics and Devices, end-of-chapter problem: kT/q 25.9 mV, n_i 1.5e10
    doping = (1e17 * PER_CM3, 5e15 * PER_CM3)
    built_in = built_in_voltage(*doping, 0.0259 / BOLTZMANN_PER_CHARGE, 1.5e10 * PER_CM3)
    assert built_in == pytest.approx(0.736325, rel=1e-3, abs=0)
    width = depletion_width(0.0, built_in, *doping)
    assert width * 1e6 == pytest.approx(0.426064 + 0.0213032, rel=1e-3, abs=0)  # n and p side
    assert largest_field(0.0, built_in, width) == pytest.approx(32918.2e2, rel=1e-3, abs=0)


def test_capacitance_from_doping():
    # Sedra and Smith, pn-junction examples (published figures from memory: 3.2 and 1.72 pF)
    doping = (1e18 * PER_CM3, 1e16 * PER_CM3)
    built_in = built_in_voltage(*doping, 0.0259 / BOLTZMANN_PER_CHARGE, 1.5e10 * PER_CM3)
    assert built_in == pytest.approx(0.813914, rel=1e-3, abs=0)
    width = depletion_width(np.array([0.0, 2.0]), built_in, *doping)
    got = depletion_capacitance(1e-4 * 1e-4, width)
    assert got * 1e12 == pytest.approx([3.174385, 1.707236], rel=0.01, abs=0)
    # the power law of the clamp with grading ½ is the same curve
    law = ClampLaw(zero_bias_capacitance=float(got[0]), built_in_voltage=float(built_in))
    assert capacitance(-2.0, at_conditions(law, 298.15)) == pytest.approx(got[1], rel=1e-12, abs=0)


def test_image_force_in_vacuum():
    # Sze, ch. 3 (value from memory): Δφ = 0.12 V at 1e5 V/cm and 1.2 V at 1e7 V/cm, ε_r 1
    for field, lowering in ((1e7, 0.12), (1e9, 1.2)):
        donors = field**2 * EPSILON / (2 * ELEMENTARY_CHARGE)  # makes E at V_R + V_bi = 1 V
        assert image_force_lowering(donors, 1.0) == pytest.approx(lowering, rel=0.01, abs=0)


def test_schottky_current_follows_the_fourth_root():
    # ln I against (V_R + V_bi)^¼ is a straight line of slope c/V_T (Sze, ch. 3)
    c = float(image_force_lowering(1e22))
    law = ClampLaw(diffusion_current=1e-7, image_force_lowering=c, built_in_voltage=0.4)
    state = at_conditions(law, 298.15)
    v = np.array([0.5, 5.0, 15.0])
    logs, roots = np.log(-current_and_slope(-v, state)[0]), (v + 0.4) ** 0.25
    slope = np.diff(logs) / np.diff(roots)
    assert slope == pytest.approx(c / (BOLTZMANN_PER_CHARGE * 298.15), rel=1e-6, abs=0)


@pytest.mark.parametrize("grading", [0.0, 1 / 3, 0.5, 0.9, 1.0])
def test_charge_is_the_integral_of_capacitance(grading):
    law = ClampLaw(zero_bias_capacitance=4e-12, grading=grading)
    state = at_conditions(law, 298.15)
    for v in (-1e4, -15.0, -1e-9, 0.0, 0.3):
        cuts = [-100.0, -1.0] if v < -100 else None
        area = quad(lambda x: capacitance(x, state), 0, v, points=cuts, epsabs=0, limit=200)[0]
        assert stored_charge(v, state) == pytest.approx(area, rel=1e-8, abs=1e-35)


def test_diffusion_capacitance_follows_the_forward_current():
    state = at_conditions(ClampLaw(diffusion_current=1e-14, transit_time=5e-9), 298.15)
    current, slope = current_and_slope(np.array([-5.0, 0.6]), state)
    assert diffusion_capacitance(current, slope, state) == pytest.approx(
        [0.0, 5e-9 * slope[1]], abs=0
    )
