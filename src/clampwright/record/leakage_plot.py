"""Leakage against temperature: evidence over prediction over assumption, on a log axis."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from clampwright.quantities import ZERO_CELSIUS
from clampwright.record.look import (
    INK,
    PAPER,
    QUIET,
    SERIES,
    engineering_ticks,
    grid,
    in_our_look,
    new_axes,
)
from clampwright.record.words import nominal
from clampwright.verdict.results import CheckResult, LeakagePoint

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

BESIDE = {"xytext": (10, 0), "ha": "left", "va": "center"}
CLEAR_OF_THE_MARK: dict[tuple[bool, bool], Any] = {  # measured?, at another voltage than the law?
    (True, False): {"xytext": (6, -9), "ha": "left", "va": "top"},
    (True, True): {"xytext": (4, 6), "ha": "right", "va": "bottom"},
    (False, False): BESIDE,
    (False, True): BESIDE,
}
BOLTZMANN = 8.617333262e-5  # [eV/K], CODATA 2018, for the ticks of 1/kT only
SAME_VOLTAGE = 0.01  # relative; evidence so near is at the voltage of the law
DECADES_SHOWN = 10  # with a line each; beyond, every other one
WIDEST_BAND = 1e4  # a band is cut at this factor so that it cannot flatten the picture


@in_our_look
def leakage_plot(check: CheckResult) -> Figure | None:
    """Leakage magnitude of the clamp against temperature, evidence over prediction.

    None when the circuit has no clamp or nothing is known about it.
    """
    from matplotlib.ticker import LogLocator

    clamp = check.clamp
    if clamp is None or not (clamp.points or clamp.curve):
        return None
    figure, axes = new_axes(2.25)
    axes.set_yscale("log")
    drawn = dict(zip(sorted({p.voltage for p in clamp.curve}, reverse=True), SERIES, strict=False))
    measured = [_celsius(p) for p in clamp.points if p.basis in ("measured", "not detected")]
    for voltage, colour in drawn.items():
        curve = [p for p in clamp.curve if p.voltage == voltage and _drawable(p)]
        _predicted_line(axes, curve, measured, colour, f"law at {nominal(voltage, 'voltage')}")
    points = [p for p in clamp.points if math.isfinite(p.leakage + p.high)]
    for point in points:
        evidence_mark(axes, point, _colour(point, drawn))
    _label_evidence(axes, points, drawn)
    grid(axes, "both")
    axes.yaxis.set_major_locator(LogLocator(numticks=DECADES_SHOWN))
    engineering_ticks(axes, "y", "current")
    axes.set_xlabel("board temperature / °C")
    axes.set_ylabel("leakage")
    axes.margins(x=0.03, y=0.18)
    temperature_axis(axes, beside=0.12)
    return figure


def _colour(point: LeakagePoint, drawn: dict[float, str]) -> str:
    """The colour of the law at the same voltage; quiet for evidence at any other voltage."""
    same = (c for v, c in drawn.items() if math.isclose(v, point.voltage, rel_tol=SAME_VOLTAGE))
    return next(same, QUIET)


def _label_evidence(axes: Axes, points: list[LeakagePoint], drawn: dict[float, str]) -> None:
    """Each kind of evidence at each voltage named once, at its coldest point, clear of the band."""
    named: set[tuple[str, float]] = set()
    for point in sorted(points, key=lambda p: p.temperature):
        kind = (point.basis, point.voltage)
        if kind in named:
            continue
        named.add(kind)
        other = _colour(point, drawn) == QUIET
        words = f"{point.basis}, {nominal(point.voltage, 'voltage')}" if other else point.basis
        place = CLEAR_OF_THE_MARK[(point.basis == "measured", other)]
        axes.annotate(
            words, (_celsius(point), max(abs(point.high), abs(point.leakage))), **place,
            textcoords="offset points", fontsize=7.5, color=INK, zorder=6,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.6, "alpha": 0.8},
        )  # fmt: skip


def _drawable(point: LeakagePoint) -> bool:
    """Whether a law point has a place on a log axis: finite and not zero."""
    return point.leakage != 0 and math.isfinite(point.leakage)


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
    low = [max(min(abs(p.low), abs(p.high)), abs(p.leakage) / WIDEST_BAND) for p in curve]
    high = [min(max(abs(p.low), abs(p.high)), abs(p.leakage) * WIDEST_BAND) for p in curve]
    assumed = any(p.basis == "assumed" for p in curve)
    axes.fill_between(
        where, low, high, facecolor=colour, edgecolor=colour if assumed else "none",
        alpha=0.18, hatch="////" if assumed else None, linewidth=0, zorder=1,
    )  # fmt: skip
    axes.plot(where, middle, color=colour, linewidth=1.1, linestyle=(0, (1, 2)), zorder=2)
    if measured:
        inside = [(t, i) for t, i in zip(where, middle, strict=True)
                  if min(measured) - 3 <= t <= max(measured) + 3]  # fmt: skip
        if inside:
            axes.plot(*zip(*inside, strict=True), color=colour, linewidth=1.4, zorder=2)
    axes.annotate(
        label, (where[-1], middle[-1]), xytext=(5, 0), textcoords="offset points",
        va="center", color=colour, fontweight="bold",
    )  # fmt: skip


def evidence_mark(axes: Axes, point: LeakagePoint, colour: str) -> None:
    """One point of evidence by its kind."""
    where, high, low = _celsius(point), max(abs(point.high), abs(point.low)), point.low
    value = abs(point.leakage)
    if point.basis == "not detected" or value == 0:
        axes.annotate(
            "", xy=(where, high / 4), xytext=(where, high),
            arrowprops={"arrowstyle": "-|>", "color": colour, "linewidth": 1.2, "shrinkA": 0},
        )  # fmt: skip
        axes.plot([where], [high], marker="_", color=colour, markersize=9, markeredgewidth=1.6)
    elif point.basis == "maximum":
        axes.plot([where], [high], marker="_", color=colour, markersize=14, markeredgewidth=2.2)
    elif point.basis == "typical":
        axes.plot([where], [value], marker="o", color=colour, markerfacecolor=PAPER, markersize=5.5)
    elif point.basis == "assumed":
        axes.bar(
            [where], [high - max(low, value / 10)], bottom=[max(low, value / 10)], width=3,
            facecolor="none", edgecolor=colour, hatch="////", linewidth=0.8,
        )  # fmt: skip
    else:
        bottom = max(min(abs(point.low), abs(point.high)), value / 100) if low > 0 else value / 100
        axes.plot([where, where], [bottom, high], color=colour, linewidth=1.6, zorder=4)
        axes.plot([where], [value], marker="o", color=colour, markersize=5.5, zorder=5)


def temperature_axis(axes: Axes, *, beside: float) -> None:
    """Room for names at the right, and ticks of 1/kT along the top, where an activated leakage is straight.

    beside : room, as a share of the width
    """

    def to_inverse(celsius: float) -> float:
        return 1.0 / (BOLTZMANN * (celsius + ZERO_CELSIUS))

    left, right = axes.get_xlim()
    right += beside * (right - left)
    axes.set_xlim(left, right)
    top = axes.twiny()
    top.set_xlim(left, right)
    ticks = [n for n in range(20, 61) if to_inverse(right) <= n <= to_inverse(left)]
    top.set_xticks([1.0 / (BOLTZMANN * n) - ZERO_CELSIUS for n in ticks], [str(n) for n in ticks])
    top.set_xlabel("1/kT in 1/eV", fontsize=7.5, color=QUIET)
    top.tick_params(labelsize=7.5, labelcolor=QUIET)
    for side in ("right", "left", "top"):
        top.spines[side].set_visible(False)
