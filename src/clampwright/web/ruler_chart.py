"""The picoampere ruler of all candidates, lots on the same scale, and what a fit leaves over.

Plain SVG text in the colours of the page. Marks are those of every chart: dot measured, open dot
typical, cap maximum, arrow not detected, hatching assumed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from clampwright.actions.ruler import LotSpan, RulerResult, RulerRow
from clampwright.record.part_rows import told_as
from clampwright.record.words import by_basis, interval, nominal, quantity
from clampwright.web.chart_parts import WIDTH, Place, log, svg, text

ROW, TOP, EDGE = 46.0, 34.0, 12.0
MOST_DECADES = 14  # an assumed band may be wider than is worth drawing
MOST_LABELS = 9
RESIDUAL_ROW, RESIDUAL_WIDTH = 22.0, 430.0
RESIDUAL_REACH = 3.0  # [1] standard uncertainties to either side


def ruler_sentence(found: RulerResult) -> str:
    """What the ruler shows, in one sentence."""
    if not found.rows:
        return "No part here makes a clamp."
    first, last = found.rows[0], found.rows[-1]
    return (
        f"{len(found.rows)} candidates in the dark at {nominal(found.voltage, 'voltage')} reverse "
        f"and {quantity(found.temperature, 'temperature')}: quietest {first.clamp}, {_words(first)}, "
        f"{_known(first)}; leakiest {last.clamp}, {_words(last)}, {_known(last)}. Dots are measured, "
        "open dots typical, caps maxima, arrows bounds; a hatched band is assumed from the class."
    )


def ruler_svg(found: RulerResult, allowed: float | None) -> str:
    """Every candidate a row, quietest first; `allowed` (A) is drawn across where it is given."""
    amounts = [v for r in found.rows for v in (r.low, r.leakage, r.high) if v > 0]
    amounts += [m.high for r in found.rows for m in r.marks if m.high > 0]
    amounts += [allowed] if allowed else []
    amounts = [v for v in amounts if math.isfinite(v)]
    place, low, high = _scale(amounts)
    bottom = TOP + ROW * len(found.rows)
    parts = _decade_lines(low, high, place, bottom)
    if allowed:
        parts += _allowed(allowed, place, bottom)
    for n, row in enumerate(found.rows):
        parts += _row(TOP + n * ROW, row, found, place, low)
    return svg("ruler", bottom + 8, "Picoampere ruler", ruler_sentence(found), "".join(parts))


def _scale(amounts: Sequence[float]) -> tuple[Place, float, float]:
    high = 10.0 ** math.ceil(math.log10(max(amounts)))
    low = max(10.0 ** math.floor(math.log10(min(amounts))), high * 10.0**-MOST_DECADES)
    return log(low, high, EDGE, WIDTH - EDGE), low, high


def _decade_lines(low: float, high: float, place: Place, bottom: float) -> list[str]:
    first, last = round(math.log10(low)), round(math.log10(high))
    every = max(1, math.ceil((last - first) / MOST_LABELS))
    parts = []
    for power in range(first, last + 1):
        x = place(10.0**power)
        parts.append(f'<path d="M{x:.1f} {TOP - 10}V{bottom}" class="hair"/>')
        if (power - first) % every == 0:
            anchor = "start" if power == first else "end" if power == last else "middle"
            parts.append(text(x, 14, nominal(10.0**power, "current"), "quiet", anchor))
    return parts


def _row(y: float, row: RulerRow, found: RulerResult, place: Place, low: float) -> list[str]:
    middle = y + 30
    more = f" and {len(row.alike)} alike" if row.alike else ""
    whose = f", evidence of {row.origin}" if row.origin else ""
    parts = [
        f'<path d="M0 {y}H{WIDTH:g}" class="hair"/>',
        text(EDGE, y + 15, f"{row.clamp}{more}", "strong halo"),
        text(WIDTH - EDGE, y + 15, f"{_words(row)}, {_known(row)}{whose}", "halo", "end"),
    ]
    assumed = row.basis in ("assumed", "maximum")
    if row.high > 0:
        start, end = place(max(row.low, low)), place(row.high)
        fill = ' style="fill:url(#ruler-hatch)"' if assumed else ""
        parts.append(
            f'<rect x="{start:.1f}" y="{middle - 8}" width="{max(end - start, 2):.1f}" height="16" '
            f'class="band{" assumed" if assumed else ""}"{fill}/>'
        )
    if row.leakage > 0:
        parts.append(f'<path d="M{place(row.leakage):.1f} {middle - 8}v16" class="line"/>')
    for mark in row.marks:
        own = "" if mark.voltage == found.voltage else f" at {nominal(mark.voltage, 'voltage')}"
        parts += _mark(mark, middle, place, low, own)
    return parts


def _mark(mark: Any, y: float, place: Place, low: float, own: str) -> list[str]:
    title = f"<title>{mark.basis}{own}</title>"
    if mark.high <= 0:
        return []
    top = place(mark.high)
    if mark.basis == "maximum":
        return [f'<g class="mark thick">{title}<path d="M{top:.1f} {y - 9}v18"/></g>']
    if mark.basis == "not detected" or mark.leakage <= 0:
        arrow = f"M{top:.1f} {y - 7}v14M{top:.1f} {y}h-18m6 -4l-6 4l6 4"
        return [f'<g class="mark">{title}<path d="{arrow}"/></g>']
    dot = "dot open" if mark.basis == "typical" else "dot"
    start = place(max(mark.low, low))
    return [
        f'<path d="M{start:.1f} {y}H{top:.1f}" class="mark thick"/>',
        f'<circle cx="{place(mark.leakage):.1f}" cy="{y}" r="5" class="{dot}">{title}</circle>',
    ]


def _allowed(allowed: float, place: Place, bottom: float) -> list[str]:
    x = place(allowed)
    anchor = "end" if x > WIDTH * 0.6 else "start"
    words = f"allowed at this input {quantity(allowed, 'current')}"
    return [
        f'<path d="M{x:.1f} {TOP - 8}V{bottom}" class="wall"/>',
        text(x + (-5 if anchor == "end" else 5), TOP - 6, words, "strong halo", anchor),
    ]


def _known(row: RulerRow) -> str:
    return "from a maximum" if row.basis == "maximum" else told_as(row.basis, row.known_by)


def _words(row: RulerRow) -> str:
    if row.basis == "maximum":
        return by_basis(quantity(row.high, "current"), "maximum")
    return by_basis(interval(row.leakage, row.low, row.high, "current"), row.basis)


def lots_svg(lots: Sequence[LotSpan], conditions: str) -> str:
    """Lots of the sheets: median, spread of one part in three either side, upper tolerance limit."""
    ends = [v for lot in lots for v in (lot.median * math.exp(-2 * lot.log_standard_deviation),
                                        lot.upper_limit)]  # fmt: skip
    place, low, high = _scale(ends)
    bottom = TOP + ROW * len(lots)
    parts = _decade_lines(low, high, place, bottom)
    for n, lot in enumerate(lots):
        parts += _lot(TOP + n * ROW, lot, place)
    sentence = (
        f"{len(lots)} lots carried to {conditions}: tick the median, band two standard deviations "
        "from part to part, cap the limit that 95 % of the lot stay below with 95 % confidence."
    )
    return svg("lots", bottom + 8, "Lots", sentence, "".join(parts))


def _lot(y: float, lot: LotSpan, place: Place) -> list[str]:
    middle, spread = y + 30, math.exp(2 * lot.log_standard_deviation)
    start, end = place(lot.median / spread), place(lot.median * spread)
    limit = place(lot.upper_limit)
    right = f"{lot.count} parts, 95 % of them ≤ {quantity(lot.upper_limit, 'current')} (95 % sure)"
    return [
        f'<path d="M0 {y}H{WIDTH:g}" class="hair"/>',
        text(EDGE, y + 15, lot.clamp, "strong halo"),
        text(WIDTH - EDGE, y + 15, right, "halo", "end"),
        f'<rect x="{start:.1f}" y="{middle - 8}" width="{max(end - start, 2):.1f}" height="16" '
        'class="band"/>',
        f'<path d="M{place(lot.median):.1f} {middle - 8}v16" class="line"/>',
        f'<path d="M{end:.1f} {middle}H{limit:.1f}" class="mark"/>',
        f'<path d="M{limit:.1f} {middle - 9}v18" class="mark thick"/>',
    ]


def residual_svg(fit: Any, name: str) -> str:
    """What a fit leaves over at each reading, in its own standard uncertainties; "" when nothing."""
    if not fit.degrees_of_freedom:
        return ""
    count = len(fit.residuals)
    bottom = 24 + RESIDUAL_ROW * count
    left, right = 150.0, RESIDUAL_WIDTH - EDGE
    middle, scale = (left + right) / 2, (right - left) / 2 / RESIDUAL_REACH

    def place(value: float) -> float:
        return middle + scale * min(max(value, -RESIDUAL_REACH), RESIDUAL_REACH)

    parts = [
        f'<rect x="{place(-2):.1f}" y="18" width="{place(2) - place(-2):.1f}" '
        f'height="{bottom - 18}" class="open"/>',
        f'<path d="M{middle:.1f} 18V{bottom}" class="axis"/>',
        text(place(-2), 12, "−2", "quiet", "middle"), text(place(2), 12, "+2", "quiet", "middle"),
        text(middle, 12, "fit", "quiet", "middle"),
    ]  # fmt: skip
    for n, one in enumerate(fit.residuals):
        y = 24 + RESIDUAL_ROW * (n + 0.5)
        x = place(one.value)
        beyond = abs(one.value) > RESIDUAL_REACH
        parts.append(text(0, y + 4, one.at, "quiet"))
        parts.append(f'<path d="M{middle:.1f} {y}H{x:.1f}" class="mark"/>')
        if beyond:
            turn = 1 if one.value > 0 else -1
            parts.append(
                f'<path d="M{x:.1f} {y}m{-7 * turn} -5l{7 * turn} 5l{-7 * turn} 5" class="mark"/>'
            )
            words = f"{one.value:+.0f}".replace("-", "−")
            parts.append(text(x - 14 * turn, y - 4, words, "quiet", "end" if turn > 0 else "start"))
        else:
            parts.append(f'<circle cx="{x:.1f}" cy="{y}" r="5" class="dot"/>')
    furthest = max(abs(one.value) for one in fit.residuals)
    sentence = (
        f"What the {fit.name} leaves over at {count} readings, over their standard uncertainties; "
        f"the furthest is {furthest:.1f} away. White: within two."
    )
    drawn = svg(name, bottom + 4, f"Residuals of the {fit.name}", sentence, "".join(parts))
    return drawn.replace(f'viewBox="0 0 {WIDTH:g} ', f'viewBox="0 0 {RESIDUAL_WIDTH:g} ', 1)
