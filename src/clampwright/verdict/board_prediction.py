"""What a design predicts for the readings of an assembled board, and how its law shapes them.

The board's conditions are solved by the same network solver as a check; the offset voltage of the
amplifier, whose sign no sheet tells, is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from math import hypot

import numpy as np

from clampwright.bench.board_terms import (
    OFFSET,
    REFERENCE,
    Array,
    BoardReading,
    Doubt,
    Shape,
)
from clampwright.bench.separation import Separation
from clampwright.errors import InputError
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.law_apparent import apparent_energy, apparent_exponent
from clampwright.parts.law_interval import leakage_interval
from clampwright.quantities import write
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import error_terms
from clampwright.verdict.layout import topology_of
from clampwright.verdict.places import in_use
from clampwright.verdict.terms import Interval

LEAST_HEAT = 10.0  # [K] over which the energy is taken, where readings name one temperature only
LEAST_VOLTAGE = 1.0  # [V] over which the exponent is
SAME = 1e-6  # [1] of the series resistors: less resistance than that is missing by rounding
WIRE = 1e-3  # [Ω] in place of a source without resistance, which the solver does not take
OUTSIDE = 0.05  # [1] share of readings that may lie outside their 95 % intervals


@dataclass(frozen=True)
class Agreement:
    """How many conditions lie within measured and predicted 95 % intervals, and the worst of them."""

    inside: int
    conditions: int
    worst: str
    clamps: tuple[str, ...]  # each separated clamp beside what its law says
    agrees: bool

    def words(self, title: str) -> str:
        """One sentence."""
        verb = "agrees with" if self.agrees else "departs from"
        return (
            f"The board {verb} the prediction of {title}: {self.inside} of {self.conditions} "
            f"conditions lie within their intervals; furthest {self.worst}"
            + "".join(f"; {text}" for text in self.clamps)
        )


def law_shape(
    design: Design, clamp: Clamp, readings: Sequence[BoardReading]
) -> tuple[Shape, Doubt]:
    """Apparent energy and exponent of the clamp's own law over these conditions, with their doubts.

    InputError for a design whose clamps do not sit between signal and rails.
    """
    if not topology_of(design).opposed:
        raise InputError(
            f"the clamps of {design.network.topology} do not sit between signal and rails",
            where="network.topology",
            expected="a design with one clamp to each rail",
        )
    volts = sorted(r.upper_rail - r.signal for r in readings)
    heat = sorted(r.temperature for r in readings)
    cold, hot = heat[0], max(heat[-1], heat[0] + LEAST_HEAT)
    middle, high = volts[len(volts) // 2], max(volts[-1], volts[0] + LEAST_VOLTAGE)
    energy = apparent_energy(clamp.fitted, middle, cold, hot)
    exponent = apparent_exponent(clamp.fitted, volts[0], high, cold)
    shape = Shape(clamp_energy=energy.value, clamp_exponent=exponent.value, stated_voltage=middle)
    doubt = Doubt(
        clamp_energy=energy.standard_uncertainty, clamp_exponent=exponent.standard_uncertainty
    )
    return shape, doubt


def predicted_board(
    design: Design, clamp: Clamp | None, readings: Sequence[BoardReading]
) -> Interval:
    """Error at the pin (V) of each reading without the amplifier's offset, with 95 % limits.

    InputError for a differential input, or less resistance than the design has in series.
    """
    if design.network.pair:
        raise InputError("the board of a differential input cannot be compared yet")
    outer = design.network.outer_resistor
    series = outer.value * outer.count
    places = range(len(readings))
    sums = np.zeros((3, len(readings)))
    rails = lambda k: (readings[k].upper_rail, readings[k].lower_rail)  # noqa: E731
    for (upper, lower), group in groupby(sorted(places, key=rails), key=rails):
        some = list(group)
        source = np.array([readings[k].resistance for k in some]) - series
        if source.min() < -SAME * series:
            raise InputError(
                f"a reading has {write(series + float(source.min()), 'resistance')} up to the "
                f"node, but the design has {write(series, 'resistance')} in series",
                expected="the column resistance with test resistor and series resistors together",
            )
        grid = Corners(
            sensor_temperature=np.array([readings[k].temperature for k in some]),
            board_temperature=np.array([readings[k].temperature for k in some]),
            illuminance=np.array([readings[k].light for k in some]),
            signal=np.array([readings[k].signal for k in some]),
            source_resistance=np.maximum(source, WIRE),
        )
        sums[:, some] = _summed(_with_rails(design, upper, lower), clamp, grid)
    return Interval(*sums)


def _with_rails(design: Design, upper: float, lower: float) -> Design:
    rails = design.rails.model_copy(update={"positive": upper, "negative": lower})
    asked = design.requirement.model_copy(update={"calibration_temperature": None})
    return design.model_copy(update={"rails": rails, "requirement": asked})


def _summed(design: Design, clamp: Clamp | None, grid: Corners) -> Array:
    """Value, low and high end (3, corners) with all sides present; light on any side or none."""
    topology = topology_of(design)
    used = in_use(design, topology, clamp) if clamp and topology.has_clamp else None
    sides = error_terms(design, topology, used, grid)
    parts = [sides[0].bias, sides[0].leak, *(a.interval for a in sides[0].added)]
    parts += [s.clamp for s in sides]
    value = np.sum([p.value for p in parts], axis=0) + sides[0].own
    down = [p.value - p.low for p in parts] + [-np.minimum(s.light.low, 0.0) for s in sides]
    up = [p.high - p.value for p in parts] + [np.maximum(s.light.high, 0.0) for s in sides]
    return np.array([value, value - _root(down), value + _root(up)])


def _root(halves: list[Array]) -> Array:
    return np.asarray(np.sqrt(np.sum(np.square(halves), axis=0)))


def compare(
    readings: Sequence[BoardReading],
    found: Separation,
    predicted: Interval,
    clamp: Clamp | None,
) -> Agreement:
    """Do readings, less the offset they show, and separated clamps lie within what is predicted?

    Two clamps that leak alike cancel in the readings: a wrong law shows in each clamp by itself. An
    offset that could not be told apart stays in the readings, and is told as a departure.
    """
    offset = found.value(OFFSET)
    inside, worst = 0, (0.0, "")
    for k, r in enumerate(readings):
        measured = r.error - (offset.value or 0.0)
        off = measured - float(predicted.value[k])
        end = predicted.high[k] if off > 0 else predicted.low[k]
        u = hypot(r.standard_uncertainty, offset.standard_uncertainty or 0.0)
        reach = hypot(float(end - predicted.value[k]), found.coverage_factor * u)
        inside += abs(off) <= reach
        if abs(off) / reach >= worst[0]:
            told = f"{write(measured, 'voltage')} measured, {write(predicted.value[k], 'voltage')}"
            at = f"at {write(r.signal, 'voltage')}, {write(r.temperature, 'temperature')}"
            worst = (
                abs(off) / reach,
                f"{told} ± {write(reach, 'voltage', digits=2)} predicted {at}",
            )
    each = _clamps(found, clamp) if clamp else []
    agrees = len(readings) - inside <= OUTSIDE * len(readings) and all(fits for fits, _ in each)
    return Agreement(inside, len(readings), worst[1], tuple(text for _, text in each), agrees)


def _clamps(found: Separation, clamp: Clamp) -> list[tuple[bool, str]]:
    """Whether each separated clamp agrees with the clamp's law and lot, and in words."""
    law = leakage_interval(
        clamp.fitted, found.shape.stated_voltage, REFERENCE, coverage=0.95, lot=clamp.lot
    )
    said = " … ".join(write(end, "current", digits=2) for end in (law.low, law.high))
    each = []
    for name in ("upper clamp", "lower clamp"):
        term = found.value(name) if name in found.names else None
        if term is None or term.value is None or term.expanded is None:
            continue
        off = term.value - law.median
        end = law.high if off > 0 else law.low
        fits = abs(off) <= hypot(term.expanded, end - law.median)
        verb = "as its law says" if fits else "not as its law says"
        each.append((fits, f"the {name} is {verb} ({said})"))
    return each


__all__ = ["Agreement", "compare", "law_shape", "predicted_board"]
