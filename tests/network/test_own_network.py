"""A user's own network: the same circuit as a listed one, and one clear sentence for every mistake."""

import re
import tomllib

import numpy as np
import pytest
from topology_cases import case, junction, solved, values

from clampwright.errors import InputError
from clampwright.network.own import OwnNetwork, own_topology, own_values
from clampwright.network.solve import Values, require_converged, solve_plain
from clampwright.network.topologies import CATALOGUE, fault_circuit, signal_circuit, sits_at
from clampwright.quantities.sheets import validated

LIKE_T2 = """
[[elements]]
name = "R_outer"
kind = "resistor"
between = ["connector", "pin"]
value = "100 kΩ"

[[elements]]
name = "upper"
kind = "clamp"
anode = "pin"
cathode = "rail positive"
part = "npn-small C/B+E"

[[elements]]
name = "lower"
kind = "clamp"
anode = "rail negative"
cathode = "pin"
part = "npn-small C/B+E"
"""


def elements(text):
    return validated(OwnNetwork, tomllib.loads(text), "mine.toml").elements


def element(name, kind, **fields):
    """One element as TOML text."""
    lines = [f"{key} = {_toml(value)}" for key, value in fields.items()]
    return "\n".join(["[[elements]]", f'name = "{name}"', f'kind = "{kind}"', *lines]) + "\n"


def _toml(value):
    if isinstance(value, tuple):
        return "[" + ", ".join(f'"{v}"' for v in value) + "]"
    return f'"{value}"'


def test_a_network_of_the_shape_of_rail_clamps_is_that_topology():
    """Not nearly: the very same circuits, and the same number to the last digit."""
    own = own_topology(elements(LIKE_T2))
    listed = CATALOGUE["T2"]
    assert signal_circuit(own) == signal_circuit(listed)
    assert fault_circuit(own) == fault_circuit(listed)
    c = case(1e-12, 1e9)
    given = values("T2", c)
    resistances = {"R_S": c.source, **own_values(elements(LIKE_T2)).resistances}
    mine = Values(given.potentials, resistances, given.laws, given.currents, {})
    found = require_converged(solve_plain(signal_circuit(own), mine), "own")
    assert found.deviation["pin"][0] == solved("T2", c, inner=False)[1][0]


def test_values_come_in_si_by_kind():
    text = (
        LIKE_T2
        + element("film", "leak", between=("pin", "shield"), value="1 TΩ")
        + element("shield drive", "follower", node="drive", follows="pin", offset="250 µV")
        + element("R_shield", "resistor", between=("drive", "shield"), value="4k7")
        + element("C_pin", "capacitor", between=("pin", "ground"), value="12 pF")
        + element("heater", "current", node="pin", value="-3 fA")
        + element("reference", "potential", node="middle", value="1.2 V")
        + element("R_middle", "resistor", between=("middle", "pin"), value="10 TΩ")
    )
    found = own_values(elements(text))
    assert found.resistances == {"R_outer": 1e5, "R_shield": 4700.0, "R_middle": 1e13}
    assert found.leaks == {"film": 1e12}
    assert found.capacitances == {"C_pin": pytest.approx(12e-12, rel=1e-15, abs=0)}
    assert found.currents == {"heater": pytest.approx(-3e-15, rel=1e-15, abs=0)}
    assert found.driven == {"drive": (1.0, pytest.approx(250e-6, rel=1e-15, abs=0))}
    assert found.potentials == {"middle": 1.2}
    assert found.parts == {"upper": "npn-small C/B+E", "lower": "npn-small C/B+E"}
    own = own_topology(elements(text))
    assert own.sides == ("upper", "lower")
    assert own.groups == (("upper",), ("lower",), ("upper", "lower"))
    assert "ground" not in own.signal.fixed  # only a capacitor goes there
    assert own.signal.fixed[-1] == "middle"
    assert fault_circuit(own).fixed[-1] == "drive"  # a follower saturates


def test_a_divider_with_a_two_node_clamp_of_ones_own():
    """A network no listed topology has: two clamps in series to ground, their middle on a guard."""
    text = (
        element("R1", "resistor", between=("connector", "pin"), value="1 MΩ")
        + element("near", "clamp", anode="pin", cathode="half", part="npn-small C/B+E")
        + element("far", "clamp", anode="half", cathode="ground", part="npn-small C/B+E")
        + element("drive", "follower", node="guard", follows="pin", offset="100 µV")
        + element("R2", "resistor", between=("guard", "half"), value="10 kΩ")
    )
    own = own_topology(elements(text))
    state = junction(1e-12)
    found = require_converged(
        solve_plain(
            signal_circuit(own),
            Values(
                {"source": 0.2, "rail positive": 5.0, "rail negative": -5.0, "ground": 0.0},
                {"R_S": 1e8, **own_values(elements(text)).resistances},
                {"near": state, "far": state},
                {"bias": 0.0},
                own_values(elements(text)).driven,
            ),
        ),
        "own",
    )
    across = -100e-6 - 1e4 * -(found.clamp_current["far"][0] - found.clamp_current["near"][0])
    assert found.clamp_voltage["near"][0] == pytest.approx(across, rel=1e-6, abs=0)
    expected = -(1e8 + 1e6) * found.clamp_current["near"][0]
    assert found.deviation["pin"][0] == pytest.approx(expected, rel=1e-9, abs=0)
    assert abs(expected) < 1e-6  # the far clamp leaks from the guard, not from the signal
    with pytest.raises(InputError, match='where the clamp "near" of own sits is not listed'):
        sits_at(own, "near", 0.2, (5.0, -5.0), 0.0)


R = {"between": ("connector", "pin"), "value": "1 kΩ"}
MISTAKES = {
    "a name used twice": (
        element("R1", "resistor", **R) + element("R1", "resistor", **R),
        'the name "R1" is used by 2 elements; expected a name of its own for every element',
    ),
    "a name that is taken": (
        element("R_S", "resistor", **R),
        'the name "R_S" belongs to the source, the fault or the amplifier; expected another name',
    ),
    "a node called 0": (
        element("R1", "resistor", between=("connector", "0"), value="1 kΩ"),
        'element "R1" uses a node called "0"; expected a node name in words, such as "ground"',
    ),
    "a follower on a rail": (
        element("R1", "resistor", **R)
        + element("drive", "follower", node="rail positive", follows="pin", offset="0 V"),
        'node "rail positive" is held twice: by "drive" and by positive supply rail; expected one '
        "thing that sets its voltage; put a resistor between the two",
    ),
    "two potentials on one node": (
        element("R1", "resistor", **R)
        + element("a", "potential", node="shield", value="1 V")
        + element("b", "potential", node="shield", value="2 V"),
        'node "shield" is held twice: by "b" and by "a"',
    ),
    "a held pin": (
        element("R1", "resistor", **R) + element("a", "potential", node="pin", value="1 V"),
        'node "pin" is held by "a"; expected "pin" free to move',
    ),
    "a wire": (
        element("R1", "resistor", between=("connector", "pin"), value="0 Ω"),
        '"R1" has no resistance: it is a wire; expected a resistance above 0 Ω; give both ends one '
        "node name",
    ),
    "shorted sources": (
        element("R1", "resistor", **R)
        + element("link", "resistor", between=("rail positive", "rail negative"), value="0 Ω"),
        '"link" has no resistance: it shorts "rail positive" to "rail negative"; expected a '
        "resistance above 0 Ω; remove it",
    ),
    "both ends at one node": (
        element("R1", "resistor", between=("pin", "pin"), value="1 kΩ"),
        'both ends of "R1" are at node "pin"; expected two different nodes',
    ),
    "no connector": (
        element("R1", "resistor", between=("pin", "ground"), value="1 kΩ"),
        'no element is connected to node "connector"; expected an element at "connector", where the '
        "sensor and the fault arrive",
    ),
    "no pin": (
        element("R1", "resistor", between=("connector", "Pin"), value="1 kΩ"),
        'no element is connected to node "pin"; expected an element at "pin"',
    ),
    "a floating island": (
        element("R1", "resistor", **R)
        + element("R2", "resistor", between=("island", "shore"), value="1 kΩ"),
        'node "island" is connected to nothing that holds its voltage',
    ),
    "a pin held by nothing": (
        element("R1", "resistor", between=("connector", "ground"), value="1 kΩ")
        + element("leak", "leak", between=("pin", "island"), value="1 TΩ"),
        'node "pin" is connected to nothing that holds its voltage',
    ),
    "a node behind a capacitor": (
        element("R1", "resistor", **R)
        + element("C1", "capacitor", between=("pin", "island"), value="1 nF"),
        'node "island" is connected to nothing that holds its voltage',
    ),
    "a follower of nothing": (
        element("R1", "resistor", **R)
        + element("drive", "follower", node="guard", follows="pinn", offset="0 V"),
        'the follower of node "guard" follows "pinn", which is no node; expected one of connector, '
        "pin",
    ),
    "a current into nothing": (
        element("R1", "resistor", **R) + element("heat", "current", node="nowhere", value="1 pA"),
        'the current "heat" flows into "nowhere", which is no node',
    ),
    "a name misspelt": (
        element("R1", "resistor", **R)
        + element("R2", "resistor", between=("pin", "grund"), value="1 MΩ"),
        'node "grund" is touched by no element but "R2"; expected a second element at it, or one of '
        'the names "connector", "pin", "rail positive", "rail negative", "ground", "source"; did you '
        'mean "ground"',
    ),
    "a resistor to nowhere": (
        element("R1", "resistor", **R)
        + element("R2", "resistor", between=("pin", "middle"), value="1 MΩ"),
        'node "middle" is touched by no element but "R2"',
    ),
    "a follower that drives its own input": (
        element("R1", "resistor", between=("connector", "clamp"), value="1 kΩ")
        + element("R2", "resistor", between=("clamp", "pin"), value="1 kΩ")
        + element("drive", "follower", node="clamp", follows="pin", offset="1 mV"),
        'the follower "drive" holds node "clamp" and follows "pin", which nothing but its own output '
        "holds (loop gain 1): it has no definite voltage; expected an input held by the source",
    ),
    "followers in a circle": (
        element("R1", "resistor", **R)
        + element("a", "follower", node="one", follows="two", offset="0 V")
        + element("b", "follower", node="two", follows="one", offset="0 V")
        + element("R2", "resistor", between=("one", "pin"), value="1 kΩ"),
        "follows itself",
    ),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_every_mistake_is_one_sentence_with_a_name(mistake):
    text, message = MISTAKES[mistake]
    with pytest.raises(InputError, match=re.escape(message)) as caught:
        own_topology(elements(text))
    assert str(caught.value).startswith(("network.elements: ", "network"))
    assert "\n" not in str(caught.value)


def test_fields_are_named_and_carry_units():
    with pytest.raises(InputError, match='there is no field "node" here'):
        elements(element("R1", "resistor", node="pin", **R))
    with pytest.raises(InputError, match=r"1000.* has no unit"):
        elements(element("R1", "resistor", **R).replace('"1 kΩ"', "1000"))
    with pytest.raises(InputError, match="spring"):
        elements(element("R1", "spring", **R))
    misspelt = re.escape(
        'elements.1.kind: there is no kind "klamp"; expected one of "resistor", "leak", "capacitor", '
        '"clamp", "current", "follower", "potential"; did you mean "clamp"'
    )
    with pytest.raises(InputError, match=misspelt):
        elements(element("up", "klamp", anode="pin", cathode="rail positive", part="x"))
    with pytest.raises(InputError, match=r"elements.1.kind: the field is missing"):
        elements('[[elements]]\nname = "R1"\n')
    drive = {"node": "guard", "follows": "pin", "offset": "0 V"}
    with pytest.raises(InputError, match=r"elements.1.gain.*equal to 1"):
        elements(element("drive", "follower", gain="200 %", **drive))
    with pytest.raises(InputError, match=r"elements.1.gain"):
        elements(element("drive", "follower", gain="-1 %", **drive))
    with pytest.raises(InputError, match="the field is missing"):
        elements(element("upper", "clamp", anode="pin", cathode="rail positive"))


def test_a_capacitor_does_not_change_the_direct_error():
    plain = own_topology(elements(LIKE_T2))
    text = LIKE_T2 + element("C", "capacitor", between=("pin", "ground"), value="1 nF")
    filtered = own_topology(elements(text))
    c = case(1e-12, np.array([1e6, 1e9]))
    given = values("T2", c)
    found = [solve_plain(signal_circuit(t), given).deviation["pin"] for t in (plain, filtered)]
    assert np.array_equal(*found)


def test_a_follower_of_a_held_pin_may_drive_it():
    """Loop gain below 1, or a second thing that holds the input, has a definite answer."""
    drive = element("drive", "follower", node="clamp", follows="pin", offset="1 mV")
    ends = element("R2", "resistor", between=("clamp", "pin"), value="1 kΩ")
    line = element("R1", "resistor", **R)
    assert own_topology(elements(line + ends + drive)).name == "own"  # the source holds the pin
    line = element("R1", "resistor", between=("connector", "clamp"), value="1 kΩ")
    less = drive.replace('offset = "1 mV"', 'offset = "1 mV"\ngain = "50 %"')
    assert own_topology(elements(line + ends + less)).name == "own"
