"""What can be real on a bench or a board: magnitudes beyond it are slips of the pen and are refused.

The ranges are wide on purpose (common practice, no source); they hold for what people type and for
files of readings, not for results.
"""

from __future__ import annotations

from collections.abc import Mapping

from clampwright.errors import InputError
from clampwright.quantities.writing import write

PLAUSIBLE: Mapping[str, tuple[float, float]] = {
    "voltage": (1e-12, 1e6),
    "current": (1e-21, 1e6),
    "resistance": (1e-9, 1e17),
    "conductance": (1e-18, 1e9),
    "capacitance": (1e-18, 1e3),
    "inductance": (1e-15, 1e3),
    "charge": (1e-18, 1e6),
    "power": (1e-18, 1e9),
    "energy": (1e-18, 1e12),
    "temperature": (1e-3, 3273.15),
    "temperature_difference": (1e-6, 3000.0),
    "illuminance": (1e-6, 1e7),
    "time": (1e-15, 1e10),
    "frequency": (1e-9, 1e13),
    "ratio": (1e-15, 1e9),
    "responsivity": (1e-21, 1.0),
    "thermal_resistance": (1e-3, 1e6),
    "transresistance": (1e-3, 1e17),
    "voltage_noise": (1e-15, 1.0),
    "current_noise": (1e-18, 1.0),
    "voltage_drift": (1e-12, 1e3),
    "current_drift": (1e-18, 1.0),
    "voltage_rate": (1e-9, 1e15),
    "activation_energy": (1e-3, 10.0),
}
"""Dimension → least and largest magnitude besides zero, in SI."""


def plausible(value: float, dimension: str, shown: str = "") -> float:
    """`value` (SI) itself, or InputError where its magnitude cannot be meant.

    shown : the text as it was typed, for the message
    """
    least, largest = PLAUSIBLE[dimension]
    if value == 0 or least <= abs(value) <= largest:
        return value
    side = "large" if abs(value) > largest else "small"
    ends = " … ".join(write(end, dimension) for end in (least, largest))
    number = shown.strip()[:24] or f"{value:g}"
    raise InputError(f'"{number}" is too {side} to be meant', expected=ends)


__all__ = ["PLAUSIBLE", "plausible"]
