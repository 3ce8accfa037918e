"""Leakage of one clamp against temperature: evidence above the law and its band."""

from __future__ import annotations

import math
from typing import Any

from clampwright.quantities import ZERO_CELSIUS
from clampwright.record.words import nominal
from clampwright.web.chart_parts import Place, decades, label_at, log, svg, text
from clampwright.web.charts import WIDE

LABEL = 150.0  # width of a label


def leakage_svg(clamp: Any, board: float | None = None, *, name: str = "leakage") -> str:
    """Evidence above the law and its band; a line stands at the warmest board (K)."""
    curve = [p for p in clamp.curve if p.leakage > 0 and p.high > 0]
    points = [p for p in clamp.points if p.high > 0]
    if not curve:
        return ""
    amounts = [p.high for p in (*curve, *points)] + [p.leakage for p in curve]
    high = 10.0 ** math.ceil(math.log10(max(amounts)))
    low = max(10.0 ** math.floor(math.log10(min(amounts))), high * 1e-9)
    top, bottom, left, right = 12.0, 236.0, 70.0, WIDE - 12.0
    up = log(low, high, bottom, top)
    heats = [p.temperature for p in curve]
    start, span = min(heats), max(heats) - min(heats) or 1.0

    def across(temperature: float) -> float:
        share: float = min(max((temperature - start) / span, 0.0), 1.0)
        return left + (right - left) * share

    parts = _decades(low, high, up, left, right) + _degrees(start, span, across, bottom)
    if board is not None:
        x = across(board)
        anchor, beside = ("end", x - 5) if x > WIDE / 2 else ("start", x + 5)
        parts.append(f'<path d="M{x:.1f} {top}V{bottom}" class="chosen"/>')
        parts.append(text(beside, bottom - 8, "warmest board", "quiet halo", anchor))
    band = " ".join(f"{across(p.temperature):.1f},{up(p.high):.1f}" for p in curve)
    back = " ".join(f"{across(p.temperature):.1f},{up(max(p.low, low)):.1f}" for p in curve[::-1])
    line = " ".join(f"{across(p.temperature):.1f},{up(p.leakage):.1f}" for p in curve)
    assumed = clamp.leakage_basis == "assumed"
    fill = f' style="fill:url(#{name}-hatch)"' if assumed else ""
    parts.append(
        f'<polygon points="{band} {back}" class="band{" assumed" if assumed else ""}"{fill}/>'
    )
    parts.append(f'<polyline points="{line}" class="line"/>')
    for point in points:
        parts += _evidence(point, across(point.temperature), up, low)
    above = next(p for p in curve if across(p.temperature) >= left + LABEL)
    words = above.source + (", assumed" if assumed else ", 95 % band")
    parts.append(text(left + 8, up(above.high) - 8, words, "halo"))
    for kind, said in (("maximum", "at most, data sheet"), ("not detected", "not detected")):
        first = next((p for p in points if p.basis == kind), None)
        if first is not None:
            x, warmest = across(first.temperature), left if board is None else across(board)
            turned = x < warmest < x + LABEL and x - LABEL > left
            x, anchor = (x - 12, "end") if turned else (x + 12, "start")
            parts.append(text(x, up(first.high) + 4, said, "quiet halo", anchor))
    return svg(
        name, bottom + 40, "Leakage against temperature", leakage_sentence(clamp), "".join(parts), WIDE
    )  # fmt: skip


def leakage_sentence(clamp: Any) -> str:
    """What the leakage chart shows."""
    kinds = [p.basis for p in clamp.points if p.high > 0]
    return (
        f"Leakage of {clamp.title} against temperature: the line is the law with its 95 % band; "
        f"{kinds.count('measured')} measured points, {kinds.count('not detected')} not detected."
    )


def _decades(low: float, high: float, up: Place, left: float, right: float) -> list[str]:
    parts = []
    for value in decades(low, high):
        y = up(value)
        parts.append(f'<path d="M{left} {y:.1f}H{right}" class="hair"/>')
        parts.append(text(left - 8, y + 4, nominal(value, "current"), "quiet", "end"))
    return parts


def _degrees(start: float, span: float, across: Place, bottom: float) -> list[str]:
    first = math.ceil((start - ZERO_CELSIUS) / 20) * 20
    parts = [f'<path d="M70 {bottom}H{WIDE - 12}" class="axis"/>']
    for degrees in range(first, int(start + span - ZERO_CELSIUS) + 1, 20):
        x = across(degrees + ZERO_CELSIUS)
        parts.append(f'<path d="M{x:.1f} {bottom}v5" class="axis"/>')
        words = nominal(degrees + ZERO_CELSIUS, "temperature")
        parts.append(label_at(x, bottom + 19, words, "quiet", WIDE))
    parts.append(text(WIDE - 12, bottom + 36, "temperature of the part", "quiet", "end"))
    return parts


def _evidence(point: Any, x: float, up: Place, floor: float) -> list[str]:
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
