"""The corners of heat, light and signal at which a design is solved."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from clampwright.physics.source_resistance import source_resistance
from clampwright.verdict.design import Amplifier, Design, Source
from clampwright.verdict.results import Corner

Array = NDArray[np.float64]

OFFSET_TEMPERATURE = 298.15  # [K] 25 °C, where sheets state the offset; common practice, no source


@dataclass(frozen=True)
class Corners:
    """Arrays with one entry per corner, SI."""

    sensor_temperature: Array
    board_temperature: Array
    illuminance: Array
    signal: Array
    source_resistance: Array

    @property
    def count(self) -> int:
        """How many corners there are."""
        return self.signal.size

    def repeated(self, times: int) -> Corners:
        """The same corners again and again: entry i + k·count is corner i."""
        every = {name: np.concatenate([values] * times) for name, values in vars(self).items()}
        return Corners(**every)

    def followed_by(self, others: Corners) -> Corners:
        """These corners, then the others."""
        pairs = zip(vars(self).items(), vars(others).values(), strict=True)
        return Corners(**{name: np.concatenate([one, other]) for (name, one), other in pairs})

    def at(self, index: int) -> Corner:
        """One corner as a frozen result."""
        return Corner(
            sensor_temperature=float(self.sensor_temperature[index]),
            board_temperature=float(self.board_temperature[index]),
            illuminance=float(self.illuminance[index]),
            signal=float(self.signal[index]),
            source_resistance=float(self.source_resistance[index]),
        )


def corners(design: Design) -> Corners:
    """Every combination of sensor and board temperature, light and signal end of a design."""
    source, board, requirement = design.source, design.board, design.requirement
    sensor = _ends(source.temperature_minimum, source.temperature_maximum)
    heat = _ends(board.temperature_minimum, board.temperature_maximum)
    light = _ends(board.illuminance_minimum, board.illuminance_maximum)
    ends: tuple[float, ...] = (requirement.signal_minimum, requirement.signal_maximum)
    if requirement.accuracy_of == "offset":
        ends = (min(max(0.0, ends[0]), ends[1]),)
    grid = np.array(list(product(sensor, heat, light, ends)), float)
    sensor_t, board_t, lux, signal = grid.T
    return Corners(
        sensor_temperature=sensor_t,
        board_temperature=board_t,
        illuminance=lux,
        signal=signal * signal_scale(design, sensor_t),
        source_resistance=resistance_at(source, sensor_t),
    )


def resistance_at(source: Source, temperature: Array) -> Array:
    """Source resistance (Ω) at sensor temperatures (K) by the sheet's law."""
    value = source_resistance(
        temperature,
        source.resistance,
        source.reference_temperature,
        source.law,
        source.interval,
    )
    return np.asarray(value, float)


def signal_scale(design: Design, sensor_temperature: Array) -> Array:
    """Factor by which signal and sensitivity scale at a sensor temperature (K)."""
    requirement = design.requirement
    if requirement.signal_law == "absolute temperature":
        return sensor_temperature / requirement.signal_temperature
    return np.ones_like(sensor_temperature)


def allowed_error(design: Design, sensor_temperature: Array) -> Array:
    """Total allowed error at the pin (V) at a sensor temperature (K)."""
    requirement = design.requirement
    if requirement.accuracy_unit == "V":
        return np.full_like(sensor_temperature, requirement.accuracy)
    per_unit = requirement.sensitivity * signal_scale(design, sensor_temperature)
    return requirement.accuracy * per_unit


def largest_offset(amplifier: Amplifier, board_temperature: Array | float) -> Array:
    """Size of the amplifier's offset voltage with its drift (V) at a board temperature (K)."""
    drift = amplifier.offset_drift * np.abs(np.asarray(board_temperature) - OFFSET_TEMPERATURE)
    return np.asarray(abs(amplifier.offset_voltage) + drift)


def _ends(low: float, high: float) -> tuple[float, ...]:
    return (low,) if low == high else (low, high)
