"""The four pictures of the record; each function returns the figure and saves nothing.

Marks are the same everywhere: solid dot measured, open dot typical, cap line maximum, arrow down
from an upper bound not detected, hatched assumed, line with a band predicted.
"""

from __future__ import annotations

import math
from textwrap import wrap
from typing import TYPE_CHECKING

from clampwright.record.look import (
    BLUE,
    HAIRLINE,
    INK,
    OPEN,
    PAPER,
    QUIET,
    SERIES,
    SHADE,
    VERMILION,
    engineering_ticks,
    figure_svg,
    grid,
    in_our_look,
    new_axes,
)
from clampwright.record.words import SEVERITY, amount, grouped, nominal, quantity, ratio
from clampwright.verdict.results import (
    CheckResult,
    FaultsResult,
    Judgement,
    LeakagePoint,
    RankResult,
    ResistorWall,
    StressLine,
    Verdict,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BOLTZMANN = 8.617333262e-5  # [eV/K], CODATA 2018, for the ticks of 1/kT only
ZERO_CELSIUS = 273.15  # [K]
STRESS_LINES_SHOWN = 14
BudgetRow = tuple[str, float, float, float, str]  # name, value, low, high, how it is known

__all__ = [
    "budget_plot",
    "deciding_judgement",
    "figure_svg",
    "leakage_plot",
    "lowest_stresses",
    "stress_plot",
    "window_plot",
]


@in_our_look
def leakage_plot(check: CheckResult) -> Figure | None:
    """Leakage magnitude of the clamp against temperature, evidence over prediction.

    None when the circuit has no clamp or nothing is known about it.
    """
    clamp = check.clamp
    if clamp is None or not (clamp.points or clamp.curve):
        return None
    figure, axes = new_axes(3.3)
    axes.set_yscale("log")
    voltages = sorted({p.voltage for p in (*clamp.points, *clamp.curve)}, reverse=True)
    measured = [_celsius(p) for p in clamp.points if p.basis in ("measured", "not detected")]
    for voltage, colour in zip(voltages[:5], SERIES, strict=False):
        curve = [p for p in clamp.curve if p.voltage == voltage and p.leakage != 0]
        _predicted_line(axes, curve, measured, colour, f"at {nominal(voltage, 'voltage')}")
    for voltage, colour in zip(voltages[:5], SERIES, strict=False):
        for point in clamp.points:
            if point.voltage == voltage:
                _evidence_mark(axes, point, colour)
    grid(axes, "both")
    engineering_ticks(axes, "y", "current")
    axes.set_xlabel("board temperature / °C")
    axes.set_ylabel("leakage")
    axes.margins(x=0.03, y=0.12)
    left, right = axes.get_xlim()
    axes.set_xlim(left, right + 0.1 * (right - left))
    _inverse_temperature_axis(axes)
    return figure


def _celsius(point: LeakagePoint) -> float:
    return point.temperature - ZERO_CELSIUS


def _predicted_line(
    axes: Axes, curve: list[LeakagePoint], measured: list[float], colour: str, label: str
) -> None:
    """A law as a line with its band: dotted outside the temperatures that were measured."""
    if not curve:
        return
    where = [_celsius(p) for p in curve]
    middle = [abs(p.leakage) for p in curve]
    low = [max(min(abs(p.low), abs(p.high)), 1e-21) for p in curve]
    high = [max(abs(p.low), abs(p.high)) for p in curve]
    assumed = any(p.basis == "assumed" for p in curve)
    axes.fill_between(
        where, low, high, facecolor=colour, edgecolor=colour if assumed else "none",
        alpha=0.18, hatch="////" if assumed else None, linewidth=0, zorder=1,
    )  # fmt: skip
    axes.plot(where, middle, color=colour, linewidth=1.1, linestyle=(0, (1, 2)), zorder=2)
    if measured:
        inside = [(t, i) for t, i in zip(where, middle, strict=True)
                  if min(measured) - 3 <= t <= max(measured) + 3]  # fmt: skip
        axes.plot(
            *zip(*inside, strict=True), color=colour, linewidth=1.4, zorder=2
        ) if inside else None
    axes.annotate(
        label, (where[-1], middle[-1]), xytext=(4, 0), textcoords="offset points",
        va="center", color=colour, fontweight="bold",
    )  # fmt: skip


def _evidence_mark(axes: Axes, point: LeakagePoint, colour: str) -> None:
    """One point of evidence by its kind."""
    where, high, low = _celsius(point), max(abs(point.high), abs(point.low)), point.low
    value = abs(point.leakage)
    if point.basis == "not detected" or value == 0:
        axes.annotate(
            "", xy=(where, high / 4), xytext=(where, high),
            arrowprops={"arrowstyle": "-|>", "color": colour, "linewidth": 1.2, "shrinkA": 0},
        )  # fmt: skip
        axes.plot([where], [high], marker="_", color=colour, markersize=9, markeredgewidth=1.6)
        _mark_label(axes, where, high, "not detected", colour)
    elif point.basis == "maximum":
        axes.plot([where], [high], marker="_", color=colour, markersize=14, markeredgewidth=2.2)
        _mark_label(axes, where, high, "maximum", colour)
    elif point.basis == "typical":
        axes.plot([where], [value], marker="o", color=colour, markerfacecolor=PAPER, markersize=5.5)
        _mark_label(axes, where, value, "typical", colour)
    elif point.basis == "assumed":
        axes.bar(
            [where], [high - max(low, value / 10)], bottom=[max(low, value / 10)], width=3,
            facecolor="none", edgecolor=colour, hatch="////", linewidth=0.8,
        )  # fmt: skip
        _mark_label(axes, where, high, "assumed", colour)
    else:
        bottom = max(min(abs(point.low), abs(point.high)), value / 100) if low > 0 else value / 100
        axes.plot([where, where], [bottom, high], color=colour, linewidth=1.6, zorder=4)
        axes.plot([where], [value], marker="o", color=colour, markersize=5.5, zorder=5)


def _mark_label(axes: Axes, where: float, height: float, words: str, colour: str) -> None:
    axes.annotate(
        words, (where, height), xytext=(0, 6), textcoords="offset points", ha="center",
        fontsize=7.5, color=INK,
    )  # fmt: skip


def _inverse_temperature_axis(axes: Axes) -> None:
    """Ticks of 1/kT along the top, where an activated leakage is a straight line."""

    def to_inverse(celsius: float) -> float:
        return 1.0 / (BOLTZMANN * (celsius + ZERO_CELSIUS))

    left, right = axes.get_xlim()
    top = axes.twiny()
    top.set_xlim(left, right)
    ticks = [n for n in range(20, 61) if to_inverse(right) <= n <= to_inverse(left)]
    top.set_xticks([1.0 / (BOLTZMANN * n) - ZERO_CELSIUS for n in ticks], [str(n) for n in ticks])
    top.set_xlabel("1/kT in 1/eV", fontsize=7.5, color=QUIET)
    top.tick_params(labelsize=7.5, labelcolor=QUIET)
    for side in ("right", "left", "top"):
        top.spines[side].set_visible(False)


def deciding_judgement(check: CheckResult) -> Judgement | None:
    """The judgement to see first: worst verdict, then the largest share of the allowance."""
    return max(
        check.judgements,
        key=lambda j: (SEVERITY[j.verdict], abs(j.error) / j.allowance if j.allowance else 0.0),
        default=None,
    )


@in_our_look
def budget_plot(check: CheckResult, judgement: Judgement | None = None) -> Figure | None:
    """Terms of the error with their 95 % bars against the forbidden region, signed-log.

    judgement : which one; the deciding one by default. None when nothing was judged.
    """
    judgement = judgement or deciding_judgement(check)
    if judgement is None:
        return None
    rows: list[BudgetRow] = [(t.name, t.value, t.low, t.high, t.basis) for t in judgement.terms]
    rows.append(("together", judgement.error, judgement.low, judgement.high, "predicted"))
    figure, axes = new_axes(1.3 + 0.34 * len(rows))
    reach = _forbidden_regions(axes, judgement, rows)
    for row, (_name, value, low, high, basis) in enumerate(rows):
        _budget_bar(axes, row, value, low, high, basis)
    axes.plot([judgement.worst_case], [len(rows) - 1], marker="|", markersize=13, color=INK)
    axes.axhline(len(rows) - 1.5, color=HAIRLINE, linewidth=0.8)
    axes.set_yticks(range(len(rows)), [_folded(name, 26) for name, *_ in rows])
    axes.set_ylim(len(rows) - 0.4, -1.4)
    axes.set_xlim(-reach, reach)
    axes.tick_params(axis="y", length=0)
    axes.set_xlabel("error at the pin; bar 95 %, upright stroke worst case")
    return figure


def _forbidden_regions(axes: Axes, judgement: Judgement, rows: list[BudgetRow]) -> float:
    """Set the signed-log axis, shade beyond ± the allowance, name it; returns the axis' reach."""
    from matplotlib.ticker import FixedLocator, NullLocator

    allowance = judgement.allowance
    voltages = [abs(v) for _, value, low, high, _ in rows for v in (value, low, high)]
    largest = max(*voltages, allowance, abs(judgement.worst_case))
    linear = 10.0 ** (math.floor(math.log10(allowance)) - 2)
    reach = max(largest * 2.0, allowance * 30)
    axes.set_xscale("symlog", linthresh=linear, linscale=0.5)
    top = math.floor(math.log10(reach))
    decades = [10.0**n for n in range(round(math.log10(linear)), top + 1)]
    axes.xaxis.set_major_locator(FixedLocator([-d for d in reversed(decades)] + [0.0, *decades]))
    axes.xaxis.set_minor_locator(NullLocator())
    grid(axes, "x")
    engineering_ticks(axes, "x", "voltage", signed=True)
    axes.tick_params(axis="x", labelsize=7.5)
    axes.axvspan(-linear, linear, facecolor=SHADE, alpha=0.6, linewidth=0, zorder=0)
    axes.annotate("linear here", (0, -1.3), fontsize=6.5, ha="center", va="top", color=QUIET)
    axes.axvline(0, color=QUIET, linewidth=0.8)
    for sign in (-1, 1):
        axes.axvspan(
            sign * allowance, sign * reach, facecolor=SHADE, edgecolor=QUIET, hatch="\\\\\\",
            linewidth=0, alpha=0.9, zorder=0,
        )  # fmt: skip
        axes.axvline(sign * allowance, color=INK, linewidth=1.4)
        axes.annotate(
            f"forbidden\nbeyond {quantity(sign * allowance, 'voltage', signed=True)}",
            (sign * math.sqrt(allowance * reach), -0.9), ha="center", va="center", fontsize=7.5,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.5},
        )  # fmt: skip
    return reach


def _budget_bar(axes: Axes, row: int, value: float, low: float, high: float, basis: str) -> None:
    colour = INK if basis == "predicted" else BLUE
    if basis == "assumed":
        axes.barh(
            [row], [high - low], left=[low], height=0.42, facecolor="none", edgecolor=colour,
            hatch="/////", linewidth=0.8,
        )  # fmt: skip
    else:
        axes.plot([low, high], [row, row], color=colour, linewidth=3 if basis == "predicted" else 2)
    if basis == "maximum":
        axes.plot([value], [row], marker="|", markersize=12, markeredgewidth=2.2, color=colour)
        return
    fill = PAPER if basis in ("typical", "assumed") else colour
    shape = "D" if basis == "predicted" else "s" if basis == "defined" else "o"
    axes.plot([value], [row], marker=shape, markersize=6, color=colour, markerfacecolor=fill)


def _folded(words: str, width: int, *, lines: int = 2) -> str:
    """A label of bounded size, so that a long name cannot crowd out the picture."""
    return "\n".join(wrap(words, width, max_lines=lines, placeholder="…"))


@in_our_look
def window_plot(rank: RankResult) -> Figure:
    """The allowed window of the series resistor, white between two walls that carry their names."""
    window = rank.window
    walls = [w for w in window.walls if w.value is not None]
    free = [w for w in window.walls if w.value is None]
    known = [w.value for w in walls if w.value] + [window.chosen, window.minimum]
    known += [window.maximum] if window.maximum else []
    positive = [v for v in known if v > 0] or [1e3]
    left = 10.0 ** (math.log10(min(positive)) - 1.6)
    right = 10.0 ** (math.log10(max(positive)) + 1.6)
    figure, axes = new_axes(0.9 + 0.36 * (len(walls) + len(free)))
    axes.set_xscale("log")
    axes.set_xlim(left, right)
    axes.set_ylim(len(walls) + len(free) - 0.4, -0.9)
    end = window.maximum or right
    if window.open:
        axes.axvspan(
            max(window.minimum, left), end, facecolor=OPEN, edgecolor=INK, linewidth=1, zorder=0
        )
    for row, wall in enumerate(walls):
        _wall_bar(axes, row, wall, left, right, binding=wall.value in (window.minimum, end))
    for row, wall in enumerate(free, start=len(walls)):
        axes.text(0.012, row, f"{wall.name}: no wall, {wall.reason}", va="center", fontsize=7.5,
                  color=QUIET, transform=axes.get_yaxis_transform())  # fmt: skip
    _chosen_line(axes, window.chosen, window.open)
    engineering_ticks(axes, "x", "resistance")
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    axes.set_xlabel("series resistance")
    return figure


def _wall_bar(
    axes: Axes, row: int, wall: ResistorWall, left: float, right: float, *, binding: bool
) -> None:
    """One wall: shaded where the resistor may not be, with the name of what built it."""
    value = wall.value or left
    below = wall.side == "minimum"
    start, width = (left, value - left) if below else (value, right - value)
    axes.barh(
        [row], [width], left=[start], height=0.86, facecolor=SHADE, edgecolor=QUIET,
        hatch="///" if below else "\\\\\\", linewidth=0, zorder=1,
    )  # fmt: skip
    axes.plot([value, value], [row - 0.43, row + 0.43], color=INK, linewidth=2.6 if binding else 1)
    axes.annotate(
        f"{_folded(wall.name, 34, lines=1)}\n{'at least' if below else 'at most'} "
        f"{nominal(value, 'resistance')}",
        (value, row), xytext=(-7 if below else 7, 0), textcoords="offset points",
        ha="right" if below else "left", va="center", fontsize=7, linespacing=1.15, zorder=5,
        fontweight="bold" if binding else "normal",
        bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.2},
    )  # fmt: skip


def _chosen_line(axes: Axes, chosen: float, opened: bool) -> None:
    axes.axvline(chosen, color=BLUE, linewidth=1.6, zorder=3, linestyle="-" if opened else "--")
    axes.annotate(
        f"chosen {nominal(chosen, 'resistance')}" + ("" if opened else " – no open window"),
        (chosen, -0.68), xytext=(4, 0), textcoords="offset points", va="center", color=BLUE,
        fontweight="bold", fontsize=8,
    )  # fmt: skip


def lowest_stresses(faults: FaultsResult) -> list[tuple[str, StressLine]]:
    """Every stress with the fault that makes it, lowest margin first, unrated ones before all."""
    lines = [(case.name, line) for case in faults.cases for line in case.stresses]
    return sorted(lines, key=lambda pair: (pair[1].ratio is not None, pair[1].ratio or 0.0))


@in_our_look
def stress_plot(faults: FaultsResult) -> Figure | None:
    """Rating over stress on a log axis; left of the line at 1 a rating is exceeded."""
    from matplotlib.ticker import LogLocator, NullFormatter

    lines = lowest_stresses(faults)[:STRESS_LINES_SHOWN]
    if not lines:
        return None
    ratios = [line.ratio for _, line in lines if line.ratio]
    left = min([0.3, *[r / 3 for r in ratios]])
    right = max([100.0, *[r * 1000 for r in ratios]])
    figure, axes = new_axes(1.1 + 0.3 * len(lines))
    axes.set_xscale("log")
    axes.set_xlim(left, right)
    axes.set_ylim(len(lines) - 0.4, -1.0)
    axes.axvspan(left, 1.0, facecolor=SHADE, edgecolor=QUIET, hatch="\\\\\\", linewidth=0, zorder=0)
    axes.axvline(1.0, color=INK, linewidth=1.4)
    axes.annotate("rating exceeded", (1.0, -0.72), xytext=(-5, 0), textcoords="offset points",
                  ha="right", va="center", fontsize=7.5,
                  bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.2})  # fmt: skip
    for row, (_, line) in enumerate(lines):
        _stress_mark(axes, row, line)
    axes.set_yticks(
        range(len(lines)),
        [_folded(f"{name}: {line.part}, {line.quantity}", 48) for name, line in lines],
    )
    axes.tick_params(axis="y", length=0, labelsize=7.5)
    grid(axes, "x")
    axes.xaxis.set_major_locator(LogLocator(numticks=7))
    axes.xaxis.set_major_formatter(lambda value, _: f"{grouped(value)}×")
    axes.xaxis.set_minor_formatter(NullFormatter())
    axes.set_xlabel("rating ÷ stress")
    return figure


def _stress_mark(axes: Axes, row: int, line: StressLine) -> None:
    if line.ratio is None:
        axes.plot(
            [1.0], [row], marker="o", markersize=7, color=INK, markerfacecolor=PAPER, zorder=4
        )
        words = f"not rated; stress {amount(line.stress, line.unit)}"
        place = 1.0
    else:
        failed = line.verdict is Verdict.FAIL
        colour = VERMILION if failed else BLUE
        axes.plot([1.0, line.ratio], [row, row], color=colour, linewidth=1.6, zorder=3)
        axes.plot([line.ratio], [row], marker="X" if failed else "o", markersize=7, color=colour,
                  markeredgecolor=INK, markeredgewidth=0.5, zorder=4)  # fmt: skip
        words = (
            f"{ratio(line.ratio)}×  {amount(line.stress, line.unit)} of "
            f"{amount(line.rating, line.unit)}"
        )
        place = max(line.ratio, 1.0)
    axes.annotate(words, (place, row), xytext=(8, 0), textcoords="offset points", va="center",
                  fontsize=7.5)  # fmt: skip
