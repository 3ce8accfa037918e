"""Board, guard, supplies off, rail and part faults against hand calculations.

Insulation and guard: published low-current example of 15 V over 1 GΩ (15 nA), and 200 µV of guard
error over the same (0.2 pA). Geometry: uniform sheet between parallel and concentric electrodes.
"""

from dataclasses import replace
from math import log

import numpy as np
import pytest

from clampwright.errors import InputError
from clampwright.network.circuit import Circuit, ClampBranch, CurrentInto, Driven, Resistor
from clampwright.network.guard import (
    following_range,
    residual_gain,
    solve_limited,
)
from clampwright.network.joints import (
    joint_error,
)
from clampwright.network.linearise import linearise
from clampwright.network.off_state import rails_at_zero, rails_floating
from clampwright.network.single_faults import single_faults, study
from clampwright.network.solve import Values, solve
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope

SILICON = at_conditions(ClampLaw(diffusion_current=1e-14, generation_current=4e-12), 298.15)
THERMAL = 1.380649e-23 * 298.15 / 1.602176634e-19


def near(value, rel=1e-9):
    """Relative agreement alone, no absolute slack."""
    return pytest.approx(value, rel=rel, abs=0)


def rail_clamps(source=0.0, rails=(5.0, -5.0), outer=1e5, inner=1e4):
    """T6 with the amplifier's bias; `source` may be an array."""
    circuit = Circuit(
        fixed=("source", "rail positive", "rail negative", "ground"),
        resistors=(Resistor("R_outer", "source", "clamp node"),
                   Resistor("R_inner", "clamp node", "pin")),
        clamps=(ClampBranch("upper", "clamp node", "rail positive"),
                ClampBranch("lower", "rail negative", "clamp node")),
        currents=(CurrentInto("bias", "pin"),),
    )  # fmt: skip
    values = Values(
        {"source": source, "rail positive": rails[0], "rail negative": rails[1], "ground": 0.0},
        {"R_outer": outer, "R_inner": inner},
        {"upper": SILICON, "lower": SILICON},
        {"bias": 1e-12},
        {},
    )
    return circuit, values


# --- film and joints --------------------------------------------------------------------------------


def with_film(circuit, values, name, a, b, resistance):
    """The circuit with a film (Ω) between two nodes."""
    return (
        replace(circuit, resistors=(*circuit.resistors, Resistor(name, a, b))),
        replace(values, resistances={**values.resistances, name: resistance}),
    )


def test_a_film_in_the_circuit_with_and_without_guard_ring():
    """10 GΩ to 15 V lifts 100 MΩ by 1 %; cut by a guard, half on either side, by (1 − gain) alone."""
    circuit = Circuit(
        fixed=("source", "supply"),
        resistors=(Resistor("R", "source", "pin"),),
        currents=(CurrentInto("bias", "pin"),),
        driven=(Driven("guard", "pin"),),
    )
    values = Values({"source": 0.0, "supply": 15.0}, {"R": 1e8}, {}, {"bias": 0.0},
                    {"guard": (0.9999, 200e-6)})  # fmt: skip
    bare = solve(*with_film(circuit, values, "film", "pin", "supply", 1e10))
    assert bare.voltage("pin")[0] == near(15 * 1e8 / 1.01e10)
    inside = with_film(circuit, values, "inside", "pin", "guard", 5e9)
    rung = solve(*with_film(*inside, "outside", "guard", "supply", 5e9))
    assert rung.voltage("pin")[0] == near(200e-6 / 5e9 / (1e-8 + 1e-4 / 5e9))


def test_thermal_voltage_of_a_pair_of_joints():
    """3 µV/K and 2 K in one leg of an unloaded input arrive whole; a shunt of 9 R takes a tenth."""
    circuit, values = rail_clamps()
    absent = at_conditions(ClampLaw(film_conductance=1e-30), 298.15)
    values = Values(values.potentials, values.resistances, {"upper": absent, "lower": absent},
                    {"bias": 0.0}, {})  # fmt: skip
    emf = {"R_outer": 3e-6 * 2.0}
    network = linearise(circuit, values, solve(circuit, values))
    assert joint_error(circuit, values, network, emf, "pin")["R_outer"][0] == near(6e-6)
    circuit, values = with_film(circuit, values, "shunt", "pin", "ground", 9 * 1.1e5 - 1e4)
    network = linearise(circuit, values)
    expected = 6e-6 * (9 * 1.1e5 - 1e4) / (9 * 1.1e5 + 1e5)
    assert joint_error(circuit, values, network, emf, "pin")["R_outer"][0] == near(expected)
    with pytest.raises(InputError, match="no resistor"):
        joint_error(circuit, values, network, {"R_x": 1e-6}, "pin")


# --- guard -----------------------------------------------------------------------------------------


def test_guard_follows_until_its_output_stops():
    low, high = following_range(0.999, 1e-3, -2.4, 2.3)
    assert (low, high) == (near((-2.4 - 1e-3) / 0.999), near((2.3 - 1e-3) / 0.999))
    with pytest.raises(InputError, match="follows nothing"):
        following_range(0.0, 0.0, -1.0, 1.0)


def test_residual_gain_of_a_follower():
    """1/(1 + A_0) at DC; f/f_1 well below the unity-gain frequency; 1/√2 there (A = −j)."""
    assert residual_gain(1e5, 1e6, 0.0) == near(1 / 100001)
    assert residual_gain(1e9, 1e6, 1e4) == near(0.01, 1e-4)
    assert residual_gain(1e12, 1e6, 1e6) == near(2**-0.5, 1e-9)


def test_bootstrapped_clamps_come_alive_when_the_guard_saturates():
    """Guard limited to 2 V: at 1 V the pair sees the offset, at 2.25 V it sees a quarter of a volt."""
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("R", "source", "pin"), Resistor("R_guard", "guard", "far end")),
        clamps=(
            ClampBranch("forward", "pin", "far end"),
            ClampBranch("backward", "far end", "pin"),
        ),
        driven=(Driven("guard", "pin"),),
    )
    values = Values({"source": np.array([1.0, 2.25])}, {"R": 1e6, "R_guard": 1e3},
                    {"forward": SILICON, "backward": SILICON}, {}, {"guard": (1.0, 1e-4)})  # fmt: skip
    found = solve_limited(circuit, values, {"guard": (-2.0, 2.0)})
    assert list(found.follows["guard"]) == [True, False]
    assert found.solution.clamp_voltage["forward"][0] == near(-1e-4, 1e-3)
    assert found.solution.voltage("guard")[1] == near(2.0)
    leak = current_and_slope(0.25, SILICON)[0] - current_and_slope(-0.25, SILICON)[0]
    assert -found.solution.deviation["pin"][1] == near(1e6 * float(leak), 0.1)
    assert abs(found.solution.deviation["pin"][1]) > 1e3 * abs(found.solution.deviation["pin"][0])
    with pytest.raises(InputError, match="no follower"):
        solve_limited(circuit, values, {"pin": (-2.0, 2.0)})


# --- supplies off ----------------------------------------------------------------------------------


def test_rails_at_zero_load_the_source():
    """2 V on 100 kΩ into a junction to 0 V: I = (2 − V_f)/R with V_f from the law itself."""
    off = rails_at_zero(*rail_clamps(source=2.0), "source", ("rail positive", "rail negative"))
    current = off.loading[0]
    drop = 2.0 - 1e5 * current
    assert current_and_slope(drop, SILICON)[0] == near(current + 5e-12, 1e-6)
    assert off.into_rail["rail positive"][0] == near(current, 1e-6)
    assert 0.3 < drop < 0.6
    quiet = rails_at_zero(*rail_clamps(source=0.1), "source", ("rail positive", "rail negative"))
    assert quiet.loading[0] < 1e-3 * current


def test_floating_rails_are_powered_backwards():
    """5 V in, the board takes it as 100 kΩ: series of 100 kΩ, a junction and the board."""
    circuit, values = rail_clamps(source=5.0)
    loads = {"rail positive": 1e5, "rail negative": 1e5}
    off = rails_floating(circuit, values, "source", loads)
    volts, current = off.rail_voltage["rail positive"][0], off.into_rail["rail positive"][0]
    drop = THERMAL * log(current / 1e-14)
    assert volts == near(1e5 * current)
    assert current == near((5.0 - drop) / 2e5, 1e-2)
    assert off.loading[0] == near(current, 1e-6)
    assert abs(off.into_rail["rail negative"][0]) < 1e-10
    with pytest.raises(InputError, match="cannot be let float"):
        rails_floating(circuit, values, "source", {"source": 1e5})


# --- each part shorted and opened ------------------------------------------------------------------


def by_name(found):
    return {(f.part, f.kind): f for f in found}


def test_each_part_of_a_rail_clamp_under_fault():
    """30 V on T6 between 0 V and 5 V: currents and pin by Ohm's law and the junction's own drop."""
    circuit, values = rail_clamps(source=np.array([30.0]), rails=(5.0, 0.0))
    found = by_name(single_faults(circuit, values, "pin"))
    assert len(found) == 8
    drop = THERMAL * log(24.4e-5 / 1e-14)
    hot = found["R_inner", "short"]  # the pin becomes the clamp node
    assert hot.pin_voltage[0] == near(5 + drop, 1e-3)
    assert hot.part_current[0] == near(-1e-12)  # only the bias current passes, from the pin
    assert found["R_outer", "open"].pin_voltage[0] < 5.1  # held by the two leaking clamps alone
    gone = found["upper", "open"]  # nothing clamps: the pin goes to the fault
    assert gone.pin_voltage[0] == near(30.0, 1e-4)
    assert found["lower", "open"].pin_voltage[0] == near(5 + drop, 1e-3)
    stuck = found["upper", "short"]
    assert stuck.pin_voltage[0] == near(5.0, 1e-6)
    assert stuck.part_current[0] == near(25 / 1e5, 1e-6)
    low = found["lower", "short"]  # anode at the negative rail: the current runs backwards into it
    assert low.part_current[0] == near(-30 / 1e5, 1e-6)
    assert low.currents["R_outer"][0] == near(30 / 1e5, 1e-6)
    bare = found["R_outer", "short"]  # 30 V sits on the clamp itself
    assert bare.outcome == "solved"
    assert bare.part_current[0] == near(bare.currents["upper"][0], 1e-6)
    assert found["R_inner", "open"].outcome == "floating"
    assert np.isnan(found["R_inner", "open"].pin_voltage[0])


def test_a_part_between_two_held_nodes():
    """A shorted bleeder joins two supplies; its opening changes nothing."""
    circuit, values = rail_clamps()
    circuit, values = with_film(circuit, values, "bleeder", "rail positive", "ground", 1e3)
    assert study(circuit, values, "bleeder", "short", "pin").outcome == "fixed nodes joined"
    whole = solve(circuit, values).voltage("pin")[0]
    assert study(circuit, values, "bleeder", "open", "pin").pin_voltage[0] == near(whole)
    with pytest.raises(InputError, match="no part"):
        study(circuit, values, "R_none", "open", "pin")


def test_a_short_to_the_follower_of_the_same_node():
    """A shorted clamp of a bootstrapped pair ties the pin to its own guard's resistor."""
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("R", "source", "pin"), Resistor("R_guard", "guard", "far end")),
        clamps=(
            ClampBranch("forward", "pin", "far end"),
            ClampBranch("backward", "far end", "pin"),
        ),
        driven=(Driven("guard", "pin"),),
    )
    values = Values({"source": 1.0}, {"R": 1e6, "R_guard": 1e3},
                    {"forward": SILICON, "backward": SILICON}, {}, {"guard": (0.999, 1e-3)})  # fmt: skip
    found = study(circuit, values, "forward", "short", "pin")
    # (1 − V)/1 MΩ = (V − 0.999·V − 1 mV)/1 kΩ
    assert found.pin_voltage[0] == near((1e-6 + 1e-6) / (1e-6 + 1e-6))
    worse = study(circuit, values, "R_guard", "short", "pin")
    assert worse.outcome == "solved"
    direct = Circuit(
        fixed=("source",),
        resistors=(Resistor("R", "source", "pin"), Resistor("tie", "pin", "guard")),
        driven=(Driven("guard", "pin"),),
    )
    loop = Values({"source": 1.0}, {"R": 1e6, "tie": 1e3}, {}, {}, {"guard": (0.999, 0.0)})
    assert study(direct, loop, "tie", "short", "pin").outcome == "floating"


def test_a_follower_that_comes_to_hold_its_own_input():
    """Clamps from a node to the other input: their short closes the loop upon itself, nothing settles."""
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("R_outer", "source", "node"), Resistor("R_inner", "node", "pin")),
        clamps=(ClampBranch("forward", "node", "other"), ClampBranch("backward", "other", "node")),
        driven=(Driven("other", "pin"),),
    )
    values = Values({"source": 1.0}, {"R_outer": 1e6, "R_inner": 1e3},
                    {"forward": SILICON, "backward": SILICON}, {}, {"other": (1.0, 1e-4)})  # fmt: skip
    found = study(circuit, values, "forward", "short", "pin")
    assert found.outcome == "no steady state"
    assert np.isnan(found.pin_voltage[0])
