"""Charts that must redraw at once: error budget, resistor window, leakage against temperature.

Plain SVG text in the colours of the page; every chart has a sentence as its text alternative.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape
from typing import Any

from clampwright.record.words import by_basis, nominal, quantity

WIDTH = 680.0
ROW = 40.0
HATCH = (
    '<defs><pattern id="{name}-hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path d="M0 0V6" class="hatch"/></pattern></defs>'
)
KELVIN = 273.15  # [K] of 0 °C


def _svg(name: str, height: float, title: str, sentence: str, inside: str) -> str:
    return (
        f'<svg viewBox="0 0 {WIDTH:g} {height:g}" class="chart" role="img" '
        f'aria-labelledby="{name}-title {name}-desc">'
        f'<title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-desc">{escape(sentence)}</desc>{HATCH.format(name=name)}{inside}</svg>'
    )


def _text(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" class="{kind}" text-anchor="{anchor}">{escape(words)}</text>'


def budget_svg(judgement: Any) -> str:
    """Terms of the error on a signed-log axis; beyond ± the allowance is shaded and named."""
    allowance = judgement.allowance
    rows = [(t.name, t.value, t.low, t.high, t.basis) for t in judgement.terms]
    rows.append(("together", judgement.error, judgement.low, judgement.high, "predicted"))
    reached = [abs(v) for _, *values, _ in rows for v in values[:3] if math.isfinite(v)]
    reach = max([30.0 * allowance, *(3.0 * v for v in reached)])
    linear = allowance * 1e-3  # inside ± this the axis is linear, and marked so
    place = _signed_log(linear, reach, 20.0, WIDTH - 20.0)
    bottom = 26 + ROW * len(rows)
    left, right, middle = place(-allowance), place(allowance), place(0.0)
    parts = [
        *_forbidden("budget", 0, left, bottom), *_forbidden("budget", right, WIDTH - right, bottom),
        f'<path d="M{left:.1f} 16V{bottom}M{right:.1f} 16V{bottom}" class="wall"/>',
        f'<path d="M{middle:.1f} 16V{bottom}" class="hair"/>',
        _text(WIDTH - 4, 12, f"over +{quantity(allowance, 'voltage')}", "quiet", "end"),
        _text(4, 12, f"over −{quantity(allowance, 'voltage')}", "quiet"),
        _text(middle, 12, "0", "quiet", "middle"),
    ]  # fmt: skip
    for n, row in enumerate(rows):
        parts += _budget_row(26 + n * ROW, row, place, last=n == len(rows) - 1)
    parts += _linear_mark(place, linear, bottom)
    sentence = (
        f"{judgement.name}: error {quantity(judgement.error, 'voltage', signed=True)} against an "
        f"allowance of ± {quantity(allowance, 'voltage')}; signed logarithmic."
    )
    return _svg("budget", bottom + 24, "Error budget", sentence, "".join(parts))


def _budget_row(y: float, row: Any, place: Callable[[float], float], *, last: bool) -> list[str]:
    name, value, low, high, basis = row
    x, start, end = place(value), place(low), place(high)
    width, middle = max(end - start, 2.0), y + 27
    kind = "bar assumed" if basis == "assumed" else "bar"
    dot = "dot open" if basis == "typical" else "dot"
    words = f"{name}  {by_basis(quantity(value, 'voltage', signed=True), basis)}"
    fill = ' style="fill:url(#budget-hatch)"' if basis == "assumed" else ""
    return [
        f'<path d="M0 {y}H{WIDTH:g}" class="{"wall" if last else "hair"}"/>',
        _text(12.0, y + 14, words, "strong halo" if last else "halo"),
        f'<rect x="{start:.1f}" y="{middle - 3.5}" width="{width:.1f}" height="7" class="{kind}"{fill}/>',
        f'<circle cx="{x:.1f}" cy="{middle}" r="5" class="{dot}"/>',
    ]


def _linear_mark(place: Callable[[float], float], linear: float, y: float) -> list[str]:
    left, right = place(-linear), place(linear)
    words = f"linear inside ± {quantity(linear, 'voltage')}, logarithmic outside"
    return [
        f'<path d="M{left:.1f} {y}V{y + 6}H{right:.1f}V{y}" class="axis"/>',
        _text((left + right) / 2, y + 19, words, "quiet", "middle"),
    ]


def _forbidden(name: str, x: float, width: float, height: float) -> list[str]:
    box = f'x="{x:.1f}" y="16" width="{max(width, 0):.1f}" height="{height - 16}"'
    return [
        f'<rect {box} class="shade"/>',
        f'<rect {box} fill="url(#{name}-hatch)" opacity="0.45"/>',
    ]


def _signed_log(linear: float, reach: float, left: float, right: float) -> Callable[[float], float]:
    """Place on a symmetric axis, one unit wide inside ± `linear`, then one unit a decade."""
    span = 1.0 + math.log10(reach / linear)

    def place(value: float) -> float:
        size = min(abs(value), reach)
        units = size / linear if size <= linear else 1.0 + math.log10(size / linear)
        moved: float = math.copysign(units, value) * (right - left) / 2 / span
        return (left + right) / 2 + moved

    return place


def _log(low: float, high: float, left: float, right: float) -> Callable[[float], float]:
    span = math.log10(high / low)

    def place(value: float) -> float:
        decades: float = math.log10(min(max(value, low), high) / low)
        return left + (right - left) * decades / span

    return place


def window_svg(window: Any) -> str:
    """The series resistor on a log axis: the open window is white, its walls carry their names."""
    known = [w.value for w in window.walls if w.value]
    low = min([window.chosen, *known]) / 10
    high = max([window.chosen, *known]) * 10
    place = _log(low, high, 10.0, WIDTH - 10.0)
    start, end = place(window.minimum or low), place(window.maximum or high)
    box = f'x="0" y="16" width="{WIDTH:g}" height="64"'
    parts = [
        f'<rect {box} class="shade"/>',
        f'<rect {box} fill="url(#window-hatch)" opacity="0.45"/>',
    ]
    if window.open:
        parts.append(
            f'<rect x="{start:.1f}" y="16" width="{end - start:.1f}" height="64" class="open"/>'
        )
    parts += _walls(window, place)
    x = place(window.chosen)
    anchor = "end" if x > WIDTH * 0.7 else "start" if x < WIDTH * 0.3 else "middle"
    parts += [
        f'<circle cx="{x:.1f}" cy="48" r="7" class="dot"/>',
        _text(x, 36, f"chosen {nominal(window.chosen, 'resistance')}", "strong", anchor),
    ]
    first, last = math.ceil(math.log10(low)), math.floor(math.log10(high))
    every = max(1, (last - first) // 6)
    for power in range(first, last + 1, every):
        parts.append(f'<path d="M{place(10.0**power):.1f} 80v5" class="axis"/>')
        words = nominal(10.0**power, "resistance")
        parts.append(_text(place(10.0**power), 99, words, "quiet", "middle"))
    return _svg("window", 106, "Window of the series resistor", window.reason, "".join(parts))


def _walls(window: Any, place: Callable[[float], float]) -> list[str]:
    parts = []
    for value, side in ((window.minimum, "minimum"), (window.maximum, "maximum")):
        wall = next((w for w in window.walls if w.side == side and w.value == value), None)
        if wall is None or not value:
            continue
        x = place(value)
        parts.append(f'<path d="M{x:.1f} 16V80" class="wall"/>')
        anchor = "end" if x > WIDTH / 2 else "start"
        words = f"{wall.name}, {nominal(value, 'resistance')}"
        parts.append(_text(x, 12, words, "quiet", anchor))
    return parts


def leakage_svg(clamp: Any) -> str:
    """Leakage of one clamp against temperature: evidence above the law and its band."""
    curve = [p for p in clamp.curve if p.leakage > 0 and p.high > 0]
    points = [p for p in clamp.points if p.high > 0]
    if not curve:
        return ""
    amounts = [p.high for p in (*curve, *points)] + [p.leakage for p in curve]
    high = 10.0 ** math.ceil(math.log10(max(amounts)))
    low = max(10.0 ** math.floor(math.log10(min(amounts))), high * 1e-9)
    top, bottom, left, right = 12.0, 236.0, 70.0, WIDTH - 12.0
    up = _log(low, high, bottom, top)
    heats = [p.temperature for p in curve]
    start, span = min(heats), max(heats) - min(heats) or 1.0

    def across(temperature: float) -> float:
        share: float = min(max((temperature - start) / span, 0.0), 1.0)
        return left + (right - left) * share

    parts = _decades(low, high, up, left, right) + _degrees(start, span, across, bottom)
    band = " ".join(f"{across(p.temperature):.1f},{up(p.high):.1f}" for p in curve)
    back = " ".join(f"{across(p.temperature):.1f},{up(max(p.low, low)):.1f}" for p in curve[::-1])
    line = " ".join(f"{across(p.temperature):.1f},{up(p.leakage):.1f}" for p in curve)
    assumed = clamp.leakage_basis == "assumed"
    fill = ' style="fill:url(#leakage-hatch)"' if assumed else ""
    parts.append(
        f'<polygon points="{band} {back}" class="band{" assumed" if assumed else ""}"{fill}/>'
    )
    parts.append(f'<polyline points="{line}" class="line"/>')
    for point in points:
        parts += _evidence(point, across(point.temperature), up, low)
    measured = sum(p.basis == "measured" for p in points)
    sentence = (
        f"Leakage of {clamp.title} against temperature: the line is the law with its 95 % band; "
        f"{measured} measured points, {sum(p.basis == 'not detected' for p in points)} not detected."
    )
    return _svg(
        "leakage", bottom + 40, "Leakage against temperature", sentence, "".join(parts)
    )  # fmt: skip


def _decades(
    low: float, high: float, up: Callable[[float], float], left: float, right: float
) -> list[str]:
    first, last = round(math.log10(low)), round(math.log10(high))
    every = max(1, (last - first) // 6)
    parts = []
    for power in range(first, last + 1, every):
        y = up(10.0**power)
        parts.append(f'<path d="M{left} {y:.1f}H{right}" class="hair"/>')
        parts.append(_text(left - 8, y + 4, nominal(10.0**power, "current"), "quiet", "end"))
    return parts


def _degrees(
    start: float, span: float, across: Callable[[float], float], bottom: float
) -> list[str]:
    first = math.ceil((start - KELVIN) / 20) * 20
    parts = [f'<path d="M70 {bottom}H{WIDTH - 12}" class="axis"/>']
    for degrees in range(first, int(start + span - KELVIN) + 1, 20):
        x = across(degrees + KELVIN)
        parts.append(f'<path d="M{x:.1f} {bottom}v5" class="axis"/>')
        words = nominal(degrees + KELVIN, "temperature")
        parts.append(_text(x, bottom + 19, words, "quiet", "middle"))
    parts.append(_text(WIDTH - 12, bottom + 36, "temperature of the part", "quiet", "end"))
    return parts


def _evidence(point: Any, x: float, up: Callable[[float], float], floor: float) -> list[str]:
    y, top, low = up(point.leakage), up(point.high), up(max(point.low, floor))
    if point.basis == "not detected":
        bar, arrow = f"M{x - 6:.1f} {top:.1f}h12", f"M{x:.1f} {top:.1f}v16m-4 -6l4 6l4 -6"
        return [f'<path d="{bar}{arrow}" class="mark"/>']
    if point.basis == "maximum":
        return [f'<path d="M{x - 7:.1f} {top:.1f}h14" class="mark thick"/>']
    dot = "dot open" if point.basis == "typical" else "dot"
    return [
        f'<path d="M{x:.1f} {low:.1f}V{top:.1f}" class="mark"/>',
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" class="{dot}"/>',
    ]
