"""The circuit as a plain drawing: source at the left, amplifier at the right, rails top and bottom.

Symbols follow IEC 60617 (rectangular resistor, diode, triangle for an amplifier). Natural width is
160 mm, text 8 pt. schemdraw gives no text alternative: title and description are added here.
"""

from __future__ import annotations

from dataclasses import replace

from clampwright.network.topologies import topology_named
from clampwright.record.circuit_amplifiers import (
    draw_amplifier,
    draw_far_end,
    draw_pair_amplifier,
    draw_rails,
)
from clampwright.record.circuit_legs import Leg, draw_leg, with_room
from clampwright.record.circuit_pictures import (
    SECOND_LEG,
    SMALL,
    WIDE,
    Picture,
    Stations,
    picture_of,
)
from clampwright.record.look import finish_svg
from clampwright.record.network_text import is_pair
from clampwright.record.schematic_labels import (
    Labels,
    description,
    labels_of,
    plain_labels,
)
from clampwright.record.symbols import Pen
from clampwright.verdict.results import CheckResult, FaultCase

GAP = 0.75  # between the legs of a pair
GUARD_ROOM = 0.9  # below the line of a guard
SUPPRESSOR_ROOM = 1.9


def schematic_svg(check: CheckResult, fault: FaultCase | None = None) -> str:
    """One `<svg>` of the network with values, lead names, node voltages, "sits at" and leakage.

    fault : when given, its path is drawn thicker and carries its current; an unsolved one is named.
    """
    pair = is_pair(check.design)
    return _drawn(
        picture_of(check.design.network.topology),
        labels_of(check, fault),
        (WIDE, SECOND_LEG) if pair else (WIDE,),
        name="schematic",
        title=f"Schematic: {check.topology_title}" + (", two legs" if pair else ""),
        words=description(check),
    )


def topology_svg(name: str) -> str:
    """A small drawing of a topology with names and no values; InputError for an unknown name."""
    topology = topology_named(name)
    picture = picture_of(name)
    return _drawn(
        picture,
        plain_labels(name),
        (SMALL, SMALL) if name == "T15" else (SMALL,),
        name=f"topology-{name.lower()}",
        title=f"{name}: {topology.title}",
        words=f"{topology.words} The line carries {picture.words}.",
    )


def _drawn(
    picture: Picture, labels: Labels, stations: tuple[Stations, ...], *,
    name: str, title: str, words: str,
) -> str:  # fmt: skip
    with Pen() as pen:
        first = with_room(
            Leg(pen, picture, labels, stations[0], paired=len(stations) > 1, heavy=labels.path)
        )
        draw_leg(first)
        draw_far_end(first)
        draw_rails(first, whole=len(stations) == 1)
        if len(stations) == 1:
            draw_amplifier(first)
        else:
            second = _second(first, stations[1])
            draw_leg(second)
            draw_far_end(second)
            draw_rails(second, whole=False)
            draw_pair_amplifier(first, second)
        return finish_svg(pen.svg(), name=name, title=title, description=words)


def _second(first: Leg, stations: Stations) -> Leg:
    """The minus leg below the plus leg; the same parts, so it is drawn without their texts."""
    heavy = first.heavy if first.labels.both_legs else 0
    second = with_room(replace(first, at=stations, texts=False, heavy=heavy))
    return replace(second, y=_lowest(first) - GAP - _highest(second))


def _lowest(leg: Leg) -> float:
    if leg.picture.clamps in ("rails", "clamp rails", "none") and not leg.picture.far:
        return leg.rails[1]
    return leg.at.far - (SUPPRESSOR_ROOM if leg.picture.far == "middle" else GUARD_ROOM)


def _highest(leg: Leg) -> float:
    return leg.rails[0] if leg.picture.clamps in ("rails", "clamp rails") else 1.0
