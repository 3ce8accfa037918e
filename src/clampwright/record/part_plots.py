"""Curves of one wiring: against voltage, temperature and light; each returns the figure.

Solid line where readings reach, dotted beyond them, band for 95 %, hatched where the class alone
speaks.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from clampwright.quantities import ZERO_CELSIUS
from clampwright.record.leakage_plot import (
    WIDEST_BAND,
    evidence_mark,
    temperature_axis,
)
from clampwright.record.look import (
    BLUE,
    INK,
    QUIET,
    SERIES,
    SHADE,
    WIDTH,
    engineering_ticks,
    grid,
    in_our_look,
    new_axes,
)
from clampwright.record.part_ruler import room_points
from clampwright.record.words import nominal, quantity
from clampwright.verdict.part_view import (
    COMPARED_VOLTAGE,
    NEAR_ZERO,
    Curve,
    CurvePoint,
    Kind,
    LitPoint,
    WiringView,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Panels = tuple["Axes", "Axes", "Axes"]
EDGE = 2.0  # [K] how far a solid line reaches past a reading, so that a single one shows
MOST_TICKS = 5  # on each side of a signed-log axis
FRAMED_BAND = 10.0  # around 0 V the frame ends at this multiple of the line


def curve_of(view: WiringView, against: Kind) -> Curve:
    """The curve of a wiring against one thing."""
    return next(curve for curve in view.curves if curve.against == against)


@in_our_look
def voltage_plot(view: WiringView) -> Figure:
    """Current into the anode: reverse and forward on signed-log axes, ±10 mV on a plain one."""
    figure, panels = _three_panels()
    points = curve_of(view, "voltage").points
    reverse, near, forward = (
        [p for p in points if p.voltage <= 0],
        [p for p in points if abs(p.voltage) <= 1.0001 * NEAR_ZERO],
        [p for p in points if p.voltage >= 0],
    )
    linear = _linear_region(near)
    for axes, some in zip(panels, (reverse, near, forward), strict=True):
        where = [p.voltage for p in some]
        _band(axes, where, some, assumed=_of_class(view))
        solid = _measured_reach(view)
        if solid is not None and any(text.startswith("ideality") for text in view.known):
            solid = (solid[0], NEAR_ZERO)
        _line(axes, where, some, None if axes is panels[2] else solid)
    for axes, some in ((panels[0], reverse), (panels[2], forward)):
        _signed_log(axes, some, linear)
    for point in room_points(view):
        if point.basis == "measured":
            ends = (-point.high, -point.low)
            panels[0].plot([-point.voltage] * 2, ends, color=INK, linewidth=1.6, zorder=4)
            panels[0].plot([-point.voltage], [-point.leakage], "o", color=INK, markersize=4.5)
    _near_axes(panels[1], view)
    for axes, words in zip(panels, ("reverse", "±10 mV, plain axes", "forward"), strict=True):
        axes.set_title(words, loc="left", fontsize=8.5, color=INK, fontweight="bold")
        engineering_ticks(axes, "x", "voltage", signed=True)
    panels[1].set_xlabel("anode minus cathode")
    panels[0].set_ylabel("current into the anode")
    return figure


@in_our_look
def temperature_plot(view: WiringView) -> Figure:
    """Reverse leakage at 5 V in the dark, evidence over prediction, °C below and 1/kT above."""
    figure, axes = new_axes(3.2)
    axes.set_yscale("log")
    curve = [p for p in curve_of(view, "temperature").points if p.current > 0]
    where = [p.temperature - ZERO_CELSIUS for p in curve]
    measured = [p.temperature - ZERO_CELSIUS for p in view.evidence if p.basis == "measured"]
    _band(axes, where, curve, assumed=_of_class(view))
    solid = (min(measured) - EDGE, max(measured) + EDGE) if measured else None
    _line(axes, where, curve, solid)
    _beside(axes, COMPARED_VOLTAGE, where[-1], curve[-1].current, BLUE)
    others = sorted({p.voltage for p in view.evidence} - {COMPARED_VOLTAGE})
    colours = {COMPARED_VOLTAGE: BLUE} | dict(zip(others, 3 * SERIES[1:], strict=False))
    for point in view.evidence:
        if math.isfinite(point.high) and point.high > 0:
            evidence_mark(axes, point, colours[point.voltage])
    for voltage, basis in sorted({(p.voltage, p.basis) for p in view.evidence}):
        alike = [p for p in view.evidence if (p.voltage, p.basis) == (voltage, basis)]
        last = max(alike, key=lambda p: p.temperature)
        if (voltage, basis) != (COMPARED_VOLTAGE, "measured"):
            height = last.leakage if basis in ("measured", "typical") else last.high
            kind = "" if basis == "measured" else basis
            _beside(axes, voltage, last.temperature - ZERO_CELSIUS, height, colours[voltage], kind)
    grid(axes, "both")
    _current_decades(axes)
    axes.set_xlabel("junction temperature / °C")
    axes.set_ylabel("reverse leakage, dark")
    axes.margins(x=0.03, y=0.12)
    temperature_axis(axes, beside=0.08)
    return figure


@in_our_look
def light_plot(view: WiringView) -> Figure:
    """Reverse leakage at 5 V and 23 °C against illuminance, with the dark level across."""
    from matplotlib.ticker import NullLocator

    figure, axes = new_axes(2.8)
    axes.set_xscale("log")
    axes.set_yscale("log")
    points = [p for p in curve_of(view, "light").points if p.current > 0]
    known = any(words.startswith("photocurrent") for words in view.known)
    where = [p.illuminance for p in points]
    _band(axes, where, points, assumed=not known)
    _line(axes, where, points, None)
    if view.leakage is not None and view.leakage > 0:
        axes.axhline(view.leakage, color=INK, linewidth=1.0, linestyle=(0, (6, 3)), zorder=3)
        axes.annotate(
            f"dark, {quantity(view.leakage, 'current')}", (0.995, view.leakage),
            xycoords=("axes fraction", "data"), xytext=(0, 4), textcoords="offset points",
            ha="right", color=INK,
        )  # fmt: skip
    for point in view.lit:
        _lit_mark(axes, point)
    grid(axes, "both")
    _current_decades(axes)
    engineering_ticks(axes, "x", "illuminance")
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xlabel("illuminance")
    axes.set_ylabel("reverse leakage")
    return figure


def _lit_mark(axes: Axes, point: LitPoint) -> None:
    """One reading in light: a dot with its bar, or an arrow down from the bound."""
    if point.high <= 0:
        return
    where = point.illuminance
    if point.basis == "not detected" or point.leakage <= 0:
        axes.annotate(
            "", xy=(where, point.high / 3), xytext=(where, point.high),
            arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.2, "shrinkA": 0},
        )  # fmt: skip
        axes.plot([where], [point.high], marker="_", color=INK, markersize=9, markeredgewidth=1.6)
        return
    ends = [max(point.low, point.leakage / 100), point.high]
    axes.plot([where, where], ends, color=INK, linewidth=1.6, zorder=4)
    axes.plot([where], [point.leakage], "o", color=INK, markersize=4.5, zorder=5)
    if point.voltage != COMPARED_VOLTAGE:
        _beside(axes, point.voltage, where, point.leakage, INK)


def _three_panels() -> tuple[Figure, Panels]:
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, 2.9), layout="constrained")
    panels = figure.subplots(1, 3, width_ratios=(1.25, 1.0, 1.25))
    for axes in panels:
        axes.set_axisbelow(True)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
    return figure, tuple(panels)


def _of_class(view: WiringView) -> bool:
    """Whether the magnitude rests on the class alone; a maximum bounds and never estimates."""
    return view.basis in ("assumed", "maximum")


def _measured_reach(view: WiringView) -> tuple[float, float] | None:
    """From the largest reverse voltage (V) with a reading to zero; None without one."""
    measured = [p.voltage for p in view.evidence if p.basis == "measured"]
    return (-max(measured), 0.0) if measured else None


def _beside(axes: Axes, voltage: float, x: float, y: float, colour: str, kind: str = "") -> None:
    """Kind and reverse voltage of a line or of marks, written to the right of them."""
    axes.annotate(
        f"{kind} at {nominal(voltage, 'voltage')}".strip(), (x, y), xytext=(9, 0),
        textcoords="offset points", va="center", color=colour, fontweight="bold", fontsize=8,
    )  # fmt: skip


def _linear_region(near: list[CurvePoint]) -> float:
    """Half width (A) of the plain middle of a signed-log axis: the decade below I at 10 mV."""
    sizes = [abs(p.current) for p in near if p.current != 0]
    return float(10.0 ** math.floor(math.log10(max(sizes)))) if sizes else 1e-15


def _band(axes: Axes, where: list[float], points: list[CurvePoint], *, assumed: bool) -> None:
    """The 95 % interval, hatched where assumed, cut where it would flatten the picture."""
    low = [_within(p.low, p.current) for p in points]
    high = [_within(p.high, p.current) for p in points]
    axes.fill_between(where, low, high, facecolor=BLUE, alpha=0.15, linewidth=0, zorder=1)
    if assumed:
        axes.fill_between(
            where, low, high, facecolor="none", edgecolor=BLUE, alpha=0.45, hatch="////",
            linewidth=0, zorder=1,
        )  # fmt: skip


def _within(end: float, middle: float) -> float:
    """One end of a band, no further than WIDEST_BAND from its middle."""
    if middle == 0:
        return 0.0
    ratio = min(max(end / middle, 1 / WIDEST_BAND), WIDEST_BAND)
    return middle * ratio


def _line(
    axes: Axes, where: list[float], points: list[CurvePoint], solid: tuple[float, float] | None
) -> None:
    """Dotted all along, solid from one end to the other of what the readings cover."""
    current = [p.current for p in points]
    axes.plot(where, current, color=BLUE, linewidth=1.2, linestyle=(0, (1, 1.6)), zorder=2)
    if solid is not None:
        inside = [(x, y) for x, y in zip(where, current, strict=True) if solid[0] <= x <= solid[1]]
        if inside:
            axes.plot(*zip(*inside, strict=True), color=BLUE, linewidth=1.6, zorder=3)


def _signed_log(axes: Axes, points: list[CurvePoint], linear: float) -> None:
    """A signed-log axis of current whose plain middle is shaded and named."""
    ends = [p.current for p in points] + [_within(p.low, p.current) for p in points]
    low, high = min(ends), max(ends)
    decades = math.log10(max(high, -low, 10 * linear) / linear)
    axes.set_yscale("symlog", linthresh=linear, linscale=0.5 + decades / 8)
    axes.axhspan(-linear, linear, color=SHADE, linewidth=0, zorder=0)
    axes.set_yticks([*_ticks(-low, linear, -1), 0.0, *_ticks(high, linear, 1)])
    axes.set_ylim(min(1.6 * low, -1.15 * linear), max(1.6 * high, 1.15 * linear))
    axes.annotate(
        "linear region", (0.5, 0.0), xycoords=("axes fraction", "data"), ha="center", va="center",
        fontsize=7, color=QUIET, zorder=1,
    )  # fmt: skip
    engineering_ticks(axes, "y", "current", signed=True)
    axes.minorticks_off()
    grid(axes, "y")


def _ticks(furthest: float, linear: float, sign: int) -> list[float]:
    """Decades from the linear region outward, thinned to MOST_TICKS."""
    if furthest <= linear:
        return []
    decades = max(1, math.ceil(math.log10(furthest / linear)))
    step = math.ceil(decades / MOST_TICKS)
    exponent = round(math.log10(linear))
    ticks = [float(f"{sign}e{exponent + k}") for k in range(0, decades + 1, step)]
    return ticks if sign > 0 else ticks[::-1]


def _near_axes(axes: Axes, view: WiringView) -> None:
    """The slope at zero, written where it is read."""
    axes.axhline(0.0, color=QUIET, linewidth=0.6, zorder=0)
    axes.axvline(0.0, color=QUIET, linewidth=0.6, zorder=0)
    axes.set_xticks([-NEAR_ZERO, 0.0, NEAR_ZERO])
    near = [p for p in curve_of(view, "voltage").points if abs(p.voltage) <= 1.0001 * NEAR_ZERO]
    line = max(abs(p.current) for p in near)
    widest = max(max(abs(p.low), abs(p.high)) for p in near)
    height = 1.1 * min(widest, FRAMED_BAND * line)  # a wider band leaves the frame, it is not cut
    axes.set_ylim(-height, height)
    grid(axes, "both")
    engineering_ticks(axes, "y", "current", signed=True)
    if view.zero_bias_resistance is not None and math.isfinite(view.zero_bias_resistance):
        axes.annotate(
            f"slope at 0 V:\n{quantity(view.zero_bias_resistance, 'resistance')}", (0.04, 0.97),
            xycoords="axes fraction", va="top", fontsize=8,
        )  # fmt: skip


def _current_decades(axes: Axes) -> None:
    from matplotlib.ticker import LogLocator, NullLocator

    low, high = axes.get_ylim()
    middle = math.sqrt(low * high)
    axes.set_ylim(min(low, middle / 12), max(high, middle * 12))  # two decades at the least
    axes.yaxis.set_major_locator(LogLocator(numticks=9))
    axes.yaxis.set_minor_locator(NullLocator())
    engineering_ticks(axes, "y", "current")
