"""Error against survivability: every candidate as a point on two log axes, with its 95 % bar.

Right and up is better; left of 1 the error is over its allowance, below 1 a rating is exceeded, and both
regions are shaded and named. The dot stands at the probable error, its bar spans the 95 % interval, whose
left end is the margin of the table. Ratings are limits without a stated uncertainty: no bar upwards.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from html import escape

from clampwright.record.look import BLUE, HAIRLINE, INK, PAPER, QUIET, SHADE, themed
from clampwright.record.shortlist import error_up_to
from clampwright.record.words import nominal, times
from clampwright.verdict.results import Candidate, RankResult, Verdict

WIDTH, HEIGHT = 920.0, 520.0
LEFT, RIGHT, TOP, BOTTOM = 64.0, 896.0, 24.0, 466.0
LOWEST, HIGHEST = 1e-3, 1e3  # [1] margins beyond these stand at the edge with an arrow
LABELLED = 8  # points that are named on the chart; all are named on hover and focus
APART = 15.0  # [px] between labels
SENTENCE = (
    "Accuracy margin (allowance over error) to the right, survivability (usable rating over stress) "
    "upwards, both logarithmic; {shown} candidates, {front} of them not dominated by another."
)
Link = Callable[[Candidate], str]


@dataclass(frozen=True)
class Point:
    """Candidates that stand at one place."""

    members: tuple[Candidate, ...]
    x: float
    low: float
    high: float
    y: float

    @property
    def first(self) -> Candidate:
        """The one that speaks for all."""
        return self.members[0]

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
        ohms = nominal(first.series_resistance, "resistance")
        return (
            f"{self.name()} with {ohms}: {verdict}, accuracy {times(first.accuracy_margin)} at 95 %, "
            f"survivability {times(first.survivability) if first.survivability else 'not bounded'}, "
            f"leakage {first.leakage_basis}{out}"
        )


def points(rank: RankResult) -> list[Point]:
    """Every candidate that was judged, those at one place together, in the order of the list."""
    groups: dict[tuple[object, ...], list[Candidate]] = {}
    for c in rank.candidates:
        if c.rejected or not c.accuracy_margin:
            continue
        key = (c.part, c.topology, c.verdict, _round(c.accuracy_margin), _round(c.survivability))
        groups.setdefault(key, []).append(c)
    return [_point(tuple(members)) for members in groups.values()]


def pareto_svg(rank: RankResult, link: Link | None = None, *, in_page: bool = True) -> str:
    """The chart; each point is a link where `link` gives its address. "" without candidates."""
    shown = points(rank)
    if not shown:
        return ""
    front = sum(not p.first.dominated_by for p in shown)
    sentence = SENTENCE.format(shown=len(rank.candidates), front=front)
    order = sorted(shown, key=lambda p: not p.first.dominated_by)[::-1]
    drawn = [
        *(p for p in order if p.first.dominated_by),
        *(p for p in shown if not p.first.dominated_by),
    ]
    parts = [*_frame(shown), *(_drawn(p, shown, link) for p in drawn), *_labels(shown)]
    role = "group" if link else "img"
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {HEIGHT:g}" class="pareto" '
        f'role="{role}" aria-labelledby="pareto-title pareto-desc" font-size="13" '
        f'font-family="DejaVu Sans, sans-serif"><title id="pareto-title">Error against survivability'
        f'</title><desc id="pareto-desc">{escape(sentence)}</desc>'
        f'<defs><pattern id="pareto-hatch" width="5" height="5" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V5" stroke="{INK}" stroke-width="1.6"/></pattern>'
        f"</defs>{''.join(parts)}</svg>"
    )
    return themed(svg) if in_page else svg


def _point(members: tuple[Candidate, ...]) -> Point:
    first = members[0]
    worst = first.accuracy_margin or LOWEST
    allowance = worst * (error_up_to(first) or 0.0)
    sizes = [abs(v) for v in (first.error, first.error_low, first.error_high) if v is not None]
    crosses = (first.error_low or 0.0) * (first.error_high or 0.0) <= 0
    smallest = 0.0 if crosses else min(sizes, default=0.0)
    probable = allowance / abs(first.error) if first.error else HIGHEST
    best = allowance / smallest if smallest else HIGHEST
    lasting = first.survivability
    return Point(
        members, max(probable, worst), worst, best, HIGHEST if lasting is None else lasting
    )


def _round(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.3g}")


def _spans(shown: list[Point]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ends of both axes: they hold every point within the limits, and 1 in any case."""

    def span(values: list[float], room: float) -> tuple[float, float]:
        inside = [min(max(v, LOWEST), HIGHEST) for v in values if math.isfinite(v)] + [1.0]
        return min(inside) / room, max(inside) * room

    across = span([v for p in shown for v in (p.x, p.low)], 1.6)
    return across, span([p.y for p in shown], 1.35)


def _places(shown: list[Point]) -> tuple[Callable[[float], float], Callable[[float], float]]:
    (x0, x1), (y0, y1) = _spans(shown)

    def across(value: float) -> float:
        share = math.log10(min(max(value, x0), x1) / x0) / math.log10(x1 / x0)
        return LEFT + (RIGHT - LEFT) * share

    def up(value: float) -> float:
        share = math.log10(min(max(value, y0), y1) / y0) / math.log10(y1 / y0)
        return BOTTOM - (BOTTOM - TOP) * share

    return across, up


def _frame(shown: list[Point]) -> list[str]:
    """Shaded regions with their names, decades, and the titles of the axes."""
    across, up = _places(shown)
    (x0, x1), (y0, y1) = _spans(shown)
    wall, floor = across(1.0), up(1.0)
    parts = [
        f'<rect x="{LEFT}" y="{TOP}" width="{wall - LEFT:.1f}" height="{BOTTOM - TOP}" fill="{SHADE}"/>',
        f'<rect x="{LEFT}" y="{floor:.1f}" width="{RIGHT - LEFT}" height="{BOTTOM - floor:.1f}" '
        f'fill="{SHADE}"/>',
    ]
    for value, place in _ticks(x0, x1, across):
        parts.append(f'<path d="M{place:.1f} {TOP}V{BOTTOM}" stroke="{HAIRLINE}"/>')
        parts.append(_text(place, BOTTOM + 18, f"{value:g}×", QUIET, "middle"))
    for value, place in _ticks(y0, y1, up):
        parts.append(f'<path d="M{LEFT} {place:.1f}H{RIGHT}" stroke="{HAIRLINE}"/>')
        parts.append(_text(LEFT - 8, place + 4, f"{value:g}×", QUIET, "end"))
    parts += [
        f'<path d="M{wall:.1f} {TOP}V{BOTTOM}M{LEFT} {floor:.1f}H{RIGHT}" stroke="{INK}"/>',
        _text(wall - 6, TOP - 8, "over the allowance", INK, "end"),
        _text(RIGHT, floor + 15, "over a rating", INK, "end"),
        _text(
            (LEFT + RIGHT) / 2,
            BOTTOM + 40,
            "accuracy margin, probable with 95 % bar",
            INK,
            "middle",
        ),
        _text(LEFT, TOP - 8, "survivability", INK),
    ]
    return parts


def _ticks(low: float, high: float, place: Callable[[float], float]) -> list[tuple[float, float]]:
    """Powers of ten, with 2 and 5 between them where there are few."""
    powers = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    steps = (1.0,) if len(powers) > 4 else (1.0, 2.0, 5.0)
    values = [step * 10.0**power for power in powers for step in steps]
    return [(v, place(v)) for v in values if low <= v <= high]


def _drawn(point: Point, shown: list[Point], link: Link | None) -> str:
    """Bar and dot; solid measured, open typical or a maximum, hatched assumed, quiet dominated."""
    across, up = _places(shown)
    x, y = across(point.x), up(point.y)
    quiet = bool(point.first.dominated_by)
    ink = QUIET if quiet else INK
    fill = {"measured": QUIET if quiet else BLUE, "assumed": "url(#pareto-hatch)"}.get(
        point.first.leakage_basis or "assumed", PAPER
    )
    opacity = ' opacity="0.45"' if quiet else ""
    inside = (
        f"<title>{escape(point.words())}</title>"
        f'<path d="M{across(point.low):.1f} {y:.1f}H{across(point.high):.1f}" stroke="{ink}" '
        f'stroke-width="1.6"/>{_arrow(point, shown, ink)}'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="11" fill="transparent"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="{PAPER}"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="{fill}" stroke="{ink}" stroke-width="1.8"/>'
    )
    if link is None:
        return f"<g{opacity}>{inside}</g>"
    return (
        f'<a href="{escape(link(point.first))}" aria-label="{escape(point.words())}">'
        f"<g{opacity}>{inside}</g></a>"
    )


def _arrow(point: Point, shown: list[Point], ink: str) -> str:
    """An arrow where the bar leaves the picture."""
    across, up = _places(shown)
    (x0, x1), _ = _spans(shown)
    y, found = up(point.y), ""
    if point.low < x0:
        found += f"M{across(x0) + 6:.1f} {y - 4:.1f}l-6 4l6 4"
    if point.high > x1:
        found += f"M{across(x1) - 6:.1f} {y - 4:.1f}l6 4l-6 4"
    return f'<path d="{found}" stroke="{ink}" fill="none"/>' if found else ""


def _labels(shown: list[Point]) -> list[str]:
    """Names of the points that no other dominates, then of those that pass, moved apart."""
    across, up = _places(shown)
    front = [p for p in shown if not p.first.dominated_by]
    passing = [p for p in shown if p.first.verdict == Verdict.PASS and p.first.dominated_by]
    chosen = [*front, *passing][:LABELLED]
    taken: list[tuple[float, float]] = []
    parts = []
    for point in sorted(chosen, key=lambda p: -up(p.y)):
        x, y = across(point.x), up(point.y) - 12
        end = x > (LEFT + RIGHT) * 0.66
        while any(abs(y - b) < APART and abs(x - a) < 300 for a, b in taken):
            y -= APART / 3
        taken.append((x, y))
        words = point.name()
        anchor, at = ("end", x + 6) if end else ("start", x - 6)
        colour = QUIET if point.first.dominated_by else INK
        parts.append(
            f'<text x="{at:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}" '
            f'stroke="{PAPER}" stroke-width="3" paint-order="stroke" pointer-events="none">'
            f"{escape(words)}</text>"
        )
    return parts


def _text(x: float, y: float, words: str, colour: str, anchor: str = "start") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}">{escape(words)}</text>'
