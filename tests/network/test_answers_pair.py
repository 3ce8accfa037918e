"""Two legs of a differential input: rejection exact, by 50 digits and by the trade's formulas.

1/(ΔR·g + R·Δg) and 1/(2πf(R·ΔC + C·ΔR)) for R·Y ≪ 1: Kitchin and Counts' low-pass treatment of input
networks and most texts on instrumentation inputs. The strain bridge is our own demonstration: 81 dB
with 2 % capacitors, 75 dB with 5 %, both with 1 % resistors, at 4.7 kΩ, 1 nF and 50 Hz.
"""

from math import pi, sqrt

import mpmath
import numpy as np
import pytest

from clampwright.errors import InputError
from clampwright.network.circuit import Capacitor, Circuit, ClampBranch, Resistor
from clampwright.network.linearise import linearise
from clampwright.network.noise_at import NoiseVoltage, noise_power, resistor_currents
from clampwright.network.noise_band import noise_in_band
from clampwright.network.pair import (
    common_mode_rejection,
    conversion,
    decibels,
    two_legs,
)
from clampwright.network.solve import Values, solve
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope

SHARED = ("rail positive", "rail negative", "ground")
LEGS = (("source plus", "pin plus"), ("source minus", "pin minus"))
R, C = 4.7e3, 1e-9


def near(value, rel=1e-9):
    """Relative agreement alone, no absolute slack."""
    return pytest.approx(value, rel=rel, abs=0)


LEG = Circuit(
    fixed=("source", *SHARED),
    resistors=(Resistor("R", "source", "pin"),),
    clamps=(
        ClampBranch("upper", "pin", "rail positive"),
        ClampBranch("lower", "rail negative", "pin"),
    ),
    capacitors=(Capacitor("C", "pin"),),
)


def pair(ohms, farads, laws=None, across=0.0):
    """Rails ±5 V around a common mode of 0 V; ohms, farads and laws of both legs."""
    both = two_legs(LEG, SHARED)
    names = ("plus", "minus")
    laws = laws or (at_conditions(ClampLaw(), 298.15),) * 2
    values = Values(
        {"source plus": 0.0, "source minus": 0.0, "ground": 0.0,
         "rail positive": 5.0, "rail negative": -5.0},
        {f"R {n}": r for n, r in zip(names, ohms, strict=True)},
        {f"{side} {n}": law for n, law in zip(names, laws, strict=True)
         for side in ("upper", "lower")},
        {},
        {},
    )  # fmt: skip
    fitted = {f"C {n}": c for n, c in zip(names, farads, strict=True)}
    if across:
        both = Circuit(**{**vars(both), "capacitors": (
            *both.capacitors, Capacitor("C_across", "pin plus", "pin minus"))})  # fmt: skip
        fitted["C_across"] = across
    solution = solve(both, values)
    return both, values, solution, linearise(both, values, solution, fitted)


@pytest.mark.parametrize(
    ("ohms", "tolerance", "rejection"),
    [(1e3, 0.02, 94), (2.2e3, 0.02, 88), (4.7e3, 0.02, 81), (1e4, 0.02, 74), (4.7e3, 0.05, 75)],
)
def test_the_strain_bridge(ohms, tolerance, rejection):
    """Worst pair: resistors +1 % and −1 %, capacitors up and down by their tolerance, the same leg."""
    worst = (1.01 * ohms, 0.99 * ohms), ((1 + tolerance) * C, (1 - tolerance) * C)
    network = pair(*worst)[3]
    found = decibels(common_mode_rejection(network, LEGS, 50.0))[0, 0]
    drawn = 2 * pi * 50.0 * (ohms * 2 * tolerance * C + C * 2 * 0.01 * ohms)  # 2πf·(R·ΔC + C·ΔR)
    rule = decibels(1 / drawn)
    assert found == pytest.approx(float(rule), abs=0.01)
    assert found == pytest.approx(rejection, abs=0.6)


def test_rejection_of_two_legs_by_fifty_digits():
    """|H_d| / |H_a − H_b| of two poles with a capacitor across, at a frequency of 1 mHz to 1 MHz."""
    mpmath.mp.dps = 50
    ra, rb, ca, cb, across = 4747.0, 4653.0, 1.02e-9, 0.98e-9, 22e-9
    network = pair((ra, rb), (ca, cb), across=across)[3]
    for f in (1e-3, 50.0, 1e6):
        s = 2j * mpmath.pi * mpmath.mpf(f)
        ya, yb = (
            1 / mpmath.mpf(ra) + s * (ca + mpmath.mpf(across)),
            1 / mpmath.mpf(rb) + s * (cb + mpmath.mpf(across)),
        )
        # the ideal clamps of this case conduct nothing at all
        both = mpmath.matrix([[ya, -s * across], [-s * across, yb]])
        common = mpmath.lu_solve(both, mpmath.matrix([1 / mpmath.mpf(ra), 1 / mpmath.mpf(rb)]))
        half = mpmath.matrix([mpmath.mpf(1) / 2 / ra, mpmath.mpf(-1) / 2 / rb])
        difference = mpmath.lu_solve(both, half)
        exact = abs(difference[0] - difference[1]) / abs(common[0] - common[1])
        found = common_mode_rejection(network, LEGS, f)[0, 0]
        assert found == near(float(exact), 1e-11)


def test_steady_rejection_of_leaking_clamps():
    """Slopes of the two legs' clamps at 5 V and 1 % of ΔR: the exact network against the formula."""
    laws = [at_conditions(ClampLaw(generation_current=i), 298.15) for i in (50e-12, 80e-12)]
    _, _, solution, network = pair((1.01 * R, 0.99 * R), (C, C), laws)
    slopes = [
        sum(
            float(current_and_slope(solution.clamp_voltage[f"{side} {leg}"], law)[1][0])
            for side in ("upper", "lower")
        )
        for leg, law in zip(("plus", "minus"), laws, strict=True)
    ]
    mean = sum(slopes) / 2
    rule = 1 / abs(0.02 * R * mean + R * (slopes[0] - slopes[1]))  # 1/(ΔR·g + R·Δg)
    found = common_mode_rejection(network, LEGS, 0.0)[0, 0]
    assert found == near(float(rule), 1e-6)
    assert found > 1e6  # and still six digits: the difference of two transfers would have none left


def test_equal_legs_reject_everything():
    network = pair((R, R), (C, C))[3]
    common, difference = conversion(network, LEGS, 50.0)
    assert common[0, 0] == 0.0
    assert abs(difference[0, 0]) == near(1 / abs(1 + 2j * pi * 50 * R * C))
    assert common_mode_rejection(network, LEGS, 50.0)[0, 0] == np.inf


def test_solved_offset_of_opposite_legs():
    """One leg leaks up, the other down: the solver's difference is 2·I·R."""
    law = at_conditions(ClampLaw(generation_current=50e-12), 298.15)
    circuit, values, _, _ = pair((R, R), (C, C), (law, law))
    absent = at_conditions(ClampLaw(), 298.15)
    values = Values(
        values.potentials,
        values.resistances,
        {**values.laws, "lower plus": absent, "upper minus": absent},
        {},
        {},
    )
    solution = solve(circuit, values)
    found = solution.deviation["pin plus"] - solution.deviation["pin minus"]
    current = -float(current_and_slope(-5.0, law)[0])
    assert found[0] == near(2 * current * R, 1e-6)


def test_noise_between_the_pins_of_the_strain_bridge():
    """4.7 kΩ in each leg: 12.4 nV/√Hz; 15.0 with 175 Ω of bridge and 8 nV/√Hz of amplifier.

    0.16 µV in a band of 100 Hz ended by one pole, π/2·100 Hz: the resistors alone. 22 nF across the
    pins put a second pole at 1/(2π·2R·22.5 nF) before it: π/2·f1·f2/(f1 + f2).
    """
    both, values, _, network = pair((R, R), (C, C))
    heat = resistor_currents(both, values, {r.name: 298.15 for r in both.resistors})

    def power(f):
        return noise_power(network, "pin plus", f, heat, less="pin minus").total

    assert sqrt(power(0.0)[0, 0]) * 1e9 == near(12.4, 5e-3)
    assert noise_in_band(power, 100.0, "one pole")[0] * 1e6 == near(0.16, 0.03)
    network = pair((R, R), (C, C), across=22e-9)[3]
    own = 1 / (2 * pi * 2 * R * 22.5e-9)
    by_hand = sqrt(4 * 1.380649e-23 * 298.15 * 2 * R * pi / 2 * 100 * own / (100 + own))
    assert noise_in_band(power, 100.0, "one pole")[0] == near(by_hand, 1e-6)
    bridge, values, _, network = pair((R + 175, R + 175), (C, C))
    heat = resistor_currents(bridge, values, {r.name: 298.15 for r in bridge.resistors})
    amplifier = [NoiseVoltage("amplifier voltage noise", 8e-9)]
    found = noise_power(network, "pin plus", 0.0, heat, amplifier, less="pin minus")
    assert found.density[0, 0] * 1e9 == near(15.0, 5e-3)


def test_a_capacitor_across_the_pins_shorts_their_difference():
    """½·C·v² = ½·kT of the difference: √(kT/(C_across + C/2)) of two equal legs."""
    both, values, _, network = pair((R, R), (C, C), across=22e-9)
    heat = resistor_currents(both, values, {r.name: 300.0 for r in both.resistors})

    def power(f):
        return noise_power(network, "pin plus", f, heat, less="pin minus").total

    found = noise_in_band(power, 1e13, "brick wall", slowest=100.0)[0]
    assert found == near(sqrt(1.380649e-23 * 300 / 22.5e-9), 1e-6)


def test_a_pin_must_be_free():
    network = pair((R, R), (C, C))[3]
    with pytest.raises(InputError, match="no free node"):
        conversion(network, (LEGS[0], ("source minus", "ground")), 50.0)
