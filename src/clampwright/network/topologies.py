"""The protection topologies as data: nodes, branches, where the clamps sit, when to use each.

Roles of resistors: R_S source, R_outer between connector and clamp node, R_inner between clamp node
and pin, R_guard between guard follower and clamp. Roles of clamps: `upper` and `lower` (rail clamps),
`forward` and `backward` (antiparallel pair). Without an inner resistor the pin is the clamp node.
"""

from __future__ import annotations

from dataclasses import dataclass

from clampwright.errors import InputError
from clampwright.network.circuit import Circuit, ClampBranch, CurrentInto, Driven, Resistor


@dataclass(frozen=True)
class Topology:
    """One protection topology: what it is, when to use it and how its clamps are placed."""

    name: str
    title: str
    words: str
    when: str
    sides: tuple[str, ...]  # clamp roles
    opposed: bool  # True: the clamps pull opposite ways (rails); False: they add (pair)
    needs_inner: bool = False
    needs_guard: bool = False

    @property
    def has_clamp(self) -> bool:
        """Whether a clamp part of our own is fitted."""
        return bool(self.sides)


TOPOLOGIES: dict[str, Topology] = {
    t.name: t
    for t in (
        Topology(
            "T1",
            "series resistor only",
            "The series resistor limits the fault; the amplifier's own junctions clamp.",
            "when about 10 kΩ per 10 V of excess can be spared and the pin current is published",
            sides=(),
            opposed=True,
        ),
        Topology(
            "T2",
            "resistor and clamps to the supply rails",
            "Two clamps hold the node between the rails; their leakages pull opposite ways.",
            "when the rails can absorb the fault current and leakage at full reverse voltage fits",
            sides=("upper", "lower"),
            opposed=True,
        ),
        Topology(
            "T5",
            "antiparallel clamps bootstrapped to a guard",
            "The far end of the clamp pair follows the signal, so the clamps sit near zero volts.",
            "when the source is high-ohmic and a follower is at hand: best accuracy per part",
            sides=("forward", "backward"),
            opposed=False,
            needs_guard=True,
        ),
        Topology(
            "T6",
            "resistor, rail clamps, resistor",
            "The outer resistor takes the fault, the inner one keeps the rest out of the pin.",
            "when the clamp turns on no earlier than the amplifier's own junctions",
            sides=("upper", "lower"),
            opposed=True,
            needs_inner=True,
        ),
    )
}


def topology_named(name: str) -> Topology:
    """The topology of that name; InputError lists the names otherwise."""
    if name not in TOPOLOGIES:
        raise InputError(
            f'there is no topology "{name}"',
            where="network.topology",
            expected="one of " + ", ".join(TOPOLOGIES),
        )
    return TOPOLOGIES[name]


def signal_circuit(topology: Topology, *, inner: bool) -> Circuit:
    """The circuit in normal use: source, rails and, for a guard, the follower."""
    clamp_node = "clamp node" if inner else "pin"
    resistors = [
        Resistor("R_S", "source", "connector"),
        Resistor("R_outer", "connector", clamp_node),
    ]
    if inner:
        resistors.append(Resistor("R_inner", clamp_node, "pin"))
    driven: tuple[Driven, ...] = ()
    if topology.needs_guard:
        driven = (Driven("guard", "pin"),)
        resistors.append(Resistor("R_guard", "guard", "guarded end"))
    return Circuit(
        fixed=("source", "rail positive", "rail negative"),
        resistors=tuple(resistors),
        clamps=_clamps(topology, clamp_node),
        currents=(CurrentInto("bias", "pin"),),
        driven=driven,
    )


def fault_circuit(topology: Topology, *, inner: bool) -> Circuit:
    """The circuit under a fault at the connector.

    The amplifier's own junctions to the rails (`pin upper`, `pin lower`) join, the sensor leaves, and
    a guard follower is taken as saturated: its output is a fixed potential `guard`.
    """
    clamp_node = "clamp node" if inner else "pin"
    resistors = [
        Resistor("R_fault", "fault", "connector"),
        Resistor("R_outer", "connector", clamp_node),
    ]
    if inner:
        resistors.append(Resistor("R_inner", clamp_node, "pin"))
    fixed = ["fault", "rail positive", "rail negative"]
    if topology.needs_guard:
        fixed.append("guard")
        resistors.append(Resistor("R_guard", "guard", "guarded end"))
    pin = (
        ClampBranch("pin upper", "pin", "rail positive"),
        ClampBranch("pin lower", "rail negative", "pin"),
    )
    return Circuit(
        fixed=tuple(fixed),
        resistors=tuple(resistors),
        clamps=_clamps(topology, clamp_node) + pin,
        base="fault",
    )


def _clamps(topology: Topology, node: str) -> tuple[ClampBranch, ...]:
    places = {
        "upper": (node, "rail positive"),
        "lower": ("rail negative", node),
        "forward": (node, "guarded end"),
        "backward": ("guarded end", node),
    }
    return tuple(ClampBranch(side, *places[side]) for side in topology.sides)


def sits_at(
    topology: Topology, side: str, signal: float, rails: tuple[float, float], guard_offset: float
) -> float:
    """Anode minus cathode of a clamp in normal use (V): the voltage at which to measure its leakage.

    signal : V at the node; rails : (positive, negative), V; guard_offset : follower output minus
    input, V.
    """
    positive, negative = rails
    return {
        "upper": signal - positive,
        "lower": negative - signal,
        "forward": -guard_offset,
        "backward": guard_offset,
    }[side]
