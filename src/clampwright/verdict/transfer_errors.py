"""Offset, gain error and nonlinearity of a design over its signal range."""

from __future__ import annotations

import numpy as np

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.corners import Corners, signal_scale
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import Case
from clampwright.verdict.results import TransferError

SIGNAL_POINTS = 21


def transfers(
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners
) -> tuple[TransferError, ...]:
    """Offset, gain error and nonlinearity over the signal range at each heat and light corner."""
    done: dict[tuple[float, float, float], TransferError] = {}
    for i in range(corners.count):
        key = (
            float(corners.sensor_temperature[i]),
            float(corners.board_temperature[i]),
            float(corners.illuminance[i]),
        )
        if key not in done:
            done[key] = _transfer(design, topology, clamp, corners, i)
    return tuple(done.values())


def _transfer(
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners, index: int
) -> TransferError:
    wanted = design.requirement
    heat = corners.sensor_temperature[index : index + 1]
    ends = np.array([wanted.signal_minimum, wanted.signal_maximum]) * signal_scale(design, heat)[0]
    signal = np.linspace(ends.min(), ends.max(), SIGNAL_POINTS)
    sweep = Corners(
        sensor_temperature=np.full(SIGNAL_POINTS, corners.sensor_temperature[index]),
        board_temperature=np.full(SIGNAL_POINTS, corners.board_temperature[index]),
        illuminance=np.full(SIGNAL_POINTS, corners.illuminance[index]),
        signal=signal,
        source_resistance=np.full(SIGNAL_POINTS, corners.source_resistance[index]),
    )
    case = Case(design, topology, sweep)
    active = topology.sides if clamp else ()
    error = case.pin_error(clamp, active, active[:1])
    middle = signal.mean()
    slope, offset = np.polyfit(signal - middle, error, 1)
    straight = offset + slope * (signal - middle)
    return TransferError(
        corner=corners.at(index),
        offset=float(offset),
        gain_error=float(slope),
        nonlinearity=float(np.max(np.abs(error - straight))),
    )
