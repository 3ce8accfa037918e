"""The picoampere ruler of all candidates, lots on the same scale, and what a fit leaves over.

Plain SVG text in the colours of the page. Marks are those of every chart: dot measured, open dot
typical, cap maximum, arrow not detected, hatching assumed; those of another voltage stand faint on a line
below the band that the law makes of them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

from clampwright.actions.ruler import LotSpan, RulerResult, RulerRow
from clampwright.record.part_rows import told_as
from clampwright.record.words import by_basis, interval, nominal, quantity
from clampwright.web.chart_parts import LETTER, WIDTH, Place, log, svg, text

ROW, TOP, EDGE = 46.0, 34.0, 12.0
STRAND = 24.0  # height of the line of marks of other voltages, under the band
LABEL_LINE = 20.0  # height of the line that names what is allowed
MOST_DECADES = 14  # an assumed band may be wider than is worth drawing
MOST_LABELS = 9
RESIDUAL_ROW, RESIDUAL_WIDTH = 22.0, 430.0
RESIDUAL_REACH = 3.0  # [1] standard uncertainties to either side
SIGNS = {
    "measured": "dot: measured, with its bar",
    "typical": "open dot: typical",
    "maximum": "cap: at most",
    "not detected": "arrow: not detected",
}


class Scale(NamedTuple):
    """The axis of current that ruler and lots share: place of a current, and its ends (A)."""

    place: Place
    low: float
    high: float


def ruler_sentence(found: RulerResult) -> str:
    """What the ruler shows, in one sentence."""
    if not found.rows:
        return "No part here makes a clamp."
    first, last = found.rows[0], found.rows[-1]
    return (
        f"{len(found.rows)} candidates in the dark at {nominal(found.voltage, 'voltage')} reverse "
        f"and {quantity(found.temperature, 'temperature')}: quietest {first.clamp}, {_words(first)}, "
        f"{_known(first)}; leakiest {last.clamp}, {_words(last)}, {_known(last)}."
    )


def ruler_caption(found: RulerResult) -> str:
    """What band and marks mean: of the marks only those that are drawn."""
    at = f"{nominal(found.voltage, 'voltage')}, {quantity(found.temperature, 'temperature')}"
    said = [f"Band and tick: what the law says at {at}, dark, with its 95 % interval"]
    if any(_is_assumed(row) for row in found.rows):
        said.append("hatched: assumed from the class")
    drawn = {_kind(m) for row in found.rows for m in (*row.marks, *row.far) if m.high > 0}
    said += [words for kind, words in SIGNS.items() if kind in drawn]
    far = any(row.far for row in found.rows)
    return " · ".join(said) + (
        ". Faint, on the line below: at the voltage written there, which the law carries to the band."
        if far else "."
    )  # fmt: skip


def shared_scale(found: RulerResult, some: Sequence[LotSpan], allowed: float | None) -> Scale:
    """One axis for the ruler and for the lots below it."""
    amounts = [v for r in found.rows for v in (r.low, r.leakage, r.high)]
    amounts += [m.high for r in found.rows for m in (*r.marks, *r.far)]
    amounts += [v for lot in some for v in (lot.median / _spread(lot), lot.upper_limit)]
    amounts += [allowed] if allowed else []
    known = [v for v in amounts if 0 < v < math.inf]
    high = 10.0 ** math.ceil(math.log10(max(known)))
    low = max(10.0 ** math.floor(math.log10(min(known))), high * 10.0**-MOST_DECADES)
    return Scale(log(low, high, EDGE, WIDTH - EDGE), low, high)


def ruler_svg(found: RulerResult, allowed: float | None, scale: Scale | None = None) -> str:
    """Every candidate a row, quietest first; `allowed` (A) is drawn across where it is given."""
    scale = scale or shared_scale(found, (), allowed)
    top = TOP + (LABEL_LINE if allowed else 0.0)
    heights = [ROW + (STRAND if row.far else 0.0) for row in found.rows]
    bottom = top + sum(heights)
    parts = _decade_lines(scale, top, bottom)
    if allowed:
        parts += _allowed(allowed, scale.place, top, bottom)
    y = top
    for row, height in zip(found.rows, heights, strict=True):
        parts += _row(y, row, found, scale)
        y += height
    return svg("ruler", bottom + 8, "Picoampere ruler", ruler_sentence(found), "".join(parts))


def _decade_lines(scale: Scale, top: float, bottom: float) -> list[str]:
    first, last = round(math.log10(scale.low)), round(math.log10(scale.high))
    every = max(1, math.ceil((last - first) / MOST_LABELS))
    parts = []
    for power in range(first, last + 1):
        x = scale.place(10.0**power)
        parts.append(f'<path d="M{x:.1f} 20V{bottom}" class="hair"/>')
        if (power - first) % every == 0:
            anchor = "start" if power == first else "end" if power == last else "middle"
            parts.append(text(x, 14, nominal(10.0**power, "current"), "quiet", anchor))
    return parts


def _is_assumed(row: RulerRow) -> bool:
    return row.basis in ("assumed", "maximum")


def _row(y: float, row: RulerRow, found: RulerResult, scale: Scale) -> list[str]:
    middle, place, low = y + 30, scale.place, scale.low
    more = f" and {len(row.alike)} alike" if row.alike else ""
    whose = f", evidence of {row.origin}" if row.origin else ""
    parts = [
        f'<path d="M0 {y}H{WIDTH:g}" class="hair"/>',
        text(EDGE, y + 15, f"{row.clamp}{more}", "strong halo"),
        text(WIDTH - EDGE, y + 15, f"{_words(row)}, {_known(row)}{whose}", "halo", "end"),
    ]
    parts += _far(row, middle, scale)
    assumed = _is_assumed(row)
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


def _far(row: RulerRow, middle: float, scale: Scale) -> list[str]:
    """Marks of other voltages on a line below, each with its voltage and a thin link to the band."""
    marks = sorted((m for m in row.far if m.high > 0), key=lambda m: m.high)
    y, band = middle + STRAND, scale.place(row.leakage) if row.leakage > 0 else None
    places = [_where(mark, scale) for mark in marks]
    words = [nominal(mark.voltage, "voltage") for mark in marks]
    parts: list[str] = []
    for mark, x, said in zip(marks, places, words, strict=True):
        if band is not None:
            parts.append(f'<path d="M{x:.1f} {y - 6}L{band:.1f} {middle + 8}" class="link"/>')
        drawn = "".join(_mark(mark, y, scale.place, scale.low, f" at {said}"))
        parts.append(f'<g class="far">{drawn}</g>')
    for start, said in _beside(marks, places, words):
        parts.append(text(start, y + 5, said, "quiet halo"))
    return parts


def _beside(
    marks: Sequence[Any], places: Sequence[float], words: Sequence[str]
) -> list[tuple[float, str]]:
    """Where each voltage is written: right or left of its mark, where nothing else stands.

    One without room is left to the title of its mark.
    """
    taken = [
        (x - (20 if _kind(m) == "not detected" else 7), x + 7)
        for m, x in zip(marks, places, strict=True)
    ]
    found = []
    for n, (x, said) in enumerate(zip(places, words, strict=True)):
        wide = LETTER * len(said) + 4
        for start in (x + 9, taken[n][0] - 2 - wide):
            free = all(start + wide < low or start > high for low, high in taken)
            if free and 0 <= start <= WIDTH - wide:
                taken.append((start, start + wide))
                found.append((start, said))
                break
    return found


def _where(mark: Any, scale: Scale) -> float:
    """Place of a mark: a bound stands at its upper end."""
    bound = _kind(mark) in ("maximum", "not detected")
    return scale.place(mark.high if bound else mark.leakage)


def _kind(mark: Any) -> str:
    """How a mark is drawn; what is not above nothing is a bound."""
    return "not detected" if mark.basis == "measured" and mark.leakage <= 0 else str(mark.basis)


def _mark(mark: Any, y: float, place: Place, low: float, own: str) -> list[str]:
    title = f"<title>{mark.basis}{own}</title>"
    if mark.high <= 0:
        return []
    top = place(mark.high)
    if mark.basis == "maximum":
        return [f'<g class="mark thick">{title}<path d="M{top:.1f} {y - 9}v18"/></g>']
    if _kind(mark) == "not detected":
        arrow = f"M{top:.1f} {y - 7}v14M{top:.1f} {y}h-18m6 -4l-6 4l6 4"
        return [f'<g class="mark">{title}<path d="{arrow}"/></g>']
    dot = "dot open" if mark.basis == "typical" else "dot"
    start = place(max(mark.low, low))
    return [
        f'<path d="M{start:.1f} {y}H{top:.1f}" class="mark thick"/>',
        f'<circle cx="{place(mark.leakage):.1f}" cy="{y}" r="5" class="{dot}">{title}</circle>',
    ]


def _allowed(allowed: float, place: Place, top: float, bottom: float) -> list[str]:
    x = place(allowed)
    anchor = "end" if x > WIDTH * 0.6 else "start"
    words = f"allowed at this input {quantity(allowed, 'current')}"
    return [
        f'<path d="M{x:.1f} 22V{bottom}" class="wall"/>',
        text(x + (-6 if anchor == "end" else 6), top - 13, words, "strong halo", anchor),
    ]


def _known(row: RulerRow) -> str:
    return "from a maximum" if row.basis == "maximum" else told_as(row.basis, row.known_by)


def _words(row: RulerRow) -> str:
    if row.basis == "maximum":
        return by_basis(quantity(row.high, "current"), "maximum")
    return by_basis(interval(row.leakage, row.low, row.high, "current"), row.basis)


def lots_svg(lots: Sequence[LotSpan], conditions: str, scale: Scale) -> str:
    """Lots of the sheets: median, spread of one part in three either side, upper tolerance limit."""
    bottom = TOP + ROW * len(lots)
    parts = _decade_lines(scale, TOP, bottom)
    for n, lot in enumerate(lots):
        parts += _lot(TOP + n * ROW, lot, scale.place)
    sentence = (
        f"{len(lots)} lots carried to {conditions}: tick the median, band two standard deviations "
        "from part to part, cap the limit that 95 % of the lot stay below with 95 % confidence."
    )
    return svg("lots", bottom + 8, "Lots", sentence, "".join(parts))


def _spread(lot: LotSpan) -> float:
    """Factor of two standard deviations from part to part."""
    return math.exp(2 * lot.log_standard_deviation)


def _lot(y: float, lot: LotSpan, place: Place) -> list[str]:
    middle, spread = y + 30, _spread(lot)
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
