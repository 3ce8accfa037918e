"""Topologies as data: circuits that hold together, roles that cover them, where the clamps sit."""

import pytest
from topology_cases import case, case_of, junction, legs, solved

from clampwright.errors import InputError
from clampwright.network.circuit import Circuit, Resistor
from clampwright.network.compose import without
from clampwright.network.topologies import (
    CATALOGUE,
    TOPOLOGIES,
    chained,
    fault_circuit,
    paired,
    signal_circuit,
    sits_at,
    stacked,
    topology_named,
)

RAILS = (2.5, -2.5)
EVERY_STAGE = [(name, stage) for name, t in CATALOGUE.items() for stage in t.stages]
SIXTEEN_WITH_PIN = [name for name in CATALOGUE if name not in ("T13", "T15")]


def optional(topology):
    return [r.name for r in topology.roles if not r.required and r.kind != "figure"]


def test_the_catalogue_is_complete():
    assert list(CATALOGUE) == [f"T{k}" for k in range(1, 19)]
    assert set(TOPOLOGIES) <= set(CATALOGUE)


@pytest.mark.parametrize("everything", [True, False])
@pytest.mark.parametrize("inner", [True, False])
@pytest.mark.parametrize(("name", "stage"), EVERY_STAGE)
def test_every_circuit_holds_every_node(name, stage, inner, everything):
    topology = topology_named(name)
    present = optional(topology) if everything else ()
    for circuit in (
        signal_circuit(topology, inner=inner, present=present),
        fault_circuit(topology, inner=inner, present=present, stage=stage),
    ):
        circuit.check()
        assert len(set(circuit.element_names)) == len(circuit.element_names)
        if stage != "fault on the guard":
            assert {c.name for c in circuit.clamps} >= set(topology.sides)
            assert "pin" in circuit.connected or "pin plus" in circuit.connected
            assert "connector" in circuit.connected or "connector plus" in circuit.connected


@pytest.mark.parametrize("name", CATALOGUE)
def test_every_element_has_a_role_in_words(name):
    topology = CATALOGUE[name]
    roles = {r.name for r in topology.roles}
    for circuit in (topology.signal, *topology.fault.values()):
        assert set(circuit.element_names) <= roles
    assert len(topology.roles) == len(roles)
    assert all(r.words for r in topology.roles)
    assert all(r.unit for r in topology.roles if r.kind != "clamp")
    assert topology.words.endswith(".")
    assert topology.when
    assert topology.differs


@pytest.mark.parametrize("name", SIXTEEN_WITH_PIN)
def test_an_absent_inner_resistor_makes_the_clamp_node_the_pin(name):
    bare = signal_circuit(CATALOGUE[name])
    assert "clamp node" not in bare.connected
    assert "R_inner" not in bare.element_names
    assert "clamp node" in signal_circuit(CATALOGUE[name], inner=True).connected


PLACES = {  # name, side: what the trade says, at 0.2 V signal, ±2.5 V rails, ±1.8 V clamp rails
    ("T2", "upper"): -2.3,
    ("T2", "lower"): -2.7,
    ("T3", "upper"): -1.6,
    ("T3", "lower"): -2.0,
    ("T4", "forward"): -35e-6,
    ("T4", "backward"): 35e-6,
    ("T5", "forward"): -250e-6,
    ("T5", "backward"): 250e-6,
    ("T6", "upper"): -2.3,
    ("T7", "lower"): -2.7,
    ("T8", "upper"): -2.3,
    ("T8", "insulation"): 0.2,
    ("T9", "forward"): 0.05,
    ("T9", "backward"): -0.05,
    ("T9", "suppressor"): 0.15,
    ("T10", "upper"): -2.3,
    ("T11", "lower"): -2.7,
    ("T12", "upper"): -2.3,
    ("T12", "tube insulation"): 0.2,
    ("T13", "forward"): 35e-6,
    ("T13", "backward"): -35e-6,
    ("T14", "insulation"): -250e-6,
    ("T15", "upper plus"): -2.3,
    ("T15", "lower minus"): -2.7,
    ("T16", "upper"): -2.3,
    ("T17", "forward 1"): 0.1,
    ("T17", "forward 2"): 0.1,
    ("T17", "backward 1"): -0.1,
    ("T17", "backward 2"): -0.1,
}


@pytest.mark.parametrize(("place", "expected"), PLACES.items(), ids=lambda p: str(p))
def test_clamps_sit_at_the_voltage_of_the_trade(place, expected):
    """Upper: V+ − signal reverse; lower: signal − V−; a pair: the offset between its ends."""
    name, side = place
    found = sits_at(
        CATALOGUE[name],
        side,
        0.2,
        RAILS,
        250e-6,
        clamp_rails=(1.8, -1.8),
        middle=0.15,
        amplifier_offset=35e-6,
    )
    assert found == pytest.approx(expected, rel=1e-12, abs=0)


@pytest.mark.parametrize("name", CATALOGUE)
def test_solved_clamps_sit_where_the_list_says(name):
    """With femtoampere clamps on 1 kΩ the solved circuit has each clamp at its listed voltage."""
    more = {"offset": 35e-6, "gain": 1.0, "middle_bias": 0.15, "thermal": 0.0, "signal": 0.2}
    c = case_of(name, 1e-18, 1e3, lower_resistor=1e12, **more)
    if name == "T15":
        c = legs(1e-18, 1e3, **more)
    solution, _ = solved(name, c, inner=name not in ("T13", "T15"))
    for side in CATALOGUE[name].sides:
        expected = sits_at(
            CATALOGUE[name], side, 0.2, RAILS, 35e-6, clamp_rails=(1.8, -1.8), middle=0.15,
            amplifier_offset=35e-6,
        )  # fmt: skip
        assert solution.clamp_voltage[side][0] == pytest.approx(expected, rel=1e-5, abs=0)


@pytest.mark.parametrize("count", [1, 3, 5])
def test_stacks_of_any_height(count):
    topology = stacked(count)
    assert len(topology.sides) == 2 * count
    for side in topology.sides:
        sign = 1 if side.startswith("forward") else -1
        found = sits_at(topology, side, 0.3, RAILS, 0.0)
        assert found == pytest.approx(sign * 0.3 / count, rel=1e-12, abs=0)
    signal_circuit(topology).check()


def test_rail_clamps_are_judged_one_by_one_and_pairs_together():
    assert CATALOGUE["T2"].groups == (("upper",), ("lower",))
    assert CATALOGUE["T5"].groups == (("forward", "backward"),)
    assert CATALOGUE["T15"].groups == (
        ("upper plus", "lower minus"),
        ("lower plus", "upper minus"),
    )


def test_messages_for_names_that_do_not_exist():
    with pytest.raises(InputError, match=r'no topology "T99"; expected one of T1, T2, .*T17, T18'):
        topology_named("T99")
    with pytest.raises(InputError, match='T2 has no fault stage "fired"; expected one of fault'):
        fault_circuit(CATALOGUE["T2"], stage="fired")
    with pytest.raises(InputError, match='T2 has no part "R_guard"; expected one of R_S'):
        signal_circuit(CATALOGUE["T2"], present=["R_guard"])
    with pytest.raises(InputError, match='where the clamp "middle" of T2 sits is not listed'):
        sits_at(CATALOGUE["T2"], "middle", 0.2, RAILS, 0.0)
    with pytest.raises(
        InputError, match="a stack of 0 junctions is out of range; expected 1 to 12"
    ):
        stacked(0)
    with pytest.raises(InputError, match="T13 cannot be one of several stages"):
        chained(CATALOGUE["T1"], CATALOGUE["T13"])
    with pytest.raises(InputError, match="T13 cannot be the leg of a differential pair"):
        paired(CATALOGUE["T13"])


def test_a_wire_keeps_the_name_that_means_something():
    """A wire to a fixed node takes the node's name, one between two free nodes the second's."""
    row = (Resistor("R1", "source", "a"), Resistor("R2", "a", "b"), Resistor("R3", "b", "rail"))
    circuit = Circuit(("source", "rail"), row)
    assert without(circuit, (), ["R2"]).resistors == (
        Resistor("R1", "source", "b"),
        Resistor("R3", "b", "rail"),
    )
    assert without(circuit, (), ["R1"]).resistors[0] == Resistor("R2", "source", "b")
    assert without(circuit, (), ["R3"]).resistors[1] == Resistor("R2", "a", "rail")


def test_stages_in_a_row_are_one_circuit():
    """Gas tube, resistor, clamps, then resistor and clamps again: names and stages stay apart."""
    row = chained(CATALOGUE["T12"], CATALOGUE["T6"])
    assert row.name == "T12 + T6"
    assert row.sides == ("upper", "lower", "upper 2", "lower 2")
    assert row.stages == ("unfired", "fired")
    assert ("upper", "upper 2") in row.groups
    circuit = signal_circuit(row, present=["R_inner 2"])
    circuit.check()
    assert circuit.unknown == ("connector", "connector 2", "clamp node 2", "pin")
    names = set(circuit.element_names) | {"R_fault"}
    assert names <= {r.name for r in row.roles}
    for stage in row.stages:
        faulty = fault_circuit(row, present=["R_inner 2"], stage=stage)
        faulty.check()
        assert [c.name for c in faulty.clamps].count("pin upper") == 1
        assert "source" not in faulty.fixed


def test_three_stages():
    row = chained(CATALOGUE["T10"], CATALOGUE["T7"], CATALOGUE["T5"])
    circuit = signal_circuit(row)
    circuit.check()
    assert {"R_outer", "R_outer 2", "R_outer 3", "R_limiter", "R_guard"} <= {
        r.name for r in circuit.resistors
    }
    assert [d.input for d in circuit.driven] == ["pin"]


def test_a_chain_of_resistors_is_their_sum():
    """T1 then T2 is T2 with both outer resistors in one."""
    from topology_cases import values

    from clampwright.network.solve import Values, solve_plain

    row = chained(CATALOGUE["T1"], CATALOGUE["T2"])
    c = case(1e-12, 1e8, lower=junction(1e-15))
    given = values("T2", c)
    resistances = {"R_S": 1e8, "R_outer": 3e4, "R_outer 2": 7e4}
    split = Values(given.potentials, resistances, given.laws, given.currents, given.driven)
    found = solve_plain(signal_circuit(row), split).deviation["pin"][0]
    expected = solved("T2", c, inner=False)[1][0]
    assert found == pytest.approx(expected, rel=1e-13, abs=0)
