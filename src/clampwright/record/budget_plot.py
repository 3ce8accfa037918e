"""The error budget against its allowance, on a signed-log axis whose linear region is marked."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from clampwright.record.look import (
    BLUE,
    HAIRLINE,
    INK,
    PAPER,
    QUIET,
    SHADE,
    engineering_ticks,
    folded,
    grid,
    in_our_look,
    new_axes,
)
from clampwright.record.network_text import error_place
from clampwright.record.sensor_unit import SensorUnit, sensor_unit
from clampwright.record.words import error_words, nominal
from clampwright.verdict.judge import deciding
from clampwright.verdict.results import CheckResult, Judgement

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LINEAR_DECADES = 0.5  # width of the linear region on either side of zero
DECADES_SHOWN = 6  # ticks on either side of zero, more would touch each other
BudgetRow = tuple[str, float, float, float, str]  # name, value, low, high, how it is known


def deciding_judgement(check: CheckResult) -> Judgement | None:
    """The judgement to see first."""
    return deciding(check.judgements, check.reason)


@in_our_look
def budget_plot(check: CheckResult, judgement: Judgement | None = None) -> Figure | None:
    """Terms of the error with their 95 % bars against the forbidden region, signed-log.

    judgement : which one; the deciding one by default. None when nothing was judged or nothing is allowed.
    """
    judgement = judgement or deciding_judgement(check)
    if judgement is None or not 0 < judgement.allowance < math.inf:
        return None
    rows: list[BudgetRow] = [(t.name, t.value, t.low, t.high, t.basis) for t in judgement.terms]
    rows.append(("together", judgement.error, judgement.low, judgement.high, "predicted"))
    figure, axes = new_axes(1.05 + 0.29 * len(rows))
    ohms = judgement.volts_per_ampere
    reach = _forbidden_regions(axes, judgement, rows)
    for row, (_name, value, low, high, basis) in enumerate(rows):
        ends = (max(low, -reach), min(high, reach))
        _budget_bar(axes, row, value, *ends, basis)
    axes.plot([judgement.worst_case], [len(rows) - 1], marker="|", markersize=13, color=INK)
    axes.axhline(len(rows) - 1.5, color=HAIRLINE, linewidth=0.8)
    axes.set_yticks(range(len(rows)), [folded(name, 32) for name, *_ in rows])
    axes.set_ylim(len(rows) - 0.4, -1.7)
    axes.set_xlim(-reach, reach)
    axes.tick_params(axis="y", length=0)
    where = error_place(check.design) if ohms is None else "error as a current at the input"
    axes.set_xlabel(f"{where}; bar 95 %, upright stroke worst case")
    unit = sensor_unit(check.design, judgement.corner)
    if unit is not None and ohms is None:
        _unit_axis(axes, unit, _linear_reach(judgement.allowance), reach)
    return figure


def _unit_axis(axes: Axes, unit: SensorUnit, linear: float, reach: float) -> None:
    """The same errors in the sensor's unit along the top, a tick a decade."""
    from matplotlib.ticker import FixedLocator, NullLocator

    top = axes.twiny()
    top.set_xscale("symlog", linthresh=linear, linscale=LINEAR_DECADES)
    top.set_xlim(-reach, reach)
    for spine in top.spines.values():
        spine.set_visible(False)
    first = math.floor(math.log10(linear / unit.volts)) + 1
    last = math.floor(math.log10(reach / unit.volts))
    step = max(1, math.ceil((last - first + 1) / DECADES_SHOWN))
    decades = [10.0**n for n in range(first, last + 1, step)]
    values = [-d for d in reversed(decades)] + [0.0, *decades]
    top.xaxis.set_major_locator(FixedLocator([v * unit.volts for v in values]))
    top.xaxis.set_minor_locator(NullLocator())
    top.set_xticklabels([unit.number(v * unit.volts, signed=True) for v in values])
    top.tick_params(axis="x", labelsize=7.5)
    top.set_xlabel(f"in {unit.name}", fontsize=7.5, color=QUIET)


def _forbidden_regions(axes: Axes, judgement: Judgement, rows: list[BudgetRow]) -> float:
    """Set the signed-log axis, shade beyond ± the allowance, name it; returns the axis' reach."""
    from matplotlib.ticker import FixedLocator, NullLocator

    allowance = judgement.allowance
    voltages = [abs(v) for _, value, low, high, _ in rows for v in (value, low, high)]
    voltages += [allowance, abs(judgement.worst_case)]
    largest = max(v for v in voltages if math.isfinite(v))
    linear = _linear_reach(allowance)
    reach = max(largest * 2.0, allowance * 30)
    axes.set_xscale("symlog", linthresh=linear, linscale=LINEAR_DECADES)
    ohms = judgement.volts_per_ampere
    scale = ohms or 1.0
    first, last = (
        math.ceil(math.log10(linear / scale) - 1e-9),
        math.floor(math.log10(reach / scale)),
    )
    step = max(1, math.ceil((last - first) / DECADES_SHOWN))
    decades = [10.0**n * scale for n in range(first, last + 1, step)]
    axes.xaxis.set_major_locator(FixedLocator([-d for d in reversed(decades)] + [0.0, *decades]))
    axes.xaxis.set_minor_locator(NullLocator())
    grid(axes, "x")
    _ticks(axes, ohms)
    axes.tick_params(axis="x", labelsize=7.5)
    axes.axvspan(-linear, linear, facecolor=SHADE, alpha=0.6, linewidth=0, zorder=0)
    axes.annotate("linear here", (0, -1.65), fontsize=6.5, ha="center", va="top", color=QUIET)
    axes.axvline(0, color=QUIET, linewidth=0.8)
    for sign in (-1, 1):
        axes.axvspan(
            sign * allowance, sign * reach, facecolor=SHADE, edgecolor=QUIET, hatch="\\\\\\",
            linewidth=0, alpha=0.9, zorder=0,
        )  # fmt: skip
        axes.axvline(sign * allowance, color=INK, linewidth=1.4)
        axes.annotate(
            f"forbidden\nbeyond {error_words(sign * allowance, ohms, signed=True)}",
            (sign * math.sqrt(allowance * reach), -1.0), ha="center", va="center", fontsize=7.5,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 1.5},
        )  # fmt: skip
    return reach


def _ticks(axes: Axes, ohms: float | None) -> None:
    """Ticks in volts, or in the current at the input."""
    if ohms is None:
        engineering_ticks(axes, "x", "voltage", signed=True)
        return
    from matplotlib.ticker import FuncFormatter

    axes.xaxis.set_major_formatter(
        FuncFormatter(lambda v, _: nominal(v / ohms, "current", signed=True) if v else "0")
    )


def _linear_reach(allowance: float) -> float:
    """Where the axis turns from linear to logarithmic (V)."""
    return float(10.0 ** (math.floor(math.log10(allowance)) - 2))


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
