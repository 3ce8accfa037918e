"""Error of every element of a user's own network under its own name: other clamps, leaks, currents.

A clamp is solved like the design's clamp, with and without it, the rest present. What is left without
clamps is linear: leaks and currents are taken away one after the other, so that all terms add up.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import inf

import numpy as np

from clampwright.network.own import CurrentElement, LeakElement
from clampwright.network.topologies import Topology
from clampwright.verdict.adjust import as_pair
from clampwright.verdict.clamp_summary import light_is_known
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import zeroed
from clampwright.verdict.known import known_at, light_known_at
from clampwright.verdict.own_parts import is_class, not_judged, other_elements, part_of
from clampwright.verdict.places import beyond_evidence, in_use_at, place_of_use
from clampwright.verdict.results import Basis
from clampwright.verdict.terms import AddedTerm, Array, ErrorTerms, Interval

HELD = "held voltages of the network"
ABSENT_LEAK = inf  # [Ω] a leak that is taken away


def with_elements(
    design: Design,
    topology: Topology,
    corners: Corners,
    outer: Array | None,
    sides: list[ErrorTerms],
) -> list[ErrorTerms]:
    """The terms of every side, what its elements add under their names in place of one sum."""
    added = (
        *_clamps(design, topology, corners, outer),
        *_linear(design, topology, corners, outer),
    )
    none = np.zeros(corners.count)
    return [replace(s, leak=Interval(none, none, none), added=(*s.added, *added)) for s in sides]


def uncredited(sides: list[ErrorTerms]) -> list[ErrorTerms]:
    """Every side as it is, and with only the clamps that pull up, and only those that pull down.

    No cancellation between parts is credited: one may leak while the other does not.
    """
    if not any(a.group == "clamp" for side in sides for a in side.added):
        return sides
    return [s for side in sides for s in (side, _one_way(side, 1.0), _one_way(side, -1.0))]


def _one_way(side: ErrorTerms, sign: float) -> ErrorTerms:
    """The side without the clamps and photocurrents that pull the other way at a corner."""

    def kept(interval: Interval) -> Interval:
        mask = sign * interval.value >= 0
        return Interval(interval.value * mask, interval.low * mask, interval.high * mask)

    added = tuple(
        a if a.group == "leak" else replace(a, interval=kept(a.interval)) for a in side.added
    )
    return replace(side, clamp=kept(side.clamp), light=kept(side.light), added=added)


def element_flags(design: Design, grid: Corners) -> tuple[str, ...]:
    """What must be said of the other clamps: their evidence, and that no fault is judged on them."""
    said: list[str] = []
    for element in other_elements(design):
        clamp = part_of(design, element.name)
        if not is_class(element.part):
            said += [*clamp.fitted.flags, *clamp.notes]
            said += beyond_evidence(design, clamp, grid, (element.name,))
    return (*dict.fromkeys(said), *not_judged(design))


def _clamps(
    design: Design, topology: Topology, corners: Corners, outer: Array | None
) -> Iterator[AddedTerm]:
    for element in other_elements(design):
        alone = (element.name,)
        one = replace(topology, sides=(*alone, *topology.sides), acting=(alone,))
        clamp, known, lit = part_of(design, element.name), None, None
        if clamp.points:
            place = place_of_use(design, one, alone)
            clamp = in_use_at(clamp, *place)
            known = known_at(clamp, *place)
            lit = light_known_at(clamp, design.board.illuminance_maximum, place[1])
        (found,) = _paired(design, zeroed(design, one, clamp, corners, outer))
        name = f"clamp {element.name}"
        source = f"class {element.part}" if is_class(element.part) else clamp.name
        yield AddedTerm(name, found.clamp, clamp.fitted.basis, source, "clamp", known)
        if design.board.illuminance_maximum > 0:
            basis: Basis = "measured" if light_is_known(clamp) else "assumed"
            yield AddedTerm(f"photocurrent of {name}", found.light, basis, source, "light", lit)


def _linear(
    design: Design, topology: Topology, corners: Corners, outer: Array | None
) -> Iterator[AddedTerm]:
    """Leaks and currents as stated, then together what cannot be taken away: leaks that hold a node.

    Resistors are no error: they make the signal at the pin what it is meant to be.
    """
    clamps = tuple(r.name for r in topology.roles if r.kind == "clamp")
    bare = replace(topology, sides=clamps, acting=())
    (whole,) = zeroed(design, bare, None, corners, outer)
    gone: tuple[str, ...] = ()
    holding = []
    for element in design.network.elements:
        if not isinstance(element, LeakElement | CurrentElement):
            continue
        without = (*clamps, *gone, element.name)
        if isinstance(element, LeakElement):
            if not set(topology.signal.unknown) <= topology.signal.reached(without):
                holding.append(f"leak {element.name}")
                continue
            gone = (*gone, element.name)
        design = _without(design, element.name)
        (rest,) = zeroed(design, bare, None, corners, outer)
        yield _stated(
            design, f"{element.kind} {element.name}", whole, whole.leak.value - rest.leak.value
        )
        whole = rest
    if np.any(whole.leak.value):
        name = ", ".join(holding) or HELD
        yield _stated(design, name, whole, whole.leak.value)


def _stated(design: Design, name: str, like: ErrorTerms, value: Array) -> AddedTerm:
    (found,) = _paired(design, [replace(like, leak=Interval(value, value, value))])
    return AddedTerm(name, found.leak, "defined", "design sheet, network.elements")


def _paired(design: Design, sides: list[ErrorTerms]) -> list[ErrorTerms]:
    return as_pair(design, sides) if design.network.pair else sides


def _without(design: Design, name: str) -> Design:
    """The design with a leak or a current of its network taken away; every node stays."""
    elements = []
    for element in design.network.elements:
        if element.name == name:
            value = ABSENT_LEAK if isinstance(element, LeakElement) else 0.0
            element = element.model_copy(update={"value": value})
        elements.append(element)
    network = design.network.model_copy(update={"elements": tuple(elements)})
    return design.model_copy(update={"network": network})
