"""Charts of the network page that redraw at once: error budget, noise by cause, resistor window."""

from __future__ import annotations

import math
from typing import Any

from clampwright.record.wall_words import bound_words, leaves_none
from clampwright.record.words import by_basis, error_words, noise_words, nominal, quantity
from clampwright.web.chart_parts import (
    Place,
    bar,
    decades,
    dot,
    label_at,
    log,
    shaded,
    signed_log,
    svg,
    text,
)

WIDE = 520.0  # two of these charts stand beside each other
ROW = 44.0
NOISE_ROW = 38.0  # height of the row of a cause
WALL = 42.0  # height of the row of a wall
TOP = 24.0
WORDS, DRAWN = (
    16.0,
    22.0,
)  # base of the words of a row, and where its drawing begins: large letters fit
END = 40.0  # width at either end of the axis where the label of a tick might be cut
COVERED = 14.0  # width of what a dot hides: a narrower interval shows its two ends
LEAST_SHARE = 1e-3  # of the largest: smaller noise is drawn at the left end


def reach_of(judgement: Any) -> float:
    """How many allowances the budget chart must reach to either side."""
    ends = [v for t in judgement.terms for v in (t.value, t.low, t.high)]
    ends += [judgement.error, judgement.low, judgement.high]
    known = [abs(v) for v in ends if math.isfinite(v)]
    return float(max([30.0, *(3.0 * v / judgement.allowance for v in known)]))


def budget_svg(judgement: Any, *, name: str = "budget", reach: float | None = None) -> str:
    """Terms of the error on a signed-log axis; beyond ± the allowance is shaded and named.

    reach : allowances to either side, so that two charts can share a scale
    """
    allowance = judgement.allowance
    rows = [(t.name, t.value, t.low, t.high, t.basis) for t in judgement.terms]
    rows.append(("together", judgement.error, judgement.low, judgement.high, "predicted"))
    linear = allowance * 1e-3  # inside ± this the axis is linear, and marked so
    far = allowance * (reach_of(judgement) if reach is None else reach)
    place = signed_log(linear, far, 20.0, WIDE - 20.0)
    bottom = TOP + ROW * len(rows)
    ohms = judgement.volts_per_ampere
    limit = error_words(allowance, ohms)
    parts = [
        text(4, 14, f"over −{limit}", "quiet"),
        text(place(0.0), 14, "0", "quiet", "middle"),
        text(WIDE - 4, 14, f"over +{limit}", "quiet", "end"),
    ]
    for n, row in enumerate(rows):
        last = n == len(rows) - 1
        parts.append(_budget_row(name, TOP + n * ROW, row, place, judgement, last=last))
    left, right = place(-linear), place(linear)
    words = f"linear inside ± {error_words(linear, ohms)}, logarithmic outside"
    parts.append(f'<path d="M{left:.1f} {bottom}v6H{right:.1f}v-6" class="axis"/>')
    parts.append(text((left + right) / 2, bottom + 22, words, "quiet", "middle"))
    return svg(name, bottom + 28, "Error budget", budget_sentence(judgement), "".join(parts), WIDE)


def budget_sentence(judgement: Any) -> str:
    """What the budget chart shows."""
    ohms = judgement.volts_per_ampere
    error = error_words(judgement.error, ohms, signed=True)
    limit = error_words(judgement.allowance, ohms)
    where = "" if ohms is None else " as a current at the input"
    return (
        f"{judgement.name}: error {error} against an allowance of ± {limit}{where}; "
        "signed logarithmic."
    )


def _budget_row(name: str, y: float, row: Any, place: Place, judgement: Any, *, last: bool) -> str:
    """A line of words, and under it the interval between the two forbidden regions."""
    words, value, low, high, basis = row
    allowance, ohms = judgement.allowance, judgement.volts_per_ampere
    left, right, zero = place(-allowance), place(allowance), place(0.0)
    top, middle = y + DRAWN, y + DRAWN + 10
    said = f"{words}  {by_basis(error_words(value, ohms, signed=True), basis)}"
    return "".join((
        f'<path d="M0 {y}H{WIDE:g}" class="{"wall" if last else "hair"}"/>',
        text(4.0, y + WORDS, said, "strong" if last else ""),
        shaded(name, 0, top, left, 20), shaded(name, right, top, WIDE - right, 20),
        f'<path d="M{zero:.1f} {top}v20" class="hair"/>',
        f'<path d="M{left:.1f} {top}v20M{right:.1f} {top}v20" class="wall"/>',
        bar(name, place(low), place(high), middle, basis), _ends(place(low), place(high), middle),
        dot(place(value), middle, basis),
    ))  # fmt: skip


def _ends(start: float, end: float, y: float) -> str:
    """The two ends of an interval that its dot would hide."""
    if not 0.0 < end - start < COVERED:
        return ""
    return f'<path d="M{start:.1f} {y - 9:g}v18M{end:.1f} {y - 9:g}v18" class="mark ends"/>'


def noise_svg(dynamics: Any, *, name: str = "noise") -> str:
    """Every cause of noise and all together as densities on one axis; the rms in the band as words."""
    terms = sorted(dynamics.noise_terms, key=lambda t: -t.value)
    rows = [(t.name, t.value, t.basis) for t in terms if t.value > 0]
    if not rows:
        return ""
    total = together(dynamics.noise_terms)
    rows.append(("together, root of the sum of squares", total, "predicted"))
    place = log(rows[0][1] * LEAST_SHARE, total * 3, 4.0, WIDE - 4.0)
    ohms = dynamics.volts_per_ampere
    unit = "V/√Hz" if ohms is None else "A/√Hz at the input"
    parts, y = [text(4, 14, f"density at low frequency, {unit}, logarithmic", "quiet")], TOP
    for n, (words, value, basis) in enumerate(rows):
        last = n == len(rows) - 1
        said = f"{words}  {by_basis(noise_words(value, ohms), basis)}"
        parts.append(f'<path d="M0 {y}H{WIDE:g}" class="{"wall" if last else "hair"}"/>')
        parts.append(text(4.0, y + WORDS, said, "strong" if last else ""))
        parts.append(bar(name, 4.0, place(value), y + DRAWN + 7, basis))
        y += NOISE_ROW
    parts.append(text(4.0, y + WORDS, _rms_words(dynamics), "strong"))
    return svg(name, y + 22, "Noise by cause", noise_sentence(dynamics), "".join(parts), WIDE)


def together(terms: Any) -> float:
    """Density of independent causes together (V/√Hz): the root of the sum of their squares."""
    return math.hypot(*(t.value for t in terms))


def _rms_words(dynamics: Any) -> str:
    """The noise in the band against what is allowed."""
    ohms = dynamics.volts_per_ampere
    rms = error_words(dynamics.integrated_noise, ohms)
    band = quantity(dynamics.noise_bandwidth, "frequency")
    limit = dynamics.allowed_noise
    if not limit:
        return f"{rms} rms in {band}; no limit is stated"
    against = "over" if dynamics.integrated_noise > limit else "within"
    return f"{rms} rms in {band}: {against} the {error_words(limit, ohms)} allowed"


def noise_sentence(dynamics: Any) -> str:
    """What the noise chart shows."""
    terms = sorted(dynamics.noise_terms, key=lambda t: -t.value)
    ohms = dynamics.volts_per_ampere
    total = error_words(dynamics.integrated_noise, ohms)
    limit = dynamics.allowed_noise
    against = f"allowed {error_words(limit, ohms)}" if limit else "no limit stated"
    most = f"; most comes from: {terms[0].name}" if terms else ""
    return f"Noise of {total} rms, {against}{most}."


def window_svg(window: Any, *, name: str = "window") -> str:
    """The series resistor on a log axis: the open window is white, its walls carry their names.

    Every wall has a row: a line of words and under it the shade, so that no name stands on another.
    """
    rows = _wall_rows(window)
    sides = {side for side, value, *_ in rows if value}
    known = [window.chosen, *(value for _, value, *_ in rows if value)]
    low = min(known) / (100.0 if "minimum" in sides else 10.0)
    high = max(known) * (100.0 if "maximum" in sides else 10.0)
    place = log(low, high, 4.0, WIDE - 4.0)
    chosen, bottom = place(window.chosen), TOP + WALL * max(len(rows), 1) + 4
    parts = [label_at(chosen, 13, f"chosen {nominal(window.chosen, 'resistance')}", "strong", WIDE)]
    for n, (side, value, words, binding) in enumerate(rows):
        y = TOP + WALL * n
        x = place(value) if value else 0.0
        start, width = (0.0, x) if side == "minimum" else (x, WIDE - x)
        parts.append(f'<path d="M0 {y}H{WIDE:g}" class="hair"/>')
        parts.append(text(4.0, y + WORDS, words, "strong" if binding else ""))
        parts.append(f'<rect x="0" y="{y + DRAWN}" width="{WIDE:g}" height="14" class="open"/>')
        parts.append(shaded(name, start, y + DRAWN, width, 14))
        if value:
            parts.append(
                f'<path d="M{x:.1f} {y + DRAWN}v14" class="{"wall" if binding else "mark"}"/>'
            )
        parts.append(f'<path d="M{chosen:.1f} {y + DRAWN}v14" class="chosen"/>')
    parts.append(f'<path d="M0 {bottom}H{WIDE:g}" class="axis"/>')
    for value in decades(low, high, 6):
        words = nominal(value, "resistance")
        parts.append(f'<path d="M{place(value):.1f} {bottom}v5" class="axis"/>')
        parts.append(_tick(place(value), bottom + 20, words))
    title = "Window of the series resistor"
    return svg(name, bottom + 26, title, window.reason, "".join(parts), WIDE)


def _tick(x: float, y: float, words: str) -> str:
    """A label under its tick; near an end of the chart it is flush with it, in letters of any size."""
    if x < END:
        return text(1.0, y, words, "quiet")
    if x > WIDE - END:
        return text(WIDE - 1.0, y, words, "quiet", "end")
    return text(x, y, words, "quiet", "middle")


def _wall_rows(window: Any) -> list[tuple[str, float | None, str, bool]]:
    """Side, place (None: everywhere), words and whether it binds; walls at one place share a row."""
    named: dict[tuple[str, str], list[Any]] = {}
    for wall in window.walls:
        if wall.value:
            named.setdefault((wall.side, bound_words(wall)), []).append(wall)
    rows = []
    for (side, words), walls in named.items():
        names = ", ".join(w.name for w in walls).replace(", fault ", ", ")
        value = None if leaves_none(walls[0]) else walls[0].value
        binding = value is None or any(w.value in (window.minimum, window.maximum) for w in walls)
        rows.append((side, value, f"{names}: {words}", binding))
    return rows
