"""The picoampere ruler: every wiring of a part on one logarithmic axis of leakage.

A band is the law's 95 % interval at 5 V and 23 °C, hatched where it rests on the class alone.
Marks stand for figures and for readings near 23 °C, each at its own voltage.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from clampwright.record.look import (
    BLUE,
    INK,
    PAPER,
    QUIET,
    engineering_ticks,
    folded,
    grid,
    in_our_look,
    new_axes,
)
from clampwright.record.part_rows import COMPARED, known_as, usable
from clampwright.record.words import nominal
from clampwright.verdict.part_view import COMPARED_VOLTAGE, ROOM, PartResult, WiringView
from clampwright.verdict.results import LeakagePoint

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NEAR_ROOM = 3.0  # [K] a reading within it of 23 °C stands on the ruler
HEIGHT = 0.5  # [inch] of one wiring
BAND = 0.42  # of a row


@in_our_look
def ruler_plot(part: PartResult) -> Figure | None:
    """All usable wirings beneath each other; None when the part has none."""
    views = usable(part)
    if not views:
        return None
    figure, axes = new_axes(1.0 + HEIGHT * len(views))
    axes.set_xscale("log")
    for row, view in enumerate(views):
        _band(axes, row, view)
        for point in room_points(view):
            _mark(axes, row, point)
    axes.set_yticks(range(len(views)), [_row_label(view) for view in views])
    axes.set_ylim(len(views) - 0.4, -0.7)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    axes.set_xlim(*_ends(views))
    grid(axes, "x")
    _decades(axes)
    axes.set_xlabel(
        f"dark reverse leakage: band and tick at {COMPARED}; "
        f"marks within {NEAR_ROOM:g}\u2009K of it, at {nominal(COMPARED_VOLTAGE, 'voltage')} unless written"
    )
    return figure


def _ends(views: tuple[WiringView, ...]) -> tuple[float, float]:
    """The ruler from below the quietest band to above the largest maximum."""
    low = [v.leakage_low for v in views if v.leakage_low is not None and v.leakage_low > 0]
    high = [v.leakage_high for v in views if v.leakage_high is not None]
    marks = [p.high for view in views for p in room_points(view)]
    highest = max((x for x in (*high, *marks) if math.isfinite(x)), default=1e-6)
    return min(low, default=1e-15) / 1.5, highest * 3


def room_points(view: WiringView) -> tuple[LeakagePoint, ...]:
    """Figures and readings near 23 °C that have a place on a logarithmic axis."""
    return tuple(p for p in view.evidence if abs(p.temperature - ROOM) <= NEAR_ROOM and p.high > 0)


def _row_label(view: WiringView) -> str:
    return f"{folded(view.name, 22)}\n{known_as(view)}"


def _band(axes: Axes, row: int, view: WiringView) -> None:
    low, high, middle = view.leakage_low, view.leakage_high, view.leakage
    if low is None or high is None or middle is None or not 0 < low <= high < math.inf:
        return
    assumed = view.basis in ("assumed", "maximum")
    axes.barh(
        row, high - low, left=low, height=BAND, facecolor="none" if assumed else BLUE,
        edgecolor=QUIET if assumed else "none", hatch="////" if assumed else None,
        alpha=0.9 if assumed else 0.22, linewidth=0, zorder=1,
    )  # fmt: skip
    colour = QUIET if assumed else BLUE
    axes.plot([middle] * 2, [row - BAND / 2, row + BAND / 2], color=colour, linewidth=1.6, zorder=2)


def _mark(axes: Axes, row: int, point: LeakagePoint) -> None:
    """One figure or reading by its kind, as on every chart but lying on its side."""
    if point.basis == "maximum":
        axes.plot([point.high], [row], marker="|", color=INK, markersize=15, markeredgewidth=2.2)
        _label(axes, point.high, row, f"maximum at {nominal(point.voltage, 'voltage')}", 12)
        return
    if point.basis == "not detected" or point.leakage <= 0:
        axes.annotate(
            "", xy=(point.high / 4, row), xytext=(point.high, row),
            arrowprops={"arrowstyle": "-|>", "color": INK, "linewidth": 1.2, "shrinkA": 0},
        )  # fmt: skip
        axes.plot([point.high], [row], marker="|", color=INK, markersize=9, markeredgewidth=1.6)
        _label(axes, point.high, row, "not detected", 8)
        return
    filling = PAPER if point.basis == "typical" else INK
    ends = [max(point.low, point.leakage / 100), point.high]
    axes.plot(ends, [row, row], color=INK, linewidth=1.6, zorder=4)
    axes.plot([point.leakage], [row], marker="o", color=INK, markerfacecolor=filling,
              markersize=5.5, zorder=5)  # fmt: skip
    own = "" if point.voltage == COMPARED_VOLTAGE else f" at {nominal(point.voltage, 'voltage')}"
    if own or point.basis == "typical":
        _label(axes, point.leakage, row, f"{point.basis}{own}", 8)


def _label(axes: Axes, where: float, row: int, words: str, above: float) -> None:
    axes.annotate(
        words, (where, row), xytext=(0, above), textcoords="offset points", ha="center",
        fontsize=7, color=INK,
    )  # fmt: skip


def _decades(axes: Axes) -> None:
    """Decade lines, every one labelled while there is room."""
    from matplotlib.ticker import LogLocator, NullLocator

    axes.xaxis.set_major_locator(LogLocator(numticks=12))
    axes.xaxis.set_minor_locator(NullLocator())
    engineering_ticks(axes, "x", "current")
