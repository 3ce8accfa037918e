"""The candidates of a ranking as points in the plane of accuracy margin and survivability."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from clampwright.record.shortlist import error_up_to
from clampwright.record.words import known_words, nominal, times
from clampwright.verdict.judge import SEVERITY
from clampwright.verdict.results import Candidate, RankResult

LOWEST, HIGHEST = 1e-2, 1e3  # [1] margins beyond these stand at the edge as an arrow
FRONT_LOWEST = 1e-4  # [1] down to here the axis goes with what no other dominates
BESIDE_ARROWS = 0.05  # [1] the axis goes to here where arrows stand at its low end
ACROSS_ROOM, UP_ROOM = 1.5, 1.35  # [1] between the outermost point and the edge
NEAR, NEAR_AT_EDGE = 15.0, 19.0  # [px] dominated points nearer than this are drawn as one
Place = Callable[[float], float]
Edge = Literal["", "left", "right", "top", "bottom"]


@dataclass(frozen=True)
class Point:
    """Candidates with the same margins: the chosen resistor, and the curve of all that are allowed.

    x, y     : accuracy margin at the 95 % limit of the error, survivability; inf where not bounded
    probable : accuracy margin of the probable error
    curve    : (x, y) of each resistor that is judged no worse and survives, smallest first
    ends     : the smallest and the largest of them (Ω)
    """

    members: tuple[Candidate, ...]
    x: float
    y: float
    probable: float
    curve: tuple[tuple[float, float], ...]
    ends: tuple[float, float] | None

    @property
    def first(self) -> Candidate:
        """The one that speaks for all."""
        return self.members[0]

    @property
    def front(self) -> bool:
        """Whether no other candidate dominates it."""
        return not self.first.dominated_by

    def name(self) -> str:
        """Part, wiring and circuit, and how many more stand here."""
        first, more = self.first, len(self.members) - 1
        text = f"{first.part} {first.wiring} in {first.topology}".replace("  ", " ")
        return text + (f" and {more} more" if more else "")

    def words(self) -> str:
        """Everything about the point in one sentence."""
        first = self.first
        verdict = first.verdict.value if first.verdict else "no verdict"
        out = f"; dominated by {first.dominated_by}" if first.dominated_by else "; not dominated"
        span = ""
        if self.ends and self.ends[0] < self.ends[1]:
            span = f" (of {' to '.join(nominal(end, 'resistance') for end in self.ends)})"
        return (
            f"{self.name()} with {nominal(first.series_resistance, 'resistance')}{span}: {verdict}, "
            f"accuracy {times(first.accuracy_margin)} at 95 %, survivability "
            f"{times(first.survivability) if first.survivability else 'not bounded'}, "
            f"leakage {known_words(first.leakage_basis, first.known_by)}{out}"
        )


def points(rank: RankResult) -> list[Point]:
    """Every candidate that was judged, those with the same margins together, in their order."""
    groups: dict[tuple[object, ...], list[Candidate]] = {}
    for c in rank.candidates:
        if c.rejected or not c.accuracy_margin:
            continue
        key = (c.part, c.topology, c.verdict, _round(c.accuracy_margin), _round(c.survivability))
        groups.setdefault(key, []).append(c)
    rows: dict[tuple[str, str, str], list[Candidate]] = {}
    for c in rank.every_resistor:
        rows.setdefault(_key(c), []).append(c)
    return [_point(tuple(m), rows.get(_key(m[0]), ())) for m in groups.values()]


def _key(candidate: Candidate) -> tuple[str, str, str]:
    return candidate.part, candidate.wiring, candidate.topology


def _point(members: tuple[Candidate, ...], rows: Sequence[Candidate]) -> Point:
    first = members[0]
    margin = first.accuracy_margin or LOWEST
    allowance = margin * (error_up_to(first) or 0.0)
    probable = allowance / abs(first.error) if first.error else math.inf
    open_ = [r for r in rows if _allowed(r, first)]
    ends = tuple(r.series_resistance for r in open_ if r.series_resistance is not None)
    return Point(
        members, margin, _lasting(first), max(probable, margin),
        tuple((r.accuracy_margin or LOWEST, _lasting(r)) for r in open_),
        (min(ends), max(ends)) if ends else None,
    )  # fmt: skip


def _allowed(row: Candidate, chosen: Candidate) -> bool:
    """Whether a resistor is judged no worse than the chosen one, and survives."""
    if row.verdict is None or chosen.verdict is None or not row.accuracy_margin:
        return False
    return _lasting(row) >= 1 and SEVERITY.index(row.verdict) <= SEVERITY.index(chosen.verdict)


def _lasting(candidate: Candidate) -> float:
    return math.inf if candidate.survivability is None else candidate.survivability


def _round(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.3g}")


@dataclass(frozen=True)
class Plane:
    """The two axes: their ends, and where they lie in the picture (px)."""

    x: tuple[float, float]
    y: tuple[float, float]
    left: float
    right: float
    top: float
    bottom: float

    def across(self, value: float) -> float:
        """Place of an accuracy margin; one beyond an end stands at that end."""
        return self.left + (self.right - self.left) * _share(value, self.x)

    def up(self, value: float) -> float:
        """Place of a survivability."""
        return self.bottom - (self.bottom - self.top) * _share(value, self.y)

    def edge(self, point: Point) -> Edge:
        """The edge a point lies beyond, "" for one inside."""
        if point.x < self.x[0]:
            return "left"
        if point.x > self.x[1]:
            return "right"
        if point.y < self.y[0]:
            return "bottom"
        return "top" if point.y > self.y[1] else ""


def _share(value: float, ends: tuple[float, float]) -> float:
    return math.log10(min(max(value, ends[0]), ends[1]) / ends[0]) / math.log10(ends[1] / ends[0])


def plane_of(shown: Sequence[Point], left: float, right: float, top: float, bottom: float) -> Plane:
    """Axes that hold 1, the front with its curves, and of the dominated what lies near enough."""
    across = [v for p in shown for v in (p.x,) if v >= (FRONT_LOWEST if p.front else LOWEST)]
    across += [p.probable for p in shown if p.front]
    across += [BESIDE_ARROWS for p in shown if p.x < LOWEST]
    front = [y for p in shown if p.front for _, y in p.curve]
    up = [p.y for p in shown] + front

    def span(values: list[float], room: float) -> tuple[float, float]:
        inside = [v for v in values if FRONT_LOWEST <= v <= HIGHEST] + [1.0]
        return min(inside) / room, max(inside) * room

    return Plane(span(across, ACROSS_ROOM), span(up, UP_ROOM), left, right, top, bottom)


@dataclass(frozen=True)
class Mark:
    """One sign in the picture: a point, or several dominated ones that would cover each other."""

    points: tuple[Point, ...]
    x: float
    y: float
    edge: Edge

    @property
    def count(self) -> int:
        """How many candidates stand here."""
        return sum(len(p.members) for p in self.points)

    @property
    def front(self) -> bool:
        """Whether no other candidate dominates it."""
        return self.points[0].front

    def words(self) -> str:
        """What is said of it on hover and focus."""
        if len(self.points) == 1:
            return self.points[0].words()
        names = [p.name() for p in self.points]
        more = f", and {len(names) - 4} more" if len(names) > 4 else ""
        return f"{self.count} dominated candidates: {', '.join(names[:4])}{more}; see the table"

    def values(self) -> str:
        """The margin beyond the axis, of several from least to most."""
        upright = self.edge in ("top", "bottom")
        found = sorted(p.y if upright else p.x for p in self.points)
        words = list(dict.fromkeys(_plainly(v) for v in found))
        return words[0] if len(words) == 1 else f"{words[0]} … {words[-1]}"


def _plainly(margin: float) -> str:
    """A margin with two digits however small it is: 0.000061×."""
    if not math.isfinite(margin):
        return "unlimited"
    return f"{margin:.{max(0, 1 - math.floor(math.log10(margin)))}f}×"


def marks_of(shown: Sequence[Point], plane: Plane) -> list[Mark]:
    """The signs to draw: dominated ones first, near ones as one; then the front, each for itself."""
    groups: list[list[Point]] = []
    for point in (p for p in shown if not p.front):
        home = next((g for g in groups if _beside(g[0], point, plane)), None)
        if home is None:
            groups.append([point])
        else:
            home.append(point)
    groups += [[p] for p in shown if p.front]
    return [
        Mark(tuple(g), plane.across(g[0].x), plane.up(g[0].y), plane.edge(g[0])) for g in groups
    ]


def _beside(one: Point, other: Point, plane: Plane) -> bool:
    edge = plane.edge(one)
    if edge != plane.edge(other):
        return False
    apart = math.hypot(
        plane.across(one.x) - plane.across(other.x), plane.up(one.y) - plane.up(other.y)
    )
    return apart < (NEAR_AT_EDGE if edge else NEAR)
