"""Every way to wire a part as a two-pole clamp, with what it inherits and why it may be rejected.

Leads are split into two poles and leads left open (or tied to each other only); what then conducts
is found by walking the junctions. Names are as the trade writes them: "C/B+E" is the collector
against base tied to emitter.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import Literal

from clampwright.errors import InputError
from clampwright.parts.catalogue import combined_class, junction_class
from clampwright.parts.sheet import Junction, PartSheet
from clampwright.parts.wiring_advice import advice, lead_order, written_order
from clampwright.quantities import write

Composition = Literal["none", "single", "parallel", "series", "series-parallel", "antiparallel"]
Pole = Literal["first", "second", "both", "none"]

EXHAUSTIVE_LEADS = 4  # parts with more leads are split only one line (or all lines) against rails
EMITTER_BASE_BREAKDOWN = 5.0  # [V] assumed without a rating; common practice, no source
BREAKDOWN_DERATING = 0.7  # [1] of the minimum breakdown; common practice, no source


@dataclass(frozen=True)
class Wiring:
    """One way to use a part as a clamp between two poles.

    `paths` are the junctions that conduct forward, each path in series, paths in parallel (for
    "antiparallel" those of one direction). `scale` multiplies the class's area, `series` counts
    junctions in a row. Ratings are inherited: the lower of parallel junctions, sums in series.
    """

    name: str
    first: tuple[str, ...]
    second: tuple[str, ...]
    open: tuple[str, ...]
    tied: tuple[str, ...]  # leads tied to each other only
    anode: Pole
    paths: tuple[tuple[str, ...], ...]
    composition: Composition
    clamp_class: str | None
    scale: float
    series: int
    breakdown_minimum: float | None  # [V]
    breakdown_typical: float | None  # [V]
    forward_current_maximum: float | None  # [A]
    power_maximum: float | None  # [W]
    thermal_resistance: float | None  # [K/W]
    capacitance: float | None  # [F] at 0 V
    rejected: bool
    reason: str
    cautions: tuple[str, ...]
    words: str

    @property
    def both_ways(self) -> bool:
        """Whether the clamp conducts alike in both directions."""
        return self.anode == "both"


def wirings(sheet: PartSheet) -> tuple[Wiring, ...]:
    """Every wiring of a part, rejected ones last; each pair of poles appears once."""
    order = lead_order(sheet)
    found: dict[tuple[frozenset[str], frozenset[str], frozenset[str]], Wiring] = {}
    for first, second, tied in _splits(sheet, order):
        key = (frozenset(first), frozenset(second), frozenset(tied))
        if key not in found:
            found[key] = _wiring(sheet, first, second, tied)
    return tuple(sorted(found.values(), key=lambda w: w.rejected))


def wiring_named(sheet: PartSheet, name: str, where: str = "") -> Wiring:
    """The wiring called `name`, whatever the order of poles and leads; `where` is for messages.

    Raises InputError that lists the names when there is none.
    """
    candidates = wirings(sheet)
    wanted = _read_name(name, sheet.leads)
    for wiring in candidates:
        if wiring.name == name or _key(wiring) == wanted:
            return wiring
    raise InputError(
        f'part {sheet.id} has no wiring "{name}"',
        where=where,
        expected="one of " + ", ".join(w.name for w in candidates if not w.rejected),
    )


def stand_off_reason(wiring: Wiring, reverse_voltage_maximum: float) -> str | None:
    """Why the wiring cannot stand off `reverse_voltage_maximum` (V), or None.

    That voltage is the rail span plus a forward drop when the opposite clamp conducts. The limit is
    70 % of the minimum breakdown (common practice, no source); an emitter–base junction without a
    rating counts as 5 V.
    """
    if wiring.rejected or wiring.both_ways:
        return None
    minimum, rated = wiring.breakdown_minimum, True
    if minimum is None:
        if "emitter-base" not in (wiring.clamp_class or ""):
            return None
        minimum, rated = EMITTER_BASE_BREAKDOWN, False
    derated = BREAKDOWN_DERATING * minimum
    if reverse_voltage_maximum <= derated:
        return None
    origin = "minimum breakdown" if rated else "assumed breakdown (no rating)"
    standing = write(reverse_voltage_maximum, "voltage")
    if reverse_voltage_maximum > minimum:
        return f"must stand off {standing}, above its {origin} of {write(minimum, 'voltage')}"
    return (
        f"must stand off {standing}, above {write(derated, 'voltage')}, "
        f"70 % of its {origin} of {write(minimum, 'voltage')}"
    )


def _splits(
    sheet: PartSheet, order: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]]:
    """First pole, second pole, tied leads; the pole with the foremost lead is the first."""
    if len(order) > EXHAUSTIVE_LEADS:
        yield from _line_splits(sheet, order)
        return
    tied_mark = "ABOT" if len(order) == EXHAUSTIVE_LEADS else "ABO"
    for marks in product(tied_mark, repeat=len(order)):
        groups = {m: tuple(x for x, k in zip(order, marks, strict=True) if k == m) for m in "ABT"}
        first, second, tied = groups["A"], groups["B"], groups["T"]
        foremost = next((k for k in marks if k in "AB"), "")
        if first and second and foremost == "A" and len(tied) != 1:
            yield first, second, tied


def _line_splits(
    sheet: PartSheet, order: tuple[str, ...]
) -> Iterator[tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]]:
    """For arrays: each line or all lines against one rail or both, lines against lines, rails."""
    rails = tuple(
        x
        for x in order
        if all(j.anode != x for j in sheet.junctions)
        or all(j.cathode != x for j in sheet.junctions)
    )
    lines = tuple(x for x in order if x not in rails)
    if not lines:
        rails, lines = (), order
    sides = [(rail,) for rail in rails] + ([rails] if len(rails) > 1 else [])
    for group in [(line,) for line in lines] + ([lines] if len(lines) > 1 else []):
        for side in sides:
            yield group, side, ()
    for i, line in enumerate(lines):
        for other in lines[i + 1 :]:
            yield (line,), (other,), ()
    if len(rails) == 2:
        yield (rails[0],), (rails[1],), ()


def _wiring(
    sheet: PartSheet, first: tuple[str, ...], second: tuple[str, ...], tied: tuple[str, ...]
) -> Wiring:
    opened = tuple(x for x in lead_order(sheet) if x not in (*first, *second, *tied))
    nodes = {lead: lead for lead in opened}
    nodes |= dict.fromkeys(first, "first") | dict.fromkeys(second, "second")
    nodes |= dict.fromkeys(tied, "tied")
    into_second = _paths(sheet.junctions, nodes, "first", "second")
    into_first = _paths(sheet.junctions, nodes, "second", "first")
    paths = into_second or into_first
    anode: Pole = "first" if into_second else "second" if into_first else "none"
    if into_second and into_first:
        anode = "both"
    two_way = anode == "both" and not all(j.both_ways for path in paths for j in path)
    active = tuple(tuple(j.name for j in path) for path in paths)
    told = advice(sheet, first, second, opened, tied, active)
    reason = told.rejection or ("" if paths else "no junction conducts from one pole to the other")
    return Wiring(
        name=_name(sheet, first, second, tied),
        first=first,
        second=second,
        open=opened,
        tied=tied,
        anode=anode,
        paths=active,
        composition=_composition(paths, two_way),
        clamp_class=_class_name(paths),
        scale=_scale(paths),
        series=min((len(path) for path in paths), default=1),
        breakdown_minimum=_lowest(paths, "breakdown_minimum", whole=True),
        breakdown_typical=_lowest(paths, "breakdown_typical", whole=True),
        forward_current_maximum=_lowest(paths, "forward_current_maximum", whole=False),
        power_maximum=_lowest(paths, "power_maximum", whole=False),
        thermal_resistance=sheet.package.thermal_resistance,
        capacitance=_capacitance((*into_second, *into_first) if two_way else paths),
        rejected=bool(reason),
        reason=reason,
        cautions=told.cautions,
        words=told.words,
    )


Path = tuple[Junction, ...]


def _paths(
    junctions: tuple[Junction, ...], nodes: dict[str, str], start: str, end: str
) -> tuple[Path, ...]:
    """Every way from `start` to `end` through junctions in their forward direction."""
    edges: list[tuple[str, str, Junction]] = []
    for junction in junctions:
        a, k = nodes[junction.anode], nodes[junction.cathode]
        if a != k:
            edges.append((a, k, junction))
            if junction.both_ways:
                edges.append((k, a, junction))

    def walk(node: str, visited: frozenset[str], path: Path) -> Iterator[Path]:
        if node == end:
            yield path
            return
        for a, k, junction in edges:
            if a == node and k not in visited:
                yield from walk(k, visited | {k}, (*path, junction))

    return tuple(walk(start, frozenset({start}), ()))


def _composition(paths: tuple[Path, ...], two_way: bool) -> Composition:
    if not paths:
        return "none"
    if two_way:
        return "antiparallel"
    longest = max(len(path) for path in paths)
    if len(paths) == 1:
        return "series" if longest > 1 else "single"
    return "series-parallel" if longest > 1 else "parallel"


def _shortest(paths: tuple[Path, ...]) -> tuple[Path, ...]:
    """The paths with the fewest junctions: they carry the current."""
    least = min((len(path) for path in paths), default=0)
    return tuple(path for path in paths if len(path) == least)


def _class_name(paths: tuple[Path, ...]) -> str | None:
    names = tuple(dict.fromkeys(j.junction_class for p in _shortest(paths) for j in p))
    if not names:
        return None
    return junction_class(names[0]).name if len(names) == 1 else combined_class(names).name


def _scale(paths: tuple[Path, ...]) -> float:
    """How many times the class's area conducts; a class that stands for several counts once."""
    short = _shortest(paths)
    names = tuple(dict.fromkeys(j.junction_class for path in short for j in path))
    if len(names) > 1 and set(combined_class(names).combined_of) == set(names):
        return 1.0
    return sum(min(j.share for j in path) for path in short) or 1.0


def _lowest(paths: tuple[Path, ...], rating: str, *, whole: bool) -> float | None:
    """The lower of parallel paths; along a path the sum (`whole`) or the lowest junction."""
    found = []
    for path in paths:
        values = [getattr(junction, rating) for junction in path]
        if all(value is not None for value in values):
            found.append(sum(values) if whole else min(values))
    return min(found) if found else None


def _capacitance(paths: tuple[Path, ...]) -> float | None:
    """Parallel paths add, junctions in a row divide; None when one is not stated."""
    total = 0.0
    for path in paths:
        values = [junction.capacitance for junction in path]
        if any(value is None for value in values):
            return None
        total += 1 / sum(1 / value for value in values if value)
    return total or None


def _name(
    sheet: PartSheet, first: tuple[str, ...], second: tuple[str, ...], tied: tuple[str, ...]
) -> str:
    order = written_order(sheet)
    poles = "/".join("+".join(sorted(pole, key=order.index)) for pole in (first, second))
    return f"{poles} ({'-'.join(tied)} tied)" if tied else poles


def _key(wiring: Wiring) -> tuple[frozenset[frozenset[str]], frozenset[str]]:
    return frozenset({frozenset(wiring.first), frozenset(wiring.second)}), frozenset(wiring.tied)


def _read_name(
    name: str, leads: tuple[str, ...]
) -> tuple[frozenset[frozenset[str]], frozenset[str]] | None:
    """The poles written in `name`, or None where it cannot be read."""
    poles, _, suffix = name.replace("−", "-").partition("(")
    tied_text = suffix.removesuffix(")").strip().removesuffix("tied").strip()
    tied = _read_leads(tied_text, leads, "-") if suffix else frozenset()
    sides = [_read_leads(side, leads, "+") for side in poles.split("/")]
    if len(sides) != 2 or tied is None or None in sides:
        return None
    return frozenset(side for side in sides if side is not None), tied


def _read_leads(text: str, leads: tuple[str, ...], joint: str) -> frozenset[str] | None:
    """The set of leads in "B+E"; lead names may themselves end in + or −."""
    text = "".join(text.split())
    for lead in sorted(leads, key=len, reverse=True):
        if text == lead:
            return frozenset({lead})
        if text.startswith(lead + joint):
            rest = _read_leads(text[len(lead) + len(joint) :], leads, joint)
            if rest is not None:
                return rest | {lead}
    return None
