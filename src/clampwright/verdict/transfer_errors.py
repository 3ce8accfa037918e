"""Offset, gain error and nonlinearity of a design over its signal range."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.corners import Corners, signal_scale
from clampwright.verdict.design import Design
from clampwright.verdict.laid_out import Case
from clampwright.verdict.results import Corner, TransferError

Array = NDArray[np.float64]

SIGNAL_POINTS = 21


def transfers(
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners
) -> tuple[TransferError, ...]:
    """Offset, gain error and nonlinearity over the signal range at each heat and light corner."""
    key = np.column_stack(
        [corners.sensor_temperature, corners.board_temperature, corners.illuminance]
    )
    _, first = np.unique(key, axis=0, return_index=True)
    chosen = [int(i) for i in np.sort(first)]
    wanted, points = design.requirement, SIGNAL_POINTS
    ends = np.array([wanted.signal_minimum, wanted.signal_maximum])
    scale = signal_scale(design, corners.sensor_temperature[chosen])
    low, high = np.sort(ends[:, None] * scale, axis=0)
    signal = np.linspace(low, high, points, axis=1)
    sweep = Corners(
        sensor_temperature=np.repeat(corners.sensor_temperature[chosen], points),
        board_temperature=np.repeat(corners.board_temperature[chosen], points),
        illuminance=np.repeat(corners.illuminance[chosen], points),
        signal=signal.ravel(),
        source_resistance=np.repeat(corners.source_resistance[chosen], points),
    )
    active = topology.sides if clamp else ()
    error = Case(design, topology, sweep).pin_error(clamp, active, active[:1])
    rows = zip(chosen, signal, error.reshape(len(chosen), points), strict=True)
    return tuple(_straight(corners.at(i), x, y) for i, x, y in rows)


def _straight(corner: Corner, signal: Array, error: Array) -> TransferError:
    """The straight line through the error over the signal, and how far the error leaves it.

    The offset is that of the line at the middle of the signal range, which the corner then names.
    """
    middle = signal.mean()
    slope, offset = np.polyfit(signal - middle, error, 1)
    straight = offset + slope * (signal - middle)
    return TransferError(
        corner=corner.model_copy(update={"signal": float(middle)}),
        offset=float(offset),
        gain_error=float(slope),
        nonlinearity=float(np.max(np.abs(error - straight))),
    )
