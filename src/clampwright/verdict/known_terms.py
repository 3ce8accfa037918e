"""What stands behind the terms of a budget that a law with readings makes, at the corner they are told."""

from __future__ import annotations

from collections.abc import Hashable

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.design import Design
from clampwright.verdict.known import Known, known_at, light_known_at
from clampwright.verdict.places import sits
from clampwright.verdict.results import Corner, Term

Asked = dict[Hashable, Known | None]


def with_known(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    terms: tuple[Term, ...],
    corner: Corner,
    side: str,
    asked: Asked,
) -> tuple[Term, ...]:
    """The terms, those of the clamp and of its light with how they are known at this corner.

    side  : of the clamps that act, or "pair"
    asked : filled with what was found, for the next corner with the same heat, light and signal
    """
    if clamp is None:
        return terms
    found = []
    for term in terms:
        if term.basis == "measured" and term.source == clamp.name and term.known_by is None:
            known = _known(design, topology, clamp, term.group, corner, side, asked)
            term = term.model_copy(update={"known_by": known})
        found.append(term)
    return tuple(found)


def _known(
    design: Design,
    topology: Topology,
    clamp: Clamp,
    group: str,
    corner: Corner,
    side: str,
    asked: Asked,
) -> Known | None:
    heat, lux = corner.board_temperature, corner.illuminance
    key = (group, side, heat, lux if group == "light" else corner.signal)
    if key not in asked:
        if group == "light":
            asked[key] = light_known_at(clamp, lux, heat)
        else:
            sides = (side,) if side in topology.sides else topology.sides
            volts = max(-sits(design, topology, one, corner.signal, heat) for one in sides)
            asked[key] = known_at(clamp, volts, heat)
    return asked[key]
