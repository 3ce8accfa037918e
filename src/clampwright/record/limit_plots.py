"""The two pictures of limits: the window of the series resistor and stress against rating."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from clampwright.record.fault_cases import ShownCase, shown_cases
from clampwright.record.look import (
    BLUE,
    INK,
    OPEN,
    PAPER,
    QUIET,
    SHADE,
    VERMILION,
    engineering_ticks,
    folded,
    grid,
    in_our_look,
    new_axes,
)
from clampwright.record.wall_words import bound_words, leaves_none
from clampwright.record.words import amount, grouped, nominal, times
from clampwright.verdict.results import (
    FaultsResult,
    RankResult,
    ResistorWall,
    ResistorWindow,
    StressLine,
    Verdict,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

STRESS_LINES_SHOWN = 7


@in_our_look
def window_plot(rank: RankResult) -> Figure:
    """The allowed window of the series resistor, white between two walls that carry their names."""
    window = rank.window
    walls = [w for w in window.walls if w.value is not None]
    free = [w.name for w in window.walls if w.value is None]
    rows = len(walls) + bool(free)
    left, right = _reach(window)
    figure, axes = new_axes(0.8 + 0.25 * rows)
    axes.set_xscale("log")
    axes.set_xlim(left, right)
    axes.set_ylim(rows - 0.4, -1.15)
    end = window.maximum or right
    if window.open:
        axes.axvspan(
            max(window.minimum, left), end, facecolor=OPEN, edgecolor=INK, linewidth=1, zorder=0
        )
    for row, wall in enumerate(walls):
        _wall_bar(axes, row, wall, left, right, binding=wall.value in (window.minimum, end))
    if free:
        words = folded(f"no wall: {', '.join(free)}", 100, lines=1)
        across = axes.get_yaxis_transform()
        paper = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.2}
        axes.text(0.012, rows - 1, words, va="center", fontsize=7, color=QUIET, transform=across,
                  bbox=paper, zorder=6)  # fmt: skip
    _chosen_line(axes, window.chosen, window.open)
    engineering_ticks(axes, "x", "resistance")
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("series resistance")
    return figure


def _reach(window: ResistorWindow) -> tuple[float, float]:
    """Ends of the axis: round what matters; a wall far away is named at the edge."""
    met = [w.value for w in window.walls if not leaves_none(w)]
    places = [v for v in (window.minimum, window.maximum) if v and v in met]
    places.append(window.chosen)
    return 10.0 ** (math.log10(min(places)) - 2.6), 10.0 ** (math.log10(max(places)) + 2.4)


def _wall_bar(
    axes: Axes, row: int, wall: ResistorWall, left: float, right: float, *, binding: bool
) -> None:
    """One wall: shaded where the resistor may not be, with the name of what built it."""
    value = min(max(wall.value or left, left), right)
    below = wall.side == "minimum"
    outside = value != wall.value
    start, width = (left, value - left) if below else (value, right - value)
    axes.barh(
        [row], [width], left=[start], height=0.86, facecolor=SHADE, edgecolor=QUIET,
        hatch="///" if below else "\\\\\\", linewidth=0, zorder=1,
    )  # fmt: skip
    if outside:
        words = f"{folded(wall.name, 34, lines=1)} {bound_words(wall)}, off the picture"
        axes.annotate(words, (value, row), xytext=(4 if below else -4, 0), va="center",
                      textcoords="offset points", ha="left" if below else "right", fontsize=7,
                      color=QUIET)  # fmt: skip
        return
    axes.plot([value, value], [row - 0.43, row + 0.43], color=INK, linewidth=2.6 if binding else 1)
    axes.annotate(
        f"{folded(wall.name, 30, lines=1)}, {bound_words(wall)}",
        (value, row), xytext=(-7 if below else 7, 0), textcoords="offset points",
        ha="right" if below else "left", va="center", fontsize=7, linespacing=1.15, zorder=5,
        fontweight="bold" if binding else "normal",
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.2},
    )  # fmt: skip


def _chosen_line(axes: Axes, chosen: float, opened: bool) -> None:
    axes.axvline(chosen, color=BLUE, linewidth=1.6, zorder=3, linestyle="-" if opened else "--")
    axes.annotate(
        f"chosen {nominal(chosen, 'resistance')}" + ("" if opened else " – no open window"),
        (chosen, -0.78), xytext=(4, 0), textcoords="offset points", va="center", color=BLUE,
        fontweight="bold", fontsize=8, zorder=6,
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.2},
    )  # fmt: skip


@in_our_look
def stress_plot(faults: FaultsResult) -> Figure | None:
    """Rating over stress on a log axis; left of the line at 1 a rating is exceeded."""
    from matplotlib.ticker import LogLocator, NullLocator

    lines = _drawn_lines(shown_cases(faults))
    if not lines:
        return None
    ratios = [line.ratio for _, line in lines if line.ratio and math.isfinite(line.ratio)]
    left = min([0.3, *[r / 3 for r in ratios]])
    right = max([100.0, *[r * 1000 for r in ratios]])
    figure, axes = new_axes(0.85 + 0.2 * len(lines))
    axes.set_xscale("log")
    axes.set_xlim(left, right)
    axes.set_ylim(len(lines) - 0.4, -1.0)
    axes.axvspan(left, 1.0, facecolor=SHADE, edgecolor=QUIET, hatch="\\\\\\", linewidth=0, zorder=0)
    axes.axvline(1.0, color=INK, linewidth=1.4)
    axes.annotate("rating exceeded", (1.0, -0.72), xytext=(-5, 0), textcoords="offset points",
                  ha="right", va="center", fontsize=7.5,
                  bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.2})  # fmt: skip
    for row, (_, line) in enumerate(lines):
        _stress_mark(axes, row, line, (left, right))
    axes.set_yticks(
        range(len(lines)),
        [folded(f"{name}: {line.part}, {line.quantity}", 54) for name, line in lines],
    )
    axes.tick_params(axis="y", length=0, labelsize=7.5)
    grid(axes, "x")
    axes.xaxis.set_major_locator(LogLocator(numticks=7))
    axes.xaxis.set_major_formatter(lambda value, _: f"{grouped(value)}×")
    axes.xaxis.set_minor_locator(NullLocator())
    axes.set_xlabel("rating ÷ stress")
    return figure


def _drawn_lines(cases: list[ShownCase]) -> list[tuple[str, StressLine]]:
    """The lowest margins of every fault; unrated ones before all."""
    lines = [(case.name, line) for case in cases for line in case.lowest()]
    lines.sort(key=lambda pair: (pair[1].ratio is not None, pair[1].ratio or 0.0))
    return lines[:STRESS_LINES_SHOWN]


def _stress_mark(axes: Axes, row: int, line: StressLine, ends: tuple[float, float]) -> None:
    if line.ratio is None:
        axes.plot(
            [1.0], [row], marker="o", markersize=7, color=INK, markerfacecolor=PAPER, zorder=4
        )
        words = f"not rated; stress {amount(line.stress, line.unit)}"
        place = 1.0
    else:
        failed = line.verdict is Verdict.FAIL
        colour = VERMILION if failed else BLUE
        place = min(max(line.ratio, ends[0]), ends[1])
        axes.plot([1.0, place], [row, row], color=colour, linewidth=1.6, zorder=3)
        axes.plot([place], [row], marker="X" if failed else "o", markersize=7, color=colour,
                  markeredgecolor=INK, markeredgewidth=0.5, zorder=4)  # fmt: skip
        words = (
            f"{times(line.ratio)}  {amount(line.stress, line.unit)} of "
            f"{amount(line.rating, line.unit)}"
        )
        place = max(place, 1.0) if math.isfinite(line.ratio) else 1.0
    axes.annotate(words, (place, row), xytext=(8, 0), textcoords="offset points", va="center",
                  fontsize=7.5)  # fmt: skip
