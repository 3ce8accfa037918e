"""The circuit as a plain drawing: source at the left, amplifier at the right, rails top and bottom.

Symbols follow IEC 60617 (rectangular resistor, diode, triangle for an amplifier). Natural width is
160 mm, text 8 pt. schemdraw gives no text alternative: title and description are added here.
"""

from __future__ import annotations

import math
from html import escape
from textwrap import shorten
from typing import Any

from clampwright.record.look import INK, PAPER, QUIET, VERMILION, finish_svg
from clampwright.record.tables import lead_names
from clampwright.record.words import by_basis, nominal, quantity, resistance_words
from clampwright.verdict.results import CheckResult, ClampPlace, ClampSummary, Corner, FaultCase

Place = tuple[float, float]
Line = tuple[str, str, float]  # words, colour, size

POINTS_PER_UNIT = 36.0  # schemdraw: half an inch
TEXT = 8.0  # [pt]
SMALL = 7.0  # [pt]
THIN, THICK = 1.1, 3.0  # [pt]
SOURCE, CONNECTOR, NODE, PIN, END = 0.55, 3.45, 6.8, 9.4, 12.6  # x of the signal line's stations
GUARD_RAIL = 1.15  # how far below the guard the negative rail runs
TOP, GUARDED_TOP, BOTTOM, GUARD = 2.9, 1.7, -2.4, -2.7
REPAIRS = (  # what the drawing library writes that is no valid style, or not of our paper
    ("fill:false", "fill:none"),
    ("fill:white", f"fill:{PAPER}"),
    ("stroke-dasharray:-;", ""),
)


def schematic_svg(check: CheckResult, fault: FaultCase | None = None) -> str:
    """One `<svg>` of the network with values, lead names, node voltages, "sits at" and leakage.

    fault : when given, its path is drawn thicker and carries its current.
    """
    import schemdraw

    with _svg_backend():
        drawing = schemdraw.Drawing(show=False, canvas="svg")
        drawing.config(unit=2, fontsize=TEXT, font="DejaVu Sans", color=INK, lw=THIN)
        _draw_signal_line(drawing, check, fault)
        if check.design.network.topology == "T5":
            _draw_guard(drawing, check, fault)
        elif check.clamp is not None:
            _draw_rail_clamps(drawing, check, fault)
        else:
            _draw_chip_junctions(drawing, fault)
        _draw_rails(drawing, check)
        text = drawing.get_imagedata("svg").decode()
    for wrong, right in REPAIRS:
        text = text.replace(wrong, right)
    return finish_svg(
        text,
        name="schematic",
        title=f"Schematic: {check.topology_title}",
        description=_words(check),
    )


class _svg_backend:
    """Text stays text; schemdraw keeps this in a module-wide setting, put back afterwards."""

    def __enter__(self) -> None:
        import schemdraw

        self._before = schemdraw.svgconfig.text
        schemdraw.svgconfig.text = "text"

    def __exit__(self, *_: object) -> None:
        import schemdraw

        schemdraw.svgconfig.text = self._before


def _corner(check: CheckResult) -> Corner:
    return check.judgements[0].corner if check.judgements else check.dynamics.corner


def _draw_signal_line(drawing: Any, check: CheckResult, fault: FaultCase | None) -> None:
    """Source, connector, outer resistor, clamp node, inner resistor, amplifier."""
    network, corner = check.design.network, _corner(check)
    _source(drawing, quantity(corner.signal, "voltage", signed=True))
    _resistor(drawing, (SOURCE, 0), (CONNECTOR - 0.3, 0), "source",
              quantity(corner.source_resistance, "resistance"))  # fmt: skip
    _text(drawing, (CONNECTOR, -0.62), "connector", colour=QUIET, size=SMALL)
    outer = network.outer_resistor
    end = NODE if network.topology != "T1" else PIN
    _line(drawing, (CONNECTOR - 0.3, 0), (CONNECTOR, 0))
    _resistor(drawing, (CONNECTOR, 0), (end, 0), "outer resistor",
              resistance_words(outer.value, outer.count), heavy=fault is not None)  # fmt: skip
    _terminal(drawing, (CONNECTOR, 0))
    if fault is not None:
        _text(drawing, (CONNECTOR + 0.1, 1.2), f"{fault.name}: "
              f"{quantity(abs(fault.fault_current), 'current')}",
              colour=VERMILION, align="left")  # fmt: skip
    inner = network.inner_resistor
    if network.topology != "T1":
        _dot(drawing, (NODE, 0))
        if inner is None:
            _line(drawing, (NODE, 0), (PIN, 0))
        else:
            _resistor(drawing, (NODE, 0), (PIN, 0), "inner resistor",
                      resistance_words(inner.value, inner.count))  # fmt: skip
    _dot(drawing, (PIN, 0))
    _text(drawing, (PIN - 0.12, 0.3), "pin", colour=QUIET, size=SMALL, align="right")
    _amplifier(drawing, (PIN, 0), "amplifier")
    error = check.judgements[0] if check.judgements else None
    if error is not None:
        words = quantity(error.error, "voltage", signed=True)
        _text(drawing, (END, 0.74), "error at the pin", colour=QUIET, size=SMALL, align="right")
        _text(drawing, (END, 0.42), words, align="right")


def _source(drawing: Any, signal: str) -> None:
    drawing += _elements().Source().at((SOURCE, -2.1)).to((SOURCE, 0))
    _line(drawing, (SOURCE, -2.1), (SOURCE, 0))
    drawing += _elements().Ground().at((SOURCE, -2.1))
    _text(drawing, (SOURCE + 0.72, -1.0), signal, align="left")
    _text(drawing, (SOURCE + 0.72, -1.32), "signal", colour=QUIET, size=SMALL, align="left")


def _draw_rail_clamps(drawing: Any, check: CheckResult, fault: FaultCase | None) -> None:
    """A clamp to each rail; cathode towards the positive one."""
    clamp = check.clamp
    assert clamp is not None
    upper = fault is not None and fault.voltage > 0
    lower = fault is not None and fault.voltage < 0
    _diode(drawing, (NODE, 0), (NODE, TOP), lead_names(clamp), heavy=upper)
    _diode(drawing, (NODE, BOTTOM), (NODE, 0), lead_names(clamp), heavy=lower)
    places = {place.side: place for place in clamp.places}
    for side, y in (("upper", TOP - 0.4), ("lower", -1.05)):
        if side in places:
            _clamp_words(drawing, (NODE + 0.5, y), clamp, places[side])
    _node_voltage(drawing, check, (NODE + 0.15, -0.62), "left")


def _draw_chip_junctions(drawing: Any, fault: FaultCase | None) -> None:
    """The amplifier's own junctions at the pin, which clamp when nothing else does."""
    upper = fault is not None and fault.voltage > 0
    lower = fault is not None and fault.voltage < 0
    _diode(drawing, (PIN, 0), (PIN, TOP), None, heavy=upper)
    _diode(drawing, (PIN, BOTTOM), (PIN, 0), None, heavy=lower)
    _text(drawing, (PIN - 0.45, -1.1), "the chip's own", colour=QUIET, size=SMALL, align="right")
    _text(drawing, (PIN - 0.45, -1.4), "junctions", colour=QUIET, size=SMALL, align="right")


def _draw_guard(drawing: Any, check: CheckResult, fault: FaultCase | None) -> None:
    """Antiparallel pair from the clamp node to a guard that follows the signal."""
    clamp, network = check.clamp, check.design.network
    upper, lower = -0.35, GUARD + 0.35
    for x, (start, end) in (
        (NODE - 0.55, ((0, upper), (0, lower))),
        (NODE + 0.55, ((0, lower), (0, upper))),
    ):
        heavy = fault is not None and ((fault.voltage > 0) == (x < NODE))
        ends = lead_names(clamp) if clamp else None
        _diode(drawing, (x, start[1]), (x, end[1]), ends, heavy=heavy, outward=x < NODE)
    for y in (upper, lower):
        _line(drawing, (NODE - 0.55, y), (NODE + 0.55, y))
    _line(drawing, (NODE, 0), (NODE, upper), heavy=fault is not None)
    _line(drawing, (NODE, lower), (NODE, GUARD), heavy=fault is not None)
    _dot(drawing, (NODE, GUARD))
    guard = network.guard_resistor
    words = resistance_words(guard.value, guard.count) if guard else ""
    out = PIN - 0.4
    if guard:
        _resistor(drawing, (NODE, GUARD), (out, GUARD), "", "", heavy=fault is not None)
        _text(drawing, ((NODE + out) / 2, GUARD - 0.62), f"guard resistor {words}")
    else:
        _line(drawing, (NODE, GUARD), (out, GUARD), heavy=fault is not None)
    _guard_follower(drawing, out)
    _text(drawing, (NODE - 0.15, GUARD - 0.28), "guard", colour=QUIET, size=SMALL, align="right")
    if clamp is not None:
        _pair_words(drawing, (CONNECTOR - 0.6, -1.3), clamp)
    _node_voltage(drawing, check, (NODE, 0.25), "center")


def _guard_follower(drawing: Any, out: float) -> None:
    """A triangle that looks back to the guard; its input is the pin."""
    _triangle(drawing, (out, GUARD), (out + 1.3, GUARD + 0.6), (out + 1.3, GUARD - 0.6))
    _text(drawing, (out + 0.86, GUARD - 0.11), "× 1")
    _text(drawing, (PIN + 1.95, GUARD + 0.1), "guard", colour=QUIET, size=SMALL, align="left")
    _text(drawing, (PIN + 1.95, GUARD - 0.18), "follower", colour=QUIET, size=SMALL, align="left")
    _line(drawing, (out + 0.9, GUARD - 0.42), (out + 0.9, GUARD - GUARD_RAIL))
    turn = out + 1.75
    _line(drawing, (out + 1.3, GUARD), (turn, GUARD))
    _line(drawing, (turn, GUARD), (turn, GUARD + 0.85))
    _line(drawing, (turn, GUARD + 0.85), (PIN, GUARD + 0.85))
    _line(drawing, (PIN, GUARD + 0.85), (PIN, 0))


def _draw_rails(drawing: Any, check: CheckResult) -> None:
    rails, guarded = check.design.rails, check.design.network.topology == "T5"
    bottom = GUARD - GUARD_RAIL if guarded else BOTTOM
    start = NODE - 0.8
    top = GUARDED_TOP if guarded else TOP
    for y, value in ((top, rails.positive), (bottom, rails.negative)):
        _line(drawing, (start, y), (END, y))
        words = nominal(value, "voltage", signed=True)
        _text(drawing, (start - 0.12, y - 0.1), words, align="right")
    _line(drawing, (PIN + 0.95, 0.55), (PIN + 0.95, top))
    below = PIN + 1.65 if guarded else PIN + 0.95
    _line(drawing, (below, -0.22 if guarded else -0.55), (below, bottom))


def _clamp_words(drawing: Any, place: Place, clamp: ClampSummary, where: ClampPlace) -> None:
    """Part, sits at and leakage beside one clamp."""
    _column(drawing, place, [
        (_short(f"{clamp.part} {clamp.wiring}"), INK, TEXT),
        (f"sits at {_sits_at(where)}", INK, TEXT),
        *_leak_lines(clamp, where),
    ])  # fmt: skip


def _pair_words(drawing: Any, place: Place, clamp: ClampSummary) -> None:
    """Part of an antiparallel pair; what both have in common is said once."""
    lines = [(_short(f"{clamp.part} {clamp.wiring}"), INK, TEXT)]
    seen: set[str] = set()
    for where in clamp.places:
        words = f"each sits at {quantity(abs(where.sits_at), 'voltage')}"
        if words not in seen:
            lines += [(words, INK, TEXT), *_leak_lines(clamp, _leakiest(clamp, where))]
        seen.add(words)
    _column(drawing, place, lines)


def _leakiest(clamp: ClampSummary, place: ClampPlace) -> ClampPlace:
    """Of the clamps that sit at the same voltage either way round, the one that leaks most."""
    same = [p for p in clamp.places if math.isclose(abs(p.sits_at), abs(place.sits_at))]
    return max(same or [place], key=lambda p: abs(p.leakage))


def _sits_at(place: ClampPlace) -> str:
    """Anode minus cathode in words: reverse when negative."""
    way = "reverse" if place.sits_at < 0 else "forward"
    return f"{quantity(abs(place.sits_at), 'voltage')} {way}"


def _leak_lines(clamp: ClampSummary, place: ClampPlace) -> list[Line]:
    ends = sorted((abs(place.leakage_low), abs(place.leakage_high)))
    if place.leakage_low < 0 < place.leakage_high:
        ends[0] = 0.0
    low, high = (quantity(end, "current") for end in ends)
    leakage = by_basis(quantity(abs(place.leakage), "current"), clamp.leakage_basis)
    return [
        (f"leaks {leakage}", INK, TEXT),
        (f"{low} … {high}, {clamp.leakage_basis}", QUIET, SMALL),
    ]


def _short(words: str) -> str:
    return shorten(words, 24, placeholder="…")


def _column(drawing: Any, place: Place, lines: list[Line]) -> None:
    for row, (words, colour, size) in enumerate(lines):
        _text(drawing, (place[0], place[1] - 0.33 * row), words, colour=colour, size=size,
              align="left")  # fmt: skip


def _node_voltage(drawing: Any, check: CheckResult, place: Place, align: str) -> None:
    words = quantity(_corner(check).signal, "voltage", signed=True)
    _text(drawing, place, words, size=SMALL, align=align)


def _amplifier(drawing: Any, pin: Place, name: str) -> None:
    left = pin[0] + 0.35
    _line(drawing, pin, (left, pin[1]))
    _triangle(drawing, (left + 1.75, pin[1]), (left, pin[1] + 0.85), (left, pin[1] - 0.85))
    _text(drawing, (left + 0.08, pin[1] - 0.1), name, size=SMALL, align="left")
    _line(drawing, (left + 1.75, pin[1]), (END, pin[1]))


def _resistor(
    drawing: Any, start: Place, end: Place, name: str, value: str, *, heavy: bool = False
) -> None:
    drawing += _heavy(_elements().ResistorIEC().at(start).to(end), heavy)
    middle = (start[0] + end[0]) / 2
    _text(drawing, (middle, start[1] + 0.42), value)
    _text(drawing, (middle, start[1] + 0.74), name, colour=QUIET, size=SMALL)


def _diode(
    drawing: Any,
    anode: Place,
    cathode: Place,
    ends: tuple[str, str] | None,
    *,
    heavy: bool = False,
    outward: bool = False,
) -> None:
    """A junction from anode to cathode with its lead names where the leads are."""
    drawing += _heavy(_elements().Diode(fill=False).at(anode).to(cathode), heavy)
    _line(drawing, anode, cathode, heavy=heavy)
    if ends is None:
        return
    up = 1 if cathode[1] > anode[1] else -1
    middle = (anode[1] + cathode[1]) / 2
    side, align = (-0.3, "right") if outward else (0.3, "left")
    if not outward and abs(anode[1] - cathode[1]) > 2:
        side, align = -0.3, "right"
    for words, y in ((ends[0], middle - up * 0.5), (ends[1], middle + up * 0.5)):
        _text(drawing, (anode[0] + side, y - 0.09), words, size=SMALL, align=align)


def _heavy(element: Any, heavy: bool) -> Any:
    return element.linewidth(THICK).color(VERMILION) if heavy else element


def _line(drawing: Any, start: Place, end: Place, *, heavy: bool = False) -> None:
    drawing += _heavy(_elements().Line().at(start).to(end), heavy)


def _triangle(drawing: Any, *corners: Place) -> None:
    for start, end in zip(corners, (*corners[1:], corners[0]), strict=True):
        _line(drawing, start, end)


def _dot(drawing: Any, place: Place) -> None:
    drawing += _elements().Dot(radius=0.06).at(place)


def _elements() -> Any:
    import schemdraw.elements

    return schemdraw.elements


def _terminal(drawing: Any, place: Place) -> None:
    drawing += _elements().Dot(open=True, radius=0.09).at(place)


def _text(
    drawing: Any,
    place: Place,
    words: str,
    *,
    colour: str = INK,
    size: float = TEXT,
    align: str = "center",
) -> None:
    """One line of text with its base line at `place`; the words are escaped for SVG."""
    drawing += (
        _elements()
        .Label()
        .at(place)
        .label(
            escape(words),
            loc="center",
            halign=align,
            valign="base",
            fontsize=size,
            color=colour,
            ofst=0,
        )
    )


def _words(check: CheckResult) -> str:
    """The drawing in sentences, for who cannot see it."""
    network = check.design.network
    outer = resistance_words(network.outer_resistor.value, network.outer_resistor.count)
    parts = [f"Source, outer resistor {outer}"]
    if check.clamp is not None:
        to = "a guard that follows the signal" if network.topology == "T5" else "the supply rails"
        anode, cathode = lead_names(check.clamp)
        sits = " and ".join(dict.fromkeys(_sits_at(place) for place in check.clamp.places))
        parts.append(
            f"clamp node with {check.clamp.part}, anode {anode}, cathode {cathode}, to {to}, "
            f"sits at {sits}"
        )
    if network.inner_resistor is not None:
        parts.append(f"inner resistor {resistance_words(network.inner_resistor.value, 1)}")
    return ", ".join([*parts, "amplifier"]) + "."
