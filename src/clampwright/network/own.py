"""A user's own network: elements with named fields, checked and turned into a topology.

The source, its resistance `R_S` up to the connector and the bias current at the pin come from the
rest of the design; the elements say what lies between. Node names are free; those that mean something
are in MEANINGS.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

from clampwright.errors import InputError
from clampwright.network.circuit import (
    Capacitor,
    Circuit,
    ClampBranch,
    CurrentInto,
    Driven,
    Resistor,
)
from clampwright.network.compose import PIN_JUNCTIONS, under_fault
from clampwright.network.topology import Kind, Role, Topology
from clampwright.quantities.fields import Capacitance, Current, Ratio, Resistance, Voltage

MEANINGS = {
    "connector": "where the sensor and the fault arrive",
    "pin": "the amplifier's input, whose error counts",
    "rail positive": "positive supply rail",
    "rail negative": "negative supply rail",
    "ground": "0 V",
    "source": "the ideal sensor, before its resistance",
}
ENDS = ("connector", "pin")
SUPPLIES = ("source", "rail positive", "rail negative")
TAKEN = ("R_S", "R_fault", "bias", "fault", *PIN_JUNCTIONS)

Name = Annotated[str, Field(min_length=1, max_length=60)]
Ends = tuple[Name, Name]


class _Element(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")
    name: Name


class ResistorElement(_Element):
    """A resistor between two nodes; the first is the end towards the connector."""

    kind: Literal["resistor"]
    between: Ends
    value: Resistance


class LeakElement(_Element):
    """An insulation resistance between two nodes; what it draws counts as error."""

    kind: Literal["leak"]
    between: Ends
    value: Resistance


class CapacitorElement(_Element):
    """A capacitor between two nodes."""

    kind: Literal["capacitor"]
    between: Ends
    value: Capacitance


class ClampElement(_Element):
    """A clamp part between two nodes: the part sheet's name and wiring, as elsewhere in a design."""

    kind: Literal["clamp"]
    anode: Name
    cathode: Name
    part: Name


class CurrentElement(_Element):
    """A current into a node, positive into it."""

    kind: Literal["current"]
    node: Name
    value: Current


class FollowerElement(_Element):
    """A node held at gain times another node's voltage plus an offset; saturated in a fault."""

    kind: Literal["follower"]
    node: Name
    follows: Name
    gain: Annotated[Ratio, Field(ge=0, le=1)] = 1.0
    offset: Voltage


class PotentialElement(_Element):
    """A node held at a stated voltage."""

    kind: Literal["potential"]
    node: Name
    value: Voltage


Element = Annotated[
    ResistorElement
    | LeakElement
    | CapacitorElement
    | ClampElement
    | CurrentElement
    | FollowerElement
    | PotentialElement,
    Field(discriminator="kind"),
]


class OwnNetwork(BaseModel):
    """The elements of a user's own network, as `[[network.elements]]` of a design file."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    elements: tuple[Element, ...]


@dataclass(frozen=True)
class OwnValues:
    """What the elements are worth, by their names (SI); parts are named, not valued."""

    resistances: dict[str, float]
    leaks: dict[str, float]  # Ω, for `equivalents.leak_law`
    capacitances: dict[str, float]
    currents: dict[str, float]
    potentials: dict[str, float]  # by node
    driven: dict[str, tuple[float, float]]  # gain and offset by node
    parts: dict[str, str]  # clamp → part and wiring


def own_topology(elements: Sequence[Element], where: str = "network.elements") -> Topology:
    """A topology named "own" of a user's elements; the clamps leak one by one and all together.

    where : place of the list, for messages
    Raises InputError, one sentence that names the element or node: a name used twice or taken, a node
    called 0 or held twice, a wire, a node that nothing holds or only one element touches, a follower
    that drives its own input, a missing connector or pin.
    """
    _check_names(elements, where)
    held = _check_held(elements, where)
    _check_ends(elements, held, where)
    circuit = _circuit(elements, held)
    _check_followers(circuit, where)
    circuit.check(where)
    _check_alone(elements, where)
    _check_loops(elements, circuit, where)
    clamps = tuple(e.name for e in elements if isinstance(e, ClampElement))
    alone = tuple((c,) for c in clamps)
    return Topology(
        name="own",
        title="own network",
        words="A network drawn by the user.",
        when="when none of the listed topologies fits",
        sides=clamps,
        opposed=True,
        signal=circuit,
        fault={"fault": under_fault(circuit)},
        roles=tuple(_role(e) for e in elements),
        acting=(*alone, clamps) if len(clamps) > 1 else alone,
    )


def own_values(elements: Sequence[Element]) -> OwnValues:
    """The values of a user's elements by kind and name."""
    return OwnValues(
        resistances={e.name: e.value for e in elements if isinstance(e, ResistorElement)},
        leaks={e.name: e.value for e in elements if isinstance(e, LeakElement)},
        capacitances={e.name: e.value for e in elements if isinstance(e, CapacitorElement)},
        currents={e.name: e.value for e in elements if isinstance(e, CurrentElement)},
        potentials={e.node: e.value for e in elements if isinstance(e, PotentialElement)},
        driven={e.node: (e.gain, e.offset) for e in elements if isinstance(e, FollowerElement)},
        parts={e.name: e.part for e in elements if isinstance(e, ClampElement)},
    )


def nodes_of(element: Element) -> tuple[str, ...]:
    """The nodes an element touches."""
    match element:
        case ClampElement():
            return element.anode, element.cathode
        case CurrentElement() | PotentialElement():
            return (element.node,)
        case FollowerElement():
            return element.node, element.follows
    return element.between


def _circuit(elements: Iterable[Element], held: Iterable[str]) -> Circuit:
    """Source and bias first, then the elements in the order written."""
    resistors = [Resistor("R_S", "source", "connector")]
    clamps: list[ClampBranch] = []
    currents = [CurrentInto("bias", "pin")]
    driven: list[Driven] = []
    capacitors: list[Capacitor] = []
    for e in elements:
        match e:
            case ResistorElement():
                resistors.append(Resistor(e.name, *e.between))
            case LeakElement():
                clamps.append(ClampBranch(e.name, *e.between))
            case ClampElement():
                clamps.append(ClampBranch(e.name, e.anode, e.cathode))
            case CapacitorElement():
                capacitors.append(Capacitor(e.name, *e.between))
            case CurrentElement():
                currents.append(CurrentInto(e.name, e.node))
            case FollowerElement():
                driven.append(Driven(e.node, e.follows))
    return Circuit(
        fixed=tuple(held),
        resistors=tuple(resistors),
        clamps=tuple(clamps),
        currents=tuple(currents),
        driven=tuple(driven),
        capacitors=tuple(capacitors),
    )


def _role(element: Element) -> Role:
    kind: Kind = element.kind
    units = {"resistor": "Ω", "leak": "Ω", "capacitor": "F", "current": "A"}
    words = f"{kind} at " + " and ".join(f'"{n}"' for n in nodes_of(element))
    return Role(element.name, kind, words, units.get(kind, "V" if kind != "clamp" else ""))


def _check_names(elements: Sequence[Element], where: str) -> None:
    for name, count in Counter(e.name for e in elements).items():
        if count > 1:
            raise InputError(
                f'the name "{name}" is used by {count} elements',
                where=where,
                expected="a name of its own for every element",
            )
        if name in TAKEN:
            raise InputError(
                f'the name "{name}" belongs to the source, the fault or the amplifier',
                where=where,
                expected="another name",
            )
    for element in elements:
        for node in nodes_of(element):
            if node.strip() in ("0", "fault"):
                raise InputError(
                    f'element "{element.name}" uses a node called "{node}"',
                    where=where,
                    expected='a node name in words, such as "ground"',
                )


def _check_held(elements: Sequence[Element], where: str) -> tuple[str, ...]:
    """The fixed nodes; no node may be held by two things."""
    holders: dict[str, str] = {name: MEANINGS[name] for name in (*SUPPLIES, "ground")}
    fixed = list(SUPPLIES)
    if any("ground" in nodes_of(e) for e in elements if not isinstance(e, CapacitorElement)):
        fixed.append("ground")
    for element in elements:
        if isinstance(element, PotentialElement | FollowerElement):
            _check_free(element, holders, where)
            holders[element.node] = f'"{element.name}"'
            if isinstance(element, PotentialElement):
                fixed.append(element.node)
    return tuple(fixed)


def _check_free(
    element: PotentialElement | FollowerElement, holders: dict[str, str], where: str
) -> None:
    node = element.node
    if node in holders:
        raise InputError(
            f'node "{node}" is held twice: by "{element.name}" and by {holders[node]}',
            where=where,
            expected="one thing that sets its voltage",
            mend="put a resistor between the two",
        )
    if node in ENDS:
        raise InputError(
            f'node "{node}" is held by "{element.name}"',
            where=where,
            expected=f'"{node}" free to move: it is {MEANINGS[node]}',
        )


def _check_ends(elements: Sequence[Element], held: Sequence[str], where: str) -> None:
    """Every branch must lead from one node to another through something."""
    for element in elements:
        nodes = nodes_of(element)
        if len(nodes) == 2 and nodes[0] == nodes[1]:
            raise InputError(
                f'both ends of "{element.name}" are at node "{nodes[0]}"',
                where=where,
                expected="two different nodes",
            )
        if isinstance(element, ResistorElement | LeakElement) and element.value <= 0:
            both = set(nodes) <= set(held)
            short = f'it shorts "{nodes[0]}" to "{nodes[1]}"' if both else "it is a wire"
            raise InputError(
                f'"{element.name}" has no resistance: {short}',
                where=where,
                expected="a resistance above 0 Ω",
                mend="remove it" if both else "give both ends one node name",
            )
    joining = {n for e in elements if not isinstance(e, CapacitorElement) for n in nodes_of(e)}
    for end in ENDS:
        if end not in joining:
            raise InputError(
                f'no element is connected to node "{end}"',
                where=where,
                expected=f'an element at "{end}", {MEANINGS[end]}',
            )


def _check_followers(circuit: Circuit, where: str) -> None:
    branches = {n for r in circuit.resistors for n in (r.a, r.b)}
    branches |= {n for c in circuit.clamps for n in (c.anode, c.cathode)}
    known = branches | {*circuit.fixed, *(d.name for d in circuit.driven)}
    for follower in circuit.driven_in_order:  # refuses followers in a circle
        if follower.input not in known:
            raise InputError(
                f'the follower of node "{follower.name}" follows "{follower.input}", which is no node',
                where=where,
                expected="one of " + ", ".join(sorted(known - {follower.name})),
            )
    for current in circuit.currents:
        if current.node not in known:
            raise InputError(
                f'the current "{current.name}" flows into "{current.node}", which is no node',
                where=where,
                expected="one of " + ", ".join(sorted(known)),
            )


def _check_alone(elements: Sequence[Element], where: str) -> None:
    """A node that only one element touches leads nowhere: mostly a name misspelt."""
    touched = Counter(node for e in elements for node in set(nodes_of(e)))
    for element in elements:
        for node in nodes_of(element):
            if node in MEANINGS or touched[node] > 1:
                continue
            known = [n for n in (*MEANINGS, *touched) if n != node]
            close = get_close_matches(node, known, n=1)
            raise InputError(
                f'node "{node}" is touched by no element but "{element.name}"',
                where=where,
                expected="a second element at it, or one of the names "
                + ", ".join(f'"{name}"' for name in MEANINGS),
                mend=f'did you mean "{close[0]}"' if close else "",
            )


def _check_loops(elements: Sequence[Element], circuit: Circuit, where: str) -> None:
    """A follower of gain 1 whose input hangs on nothing but its own output has no definite voltage.

    What holds an input is looked for through resistors and leaks: a clamp does not hold a node.
    """
    followers = [e for e in elements if isinstance(e, FollowerElement)]
    held = {*circuit.fixed, *(f.node for f in followers)}
    pairs = [{r.a, r.b} for r in circuit.resistors]
    pairs += [set(e.between) for e in elements if isinstance(e, LeakElement)]
    around = {f.name: _holders(f.follows, pairs, held) for f in followers}
    definite = {*circuit.fixed, *(f.node for f in followers if f.gain < 1)}
    for _ in followers:
        definite |= {f.node for f in followers if around[f.name] & definite}
    for follower in followers:
        if follower.node not in definite and around[follower.name]:
            raise InputError(
                f'the follower "{follower.name}" holds node "{follower.node}" and follows '
                f'"{follower.follows}", which nothing but its own output holds (loop gain 1): '
                "it has no definite voltage",
                where=where,
                expected="an input held by the source, a rail, ground or a stated voltage",
                mend=f'let it follow another node, or hold "{follower.follows}" with a resistor',
            )


def _holders(start: str, pairs: Sequence[set[str]], held: set[str]) -> set[str]:
    """The held nodes that a node is joined to without crossing another held node."""
    inside, found, grown = {start} - held, {start} & held, True
    while grown:
        joined = {n for pair in pairs if pair & inside for n in pair}
        grown = bool(joined - inside - held)
        inside |= joined - held
        found |= joined & held
    return found
