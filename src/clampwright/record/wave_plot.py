"""A fault over time: voltages between the rails, and each stress as a share of what is usable.

The upper picture shows where the circuit is held, the lower one how far each part stays below the wall of
what it may carry: the same wall for currents and powers. Every line is named at its end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from clampwright.record.look import (
    HAIRLINE,
    INK,
    QUIET,
    SERIES,
    SHADE,
    engineering_ticks,
    figure_svg,
    in_our_look,
)
from clampwright.record.words import amount, nominal, prose
from clampwright.verdict.fault_waves import FaultWaves, Wave

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH, HEIGHTS = 8.6, (2.7, 3.0)  # [inch] of the figure; of voltages and stresses
NAMES = 0.66  # [1] of the width, where the names at the right begin
TEXT = 9.6  # [pt] 12.8 px on a screen
LETTER = 0.062  # [1] of the height of one picture, that a name takes
DEEPEST, BEYOND = (
    1e-5,
    3.0,
)  # share of what is usable, at the lowest and least highest end of the axis
DASHES = ("-", (0, (5, 2)), (0, (2, 1.5)), (0, (6, 2, 1, 2)), (0, (1, 1)))
HELD = ("positive rail", "negative rail")
ROOM, LINEAR_PART = 1.25, 2.0  # of the held voltages that is linear; its height in decades


@dataclass(frozen=True)
class Stress:
    """One stress over time as a share of what is usable of its rating."""

    name: str
    shares: tuple[float, ...]


def waves_svg(waves: FaultWaves, *, name: str = "waves") -> str:
    """The plot as one SVG with its sentence."""
    title = f"Fault {waves.fault} over time, quasi-static"
    return figure_svg(waves_plot(waves), name=name, title=title, description=waves_sentence(waves))


def waves_sentence(waves: FaultWaves) -> str:
    """What the plot shows, with the largest of each stress: all of it in words."""
    parts = [_peak_words(w, _usable(w)) for w in waves.waves if w.unit != "V" and any(w.values)]
    said = f": {', '.join(parts)}" if parts else ""
    return f"{prose(waves.words)}{said}. {_left_out(waves)}{waves.note}"


def waves_caption(waves: FaultWaves) -> str:
    """What stands below the plot: what it is of, what it leaves out, what is taken as given."""
    return f"{prose(waves.words)}. {_left_out(waves)}{waves.note}"


def _left_out(waves: FaultWaves) -> str:
    judged = [w for w in waves.waves if w.unit != "V" and not w.part.startswith("into the ")]
    bare = [w.part for w in judged if any(w.values) and not _usable(w)]
    return f"No rating to hold against: {', '.join(bare)}. " if bare else ""


@in_our_look
def waves_plot(waves: FaultWaves) -> Figure:
    """Two pictures over one time: voltages, and stresses below the wall of what is usable."""
    from matplotlib.figure import Figure

    found = _stresses(waves)
    heights = HEIGHTS if found else HEIGHTS[:1]
    figure = Figure(figsize=(WIDTH, sum(heights) + 0.7))
    every = figure.subplots(
        len(heights), 1, sharex=True, squeeze=False,
        gridspec_kw={"height_ratios": heights, "left": 0.1, "right": NAMES - 0.015, "hspace": 0.24,
                     "top": 1 - 0.32 / sum(heights), "bottom": 0.52 / (sum(heights) + 0.7)},
    )[:, 0]  # fmt: skip
    for axes in every:
        axes.tick_params(labelsize=TEXT, length=3)
        for side in ("top", "right"):
            axes.spines[side].set_visible(False)
        axes.set_axisbelow(True)
        axes.grid(visible=True, axis="y", which="major", color=HAIRLINE, linewidth=0.6)
        axes.set_xlim(waves.time[0], waves.time[-1])
    _voltages(every[0], waves)
    if found:
        _below_the_wall(every[1], waves.time, found)
    engineering_ticks(every[-1], "x", "time")
    every[-1].set_xlabel(f"time ({prose(waves.span)})", fontsize=TEXT)
    return figure


def _voltages(axes: Axes, waves: FaultWaves) -> None:
    """Connector, clamp node, pin and rails; shaded where the pin's own junctions conduct."""
    volts = [w for w in waves.waves if w.unit == "V"]
    rails = {w.part: w for w in volts if w.part in HELD}
    names: list[tuple[str, float, str]] = []
    for n, wave in enumerate(w for w in volts if w.part not in HELD):
        axes.plot(waves.time, wave.values, color=SERIES[n], linestyle=DASHES[n], linewidth=1.9)
        names.append((f"{wave.part} {_volts(wave.values[-1])}", wave.values[-1], SERIES[n]))
    for part in HELD:
        axes.plot(waves.time, rails[part].values, color=QUIET, linewidth=1.2)
        names.append((_rail_words(rails[part]), rails[part].values[-1], QUIET))
        for most in rails[part].levels:
            axes.axhline(most.value, color=INK, linewidth=1.6)
            names.append((f"the supply's maximum {_volts(most.value)}", most.value, INK))
    held = [abs(v) for w in volts if w.part != "connector" for v in w.values]
    held += [abs(level.value) for rail in rails.values() for level in rail.levels]
    words = _scale(axes, [v for w in volts for v in w.values], ROOM * max(held))
    pin = next(w for w in volts if w.part == "amplifier pin")
    for part, edge, conducts in zip(HELD, reversed(axes.get_ylim()), pin.levels, strict=True):
        beyond = conducts.value - rails[part].values[-1]
        begin = [v + beyond for v in rails[part].values]
        axes.fill_between(waves.time, begin, edge, color=SHADE, linewidth=0, zorder=0)
    title = f"voltages{words}; shaded where the pin conducts"
    axes.set_title(title, loc="left", fontsize=TEXT, color=INK)
    _name(axes, names)


def _scale(axes: Axes, values: list[float], linear: float) -> str:
    """Linear where the circuit is held (V), logarithmic beyond, with ticks; says so where it is."""
    from matplotlib.ticker import FixedLocator, MaxNLocator, NullLocator

    low, high = min(*values, 0.0), max(*values, 0.0)
    engineering_ticks(axes, "y", "voltage")
    if max(high, -low) <= BEYOND * linear or linear <= 0:
        room = 0.06 * (high - low)
        axes.set_ylim(low - room, high + room)
        return ""
    axes.set_yscale("symlog", linthresh=linear, linscale=LINEAR_PART)
    axes.set_ylim(*(_widened(end, linear) for end in (low, high)))
    ticks = [t for t in MaxNLocator(5).tick_values(-linear, linear) if abs(t) <= linear]
    ends = [end for end in (low, high) if abs(end) > linear]
    shown = [t for t in ticks if low - 0.2 * linear <= t <= high + 0.2 * linear]
    axes.yaxis.set_major_locator(FixedLocator([*shown, *ends]))
    axes.yaxis.set_minor_locator(NullLocator())
    engineering_ticks(axes, "y", "voltage")
    for edge in (linear, -linear):
        if low < edge < high:
            axes.axhline(edge, color=HAIRLINE, linewidth=1.2, linestyle=(0, (1, 2)))
    return f", logarithmic beyond ±{nominal(linear, 'voltage')}"


def _widened(end: float, linear: float) -> float:
    """An end of the axis with some room behind it, in its linear or its logarithmic part."""
    return end * 1.6 if abs(end) > linear else end + math.copysign(0.2 * linear, end or -1.0)


def _rail_words(rail: Wave) -> str:
    first, last = rail.values[0], rail.values[-1]
    if math.isclose(first, last, rel_tol=1e-3, abs_tol=1e-6):
        return f"{rail.part} {_volts(last)}"
    return f"{rail.part} {_volts(first)} → {_volts(last)}"


def _volts(value: float) -> str:
    return amount(value, "V")


def _stresses(waves: FaultWaves) -> list[Stress]:
    """Every current and power that has something to be held against; the most severe first.

    Clamps of one circuit count together: the larger current of them at each instant.
    """
    clamps = [w for w in waves.waves if w.unit == "A" and " clamp" in w.part and _usable(w)]
    found = [_together(clamps)] if clamps else []
    rest = [w for w in waves.waves if w.unit != "V" and w not in clamps]
    found += [_stress(w) for w in rest if _usable(w) and any(w.values)]
    return sorted(found, key=lambda s: -max(s.shares))


def _together(clamps: list[Wave]) -> Stress:
    largest = tuple(
        max(map(abs, values)) for values in zip(*(c.values for c in clamps), strict=True)
    )
    part = "clamp" if len(clamps) > 1 else clamps[0].part
    return _stress(clamps[0].model_copy(update={"part": part, "values": largest}))


def _stress(wave: Wave) -> Stress:
    usable = _usable(wave)
    return Stress(_peak_words(wave, usable), tuple(v / usable for v in _held(wave)))


def _held(wave: Wave) -> list[float]:
    """What is held against the rating at each instant: the size, or the mean where that counts."""
    sizes = [abs(v) for v in wave.values]
    mean = sum(sizes[:-1]) / max(len(sizes) - 1, 1)
    return [mean] * len(sizes) if _of_period(wave) else sizes


def _of_period(wave: Wave) -> bool:
    """Whether the mean of a period counts: it begins and ends alike, and is not at rest between."""
    alike = math.isclose(wave.values[0], wave.values[-1], rel_tol=1e-6)
    return wave.mean and alike and min(wave.values) < max(wave.values)


def _usable(wave: Wave) -> float:
    """What may be used of the rating; 0 where there is none."""
    return next((level.value for level in wave.levels if level.name.startswith("usable")), 0.0)


def _peak_words(wave: Wave, usable: float = 0.0) -> str:
    """ "amplifier pin 36.9 µA", with "of 5.00 mA" where that may be used."""
    what = " power" if wave.unit == "W" else ""
    of = f" of {amount(usable, wave.unit)}" if usable else ""
    return f"{wave.part}{what} {amount(max(_held(wave)), wave.unit)}{of}"


def _below_the_wall(axes: Axes, time: tuple[float, ...], found: list[Stress]) -> None:
    """Stresses on a log axis; beyond what is usable is the forbidden place."""
    peaks = [max(s.shares) for s in found]
    top = max(BEYOND, 2.0 * max(peaks))
    axes.set_yscale("log")
    axes.set_ylim(max(min(peaks) / 10, DEEPEST), top)
    axes.axhspan(1.0, top * 10, color=SHADE, linewidth=0, zorder=0)
    axes.axhline(1.0, color=INK, linewidth=1.8)
    names = []
    for n, stress in enumerate(found):
        shown = [v if v > 0 else math.nan for v in stress.shares]
        colour, dash = SERIES[n % len(SERIES)], DASHES[n % len(DASHES)]
        axes.plot(time, shown, color=colour, linestyle=dash, linewidth=1.9)
        names.append((stress.name, stress.shares[-1], colour))
    _share_ticks(axes)
    words = "stresses as a share of what is usable; beyond the wall is shaded"
    axes.set_title(words, loc="left", fontsize=TEXT, color=INK)
    _name(axes, names)


def _share_ticks(axes: Axes) -> None:
    """Ticks as the margin bar writes them: "1/100" of what is usable."""
    from matplotlib.ticker import FuncFormatter, NullFormatter

    def label(value: float, _position: int | None) -> str:
        if value >= 0.99:
            return f"{value:.0f}"
        power = round(-math.log10(value))
        return f"1/{10**power:,}".replace(",", "\u2009")

    axes.yaxis.set_major_formatter(FuncFormatter(label))
    axes.yaxis.set_minor_formatter(NullFormatter())
    axes.tick_params(axis="y", which="minor", length=0)


def _name(axes: Axes, names: list[tuple[str, float, str]]) -> None:
    """Each name at the right, led to the end of its line, spread so that none touch."""
    names = sorted(names, key=lambda row: row[1])
    to_axes = axes.transData + axes.transAxes.inverted()
    low, high = axes.get_ylim()
    heights = [float(to_axes.transform((0, min(max(v, low), high)))[1]) for _, v, _ in names]
    step = LETTER * max(HEIGHTS) / HEIGHTS[0]
    for (words, _, colour), at, y in zip(names, heights, _spread(heights, step), strict=True):
        axes.annotate(
            words, (1.0, at), xycoords="axes fraction", xytext=(1.05, y), textcoords="axes fraction",
            fontsize=TEXT, color=INK, va="center", annotation_clip=False,
            arrowprops={"arrowstyle": "-", "color": colour, "linewidth": 1.4, "relpos": (0, 0.5),
                        "shrinkA": 2, "shrinkB": 0},
        )  # fmt: skip


def _spread(heights: list[float], step: float) -> list[float]:
    """The same rising places, moved apart as little as a name is high, kept inside the picture."""
    placed: list[float] = []
    for height in heights:
        placed.append(max(height, placed[-1] + step) if placed else height)
    over = max((placed[-1] if placed else 0.0) - 1.0, 0.0)
    for i in range(len(placed) - 1, -1, -1):
        above = placed[i + 1] - step if i + 1 < len(placed) else placed[i] - over
        placed[i] = min(placed[i], above)
    return placed
