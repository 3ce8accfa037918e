"""What every topology asks of a sheet: the fields a page lets one fill in beside the chooser.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from clampwright.errors import InputError
from clampwright.network.topologies import CATALOGUE
from clampwright.network.topology import Role, Topology
from clampwright.parts.catalogue import catalogue
from clampwright.quantities import write
from clampwright.record.network_text import is_only_noted
from clampwright.verdict.design import Design
from clampwright.verdict.layout import UNIT_DIMENSIONS, present_roles, role_value, topology_of

OWN = "own"
NAMED = {  # roles that a field of the sheet states by its own name
    "R_inner": ("network.inner_resistor.value", "Inner resistor, in front of the pin"),
    "C_difference": ("network.differential_capacitance", "Capacitor between the legs"),
}
OF_A_GUARD = {
    "R_guard": ("network.guard_resistor.value", "Resistor in the guard drive"),
    "guard": ("amplifier.guard_offset", "Offset of the guard follower"),
}
STATED_ELSEWHERE = {
    "R_S", "R_outer", "R_fault", "bias", "other bias", "other input", "pin", "source current",
    "C_cable", "C_input", "C_source", "output", "tube arc", "pin upper", "pin lower",
    "other pin upper", "other pin lower", "limiter towards source", "limiter towards pin",
}  # fmt: skip
"""Roles that follow from requirement, source or amplifier, or from another role."""


@dataclass(frozen=True)
class Asked:
    """One value that a topology asks for: its field in the sheet, words, what stands in for it.

    needed : there is no verdict without it; choices : the only texts it takes, () for a quantity
    """

    field: str
    label: str
    otherwise: str
    needed: bool = False
    choices: tuple[str, ...] = ()


def topology_values(design: Design) -> dict[str, tuple[Asked, ...]]:
    """Every value that each topology asks for, by the name of the topology, "own" among them.

    What the sheet states for a role of a topology is listed too, so that it can be changed.
    """
    pair = _PAIR if design.network.pair else ()
    found = {}
    for name in (*CATALOGUE, OWN):
        asked = (*_asked(name), *(one for one in pair if name != "T15"))
        listed = {one.field for one in asked}
        found[name] = (*asked, *(one for one in _stated(design, name) if one.field not in listed))
    return found


def refuse_missing(design: Design) -> None:
    """Raise InputError, at the first field, where the topology lacks values it cannot do without.

    A stated value that cannot be read is told before.
    """
    asked = _asked(design.network.topology)
    missing = [one for one in asked if one.needed and not _has(design, one.field)]
    if missing:
        _read_stated(design)
        labels = "; ".join(one.label[:1].lower() + one.label[1:] for one in missing)
        raise InputError(
            f"not judged: {design.network.topology} needs its {labels}",
            where=missing[0].field,
            expected="a class of the catalogue" if missing[0].choices else "a value with its unit",
        )


def _read_stated(design: Design) -> None:
    """Raise InputError where the sheet states a value for no part of its circuit, or none of its unit."""
    topology = topology_of(design)
    present_roles(design, topology)
    for name in design.network.values:
        role_value(design, topology, name)


def _has(design: Design, field: str) -> bool:
    """Whether a needed value is stated; those are values, classes and the offset of a guard."""
    section, _, name = field.rpartition(".")
    if section == "network.values":
        return name in design.network.values
    if section == "network.classes":
        return name in design.network.classes
    return design.amplifier.guard_offset is not None


_PAIR = (Asked(*NAMED["C_difference"], "left out"),)
_ALWAYS = (
    Asked("network.outer_resistor.package", "Chip size of the outer resistor", "1206 taken"),
    Asked("network.node_capacitance", "Capacitor at the clamp node, to ground", "left out"),
    Asked("rails.shunt_voltage", "Shunt on the rail, its voltage", "left out"),
)
_FEEDBACK = Asked("amplifier.feedback_capacitance", "Feedback capacitor", "left out")


@cache
def _asked(name: str) -> tuple[Asked, ...]:
    if name == OWN:
        return _ALWAYS
    topology = CATALOGUE[name]
    roles = {role.name.removesuffix(" plus"): role for role in topology.roles
             if not role.name.endswith(" minus")}  # fmt: skip
    own = [_of_role(topology, plain, role) for plain, role in roles.items()]
    feedback = (_FEEDBACK,) if name == "T13" else ()
    return (*(one for one in own if one), *feedback, *_ALWAYS)


def _of_role(topology: Topology, name: str, role: Role) -> Asked | None:
    """The field of a role; None for one that is stated elsewhere or that is the clamp itself."""
    if name in STATED_ELSEWHERE or role.name in topology.sides:
        return None
    if name in OF_A_GUARD:
        if not topology.needs_guard:
            return None
        field, label = OF_A_GUARD[name]
        needed = name == "guard"
        return Asked(field, label, "needed, in V" if needed else _taken(role), needed)
    if name in NAMED:
        field, label = NAMED[name]
        return Asked(field, label, "left out")
    if role.kind == "clamp":
        words = "needed" if role.required else "left out"
        return Asked(f"network.classes.{name}", _label(role), words, role.required, _classes())
    needed = role.required and role.default is None and not is_only_noted(role)
    return Asked(f"network.values.{name}", _label(role), _otherwise(role, needed), needed)


def _stated(design: Design, name: str) -> list[Asked]:
    """Values the sheet states for roles of a topology that are not asked for, such as a follower."""
    if name == OWN:
        return []
    topology = CATALOGUE["T2" if name == "T15" else name]
    known = {role.name: role for role in topology.roles}
    network = design.network
    kinds: tuple[tuple[str, Mapping[str, str]], ...] = (
        ("values", network.values), ("classes", network.classes),
    )  # fmt: skip
    return [
        Asked(f"network.{kind}.{role}", _label(known[role]), _taken(known[role]))
        for kind, stated in kinds
        for role in stated
        if role in known
    ]


def _otherwise(role: Role, needed: bool) -> str:
    if needed:
        return f"needed, in {role.unit}"
    if is_only_noted(role):
        return "noted, not judged"
    return _taken(role) if role.required else "left out"


def _taken(role: Role) -> str:
    """The default that stands in, as a sheet would state it."""
    if role.default is None or not role.required:
        return "left out"
    text = write(role.default, UNIT_DIMENSIONS.get(role.unit, "ratio"))
    number, space, unit = text.partition("\u2009")
    number = number.rstrip("0").rstrip(".") if "." in number else number
    return f"{number}{' ' if space else ''}{unit} taken"


def _label(role: Role) -> str:
    """What the role is; a figure by its name, because its words only explain it."""
    text = role.name if role.kind == "figure" else role.words.removesuffix(", plus leg")
    if role.kind == "resistor" and "resist" not in text:
        text = f"resistor, {text}"
    return text[:1].upper() + text[1:]


@cache
def _classes() -> tuple[str, ...]:
    return tuple(catalogue())
