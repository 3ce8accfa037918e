"""Leakage of one clamp against temperature: evidence above the law and its band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from clampwright.quantities import ZERO_CELSIUS
from clampwright.record.words import nominal
from clampwright.web.chart_parts import Place, decades, label_at, log, svg, text
from clampwright.web.charts import WIDE

LABEL = 150.0  # width of a label
BOX = (12.0, 236.0, 70.0, WIDE - 12.0)  # top, bottom, left, right


def leakage_svg(
    clamp: Any, board: float | None = None, sits: Sequence[Any] = (), *, name: str = "leakage"
) -> str:
    """Evidence above the law and its band; a line stands at the warmest board (K).

    sits : the law at the voltage where the circuit holds the clamp, when `clamp.curve` is at another
    """
    laws = [[p for p in law if p.leakage > 0 and p.high > 0] for law in _laws(clamp, sits)]
    points = [p for p in clamp.points if p.high > 0] if clamp is not None else []
    if not laws or not all(laws):
        return ""
    low, high = _reach([*points, *(p for law in laws for p in law)])
    top, bottom, left, right = BOX
    up = log(low, high, bottom, top)
    heats = [p.temperature for p in laws[0]]
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
    for n, law in enumerate(laws):
        parts += _law(name, law, n, across, up, low)
    for point in points:
        parts += _evidence(point, across(point.temperature), up, low)
    parts += _law_labels(laws, across, up)
    parts += _kind_labels(points, board, across, up)
    sentence = leakage_sentence(clamp, sits)
    return svg(name, bottom + 40, "Leakage against temperature", sentence, "".join(parts), WIDE)


def _laws(clamp: Any, sits: Sequence[Any]) -> list[Sequence[Any]]:
    """The law as the circuit uses the clamp first, then the one where readings lie."""
    if clamp is None:
        return []
    return [sits, clamp.curve] if sits else [clamp.curve]


def _reach(points: Sequence[Any]) -> tuple[float, float]:
    """Ends of the axis of leakage: whole decades, at most nine."""
    amounts = [v for p in points for v in (p.leakage, p.high) if v > 0]
    high = 10.0 ** math.ceil(math.log10(max(amounts)))
    return max(10.0 ** math.floor(math.log10(min(amounts))), high * 1e-9), high


def _law(
    name: str, law: Sequence[Any], n: int, across: Place, up: Place, low: float
) -> tuple[str, str]:
    """Band and line; a second law has a colour of its own."""
    ahead = " ".join(f"{across(p.temperature):.1f},{up(p.high):.1f}" for p in law)
    back = " ".join(f"{across(p.temperature):.1f},{up(max(p.low, low)):.1f}" for p in law[::-1])
    line = " ".join(f"{across(p.temperature):.1f},{up(p.leakage):.1f}" for p in law)
    assumed = law[0].basis == "assumed"
    fill = f' style="fill:url(#{name}-hatch)"' if assumed else ""
    kind = (" assumed" if assumed else "") + (" second" if n else "")
    return (
        f'<polygon points="{ahead} {back}" class="band{kind}"{fill}/>',
        f'<polyline points="{line}" class="line{" second" if n else ""}"/>',
    )


def _law_labels(laws: Sequence[Sequence[Any]], across: Place, up: Place) -> list[str]:
    """Each law named beside its band: that of the circuit under it at the right."""
    known = "assumed" if laws[0][0].basis == "assumed" else "95 % band"
    _, bottom, left, right = BOX
    found = []
    if len(laws) > 1:
        upper = laws[1]
        near = next(p for p in upper if across(p.temperature) >= left + LABEL)
        found.append(text(left + 8, up(near.high) - 8, f"{upper[0].source}, {known}", "halo"))
        known = "where it sits"
    lower = laws[0]
    far = next(p for p in lower if across(p.temperature) >= right - 1.4 * LABEL)
    y = min(up(far.low) + 18, bottom - 24)
    return [*found, text(right - 4, y, f"{lower[0].source}, {known}", "strong halo", "end")]


def _kind_labels(points: Sequence[Any], board: float | None, across: Place, up: Place) -> list[str]:
    """What a cap and an arrow are, written once."""
    found, left = [], BOX[2]
    for kind, said in (("maximum", "at most, data sheet"), ("not detected", "not detected")):
        first = next((p for p in points if p.basis == kind), None)
        if first is not None:
            x, warmest = across(first.temperature), left if board is None else across(board)
            turned = x < warmest < x + LABEL and x - LABEL > left
            x, anchor = (x - 12, "end") if turned else (x + 12, "start")
            found.append(text(x, up(first.high) + 4, said, "quiet halo", anchor))
    return found


def leakage_sentence(clamp: Any, sits: Sequence[Any] = ()) -> str:
    """What the leakage chart shows."""
    kinds = [p.basis for p in clamp.points if p.high > 0]
    laws = " and ".join(law[0].source for law in _laws(clamp, sits))
    return (
        f"Leakage of {clamp.title} against temperature: {laws}, with 95 % bands; "
        f"{kinds.count('measured')} measured points, {kinds.count('not detected')} not detected."
    )


def evidence_voltages(clamp: Any) -> str:
    """At which reverse voltages the marks were taken: "5 V, 15 V"."""
    return ", ".join(nominal(v, "voltage") for v in sorted({p.voltage for p in clamp.points}))


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
    title = f"<title>{point.basis} at {nominal(point.voltage, 'voltage')}</title>"
    if point.basis == "not detected":
        bar, arrow = f"M{x - 6:.1f} {top:.1f}h12", f"M{x:.1f} {top:.1f}v16m-4 -6l4 6l4 -6"
        return [f'<path d="{bar}{arrow}" class="mark">{title}</path>']
    if point.basis == "maximum":
        return [f'<path d="M{x - 7:.1f} {top:.1f}h14" class="mark thick">{title}</path>']
    dot = "dot open" if point.basis == "typical" else "dot"
    return [
        f'<path d="M{x:.1f} {low:.1f}V{top:.1f}" class="mark"/>',
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" class="{dot}">{title}</circle>',
    ]
