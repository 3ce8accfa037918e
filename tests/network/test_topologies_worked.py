"""Worked numbers of three invented inputs, each computed by hand from its circuit's own equation.

A pH logger (glass electrode, 218 MΩ in cold soil), a strain bridge, a photodiode box. The junctions
are generation laws of the stated leakage, energy, exponent and ideality, as in the hand equations.
"""

from math import exp

import numpy as np
import pytest

from clampwright.network.solve import Values, require_converged, solve_plain
from clampwright.network.topologies import (
    CATALOGUE,
    error_voltage,
    fault_circuit,
    paired,
    signal_circuit,
)
from clampwright.physics.clamp import ClampLaw, at_conditions

K_Q = 8.617333262e-5  # [V/K] CODATA 2018
BENCH, BOX = 296.15, 318.15  # [K] where the parts were measured, and the hot board
COLD_GLASS = 50e6 * 2 ** (17 / 8)  # [Ω] 50 MΩ at 25 °C, doubling every 8 K colder, at 8 °C
PARTS = {  # A at 5 V, eV, depletion exponent, ideality at 0 V
    "NPN collector–base": (3.7e-12, 0.66, 0.5, 1.6),
    "JFET gate": (0.8e-12, 0.64, 0.4, 1.5),
    "glass switching diode": (2.1e-9, 0.58, 0.5, 1.9),
}
STIFF = ClampLaw(diffusion_current=1e-14)


def hot(part):
    """Law at the hot board; the leakage is stated at 5 V, the law at zero widening."""
    at_five_volts, energy, exponent, ideality = PARTS[part]
    return at_conditions(
        ClampLaw(
            generation_current=at_five_volts / (1 + 5 / 0.7) ** exponent,
            generation_ideality=ideality,
            generation_activation_energy=energy,
            generation_temperature_exponent=0.0,
            grading=exponent,
            reference_temperature=BENCH,
        ),
        BOX,
    )


def grown(part):
    """By hand: leakage at zero widening on the hot board (A)."""
    at_five_volts, energy, exponent, _ = PARTS[part]
    return at_five_volts / 8.142857**exponent * exp(energy / K_Q * (1 / BENCH - 1 / BOX))


def ph_logger(name, laws):
    topology = CATALOGUE[name]
    given = Values(
        {"source": 0.237, "rail positive": 2.5, "rail negative": -2.5},
        {"R_S": COLD_GLASS, "R_outer": 940e3, "R_inner": 1e4, "R_guard": 4.7e3},
        laws,
        {"bias": 0.0},
        {"guard": (1.0, 250e-6)},
    )
    solution = require_converged(solve_plain(signal_circuit(topology, inner=True), given), name)
    return abs(error_voltage(topology, solution, given)[0])


@pytest.mark.parametrize(
    ("part", "expected"),
    [("NPN collector–base", 19.3e-6), ("JFET gate", 5.2e-6), ("glass switching diode", 7.42e-3)],
)
def test_a_guarded_pair_on_cold_glass(part, expected):
    """R·V_g·2·I_0/(n·kT/q) with 250 µV of guard offset, and the number of the worked example."""
    found = ph_logger("T5", {"forward": hot(part), "backward": hot(part)})
    slope = grown(part) / (PARTS[part][3] * K_Q * BOX)
    by_hand = (COLD_GLASS + 940e3) * 250e-6 * 2 * slope
    assert found == pytest.approx(by_hand, rel=5e-3, abs=0)
    assert found == pytest.approx(expected, rel=1e-2, abs=0)


@pytest.mark.parametrize(
    ("part", "expected"), [("NPN collector–base", 3.7e-3), ("JFET gate", 0.81e-3)]
)
def test_one_rail_clamp_on_cold_glass(part, expected):
    """The lower clamp alone at 2.74 V: I_0·(1 + V/V_bi)^m·R."""
    found = ph_logger("T2", {"upper": at_conditions(ClampLaw(), BOX), "lower": hot(part)})
    by_hand = (COLD_GLASS + 940e3) * grown(part) * (1 + 2.737 / 0.7) ** PARTS[part][2]
    assert found == pytest.approx(by_hand, rel=5e-3, abs=0)
    assert found == pytest.approx(expected, rel=3e-2, abs=0)


def into_connector(topology, volts, laws, ohms, **potentials):
    circuit = fault_circuit(topology)
    clamps = {c.name: at_conditions(laws.get(c.name, ClampLaw()), BENCH) for c in circuit.clamps}
    given = Values({"fault": volts, "ground": 0.0, **potentials}, ohms, clamps, {}, {})
    solution = require_converged(solve_plain(circuit, given), topology.name)
    return {n: abs(i[0]) for n, i in solution.resistor_current.items()}


@pytest.mark.parametrize(("volts", "expected"), [(15.0, 12.7e-6), (24 * 2**0.5, 32.9e-6)])
def test_battery_and_valve_wire_on_the_logger(volts, expected):
    """(V − 2.5 V − V_f)/940 kΩ; the inner resistor lies behind the clamp."""
    found = into_connector(
        CATALOGUE["T2"], volts, {"upper": STIFF}, {"R_fault": 1e-3, "R_outer": 940e3},
        **{"rail positive": 2.5, "rail negative": -2.5},
    )  # fmt: skip
    assert found["R_outer"] == pytest.approx(expected, rel=1e-2, abs=0)


@pytest.mark.parametrize(("ohms", "power"), [(1e3, 0.858), (2.2e3, 0.390), (4.7e3, 0.184)])
def test_thirty_volts_reversed_on_one_bridge_lead(ohms, power):
    """(30 V − V_f)²/R in the series resistor of the leg that is hit; the other leg at 2.5 V."""
    pair = paired(CATALOGUE["T6"])
    found = into_connector(
        pair, -30.0, dict.fromkeys(pair.sides, STIFF),
        {"R_fault plus": 1e-3, "R_outer plus": ohms, "R_fault minus": 175.0, "R_outer minus": ohms},
        **{"fault plus": -30.0, "fault minus": 2.5, "rail positive": 5.0, "rail negative": 0.0},
    )  # fmt: skip
    assert found["R_outer plus"] ** 2 * ohms == pytest.approx(power, rel=1e-2, abs=0)


@pytest.mark.parametrize(("behind", "amperes"), [(1e-3, 2.0e-3), (1e6, 0.18e-3)])
def test_two_hundred_volts_on_a_photodiode_input(behind, amperes):
    """200 V/(R_outer + R_fault) into the clamp at the summing node."""
    found = into_connector(
        CATALOGUE["T13"], 200.0, {"forward": STIFF},
        {"R_fault": behind, "R_outer": 1e5, "R_feedback": 1e9},
        **{"rail positive": 5.0, "rail negative": -5.0, "output": -4.9},
    )  # fmt: skip
    assert found["R_outer"] == pytest.approx(amperes, rel=2e-2, abs=0)


def test_offset_over_clamp_and_photodiode_at_45_degrees():
    """35 µV: 0.012 pA through a pair of 2.8 GΩ, 0.7 pA through the diode's own 50 MΩ."""
    pair = 2.8e9
    law = at_conditions(ClampLaw(film_conductance=1 / (2 * pair), film_activation_energy=0.0), BOX)
    given = Values(
        {"ground": 0.0, "pin": 35e-6},
        {"R_S": 5e7, "R_outer": 1e5, "R_feedback": 1e9},
        {"forward": law, "backward": law},
        {"source current": np.array([0.0, 2e-9]), "bias": 0.0},
        {},
    )
    topology = CATALOGUE["T13"]
    solution = require_converged(solve_plain(signal_circuit(topology), given), "T13")
    dark, lit = error_voltage(topology, solution, given) / 1e9
    assert dark == pytest.approx(0.0125e-12 + 0.6986e-12, rel=1e-3, abs=0)
    assert (lit - dark) / 2e-9 == pytest.approx(2e-3, rel=1e-2, abs=0)  # 100 kΩ over 50 MΩ
