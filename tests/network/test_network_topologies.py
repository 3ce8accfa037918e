"""Topologies as data: where the clamps sit, and circuits that hold together."""

import pytest

from clampwright.errors import InputError
from clampwright.network.topologies import (
    TOPOLOGIES,
    fault_circuit,
    signal_circuit,
    sits_at,
    topology_named,
)


@pytest.mark.parametrize("name", TOPOLOGIES)
@pytest.mark.parametrize("inner", [True, False])
def test_every_circuit_holds_every_node(name, inner):
    topology = topology_named(name)
    for circuit in (signal_circuit(topology, inner=inner), fault_circuit(topology, inner=inner)):
        circuit.check()
        assert "pin" in circuit.unknown
        assert {c.name for c in circuit.clamps} >= set(topology.sides)


def test_clamps_sit_at_the_voltage_of_the_trade():
    """Upper: V+ − signal reverse; lower: signal − V−; a guarded pair: the offset either way."""
    rails = (2.5, -2.5)
    places = {"upper": -2.3, "lower": -2.7, "forward": -250e-6, "backward": 250e-6}
    for side, expected in places.items():
        topology = TOPOLOGIES["T2" if side in ("upper", "lower") else "T5"]
        assert sits_at(topology, side, 0.2, rails, 250e-6) == pytest.approx(expected)


def test_an_unknown_topology_is_answered_with_the_list():
    with pytest.raises(InputError, match=r'no topology "T99".*T1, T2, T5, T6'):
        topology_named("T99")
