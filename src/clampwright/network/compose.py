"""Take circuits apart and put them together: absent parts, renamed nodes, the circuit under fault."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import replace

from clampwright.network.circuit import (
    Capacitor,
    Circuit,
    ClampBranch,
    CurrentInto,
    Driven,
    Resistor,
)

PIN_JUNCTIONS = ("pin upper", "pin lower")  # the amplifier's own junctions to its rails


def series(*names: str) -> tuple[Resistor, ...]:
    """Resistors in a row: node, resistor, node, resistor, … node."""
    return tuple(
        Resistor(names[i], names[i - 1], names[i + 1]) for i in range(1, len(names) - 1, 2)
    )


def without(circuit: Circuit, opened: Iterable[str], shorted: Iterable[str] = ()) -> Circuit:
    """The circuit less the elements `opened`, and with the resistors `shorted` made wires.

    Of the two nodes of a wire the fixed or driven one keeps its name, else the second (the one
    nearer the pin). Followers and fixed nodes that lose their last connection are dropped.
    """
    before = set(circuit.connected)
    gone = set(opened)
    for r in (r for r in circuit.resistors if r.name in set(shorted)):
        gone.add(r.name)
        known = {*circuit.fixed, *(d.name for d in circuit.driven)}
        lost, kept = (r.b, r.a) if r.a in known else (r.a, r.b)
        circuit = renamed(circuit, {lost: kept}.get, str)
    left = replace(
        circuit,
        resistors=tuple(r for r in circuit.resistors if r.name not in gone),
        clamps=tuple(c for c in circuit.clamps if c.name not in gone),
        currents=tuple(c for c in circuit.currents if c.name not in gone),
        capacitors=tuple(c for c in circuit.capacitors if c.name not in gone),
    )
    left = _without_idle_followers(left)
    lost_too = before - set(left.connected) - {left.base}
    return replace(left, fixed=tuple(f for f in left.fixed if f not in lost_too))


def renamed(
    circuit: Circuit, node: Callable[[str], str | None], element: Callable[[str], str]
) -> Circuit:
    """The circuit with other names; `node` returns None for a node that keeps its name."""

    def n(name: str) -> str:
        return node(name) or name

    return Circuit(
        fixed=tuple(dict.fromkeys(n(f) for f in circuit.fixed)),
        resistors=tuple(Resistor(element(r.name), n(r.a), n(r.b)) for r in circuit.resistors),
        clamps=tuple(
            ClampBranch(element(c.name), n(c.anode), n(c.cathode)) for c in circuit.clamps
        ),
        currents=tuple(CurrentInto(element(c.name), n(c.node)) for c in circuit.currents),
        driven=tuple(Driven(n(d.name), n(d.input)) for d in circuit.driven),
        base=n(circuit.base),
        capacitors=tuple(Capacitor(element(c.name), n(c.a), n(c.b)) for c in circuit.capacitors),
    )


def joined(first: Circuit, second: Circuit) -> Circuit:
    """Both circuits as one; nodes of the same name are the same node."""
    return Circuit(
        fixed=tuple(dict.fromkeys(first.fixed + second.fixed)),
        resistors=first.resistors + second.resistors,
        clamps=first.clamps + second.clamps,
        currents=first.currents + second.currents,
        driven=tuple(dict.fromkeys(first.driven + second.driven)),
        base=first.base,
        capacitors=first.capacitors + second.capacitors,
    )


def unheld(circuit: Circuit, blocking: Collection[str]) -> tuple[str, ...]:
    """Nodes that nothing holds while the clamps named `blocking` carry nothing at rest.

    A follower holds only what its input does not depend on; a clamp without slope at 0 V (a pure power
    law without film) holds nothing before it conducts.
    """
    pairs = [(r.a, r.b) for r in circuit.resistors]
    pairs += [(c.anode, c.cathode) for c in circuit.clamps if c.name not in set(blocking)]
    reached, before = set(circuit.fixed), -1
    while len(reached) > before:
        before = len(reached)
        reached |= {n for pair in pairs if reached & set(pair) for n in pair}
        reached |= {d.name for d in circuit.driven if d.input in reached}
    return tuple(n for n in circuit.unknown if n not in reached)


def under_fault(circuit: Circuit, *, node: str = "pin", junctions: bool = True) -> Circuit:
    """The circuit of normal use turned into that under a fault at the connector.

    The sensor `R_S` leaves and the fault with `R_fault` comes in its place, injected currents are
    forgotten, followers are taken as saturated (a fixed potential), and the amplifier's own
    junctions from `node` to the rails join.
    """
    resistors = tuple(
        Resistor("R_fault", "fault", r.b) if r.name == "R_S" else r for r in circuit.resistors
    )
    idle = _without_idle_followers(replace(circuit, resistors=resistors))
    pin = pin_junctions(node) if junctions else ()
    return Circuit(
        fixed=("fault", *(f for f in idle.fixed if f != "source"), *(d.name for d in idle.driven)),
        resistors=idle.resistors,
        clamps=idle.clamps + pin,
        base="fault",
        capacitors=idle.capacitors,
    )


def pin_junctions(node: str = "pin", prefix: str = "pin") -> tuple[ClampBranch, ClampBranch]:
    """The junctions on the amplifier's chip from one of its inputs to the rails."""
    return (
        ClampBranch(f"{prefix} upper", node, "rail positive"),
        ClampBranch(f"{prefix} lower", "rail negative", node),
    )


def _without_idle_followers(circuit: Circuit) -> Circuit:
    used = set(circuit.connected)
    return replace(circuit, driven=tuple(d for d in circuit.driven if d.name in used))
