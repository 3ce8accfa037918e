"""Errors in the unit the user asked for: volts at the pin or output as pH, pA or what one sensor reads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from clampwright.record.words import THIN_SPACE, grouped
from clampwright.verdict.corners import allowed_error
from clampwright.verdict.design import Design
from clampwright.verdict.input_current import AMPERES, volts_per_ampere
from clampwright.verdict.results import Corner

DIGITS = 3
SMALLEST = 1e-4  # of a unit; below it only the bound is written


@dataclass(frozen=True)
class SensorUnit:
    """The unit of accuracy, and what one of it is worth where the error was judged.

    volts : V for one unit; the sign of the sensitivity is kept
    """

    name: str
    volts: float

    @property
    def ohms(self) -> float | None:
        """V of error for one ampere at the input, where the unit is one of current."""
        return abs(self.volts) / AMPERES[self.name] if self.is_current else None

    @property
    def is_current(self) -> bool:
        """Whether accuracy is asked for as a current."""
        return self.name in AMPERES

    def text(self, voltage: float, *, signed: bool = False) -> str:
        """A voltage in this unit with three digits; a tiny one is bounded, never rounded to nothing."""
        return f"{self.number(voltage, signed=signed)}{THIN_SPACE}{self.name}"

    def number(self, voltage: float, *, signed: bool = False) -> str:
        """The same without the unit, for a column that names it at its head."""
        value = voltage / self.volts
        if value != 0 and abs(value) < SMALLEST:
            return f"<{SMALLEST:.4f}"
        text = grouped(float(f"{value:.{DIGITS}g}"))
        return f"+{text}" if signed and value > 0 else text


def sensor_unit(design: Design, corner: Corner) -> SensorUnit | None:
    """The unit at a corner; None where accuracy is asked for in volts, the ampere at a summing node.

    The allowance is so many units by definition, so their ratio holds the signal's own law of heat.
    """
    need = design.requirement
    if need.accuracy_unit == "V":
        ohms = volts_per_ampere(design, corner.sensor_temperature)
        return None if ohms is None else SensorUnit("A", ohms)
    allowed = allowed_error(design, np.array([corner.sensor_temperature]))[0]
    return SensorUnit(need.accuracy_unit, float(allowed) / need.accuracy)


def allowed_in_units(design: Design) -> str:
    """What protection may use of the accuracy in its own unit; "" where that is the volt."""
    need = design.requirement
    if need.accuracy_unit == "V":
        return ""
    share = need.accuracy * need.protection_share
    return f"{share:.{DIGITS}g}{THIN_SPACE}{need.accuracy_unit}"
