"""What stands beside each symbol of the schematic: values, lead names, node voltages, leakage."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from textwrap import shorten

from clampwright.network.topologies import topology_named
from clampwright.network.topology import Role
from clampwright.record.budget_plot import deciding_judgement
from clampwright.record.circuit_pictures import picture_of
from clampwright.record.network_text import error_place, is_pair, role_text
from clampwright.record.tables import lead_names
from clampwright.record.words import (
    by_basis,
    error_words,
    known_words,
    nominal,
    quantity,
    resistance_words,
)
from clampwright.verdict.design import Design, Resistor
from clampwright.verdict.results import (
    CheckResult,
    ClampPlace,
    ClampSummary,
    Corner,
    FaultCase,
)

LONGEST_LINE = 24  # characters beside a clamp
NODE_CAPACITOR = "capacitor"
BETWEEN_LEGS = "C_difference"


@dataclass(frozen=True)
class TextLine:
    """One line of text beside a symbol; quiet is smaller and paler."""

    words: str
    quiet: bool = False


@dataclass(frozen=True)
class Labels:
    """Every text of one drawing; an empty one is left out.

    values : by role; a role that is not a key is not fitted and not drawn
    clamps : lines beside a clamp, by "upper", "lower" or "pair"
    path   : +1 or -1 where a solved fault is drawn heavy, else 0
    """

    values: Mapping[str, str]
    clamps: Mapping[str, tuple[TextLine, ...]] = field(default_factory=dict)
    leads: tuple[str, str] = ("", "")
    rails: tuple[str, str] = ("", "")
    signal: str = ""
    node: str = ""
    error: tuple[str, str] = ("", "")
    fault: str = ""
    path: int = 0
    both_legs: bool = False
    names: bool = True

    def has(self, role: str) -> bool:
        """Whether the role is fitted."""
        return role in self.values


def labels_of(check: CheckResult, fault: FaultCase | None) -> Labels:
    """The texts of a judged design."""
    design, clamp, corner = check.design, check.clamp, corner_of(check)
    name, path = design.network.topology, 0
    if fault is not None and not math.isnan(fault.fault_current):
        path = 1 if fault.voltage > 0 else -1
    values = _values(design) | {"R_S": quantity(corner.source_resistance, "resistance")}
    rails = design.rails
    at = quantity(corner.signal, "voltage", signed=True)
    current_input = picture_of(name).amplifier == "virtual ground"
    return Labels(
        values=values,
        clamps=_clamp_texts(clamp, name) if clamp else {},
        leads=lead_names(clamp) if clamp else ("", ""),
        rails=(
            nominal(rails.positive, "voltage", signed=True),
            nominal(rails.negative, "voltage", signed=True),
        ),
        signal=at,
        node="" if current_input else at,
        error=_error(check),
        fault=_fault_words(fault),
        path=path,
        both_legs=_channels(design, fault) > 1,
    )


def plain_labels(topology: str) -> Labels:
    """Names alone, with every part that the topology may have except a capacitor beside the node."""
    roles = topology_named(topology).roles
    names = {r.name.removesuffix(" plus").removesuffix(" minus") for r in roles}
    chosen = names - {"C_cable", "C_input", "C_source", "C_suppressor"}
    if topology != "T6":  # elsewhere the inner resistor may be left out
        chosen -= {"R_inner"}
    if topology == "T9":
        chosen -= {"R_guard"}
    return Labels(values=dict.fromkeys(chosen, ""), rails=("+", "−"))


def corner_of(check: CheckResult) -> Corner:
    """The corner whose values are drawn: that of the judgement which decides."""
    judged = deciding_judgement(check)
    return check.dynamics.corner if judged is None else judged.corner


def description(check: CheckResult) -> str:
    """The drawing in sentences, for who cannot see it."""
    network, clamp = check.design.network, check.clamp
    outer = network.outer_resistor
    parts = [f"Source, outer resistor {resistance_words(outer.value, outer.count)}"]
    where = picture_of(network.topology).words
    if clamp is not None:
        anode, cathode = lead_names(clamp)
        sits = " and ".join(dict.fromkeys(sits_at_words(place) for place in drawn_places(clamp)))
        where += f": {clamp.part}, anode {anode}, cathode {cathode}, sits at {sits}"
    parts.append(where)
    if network.inner_resistor is not None:
        parts.append(f"inner resistor {resistance_words(network.inner_resistor.value, 1)}")
    legs = " Two such legs lead to one differential amplifier." if is_pair(check.design) else ""
    return ", ".join([*parts, "amplifier"]) + "." + legs


def _values(design: Design) -> dict[str, str]:
    """Text by role for every part that is fitted; an assumed value says so."""
    network = design.network
    named: dict[str, Resistor | None] = {
        "R_outer": network.outer_resistor,
        "R_inner": network.inner_resistor,
        "R_guard": network.guard_resistor,
    }
    values = {n: resistance_words(r.value, r.count) for n, r in named.items() if r is not None}
    if network.topology != "own":
        name = "T2" if network.topology == "T15" else network.topology
        for role in topology_named(name).roles:
            if role.name not in values and _is_fitted(role, design):
                values[role.name] = role_text(role, design)
    farads = {
        NODE_CAPACITOR: network.node_capacitance,
        BETWEEN_LEGS: network.differential_capacitance if is_pair(design) else 0.0,
        "C_feedback": design.amplifier.feedback_capacitance,
    }
    values |= {n: nominal(c, "capacitance") for n, c in farads.items() if c > 0}
    if design.rails.shunt_voltage is not None:
        values["rail shunt"] = nominal(design.rails.shunt_voltage, "voltage")
    return values


def _is_fitted(role: Role, design: Design) -> bool:
    stated = role.name in design.network.values or role.name in design.network.classes
    return stated or (role.required and role.kind != "figure" and role.name != "R_guard")


def _channels(design: Design, fault: FaultCase | None) -> int:
    return next((f.channels for f in design.faults if fault and f.name == fault.name), 1)


def _fault_words(fault: FaultCase | None) -> str:
    if fault is None:
        return ""
    if math.isnan(fault.fault_current):
        return f"{fault.name}: not solved"
    return f"{fault.name}: {quantity(abs(fault.fault_current), 'current')}"


def _error(check: CheckResult) -> tuple[str, str]:
    judged = deciding_judgement(check)
    if judged is None:
        return ("", "")
    value = error_words(judged.error, signed=True)
    if judged.volts_per_ampere is None:
        return error_place(check.design), value
    current = error_words(judged.error, judged.volts_per_ampere, signed=True)
    return error_place(check.design), f"{value} = {current}"


def _clamp_texts(clamp: ClampSummary, topology: str) -> dict[str, tuple[TextLine, ...]]:
    part = TextLine(_short(f"{clamp.part} {clamp.wiring}"))
    if picture_of(topology).clamps in ("rails", "clamp rails"):
        worst = {place.side: place for place in clamp.places}
        return {
            place.side: (
                part,
                TextLine(f"sits at {sits_at_words(place)}"),
                *_leak(clamp, place),
                *_up_to(place, worst[place.side]),
            )
            for place in drawn_places(clamp)
        }
    lines, seen = [part], set()
    for place in drawn_places(clamp):
        words = f"each sits at {quantity(abs(place.sits_at), 'voltage')}"
        if words not in seen:
            lines += [TextLine(words), *_leak(clamp, _leakiest(clamp, place))]
        seen.add(words)
    return {"pair": tuple(lines)}


def _leakiest(clamp: ClampSummary, place: ClampPlace) -> ClampPlace:
    """Of the clamps that sit at the same voltage either way round, the one that leaks most."""
    same = [p for p in drawn_places(clamp) if math.isclose(abs(p.sits_at), abs(place.sits_at))]
    return max(same or [place], key=lambda p: abs(p.leakage))


def drawn_places(clamp: ClampSummary) -> tuple[ClampPlace, ...]:
    """The clamps at the corner whose node voltage is drawn; at their worst where none is judged."""
    return clamp.drawn or clamp.places


def _up_to(place: ClampPlace, worst: ClampPlace) -> tuple[TextLine, ...]:
    """Where the clamp sits at the other end of the signal, when that is more."""
    most = quantity(abs(worst.sits_at), "voltage")
    if abs(worst.sits_at) <= abs(place.sits_at) or most == quantity(abs(place.sits_at), "voltage"):
        return ()
    return (TextLine(f"up to {most} over the signal", quiet=True),)


def sits_at_words(place: ClampPlace) -> str:
    """Anode minus cathode in words: reverse when negative."""
    way = "reverse" if place.sits_at < 0 else "forward"
    return f"{quantity(abs(place.sits_at), 'voltage')} {way}"


def _leak(clamp: ClampSummary, place: ClampPlace) -> tuple[TextLine, TextLine]:
    ends = sorted((abs(place.leakage_low), abs(place.leakage_high)))
    if place.leakage_low < 0 < place.leakage_high:
        ends[0] = 0.0
    low, high = (quantity(end, "current") for end in ends)
    leakage = by_basis(quantity(abs(place.leakage), "current"), clamp.leakage_basis)
    known = known_words(clamp.leakage_basis, place.known_by, short=True)
    return (
        TextLine(f"leaks {leakage}"),
        TextLine(f"{low}\u2009…\u2009{high}, {known}", quiet=True),
    )


def _short(words: str) -> str:
    return shorten(words, LONGEST_LINE, placeholder="…")


__all__ = [
    "BETWEEN_LEGS",
    "NODE_CAPACITOR",
    "Labels",
    "TextLine",
    "corner_of",
    "description",
    "is_pair",
    "labels_of",
    "plain_labels",
    "sits_at_words",
]
