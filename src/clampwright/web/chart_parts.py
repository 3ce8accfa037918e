"""What the live charts are made of: plain SVG text in the colours of the page, its scales and words."""

from __future__ import annotations

import math
from collections.abc import Callable
from html import escape

Place = Callable[[float], float]

WIDTH = 680.0
LETTER = 6.9  # width of a letter of a label
HATCH = (
    '<defs><pattern id="{name}-hatch" width="6" height="6" patternUnits="userSpaceOnUse" '
    'patternTransform="rotate(45)"><path d="M0 0V6" class="hatch"/></pattern></defs>'
)


def svg(
    name: str, height: float, title: str, sentence: str, inside: str, width: float = WIDTH
) -> str:
    """One chart; the sentence is its text alternative."""
    return (
        f'<svg viewBox="0 0 {width:g} {height:g}" class="chart" role="img" '
        f'aria-labelledby="{name}-title {name}-desc">'
        f'<title id="{name}-title">{escape(title)}</title>'
        f'<desc id="{name}-desc">{escape(sentence)}</desc>{HATCH.format(name=name)}{inside}</svg>'
    )


def text(x: float, y: float, words: str, kind: str = "", anchor: str = "start") -> str:
    """A label."""
    return f'<text x="{x:.1f}" y="{y:.1f}" class="{kind}" text-anchor="{anchor}">{escape(words)}</text>'


def label_at(x: float, y: float, words: str, kind: str = "", width: float = WIDTH) -> str:
    """A label at a place, moved so far that it ends inside the picture."""
    half = LETTER * len(words) / 2
    return text(min(max(x, half + 2), width - half - 2), y, words, kind, "middle")


def shaded(name: str, x: float, y: float, width: float, height: float) -> str:
    """Where nothing may be: shade with a hatching."""
    box = f'x="{x:.1f}" y="{y:g}" width="{max(width, 0.0):.1f}" height="{height:g}"'
    hatched = f'<rect {box} fill="url(#{name}-hatch)" opacity="0.45"/>'
    return f'<rect {box} class="shade"/>{hatched}'


def dot(x: float, y: float, basis: str = "measured", radius: float = 5.0) -> str:
    """A value: open where it is only typical."""
    kind = "dot open" if basis == "typical" else "dot"
    return f'<circle cx="{x:.1f}" cy="{y:g}" r="{radius:g}" class="{kind}"/>'


def bar(name: str, start: float, end: float, y: float, basis: str) -> str:
    """An interval: hatched where it is assumed."""
    kind = "bar assumed" if basis == "assumed" else "bar"
    fill = f' style="fill:url(#{name}-hatch)"' if basis == "assumed" else ""
    width = max(end - start, 2.0)
    return f'<rect x="{start:.1f}" y="{y - 3.5:g}" width="{width:.1f}" height="7" class="{kind}"{fill}/>'


def signed_log(linear: float, reach: float, left: float, right: float) -> Place:
    """Place on a symmetric axis, one unit wide inside ± `linear`, then one unit a decade."""
    span = 1.0 + math.log10(reach / linear)

    def place(value: float) -> float:
        size = min(abs(value), reach)
        units = size / linear if size <= linear else 1.0 + math.log10(size / linear)
        moved: float = math.copysign(units, value) * (right - left) / 2 / span
        return (left + right) / 2 + moved

    return place


def log(low: float, high: float, left: float, right: float) -> Place:
    """Place on a logarithmic axis; what lies beyond its ends is drawn at them."""
    span = math.log10(high / low)

    def place(value: float) -> float:
        decades: float = math.log10(min(max(value, low), high) / low)
        return left + (right - left) * decades / span

    return place


def decades(low: float, high: float, most: int = 7) -> list[float]:
    """Powers of ten between two ends, at most so many."""
    first, last = math.ceil(math.log10(low) - 1e-9), math.floor(math.log10(high) + 1e-9)
    every = max(1, -(-(last - first + 1) // most))
    return [10.0**power for power in range(first, last + 1, every)]
