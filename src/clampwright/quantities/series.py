"""Preferred values of resistors and capacitors: the E series of IEC 60063."""

from __future__ import annotations

import math
from functools import cache

from clampwright.errors import InputError

_E24_DIGITS = (
    *(10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30),
    *(33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91),
)
"""The historical list of IEC 60063; E12, E6 and E3 take every 2nd, 4th and 8th value."""

_COUNTS = {"E3": 3, "E6": 6, "E12": 12, "E24": 24, "E48": 48, "E96": 96, "E192": 192}


def series_values(name: str, low: float, high: float) -> tuple[float, ...]:
    """Every value of the series within [low, high], rising.

    name : "E3", "E6", "E12", "E24", "E48", "E96" or "E192"
    low, high : any unit, 0 < low ≤ high, both finite

    Raises InputError for an unknown name or limits out of order.
    Source: IEC 60063.
    """
    _require(low, "low limit")
    _require(high, "high limit")
    if low > high:
        raise InputError(f"the low limit {low:g} lies above the high limit {high:g}")
    decades = range(_decade(low), _decade(high) + 1)
    values = (value for decade in decades for value in _scaled(name, decade))
    return tuple(value for value in values if low <= value <= high)


@cache
def _digits(name: str) -> tuple[int, ...]:
    """Mantissas of one decade as whole numbers: two digits to E24, three digits from E48 on."""
    if name not in _COUNTS:
        raise InputError(
            f'"{name}" is not a series of preferred values', expected=", ".join(_COUNTS)
        )
    count = _COUNTS[name]
    if count <= 24:
        return _E24_DIGITS[:: 24 // count]
    rounded = (round(1000 * 10 ** (step / count - 1)) for step in range(count))
    return tuple(920 if digits == 919 else digits for digits in rounded)


def _scaled(name: str, decade: int) -> tuple[float, ...]:
    """The series in [10^decade, 10^(decade+1)), each value the nearest float to its decimal."""
    shift = decade - (1 if _COUNTS.get(name, 0) <= 24 else 2)
    return tuple(float(f"{digits}e{shift}") for digits in _digits(name))


def _decade(value: float) -> int:
    """Exponent of the first digit, taken from the shortest decimal so that 1000 is exactly 3."""
    return int(f"{value:.16e}".partition("e")[2])


def _require(value: float, what: str) -> None:
    if not (math.isfinite(value) and 1e-300 < value < 1e300):
        raise InputError(
            f"the {what} {value:g} has no preferred value", expected="a positive finite number"
        )
