"""A fault over time: voltages, currents, powers below each other, with rails and ratings as lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

from clampwright.record.look import (
    INK,
    QUIET,
    SERIES,
    VERMILION,
    WIDTH,
    engineering_ticks,
    figure_svg,
    grid,
    in_our_look,
)
from clampwright.record.words import amount, prose
from clampwright.verdict.fault_waves import FaultWaves, Wave

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

KINDS = {"V": "voltage", "A": "current", "W": "power"}
HELD_WORDS = "ramped to the fault voltage, then held (share of the picture, %)"
DEPTH = 1e-4  # [1] of the largest value, where the log axis of a size begins
TOUCHING = 0.11  # [1] of the height of a picture, that a label takes
DASHES = ("-", (0, (5, 2)), (0, (2, 1.5)), (0, (6, 2, 1, 2)), "-")


def waves_svg(waves: FaultWaves, *, name: str = "waves") -> str:
    """The plot as one SVG with its sentence."""
    title = f"Fault {waves.fault} over time, quasi-static"
    return figure_svg(waves_plot(waves), name=name, title=title, description=waves_sentence(waves))


def waves_sentence(waves: FaultWaves) -> str:
    """What the plot shows: the largest value of each kind."""
    peaks = []
    for wave in waves.waves[1:]:
        largest = max(wave.values, key=abs)
        peaks.append(f"{wave.part} {wave.quantity} up to {amount(abs(largest), wave.unit)}")
    return f"{prose(waves.words)}: {', '.join(peaks)}. {waves.note}"


@in_our_look
def waves_plot(waves: FaultWaves) -> Figure:
    """One picture a kind of quantity over one time, with named lines for rails and ratings."""
    from matplotlib.figure import Figure

    units = [u for u in KINDS if any(w.unit == u for w in waves.waves)]
    figure = Figure(figsize=(WIDTH, 2.1 * len(units) + 0.3), layout="constrained")
    axes = figure.subplots(len(units), 1, sharex=True, squeeze=False)[:, 0]
    scale = 1e3 if waves.periodic else 100.0
    time = [t * scale for t in waves.time]
    for plot, unit in zip(axes, units, strict=True):
        _one(plot, unit, time, [w for w in waves.waves if w.unit == unit])
    axes[-1].set_xlabel("time in one period (ms)" if waves.periodic else HELD_WORDS)
    return figure


def _one(axes: Axes, unit: str, time: list[float], waves: list[Wave]) -> None:
    """One kind of quantity: voltages signed, currents and powers by size on a log axis."""
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    grid(axes, "both")
    shown = [w for w in waves if any(w.values)] or waves[:1]
    sized = unit != "V" and any(v for w in shown for v in w.values)
    for n, wave in enumerate(shown):
        values = [abs(v) for v in wave.values] if sized else wave.values
        axes.plot(
            time, values, color=SERIES[n % len(SERIES)], linewidth=1.8,
            linestyle=DASHES[n % len(DASHES)], label=wave.part,
        )  # fmt: skip
    levels = _levels(waves)
    if sized:
        peak = max(abs(v) for w in shown for v in w.values)
        axes.set_yscale("log")
        axes.set_ylim(peak * DEPTH, max([peak, *(value for _, value, _ in levels)]) * 4)
    axes.set_xlim(time[0], time[-1])
    _label(axes, levels, unit)
    engineering_ticks(axes, "y", KINDS[unit])
    axes.set_ylabel(f"size of the {KINDS[unit]}" if sized else KINDS[unit])
    axes.legend(loc="lower left", bbox_to_anchor=(0, 1.0), ncols=4, frameon=False, fontsize=7,
                handlelength=2.6, borderpad=0)  # fmt: skip


def _levels(waves: list[Wave]) -> list[tuple[str, float, str]]:
    """Name, value and colour of every rail and rating, each once, lowest first."""
    found: dict[tuple[str, float], str] = {}
    for wave in waves:
        for level in wave.levels:
            own = "rail" in level.name or "limit" in level.name
            part = wave.part.partition(",")[0]
            name = level.name if own else f"{part} {level.name.replace(' of it', '')}"
            colour = QUIET if own else INK if "usable" in level.name else VERMILION
            found.setdefault((name, level.value), colour)
    return sorted(((name, value, c) for (name, value), c in found.items()), key=lambda row: row[1])


def _label(axes: Axes, levels: list[tuple[str, float, str]], unit: str) -> None:
    """Every level as a dotted line with its name at the right, spread so that none touch."""
    to_axes = axes.transData + axes.transAxes.inverted()
    heights = [float(to_axes.transform((0, value))[1]) for _, value, _ in levels]
    for (name, value, colour), height in zip(levels, _spread(heights), strict=True):
        axes.axhline(value, color=colour, linewidth=1.0, linestyle=(0, (1, 1.5)))
        axes.annotate(
            f"{name}: {amount(value, unit)}", (1.0, value), xycoords=axes.get_yaxis_transform(),
            xytext=(1.03, height), textcoords="axes fraction", fontsize=6.5, color=INK, va="center",
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 0.6, "relpos": (0, 0.5)},
        )  # fmt: skip


def _spread(heights: list[float]) -> list[float]:
    """The same rising places, moved apart as little as a label is high, kept inside the picture."""
    placed: list[float] = []
    for height in heights:
        placed.append(max(height, placed[-1] + TOUCHING) if placed else height)
    over = max((placed[-1] if placed else 0.0) - 1.0, 0.0)
    for i in range(len(placed) - 1, -1, -1):
        above = placed[i + 1] - TOUCHING if i + 1 < len(placed) else placed[i] - over
        placed[i] = min(placed[i], above)
    return placed
