"""The margin bar beside a verdict: the error with its interval as a share of the allowance."""

from __future__ import annotations

import math

from clampwright.record.look import finish_svg
from clampwright.record.sensor_unit import SensorUnit
from clampwright.record.words import error_words
from clampwright.verdict.results import Judgement

WIDTH, HEIGHT = 680.0, 58.0
LOWEST, HIGHEST = 1e-3, 30.0  # share of the allowance at the ends of the bar
LETTER, LINE = 8.4, 18.0  # width of a letter and height of a line at 14 px
RADIUS, EDGE = 7.0, 8.0  # of the dot; room that dot and its line keep from the ends of the bar
BAR = 22.0  # y of the bar
SVG_NAMESPACE = "http://www.w3.org/2000/svg"
DOT = "fill: var(--ink); stroke: var(--paper); stroke-width: 2"
HATCH = """<defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse"
patternTransform="rotate(45)"><path d="M0 0V6" style="stroke: var(--quiet)"/></pattern></defs>"""


def margin_svg(judgement: Judgement, *, unit: SensorUnit | None = None) -> str:
    """One line from 1/1000 of the allowance to 30 times it; beyond 1 is shaded and named.

    unit : the errors stand in it too. Empty when nothing is allowed, because a share of nothing has
    no place.
    """
    allowance = judgement.allowance
    if not 0 < allowance < math.inf:
        return ""
    ends = sorted((abs(judgement.low), abs(judgement.high)))
    if judgement.low < 0 < judgement.high:
        ends[0] = 0.0
    shares = [value / allowance for value in (ends[0], abs(judgement.error), ends[1])]
    left, middle, right = (_place(share) for share in shares)
    wall = _place(1.0)
    ohms = judgement.volts_per_ampere
    error = error_words(judgement.error, ohms, signed=True)
    limit = error_words(allowance, ohms)
    if unit is not None and ohms is None:
        error += f" = {unit.text(judgement.error, signed=True)}"
        limit += f" = {unit.text(allowance)}"
    off = "" if shares[2] <= HIGHEST else " →"
    before = middle < wall
    beyond = f'x="{wall:.1f}" y="{BAR - 12}" width="{WIDTH - wall:.1f}" height="24"'
    label_x, label_end = (wall + 8, "start") if before else (wall - 8, "end")
    error_text, limit_text = f"error {error}{off}", f"allowance ± {limit}"
    if before:  # the words must end inside the picture
        label_x = min(label_x, max(WIDTH - LETTER * len(limit_text), 0.0))
    half = LETTER * len(error_text) / 2
    error_x = min(max(middle, half + EDGE), WIDTH - half - EDGE)
    dot_x = min(max(middle, EDGE), WIDTH - EDGE)
    room = label_x - error_x if before else error_x - label_x
    height = HEIGHT if room > half else HEIGHT + LINE  # else one below the other
    text = f"""<svg xmlns="{SVG_NAMESPACE}" viewBox="0 0 {WIDTH:g} {height:g}" class="margin">
{HATCH}
<rect {beyond} style="fill: var(--shade)"/>
<rect {beyond} style="fill: url(#hatch)" opacity="0.5"/>
<path d="M0 {BAR}H{WIDTH:g}" style="stroke: var(--quiet)"/>
{_decades()}
<path d="M{wall:.1f} {BAR - 15}V{BAR + 15}" style="stroke: var(--ink); stroke-width: 2"/>
<path d="M{left:.1f} {BAR}H{right:.1f}" style="stroke: var(--ink); stroke-width: 7"/>
<circle cx="{dot_x:.1f}" cy="{BAR}" r="{RADIUS:g}" style="{DOT}"/>
<text x="{error_x:.1f}" y="{HEIGHT - 6}" text-anchor="middle">{error_text}</text>
<text x="{label_x:.1f}" y="{height - 6}" text-anchor="{label_end}">{limit_text}</text>
</svg>"""
    return finish_svg(
        text, name="margin", title="Margin",
        description=f"Error {error} against an allowance of ± {limit}, logarithmic.",
    )  # fmt: skip


def _place(share: float) -> float:
    span = math.log10(HIGHEST / LOWEST)
    inside = HIGHEST if math.isnan(share) else min(max(share, LOWEST), HIGHEST)
    return WIDTH * math.log10(inside / LOWEST) / span


def _decades() -> str:
    places = [_place(10.0**n) for n in range(-2, 2)]
    return "".join(
        f'<path d="M{x:.1f} {BAR - 5}V{BAR + 5}" style="stroke: var(--quiet)"/>' for x in places
    )
