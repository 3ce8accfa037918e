"""One wiring of a part as a plain drawing: leads as named circles, ties, and the junction between.

Symbols follow IEC 60617 (diode, breakdown diode, light-emitting diode, voltage-dependent resistor).
The anode is at the left. What happens inside the body is simplified to the junctions that conduct
from one pole to the other.
"""

from __future__ import annotations

import re
from html import escape

from clampwright.record.look import INK, PAPER, QUIET, finish_svg
from clampwright.verdict.part_view import WiringView

WIDTH = 400.0  # [px] all lengths here are in the drawing's own pixels
PITCH = 32.0  # from lead to lead
RADIUS = 13.0
POLE, TIE, BODY_LEFT, NODE = 26.0, 66.0, 118.0, 158.0  # mirrored at the right
ROW = 36.0  # from junction to junction
SYMBOL = 11.0  # half the height of a diode's bar


def lead_svg(view: WiringView, leads: tuple[str, ...], *, name: str) -> str:
    """One `<svg>` of the wiring with a text alternative; `leads` are those of the package.

    name : short, used as prefix of every id, so that several drawings fit on one page.
    """
    left, right = poles(view, leads)
    rows = max(len(left), len(right), 2)
    height = rows * PITCH + 40.0 + (42.0 if view.open_leads else 0.0)
    middle = 20.0 + rows * PITCH / 2
    parts = [
        _body(20.0, rows * PITCH),
        *_side(left, middle, mirrored=False),
        *_side(right, middle, mirrored=True),
        *_junctions(view, middle),
        *_open(view.open_leads, 20.0 + rows * PITCH),
        *_pole_names(view, middle),
    ]
    text = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:g} {height:g}" '
        f'font-size="12" fill="none" stroke="{INK}" stroke-width="1.3">{"".join(parts)}</svg>'
    )
    return finish_svg(text, name=name, title=f"Wiring {view.name}", description=words(view, leads))


def poles(view: WiringView, leads: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Leads of the anode side and of the other; in the order of the name where both conduct."""
    known = "|".join(re.escape(lead) for lead in sorted(leads, key=len, reverse=True))
    first, second = (tuple(re.findall(known, side)) for side in view.name.split("/"))
    anode = set(re.findall(known, view.anode))
    return (second, first) if anode == set(second) else (first, second)


def words(view: WiringView, leads: tuple[str, ...]) -> str:
    """The drawing in one sentence."""
    left, right = (" tied to ".join(side) for side in poles(view, leads))
    if view.anode == "both":
        text = f"Between {left} and {right} current can flow either way"
    else:
        text = f"Anode side {left}, cathode side {right}"
    if view.open_leads:
        text += f"; {', '.join(view.open_leads)} open"
    return f"{text}; junctions: {view.composition}."


def _line(*points: tuple[float, float], width: float = 1.3) -> str:
    path = " ".join(f"{x:g},{y:g}" for x, y in points)
    return f'<polyline points="{path}" stroke-width="{width:g}"/>'


def _text(x: float, y: float, words: str, *, colour: str = INK, anchor: str = "middle") -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" text-anchor="{anchor}" fill="{colour}" stroke="none">'
        f"{escape(words)}</text>"
    )


def _body(top: float, height: float) -> str:
    return (
        f'<rect x="{BODY_LEFT:g}" y="{top:g}" width="{WIDTH - 2 * BODY_LEFT:g}" '
        f'height="{height:g}" rx="6" stroke="{QUIET}"/>'
    )


def _side(leads: tuple[str, ...], middle: float, *, mirrored: bool) -> list[str]:
    """Pole, tie, leads and the inner node of one side; thick where leads are tied together."""

    def x(place: float) -> float:
        return WIDTH - place if mirrored else place

    top = middle - (len(leads) - 1) * PITCH / 2
    heights = [top + PITCH * i for i in range(len(leads))]
    tied = 3.0 if len(leads) > 1 else 1.3
    drawn = [_line((x(POLE), middle), (x(TIE), middle), width=tied)]
    if len(leads) > 1:
        drawn.append(_line((x(TIE), heights[0]), (x(TIE), heights[-1]), width=tied))
        drawn.append(_line((x(NODE), heights[0]), (x(NODE), heights[-1])))
    drawn.append(f'<circle cx="{x(POLE):g}" cy="{middle:g}" r="3.5" fill="{INK}"/>')
    for lead, y in zip(leads, heights, strict=True):
        drawn.append(_line((x(TIE), y), (x(BODY_LEFT), y), width=tied))
        drawn.append(_line((x(BODY_LEFT), y), (x(NODE), y)))
        drawn.append(_circle(x(BODY_LEFT), y, lead))
    return drawn


def _circle(x: float, y: float, lead: str, *, dashed: bool = False) -> str:
    dash = ' stroke-dasharray="3 3"' if dashed else ""
    return (
        f'<circle cx="{x:g}" cy="{y:g}" r="{RADIUS:g}" fill="{PAPER}"{dash}/>'
        f"{_text(x, y + 4, lead)}"
    )


def _open(leads: tuple[str, ...], y: float) -> list[str]:
    drawn = []
    for place, lead in enumerate(leads):
        x = WIDTH / 2 + (place - (len(leads) - 1) / 2) * 36.0
        drawn.append(_circle(x, y, lead, dashed=True))
    if leads:
        drawn.append(_text(WIDTH / 2, y + 34, "open", colour=QUIET))
    return drawn


def _pole_names(view: WiringView, middle: float) -> list[str]:
    if view.anode == "both":
        return []
    return [
        _text(POLE, middle - 12, "anode", colour=QUIET),
        _text(WIDTH - POLE, middle - 12, "cathode", colour=QUIET),
    ]


def _junctions(view: WiringView, middle: float) -> list[str]:
    """The junctions between the inner nodes, by how they are composed."""
    rows = 2 if view.composition in ("parallel", "antiparallel", "series-parallel") else 1
    columns = 2 if view.composition in ("series", "series-parallel") else 1
    left, right = NODE, WIDTH - NODE
    drawn = []
    for row in range(rows):
        y = middle + (row - (rows - 1) / 2) * ROW
        drawn.append(_line((left, middle), (left, y), (right, y), (right, middle)))
        backward = view.composition == "antiparallel" and row == 1
        for column in range(columns):
            x = left + (right - left) * (column + 0.5) / columns
            drawn.append(_symbol(view, x, y, backward=backward))
    return drawn


def _symbol(view: WiringView, x: float, y: float, *, backward: bool) -> str:
    kind = view.clamp_class
    if "varistor" in kind:
        return _varistor(x, y)
    turn = -1 if backward else 1
    points = " ".join(
        f"{x + turn * dx:g},{y + dy:g}"
        for dx, dy in ((-SYMBOL, -SYMBOL), (-SYMBOL, SYMBOL), (SYMBOL * 0.8, 0.0))
    )
    bar = x + turn * SYMBOL * 0.8
    drawn = f'<polygon points="{points}" fill="{PAPER}"/>' + _bar(kind, bar, y, turn)
    if view.composition == "single" and view.anode == "both":
        drawn += _bar("breakdown", x - SYMBOL, y, -1)
    if "led" in kind.split() or "photodiode" in kind:
        drawn += _arrows(x, y, inward="photodiode" in kind)
    return drawn


def _bar(kind: str, x: float, y: float, turn: int) -> str:
    """The cathode's bar: plain, hooked once for a breakdown diode, twice for a Schottky diode."""
    top, bottom, hook = y - SYMBOL, y + SYMBOL, 4.0 * turn
    if "schottky" in kind:
        return _line((x + hook, top + 4), (x + hook, top), (x, top), (x, bottom),
                     (x - hook, bottom), (x - hook, bottom - 4))  # fmt: skip
    if any(word in kind for word in ("zener", "suppressor", "breakdown")):
        return _line((x - hook, top), (x, top), (x, bottom))
    return _line((x, top), (x, bottom))


def _varistor(x: float, y: float) -> str:
    return (
        f'<rect x="{x - 20:g}" y="{y - 8:g}" width="40" height="16" fill="{PAPER}"/>'
        + _line((x - 24, y + 16), (x - 16, y + 16), (x + 18, y - 14))
        + _text(x + 26, y + 22, "U")
    )


def _arrows(x: float, y: float, *, inward: bool) -> str:
    """Two oblique arrows: light leaves a light-emitting diode and enters a photodiode."""
    drawn = ""
    for shift in (-2.0, 7.0):
        near, far = (x + shift, y - 15), (x + shift + 9, y - 26)
        (tail_x, tail_y), (tip_x, tip_y) = (far, near) if inward else (near, far)
        back = 1 if inward else -1
        drawn += _line((tail_x, tail_y), (tip_x, tip_y))
        drawn += _line((tip_x + back * 5, tip_y - back * 1), (tip_x, tip_y),
                       (tip_x + back * 0.5, tip_y - back * 5.5))  # fmt: skip
    return drawn
