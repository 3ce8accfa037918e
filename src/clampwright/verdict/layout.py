"""Lay a design out for the solver: what every role of its topology is worth, in use and in a fault.

Named fields of the sheet come first, then `network.values` and `network.classes` by the role's full
name, then the topology's default; a role with none of these is asked for.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.network.circuit import Circuit
from clampwright.network.equivalents import arc_law, leak_law, limiter_law
from clampwright.network.own import own_topology, own_values
from clampwright.network.topologies import Topology, topology_named
from clampwright.network.topology import Role
from clampwright.parts.catalogue import class_law, junction_class
from clampwright.physics.clamp import ClampLaw
from clampwright.quantities import read
from clampwright.verdict.design import Design, guard_offset
from clampwright.verdict.own_parts import other_elements, part_of

Array = NDArray[np.float64]
Number = Array | float

UNIT_DIMENSIONS = {
    "Ω": "resistance",
    "V": "voltage",
    "A": "current",
    "F": "capacitance",
    "s": "time",
    "W": "power",
    "1": "ratio",
    "1/V": "ratio",
}
NAMED = ("R_S", "R_outer", "R_inner", "R_guard", "R_fault", "bias", "guard")
STRAYS = {"C_cable", "C_input", "C_source"}  # stated by source and amplifier
PIN_JUNCTION = ClampLaw(diffusion_current=1e-14, series_resistance=10.0)
ARC_DEFAULT = 20.0  # [V] of a fired gas tube; common practice, no source
OWN_ANSWER = (
    "T4",
    "T13",
    "T16",
)  # another amplifier circuit: offered only where it is the design's


def topology_of(design: Design) -> Topology:
    """The topology of one leg; "T15" is T2 on each of two legs."""
    name = design.network.topology
    if name == "own":
        return _own(design)
    return topology_named("T2" if name == "T15" else name)


def _own(design: Design) -> Topology:
    """The user's network; of its clamps those are judged whose part is the design's clamp."""
    network = design.network
    topology = own_topology(network.elements)
    values = own_values(network.elements)
    outer = network.outer_resistor.value * network.outer_resistor.count
    stated = values.resistances.get("R_outer")
    if stated is None or abs(stated - outer) > 1e-9 * outer:
        raise InputError(
            "the network has no resistor R_outer of the value of the outer resistor",
            where="network.elements",
            expected='one element of kind "resistor" called R_outer, as in network.outer_resistor',
        )
    others = {e.name for e in other_elements(design)}
    judged = tuple(s for s in topology.sides if s not in others)
    if network.clamp and not judged:
        raise InputError(
            f'no element is made of "{network.clamp}"',
            where="network.clamp",
            expected="the part of one or more clamps among network.elements: "
            + (
                ", ".join(sorted({f'"{part}"' for part in values.parts.values()}))
                or "there are none"
            ),
        )
    alone = tuple((s,) for s in judged)
    acting = (*alone, judged) if len(judged) > 1 else alone
    return replace(topology, sides=judged, acting=acting)


def present_roles(design: Design, topology: Topology) -> tuple[str, ...]:
    """Optional roles that the design states a value for."""
    network = design.network
    stated = {*network.values, *network.classes}
    if topology.name == "own":
        return tuple(r.name for r in topology.roles if not r.required)
    if network.guard_resistor and topology.needs_guard:
        stated.add("R_guard")
    known = {r.name for r in topology.roles}
    unknown = sorted(stated - known)
    if unknown:
        raise InputError(
            f'topology {topology.name} has no part "{unknown[0]}"',
            where="network.values",
            expected="one of " + ", ".join(sorted(known - set(NAMED))),
        )
    stated |= STRAYS
    return tuple(r.name for r in topology.roles if r.name in stated and not r.required)


def role_value(design: Design, topology: Topology, name: str) -> float:
    """What a resistor, leak, current, potential or figure is worth (SI).

    Raises InputError when it is neither stated nor has a default.
    """
    if topology.name == "own":
        return _own_value(design, name)
    role = topology.role(name)
    text = design.network.values.get(name)
    if text is not None:
        where = f"network.values.{name}"
        return read(text, UNIT_DIMENSIONS.get(role.unit, "ratio"), where=where)
    network = design.network
    fields = {"R_inner": network.inner_resistor, "R_guard": network.guard_resistor}
    found = fields.get(name)
    if found is not None:
        return found.value * found.count
    if role.default is None:
        raise _missing(topology, role)
    return role.default


def _own_value(design: Design, name: str) -> float:
    """A resistor, leak, capacitor, current or held node of the user's network."""
    values = own_values(design.network.elements)
    kinds = (values.resistances, values.leaks, values.capacitances, values.currents)
    for kind in (*kinds, values.potentials):
        if name in kind:
            return kind[name]
    raise InputError(
        f'the network has no value for "{name}"',
        where="network.elements",
        expected="an element of that name",
    )


def defaults_taken(design: Design, topology: Topology) -> tuple[str, ...]:
    """Roles of the circuit whose default stands in for a stated value, in words."""
    network = design.network
    stated = {*network.values, *network.classes, *NAMED}
    taken = []
    for role in topology.roles:
        wanted = role.required and role.default is not None and role.kind in ("resistor", "leak")
        if wanted and role.name not in stated:
            taken.append(f"{role.words}: {role.default:g} {role.unit} taken")
    return tuple(taken)


def is_offered(design: Design, topology: Topology) -> bool:
    """Whether ranking may try a topology: what it needs is stated, and the amplifier fits it."""
    name, own = topology.name, design.network.topology
    if own == "own" or name in OWN_ANSWER or own in OWN_ANSWER:
        return name == own
    if name == own or name in ("T1", "T2", "T6"):
        return True
    if name == "T5":
        return design.amplifier.guard_offset is not None
    distinct = {r.name for r in topology.roles} - {r.name for r in topology_named("T6").roles}
    return bool(distinct & {*design.network.values, *design.network.classes})


def left_out(design: Design, topologies: Sequence[Topology]) -> tuple[str, ...]:
    """Why ranking does not try these topologies, one group a sentence."""
    groups: dict[str, list[str]] = {}
    for topology in topologies:
        groups.setdefault(_why_left_out(design, topology), []).append(topology.name)
    return tuple(f"{', '.join(names)}: {why}" for why, names in groups.items())


def _why_left_out(design: Design, topology: Topology) -> str:
    name, own = topology.name, design.network.topology
    if own in OWN_ANSWER:
        return f"another amplifier circuit than {own}, so the requirement would mean something else"
    if name in OWN_ANSWER:
        return "another amplifier circuit, tried only where it is the design's"
    if name == "T15":
        if design.network.pair:
            return "it is T2 on each of the two legs: with this pair it is ranked under the name T2"
        return "it is T2 on each of two legs, tried only where the design is a differential pair"
    if name == "T5":
        return "the offset of the guard follower is not stated"
    return "parts of their own are needed whose values the design does not state"


def resistances(
    design: Design, topology: Topology, circuit: Circuit, given: Mapping[str, Number]
) -> dict[str, Number]:
    """Every resistor of a circuit; `given` holds those that vary from case to case."""
    out: dict[str, Number] = dict(given)
    for resistor in circuit.resistors:
        if resistor.name not in out:
            out[resistor.name] = role_value(design, topology, resistor.name)
    return {r.name: out[r.name] for r in circuit.resistors}


def potentials(
    design: Design, topology: Topology, circuit: Circuit, given: Mapping[str, Number]
) -> dict[str, Number]:
    """Every fixed node of a circuit."""
    out: dict[str, Number] = {
        "rail positive": design.rails.positive,
        "rail negative": design.rails.negative,
        "ground": 0.0,
        **given,
    }
    for node in circuit.fixed:
        if node not in out:
            out[node] = role_value(design, topology, node)
    return {node: out[node] for node in circuit.fixed}


def other_laws(
    design: Design, topology: Topology, circuit: Circuit, sides: Iterable[str], temperature: float
) -> dict[str, ClampLaw]:
    """Laws of the branches that are not the clamp being judged: leaks, limiters, bulk parts, pins."""
    out: dict[str, ClampLaw] = {}
    judged = set(sides)
    for branch in circuit.clamps:
        name = branch.name
        if name in judged:
            continue
        if name.startswith(("pin ", "other pin ")):
            out[name] = PIN_JUNCTION
        elif name.startswith("limiter "):
            on = _figure(design, topology, ("R_limiter", "internal resistance"), 500.0)
            limit = role_value(design, topology, "limiting current")
            out[name] = limiter_law(limit, on, temperature)
        elif name == "tube arc":
            out[name] = arc_law(ARC_DEFAULT)
        elif topology.role(name).kind == "leak":
            out[name] = leak_law(role_value(design, topology, name))
        else:
            out[name] = _class_law(design, topology, name)
    return out


def followers(
    design: Design, circuit: Circuit, topology: Topology
) -> dict[str, tuple[Number, Number]]:
    """Gain and offset of every follower."""
    out: dict[str, tuple[Number, Number]] = {}
    own = own_values(design.network.elements).driven if topology.name == "own" else {}
    for driven in circuit.driven:
        if driven.name in own:
            out[driven.name] = own[driven.name]
        elif driven.name == "guard":
            out["guard"] = (1.0 - design.amplifier.guard_gain_error, guard_offset(design))
        elif driven.name == "other input":
            out["other input"] = (1.0, design.amplifier.offset_voltage)
        else:
            out[driven.name] = (1.0, role_value(design, topology, driven.name))
    return out


def _class_law(design: Design, topology: Topology, name: str) -> ClampLaw:
    if topology.name == "own":
        return part_of(design, name).fitted.law
    wanted = design.network.classes.get(name)
    if wanted is None:
        raise InputError(
            f"topology {topology.name} needs a part for {topology.role(name).words}",
            where=f"network.classes.{name}",
            expected='a class of the catalogue, such as "suppressor 12 V"',
        )
    return class_law(junction_class(wanted))


def _figure(design: Design, topology: Topology, names: tuple[str, ...], default: float) -> float:
    known = {r.name for r in topology.roles}
    for name in names:
        if name in known and (
            name in design.network.values or topology.role(name).default is not None
        ):
            return role_value(design, topology, name)
    return default


def _missing(topology: Topology, role: Role) -> InputError:
    return InputError(
        f"topology {topology.name} needs the {role.words}",
        where=f'network.values."{role.name}"',
        expected=f"a value in {role.unit or 'its unit'}",
    )
