"""Symbols of a circuit drawing after IEC 60617, each drawn between two places by one pen.

Places are (x, y) in drawing units of 36 pt; a heavy line marks the path of a fault.
"""

from __future__ import annotations

import math
import sys
from functools import cache
from html import escape
from itertools import pairwise
from typing import Any, Literal

from clampwright.record.look import INK, PAPER, QUIET, VERMILION

Place = tuple[float, float]
Align = Literal["left", "center", "right"]

TEXT = 8.0  # [pt]
SMALL = 7.0  # [pt]
THIN, THICK = 1.1, 3.0  # [pt]
LABEL_OFFSET = 0.1  # by which the drawing library shifts every label to the right
REPAIRS = (  # what the drawing library writes that is no valid style, or not of our paper
    ("fill:false", "fill:none"),
    ("fill:white", f"fill:{PAPER}"),
    ("stroke-dasharray:-;", ""),
)


@cache
def _drawing_library() -> Any:
    """schemdraw without its matplotlib half, which takes five times as long to load and draws nothing here.

    A module that is None in `sys.modules` counts as not installed, and the library then goes without.
    """
    left_out = "schemdraw.backends.mpl"
    absent = left_out not in sys.modules
    if absent:
        sys.modules[left_out] = None  # type: ignore[assignment]
    import schemdraw
    import schemdraw.elements

    if absent:
        del sys.modules[left_out]
    return schemdraw


class Pen:
    """Draws symbols, lines and text on one drawing; keep it open with `with`.

    schemdraw keeps "text stays text" in a module-wide setting, which is put back afterwards.
    """

    def __enter__(self) -> Pen:
        schemdraw = _drawing_library()
        self._before = schemdraw.svgconfig.text
        schemdraw.svgconfig.text = "text"
        self._elements: Any = schemdraw.elements
        self._drawing = schemdraw.Drawing(show=False, canvas="svg")
        self._drawing.config(unit=2, fontsize=TEXT, font="DejaVu Sans", color=INK, lw=THIN)
        return self

    def __exit__(self, *_: object) -> None:
        _drawing_library().svgconfig.text = self._before

    def svg(self) -> str:
        """The drawing so far, with valid styles."""
        text: str = self._drawing.get_imagedata("svg").decode()
        for wrong, right in REPAIRS:
            text = text.replace(wrong, right)
        return text

    def _add(self, element: Any, heavy: bool = False) -> None:
        self._drawing += element.linewidth(THICK).color(VERMILION) if heavy else element

    def line(self, *places: Place, heavy: bool = False, dashed: bool = False) -> None:
        """Straight lines from place to place."""
        for start, end in pairwise(places):
            element = self._elements.Line().at(start).to(end)
            self._add(element.linestyle("--").color(QUIET) if dashed else element, heavy)

    def dot(self, place: Place) -> None:
        """A joint."""
        self._add(self._elements.Dot(radius=0.06).at(place))

    def terminal(self, place: Place) -> None:
        """A connector."""
        self._add(self._elements.Dot(open=True, radius=0.09).at(place))

    def ground(self, place: Place) -> None:
        """Earth of the circuit."""
        self._add(self._elements.Ground().at(place))

    def text(
        self, place: Place, words: str, *, size: float = TEXT, quiet: bool = False,
        align: Align = "center", colour: str = "",
    ) -> None:  # fmt: skip
        """One line of text just above `place`; the words are escaped for SVG."""
        label = self._elements.Label().at((place[0] - LABEL_OFFSET, place[1])).theta(0)
        self._add(
            label.label(
                escape(words), loc="center", halign=align, valign="base", fontsize=size, ofst=0,
                color=colour or (QUIET if quiet else INK),
            )
        )  # fmt: skip

    def resistor(self, start: Place, end: Place, *, heavy: bool = False) -> None:
        """A rectangle."""
        self._add(self._elements.ResistorIEC().at(start).to(end), heavy)

    def fuse(self, start: Place, end: Place, *, heavy: bool = False) -> None:
        """A rectangle with the wire through it."""
        self.resistor(start, end, heavy=heavy)
        self.line(start, end, heavy=heavy)

    def contact(self, start: Place, end: Place, *, heavy: bool = False) -> None:
        """A make contact: the blade stands off its end."""
        middle = (start[0] + end[0]) / 2
        left, right = (middle - 0.45, start[1]), (middle + 0.45, start[1])
        self.line(start, left, heavy=heavy)
        self.line(left, (right[0] - 0.05, start[1] + 0.36), heavy=heavy)
        self.line(right, end, heavy=heavy)

    def limiter(self, start: Place, end: Place, *, heavy: bool = False) -> None:
        """A box with the curve of a current that stops growing."""
        y, middle = start[1], (start[0] + end[0]) / 2
        left, right = middle - 0.55, middle + 0.55
        self.line(start, (left, y), heavy=heavy)
        self.line((right, y), end, heavy=heavy)
        self.box((left, y - 0.38), (right, y + 0.38))
        curve = [(-0.42, -0.2), (-0.2, -0.2), (0.2, 0.2), (0.42, 0.2)]
        self.line(*((middle + x, y + rise) for x, rise in curve))

    def box(self, low: Place, high: Place, *, dashed: bool = False) -> None:
        """A rectangle between two corners."""
        (left, bottom), (right, top) = low, high
        corners = ((left, bottom), (right, bottom), (right, top), (left, top), (left, bottom))
        self.line(*corners, dashed=dashed)

    def capacitor(self, start: Place, end: Place, *, heavy: bool = False) -> None:
        """Two plates."""
        self._add(self._elements.Capacitor().at(start).to(end), heavy)

    def source(self, low: Place, high: Place, *, current: bool = False) -> None:
        """An ideal source: the wire passes a voltage source and crosses out a current source."""
        middle = (low[1] + high[1]) / 2
        self._add(self._elements.Source().at(low).to(high))
        if current:
            self.line((low[0] - 0.5, middle), (low[0] + 0.5, middle))
        else:
            self.line(low, high)

    def junction(self, anode: Place, cathode: Place, *, heavy: bool = False) -> None:
        """A diode with the wire through it."""
        self._add(self._elements.Diode(fill=False).at(anode).to(cathode), heavy)
        self.line(anode, cathode, heavy=heavy)

    def zener(self, anode: Place, cathode: Place, *, heavy: bool = False) -> None:
        """A diode used in its breakdown."""
        self._add(self._elements.Zener(fill=False).at(anode).to(cathode), heavy)
        self.line(anode, cathode, heavy=heavy)

    def suppressor(self, start: Place, end: Place, *, heavy: bool = False) -> None:
        """Two breakdown diodes against each other."""
        self._add(self._elements.DiodeTVS(fill=False).at(start).to(end), heavy)
        self.line(start, end, heavy=heavy)

    def tube(self, start: Place, end: Place, *, heavy: bool = False) -> None:
        """A gas tube, upright: two electrodes in a circle, the dot says that there is gas."""
        x, middle = start[0], (start[1] + end[1]) / 2
        up = math.copysign(1.0, end[1] - start[1])
        low, high = (start, end) if up > 0 else (end, start)
        self._add(self._elements.Source().at(low).to(high), heavy)
        for outer, inner in ((start, middle - 0.14 * up), (end, middle + 0.14 * up)):
            self.line(outer, (x, inner), heavy=heavy)
            self.line((x - 0.22, inner), (x + 0.22, inner), heavy=heavy)
        self._add(self._elements.Dot(radius=0.05).at((x + 0.31, middle)))

    def triangle(self, tip: Place, upper: Place, lower: Place) -> None:
        """An amplifier."""
        self.line(tip, upper, lower, tip)

    def rail(self, place: Place, *, half: float = 0.45) -> None:
        """A short bar: a supply rail that runs elsewhere."""
        self.line((place[0] - half, place[1]), (place[0] + half, place[1]))
