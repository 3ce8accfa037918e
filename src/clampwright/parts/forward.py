"""The forward points of a part sheet put into a law: diffusion current and series resistance.

Typical points are passed where the law can; a maximum only bounds. The ideality and whatever else
conducts forward (generation, or the reverse law of a Schottky junction continued) stay as they are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from clampwright.parts.law_model import Array
from clampwright.parts.least_squares import minimise
from clampwright.parts.sheet import ForwardPoint
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE
from clampwright.physics.terminal import voltage_at_current
from clampwright.quantities import write

MISSED = 1e-3  # [V] a typical point missed by more is told
LEAST_SHARE = 1e-6  # [1] of the current, left to diffusion where the rest would carry all of it


def with_forward_points(
    law: ClampLaw, points: Sequence[ForwardPoint]
) -> tuple[ClampLaw, tuple[str, ...]]:
    """The law through the typical points and under the maxima, and what could not be met.

    points : forward voltage (V) at current (A) of one junction, at 25 °C
    One typical point sets the diffusion current; two or more also the series resistance, by least
    squares in the voltage. A maximum the law would exceed raises the diffusion current, and lowers
    the series resistance where that alone drops too much.
    """
    typical = [p for p in points if p.kind == "typical"]
    if typical:
        law = _through(law, typical)
    else:
        for point in sorted((p for p in points if p.kind == "maximum"), key=lambda p: p.current):
            law = _under(law, point)
    return law, _missed(law, points)


def forward_voltage(law: ClampLaw, current: float) -> float:
    """Terminal voltage (V) of a law at a forward current (A), 25 °C, dark."""
    return float(voltage_at_current(current, at_conditions(law, law.reference_temperature))[0])


def _through(law: ClampLaw, typical: list[ForwardPoint]) -> ClampLaw:
    first = min(typical, key=lambda p: p.current)
    if len(typical) == 1:
        return _with_diffusion(law, first)
    voltages = np.array([p.voltage for p in typical])

    def law_of(theta: Array) -> ClampLaw:
        scale, resistance = np.exp(theta)
        return replace(law, diffusion_current=float(scale), series_resistance=float(resistance))

    def residuals(theta: Array) -> Array:
        found = np.array([forward_voltage(law_of(theta), p.current) for p in typical])
        return np.asarray(found - voltages, float)

    def jacobian(theta: Array) -> Array:
        steps = 1e-4 * np.eye(2)
        ends = [(residuals(theta + h) - residuals(theta - h)) / 2e-4 for h in steps]
        return np.array(ends).T

    begun = _with_diffusion(replace(law, series_resistance=0.0), first)
    resistance = max(law.series_resistance, 1.0)
    start = np.log([max(float(begun.diffusion_current), 1e-30), float(resistance)])
    return law_of(minimise(residuals, jacobian, start, tolerance=1e-12, evaluations=60).values)


def _with_diffusion(law: ClampLaw, point: ForwardPoint) -> ClampLaw:
    """The diffusion current that carries what the other mechanisms leave of the point's current."""
    inner = point.voltage - point.current * law.series_resistance
    state = at_conditions(replace(law, diffusion_current=0.0), law.reference_temperature)
    rest = float(current_and_slope(inner, state)[0])
    if inner <= 0 or rest >= point.current * (1 - LEAST_SHARE):
        return law  # the rest carries it all: told by `_missed`
    thermal = BOLTZMANN_PER_CHARGE * law.reference_temperature * law.diffusion_ideality
    return replace(law, diffusion_current=float((point.current - rest) / np.expm1(inner / thermal)))


def _under(law: ClampLaw, point: ForwardPoint) -> ClampLaw:
    """The law moved just under a maximum that it exceeds, else as it is."""
    if forward_voltage(law, point.current) <= point.voltage:
        return law
    if point.current * law.series_resistance > point.voltage / 2:
        law = replace(law, series_resistance=point.voltage / 2 / point.current)
    return _with_diffusion(law, point)


def _missed(law: ClampLaw, points: Sequence[ForwardPoint]) -> tuple[str, ...]:
    """Sentences on typical points that the law does not pass and maxima that it exceeds."""
    said = []
    for point in points:
        found = forward_voltage(law, point.current)
        off = found - point.voltage
        if (abs(off) if point.kind == "typical" else off) > MISSED:
            said.append(
                f"the law gives {write(found, 'voltage')} forward at "
                f"{write(point.current, 'current')}, the sheet {point.kind} "
                f"{write(point.voltage, 'voltage')}: its forward drop is not to be relied on there"
            )
    return tuple(said)
