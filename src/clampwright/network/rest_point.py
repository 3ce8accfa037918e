"""Where a clamp rests behind its series resistance: found once, asked by slope, charge and noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.physics.cases import in_any
from clampwright.physics.charge import capacitance, diffusion_capacitance
from clampwright.physics.clamp import current_and_slope
from clampwright.physics.law import ClampState
from clampwright.physics.terminal import junction_voltage

Array = NDArray[np.float64]


@dataclass(frozen=True)
class RestPoint:
    """A clamp at one terminal voltage, one value or one per case.

    junction       : V across the junction itself
    junction_slope : S of the junction alone
    slope          : S at the terminals, behind the series resistance
    capacitance    : F of the junction, taken straight between the terminals: right while
                     ω·R_series·C is small
    """

    junction: Array
    junction_slope: Array
    slope: Array
    capacitance: Array


def rest_point(
    voltage: ArrayLike, state: ClampState, carried: ArrayLike | None = None
) -> RestPoint:
    """The point of a clamp at a terminal voltage (V, anode minus cathode).

    carried : A through the clamp where it is known, as in a solved circuit: the series resistance takes
              its share by it; without it the junction voltage is searched
    """
    across = np.asarray(voltage, float)
    if in_any(state.series_resistance):
        if carried is None:
            across = junction_voltage(across, state)
        else:
            across = across - state.series_resistance * np.asarray(carried)
    current, slope = current_and_slope(across, state)
    return RestPoint(
        junction=across,
        junction_slope=slope,
        slope=slope / (1.0 + state.series_resistance * slope),
        capacitance=capacitance(across, state) + diffusion_capacitance(current, slope, state),
    )
