"""Error against survivability: every candidate as a point on two log axes.

Right and up is better; left of 1 the error is over its allowance, below 1 a rating is exceeded, and both
regions are shaded and named. The dot stands at the margins that decide, those of the table: accuracy at
the 95 % limit of the error, and the lowest rating over stress with the chosen resistor. A thin line
reaches to the probable error, a curve joins every resistor that is allowed. What another candidate
dominates is small, without a name; what lies beyond an axis is an arrow at the edge with its value.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from html import escape

from clampwright.record.label_places import (
    LEADER_FROM,
    Box,
    along,
    around,
    free_place,
)
from clampwright.record.look import BLUE, HAIRLINE, INK, PAPER, QUIET, SHADE, themed
from clampwright.record.pareto_points import Mark, Place, Plane, marks_of, plane_of, points
from clampwright.record.words import nominal
from clampwright.verdict.results import Candidate, RankResult

WIDTH, HEIGHT = 920.0, 512.0
LEFT, RIGHT, TOP, BOTTOM = 56.0, 912.0, 44.0, 460.0
SIZE, SMALL = 13.0, 11.5  # [px] of the type
NAMED = 12  # at most so many of the front are named on the chart; the others on hover and focus
LONG_ENOUGH = 40.0  # [px] of a curve whose ends are worth their resistances
ARROWS = {"left": (-1, 0), "right": (1, 0), "top": (0, -1), "bottom": (0, 1)}
SENTENCE = (
    "Accuracy margin (allowance over error) to the right, survivability (usable rating over stress) "
    "upwards, both logarithmic; {shown} candidates, {front} of them not dominated by another."
)
Link = Callable[[Candidate], str]


def pareto_svg(rank: RankResult, link: Link | None = None, *, in_page: bool = True) -> str:
    """The chart; each point is a link where `link` gives its address. "" without candidates."""
    shown = points(rank)
    if not shown:
        return ""
    front = sum(len(p.members) for p in shown if p.front)
    sentence = SENTENCE.format(shown=sum(len(p.members) for p in shown), front=front)
    plane = plane_of(shown, LEFT, RIGHT, TOP, BOTTOM)
    marks = marks_of(shown, plane)
    parts = [*_frame(plane), *(_drawn(m, plane, link) for m in marks), *_names(marks, plane)]
    role = "group" if link else "img"
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" class="pareto" '
        f'role="{role}" aria-labelledby="pareto-title pareto-desc" font-size="{SIZE:g}" '
        f'font-family="DejaVu Sans, sans-serif"><title id="pareto-title">Error against survivability'
        f'</title><desc id="pareto-desc">{escape(sentence)}</desc>'
        f'<defs><pattern id="pareto-hatch" width="5" height="5" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V5" stroke="{INK}" stroke-width="1.6"/></pattern>'
        f"</defs>{''.join(parts)}</svg>"
    )
    return themed(svg) if in_page else svg


def _frame(plane: Plane) -> list[str]:
    """Shaded regions with their names, decades, and the titles of the axes."""
    wall, floor = plane.across(1.0), plane.up(1.0)
    parts = [
        f'<rect x="{LEFT}" y="{TOP}" width="{wall - LEFT:.1f}" height="{BOTTOM - TOP}" fill="{SHADE}"/>',
        f'<rect x="{LEFT}" y="{floor:.1f}" width="{RIGHT - LEFT}" height="{BOTTOM - floor:.1f}" '
        f'fill="{SHADE}"/>',
    ]
    for value, place in _ticks(plane.x, plane.across):
        parts.append(f'<path d="M{place:.1f} {TOP}V{BOTTOM}" stroke="{HAIRLINE}"/>')
        parts.append(_text(place, BOTTOM + 18, f"{value:g}×", QUIET, "middle"))
    for value, place in _ticks(plane.y, plane.up):
        parts.append(f'<path d="M{LEFT} {place:.1f}H{RIGHT}" stroke="{HAIRLINE}"/>')
        parts.append(_text(LEFT - 8, place + 4, f"{value:g}×", QUIET, "end"))
    across = "accuracy margin: allowance over error at its 95 % limit"
    parts += [
        f'<path d="M{wall:.1f} {TOP}V{BOTTOM}M{LEFT} {floor:.1f}H{RIGHT}" stroke="{INK}"/>',
        _text(RIGHT, BOTTOM - 8, "over a rating", INK, "end"),
        _text((LEFT + RIGHT) / 2, BOTTOM + 40, across, INK, "middle"),
        _text(8, TOP - 28, "survivability: usable rating over stress", INK),
        _text(wall, TOP - 8, "over the allowance", INK, "end" if wall > WIDTH / 4 else "start"),
    ]
    return parts


def _ticks(ends: tuple[float, float], place: Place) -> list[tuple[float, float]]:
    """Powers of ten, with steps between them where there are few."""
    low, high = ends
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    decades = math.log10(high / low)
    steps: tuple[float, ...] = (1.0,) if decades > 2.5 else (1.0, 2.0, 5.0)
    if decades < 0.7:
        steps = (0.8, 1.0, 1.2, 1.5, 2.0, 3.0, 5.0)
    values = [step * 10.0**power for power in powers for step in steps]
    return [(v, place(v)) for v in values if low <= v <= high]


def _drawn(mark: Mark, plane: Plane, link: Link | None) -> str:
    """Curve, line and sign of a mark; several lead to the table, one into the network."""
    inside = f"<title>{escape(mark.words())}</title>"
    if len(mark.points) == 1 and not mark.edge:
        inside += _curve(mark, plane) + (_to_probable(mark, plane) if mark.front else "")
    inside += _arrow(mark) if mark.edge else _dot(mark)
    if link is None:
        return f"<g>{inside}</g>"
    address = link(mark.points[0].first) if len(mark.points) == 1 else "#candidates"
    return f'<a href="{escape(address)}" aria-label="{escape(mark.words())}"><g>{inside}</g></a>'


def _path(mark: Mark, plane: Plane) -> list[tuple[float, float]]:
    """The curve of the allowed resistors, px."""
    return [(plane.across(x), plane.up(y)) for x, y in mark.points[0].curve]


def _curve(mark: Mark, plane: Plane) -> str:
    """The allowed resistors; of a dominated candidate it shows on hover and focus only."""
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in _path(mark, plane))
    ink, hidden = (INK, "") if mark.front else (QUIET, ' class="curve" visibility="hidden"')
    return f'<polyline points="{path}" fill="none" stroke="{ink}" stroke-width="1.6"{hidden}/>'


def _to_probable(mark: Mark, plane: Plane) -> str:
    """A thin line from the margin at the 95 % limit to that of the probable error."""
    end = plane.across(mark.points[0].probable)
    beyond = mark.points[0].probable > plane.x[1]
    tip = (
        f"M{end - 6:.1f} {mark.y - 4:.1f}l6 4l-6 4" if beyond else f"M{end:.1f} {mark.y - 4:.1f}v8"
    )
    return f'<path d="M{mark.x:.1f} {mark.y:.1f}H{end:.1f}{tip}" fill="none" stroke="{INK}"/>'


def _dot(mark: Mark) -> str:
    """Filled measured, open typical or at most, hatched assumed; several are one ring with a number."""
    x, y = mark.x, mark.y
    hit = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="12" fill="transparent"/>'
    if len(mark.points) > 1:
        ring = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8.5" fill="{PAPER}" stroke="{QUIET}"/>'
        return hit + ring + _text(x, y + 4, str(mark.count), QUIET, "middle", SMALL)
    ink, radius = (INK, 7.0) if mark.front else (QUIET, 4.5)
    fill = {"measured": BLUE if mark.front else HAIRLINE, "assumed": "url(#pareto-hatch)"}.get(
        mark.points[0].first.leakage_basis or "assumed", PAPER
    )
    where = f'cx="{x:.1f}" cy="{y:.1f}" r="{radius}"'
    width = 1.8 if mark.front else 1
    return (
        f'{hit}<circle {where} fill="{PAPER}"/>'
        f'<circle {where} fill="{fill}" stroke="{ink}" stroke-width="{width}"/>'
    )


def _arrow(mark: Mark) -> str:
    """An arrow at the edge beyond which the value lies."""
    (across, down), ink = ARROWS[mark.edge], INK if mark.front else QUIET
    x, y = mark.x - 2 * across, mark.y - 2 * down
    side = f"l{-9 * across + 6 * down} {-9 * down + 6 * across}"
    head = f"M{x:.1f} {y:.1f}{side}l{-12 * down} {-12 * across}z"
    return (
        f'<circle cx="{x - 6 * across:.1f}" cy="{y - 6 * down:.1f}" r="12" fill="transparent"/>'
        f'<path d="{head}" fill="{ink}"/>'
    )


def _names(marks: list[Mark], plane: Plane) -> list[str]:
    """Values at the edges, names of the front with leader lines, resistances at the ends of curves."""
    wall, floor = plane.across(1.0), plane.up(1.0)
    room = Box(LEFT + 4, TOP + 2, RIGHT - 4, BOTTOM - 2)
    short, fine = replace(room, right=wall), replace(room, left=wall)
    taken = [
        Box(wall - 2, TOP, wall + 2, BOTTOM),
        Box(LEFT, floor - 2, RIGHT, floor + 2),
        Box(RIGHT - 100, BOTTOM - 22, RIGHT, BOTTOM),
        *(around(m.x, m.y, 10.0 if m.front or len(m.points) > 1 else 6.0) for m in marks),
    ]
    front = [m for m in marks if m.front]
    for mark in (m for m in front if not m.edge):
        taken += along(_path(mark, plane))
        taken += along([(mark.x, mark.y), (plane.across(mark.points[0].probable), mark.y)])
    parts: list[str] = []
    for mark in (m for m in marks if m.edge and not m.front):
        many = f"{mark.count} at " if mark.count > 1 else ""
        parts += _label(mark.x, mark.y, many + mark.values(), QUIET, SMALL, taken, (room,))
    for mark in sorted(front[:NAMED], key=lambda m: m.y):
        first = mark.points[0].first
        words = f"{mark.points[0].name()}, {nominal(first.series_resistance, 'resistance')}"
        words += f", {mark.values()}" if mark.edge else ""
        rooms = (fine if mark.x > wall else short, room)
        parts += _label(mark.x, mark.y, words, INK, SIZE, taken, rooms)
    for mark in (m for m in front[:NAMED] if not m.edge):
        path, ends = _path(mark, plane), mark.points[0].ends
        if ends and len(path) > 1 and math.dist(path[0], path[-1]) > LONG_ENOUGH:
            for (x, y), ohms in zip((path[0], path[-1]), ends, strict=True):
                if math.dist((x, y), (mark.x, mark.y)) > LONG_ENOUGH / 2:
                    words = nominal(ohms, "resistance")
                    parts += _label(x, y, words, QUIET, SMALL, taken, (room,), far=False)
    return parts


def _label(
    x: float, y: float, words: str, colour: str, size: float, taken: list[Box],
    rooms: Sequence[Box], *, far: bool = True,
) -> list[str]:  # fmt: skip
    """A text near a point over nothing in `taken`, which then holds it too; a leader line from far."""
    box = free_place((x, y), words, size, taken, rooms)
    if box is None:
        return []
    end = box.nearest(x, y)
    apart = math.dist(end, (x, y))
    if apart > LEADER_FROM and not far:
        return []
    taken.append(box)
    side, start = (box.right, "end") if box.right < x else (box.left, "start")
    parts = [_text(side, box.bottom - 0.28 * size, words, colour, start, size)]
    if apart > LEADER_FROM:
        rim = (x + (end[0] - x) * 9 / apart, y + (end[1] - y) * 9 / apart)
        taken += along([rim, end], 2.0)
        line = f"M{rim[0]:.1f} {rim[1]:.1f}L{end[0]:.1f} {end[1]:.1f}"
        parts.append(
            f'<path d="{line}" stroke="{QUIET}" stroke-width="0.9" pointer-events="none"/>'
        )
    return parts


def _text(
    x: float, y: float, words: str, colour: str, anchor: str = "start", size: float = SIZE
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}" '
        f'font-size="{size:g}" pointer-events="none">{escape(words)}</text>'
    )
