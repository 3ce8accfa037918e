"""Leakage of one clamp against temperature: evidence above the law and its band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from clampwright.quantities import ZERO_CELSIUS
from clampwright.record.words import nominal
from clampwright.web.chart_parts import decades, label_at, log, svg, text
from clampwright.web.charts import WIDE

LABEL = 150.0  # width of a label
TOP, BOTTOM, LEFT, RIGHT = 12.0, 236.0, 70.0, WIDE - 12.0
MOST_KEPT = 64  # drawings

Points = tuple[Any, ...]


class Scales(NamedTuple):
    """The two axes: temperature (K) from `coldest` on, leakage (A) between its ends on a log axis."""

    coldest: float
    span: float
    low: float
    high: float

    def across(self, temperature: float) -> float:
        """Place of a temperature; beyond the axis it is drawn at its end."""
        share = min(max((temperature - self.coldest) / self.span, 0.0), 1.0)
        return LEFT + (RIGHT - LEFT) * share

    def up(self, leakage: float) -> float:
        """Place of a leakage."""
        return log(self.low, self.high, BOTTOM, TOP)(leakage)


def leakage_svg(
    clamp: Any, board: float | None = None, sits: Sequence[Any] = (), *, name: str = "leakage"
) -> str:
    """Evidence above the law and its band; a line stands at the warmest board (K).

    sits : the law at the voltage where the circuit holds the clamp, when `clamp.curve` is at another
    """
    if clamp is None:
        return ""
    return _drawn(clamp.title, tuple(clamp.points), tuple(clamp.curve), tuple(sits), board, name)


@lru_cache(maxsize=MOST_KEPT)
def _drawn(
    title: str, points: Points, curve: Points, sits: Points, board: float | None, name: str
) -> str:
    """The chart; kept, because most moves of a slider leave it as it is."""
    laws = [tuple(p for p in law if p.leakage > 0 and p.high > 0) for law in _laws(curve, sits)]
    shown = [p for p in points if p.high > 0]
    if not laws or not all(laws):
        return ""
    heats = [p.temperature for p in laws[0]]
    low, high = _reach([*shown, *(p for law in laws for p in law)])
    scales = Scales(min(heats), max(heats) - min(heats) or 1.0, low, high)
    parts = _decades(scales) + _degrees(scales)
    if board is not None:
        x = scales.across(board)
        anchor, beside = ("end", x - 5) if x > WIDE / 2 else ("start", x + 5)
        parts.append(f'<path d="M{x:.1f} {TOP}V{BOTTOM}" class="chosen"/>')
        parts.append(text(beside, BOTTOM - 8, "warmest board", "quiet halo", anchor))
    parts += [_law(name, law, scales, second=n > 0) for n, law in enumerate(laws)]
    parts += [_evidence(point, scales) for point in shown]
    parts += _law_labels(laws, scales)
    parts += _kind_labels(shown, board, scales)
    sentence = leakage_sentence(title, points, curve, sits)
    return svg(name, BOTTOM + 40, "Leakage against temperature", sentence, "".join(parts), WIDE)


def _laws(curve: Points, sits: Points) -> list[Points]:
    """The law as the circuit uses the clamp first, then the one where readings lie."""
    return [sits, curve] if sits else [curve]


def _reach(points: Sequence[Any]) -> tuple[float, float]:
    """Ends of the axis of leakage: whole decades, at most nine."""
    amounts = [v for p in points for v in (p.leakage, p.high) if v > 0]
    high = 10.0 ** math.ceil(math.log10(max(amounts)))
    return max(10.0 ** math.floor(math.log10(min(amounts))), high * 1e-9), high


@lru_cache(maxsize=MOST_KEPT)
def _law(name: str, law: Points, scales: Scales, *, second: bool) -> str:
    """Band and line; a second law has a colour of its own."""
    heats = [f"{scales.across(p.temperature):.1f}" for p in law]
    up = log(scales.low, scales.high, BOTTOM, TOP)
    ahead = [f"{x},{up(p.high):.1f}" for x, p in zip(heats, law, strict=True)]
    back = [f"{x},{up(p.low):.1f}" for x, p in zip(heats, law, strict=True)]
    line = [f"{x},{up(p.leakage):.1f}" for x, p in zip(heats, law, strict=True)]
    assumed = law[0].basis == "assumed"
    fill = f' style="fill:url(#{name}-hatch)"' if assumed else ""
    kind = (" assumed" if assumed else "") + (" second" if second else "")
    return (
        f'<polygon points="{" ".join(ahead + back[::-1])}" class="band{kind}"{fill}/>'
        f'<polyline points="{" ".join(line)}" class="line{" second" if second else ""}"/>'
    )


def _law_labels(laws: Sequence[Points], scales: Scales) -> list[str]:
    """Each law named beside its band: that of the circuit under it at the right."""
    known = "assumed" if laws[0][0].basis == "assumed" else "95 % band"
    found = []
    if len(laws) > 1:
        upper = laws[1]
        near = next(p for p in upper if scales.across(p.temperature) >= LEFT + LABEL)
        found.append(
            text(LEFT + 8, scales.up(near.high) - 8, f"{upper[0].source}, {known}", "halo")
        )
        known = "where it sits"
    lower = laws[0]
    far = next(p for p in lower if scales.across(p.temperature) >= RIGHT - 1.4 * LABEL)
    y = min(scales.up(far.low) + 18, BOTTOM - 24)
    return [*found, text(RIGHT - 4, y, f"{lower[0].source}, {known}", "strong halo", "end")]


def _kind_labels(points: Sequence[Any], board: float | None, scales: Scales) -> list[str]:
    """What a cap and an arrow are, written once."""
    found = []
    for kind, said in (("maximum", "at most, data sheet"), ("not detected", "not detected")):
        first = next((p for p in points if p.basis == kind), None)
        if first is not None:
            x = scales.across(first.temperature)
            warmest = LEFT if board is None else scales.across(board)
            turned = x < warmest < x + LABEL and x - LABEL > LEFT
            x, anchor = (x - 12, "end") if turned else (x + 12, "start")
            found.append(text(x, scales.up(first.high) + 4, said, "quiet halo", anchor))
    return found


def leakage_sentence(title: str, points: Points, curve: Points, sits: Points) -> str:
    """What the leakage chart shows."""
    kinds = [p.basis for p in points if p.high > 0]
    laws = " and ".join(law[0].source for law in _laws(curve, sits))
    return (
        f"Leakage of {title} against temperature: {laws}, with 95 % bands; "
        f"{kinds.count('measured')} measured points, {kinds.count('not detected')} not detected."
    )


def evidence_voltages(clamp: Any) -> str:
    """At which reverse voltages the marks were taken: "5 V, 15 V"."""
    return ", ".join(nominal(v, "voltage") for v in sorted({p.voltage for p in clamp.points}))


def _decades(scales: Scales) -> list[str]:
    parts = []
    for value in decades(scales.low, scales.high):
        y = scales.up(value)
        parts.append(f'<path d="M{LEFT} {y:.1f}H{RIGHT}" class="hair"/>')
        parts.append(text(LEFT - 8, y + 4, nominal(value, "current"), "quiet", "end"))
    return parts


def _degrees(scales: Scales) -> list[str]:
    warmest = int(scales.coldest + scales.span - ZERO_CELSIUS)
    first = math.ceil((scales.coldest - ZERO_CELSIUS) / 20) * 20
    parts = [f'<path d="M{LEFT:g} {BOTTOM}H{RIGHT}" class="axis"/>']
    for degrees in range(first, warmest + 1, 20):
        x = scales.across(degrees + ZERO_CELSIUS)
        parts.append(f'<path d="M{x:.1f} {BOTTOM}v5" class="axis"/>')
        words = nominal(degrees + ZERO_CELSIUS, "temperature")
        parts.append(label_at(x, BOTTOM + 19, words, "quiet", WIDE))
    parts.append(text(RIGHT, BOTTOM + 36, "temperature of the part", "quiet", "end"))
    return parts


def _evidence(point: Any, scales: Scales) -> str:
    """A reading with its interval, a data-sheet maximum as a cap, a limit of detection as an arrow."""
    x, top = scales.across(point.temperature), scales.up(point.high)
    title = f"<title>{point.basis} at {nominal(point.voltage, 'voltage')}</title>"
    if point.basis == "not detected":
        bar, arrow = f"M{x - 6:.1f} {top:.1f}h12", f"M{x:.1f} {top:.1f}v16m-4 -6l4 6l4 -6"
        return f'<path d="{bar}{arrow}" class="mark">{title}</path>'
    if point.basis == "maximum":
        return f'<path d="M{x - 7:.1f} {top:.1f}h14" class="mark thick">{title}</path>'
    dot = "dot open" if point.basis == "typical" else "dot"
    y, low = scales.up(point.leakage), scales.up(point.low)
    return (
        f'<path d="M{x:.1f} {low:.1f}V{top:.1f}" class="mark"/>'
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" class="{dot}">{title}</circle>'
    )
