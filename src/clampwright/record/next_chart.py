"""Chances of a decision for every reading, as plain SVG: one bar an action, best first.

PASS from the left, FAIL from the right, what stays open is white between them; minutes stand at the end.
"""

from __future__ import annotations

from html import escape

from clampwright.record.look import BLUE, HAIRLINE, INK, OPEN, QUIET, VERMILION, themed
from clampwright.record.next_text import percent
from clampwright.verdict.next_results import NextAction, NextResult

WIDTH, ROW, LEFT, RIGHT = 720, 46, 8, 640
WORDS = 84  # characters of an action that fit over its bar


def chances_svg(result: NextResult, *, themed_colours: bool = True) -> str:
    """Bars of P(PASS), P(FAIL) and still open for each action that gains; "" when none does."""
    gaining = [a for a in result.actions if a.gain > 0]
    if not gaining:
        return ""
    height = ROW * len(gaining) + 30
    bars = "".join(_bar(a, ROW * i) for i, a in enumerate(gaining))
    best = gaining[0]
    sentence = (
        f"Chance of PASS and of FAIL after each of {len(gaining)} readings; best first: "
        f"{best.action}, decided with {percent(best.decided)} after {best.minutes:.0f} min."
    )
    legend = (
        f'<text x="{LEFT}" y="{height - 6}" fill="{QUIET}" font-size="12">PASS from the left, FAIL '
        "(crossed) from the right, between: still open</text>"
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" class="chart" role="img" '
        f'aria-labelledby="chances-title chances-desc" font-family="DejaVu Sans, sans-serif">'
        f'<title id="chances-title">What each reading may decide</title>'
        f'<desc id="chances-desc">{escape(sentence)}</desc>'
        '<defs><pattern id="chances-cross" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<path d="M0 0l6 6M6 0l-6 6" stroke="{INK}" stroke-width="0.8"/></pattern></defs>'
        f"{bars}{legend}</svg>"
    )
    return themed(svg) if themed_colours else svg


def _bar(action: NextAction, y: float) -> str:
    words = action.action if len(action.action) <= WORDS else f"{action.action[: WORDS - 1]}…"
    span = RIGHT - LEFT
    passed, failed = span * action.passed, span * action.failed
    top = y + 20
    return (
        f'<text x="{LEFT}" y="{y + 14}" fill="{INK}" font-size="13">{escape(words)}</text>'
        f'<rect x="{LEFT}" y="{top}" width="{span}" height="14" fill="{OPEN}" stroke="{HAIRLINE}"/>'
        f'<rect x="{LEFT}" y="{top}" width="{passed:.1f}" height="14" fill="{BLUE}"/>'
        f'<rect x="{RIGHT - failed:.1f}" y="{top}" width="{failed:.1f}" height="14" fill="{VERMILION}"/>'
        f'<rect x="{RIGHT - failed:.1f}" y="{top}" width="{failed:.1f}" height="14" '
        'fill="url(#chances-cross)"/>'
        f'<text x="{RIGHT + 8}" y="{top + 12}" fill="{INK}" font-size="13">{action.minutes:.0f} min</text>'
    )
