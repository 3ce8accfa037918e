"""Temperature of the part from what its thermometer shows: platinum resistor or type K couple.

A kelvin of error is 8 % of a leakage, so the inverse is exact to the table and says its tolerance.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.polynomial.polynomial import polyval
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.quantities import ZERO_CELSIUS

Array = NDArray[np.float64]

# Platinum (IEC 60751): R/R_0 = 1 + A·t + B·t² + C·(t − 100)·t³ with t in °C, C only below 0 °C
PLATINUM_A = 3.9083e-3  # [1/°C]
PLATINUM_B = -5.775e-7  # [1/°C²]
PLATINUM_C = -4.183e-12  # [1/°C⁴]
PLATINUM_RANGE = (73.15, 1123.15)  # [K] −200…850 °C
PLATINUM_CLASSES = {"A": (0.15, 0.002), "B": (0.3, 0.005)}  # [K] at 0 °C, and for each °C

# Type K (ITS-90, NIST Monograph 175): millivolts from °C, reference junction at 0 °C
TYPE_K_BELOW = (
    0.0, 3.94501280250e-2, 2.36223735980e-5, -3.28589067840e-7, -4.99048287770e-9,
    -6.75090591730e-11, -5.74103274280e-13, -3.10888728940e-15, -1.04516093650e-17,
    -1.98892668780e-20, -1.63226974860e-23,
)  # fmt: skip
TYPE_K_ABOVE = (
    -1.76004136860e-2, 3.89212049750e-2, 1.85587700320e-5, -9.94575928740e-8, 3.18409457190e-10,
    -5.60728448890e-13, 5.60750590590e-16, -3.20207200030e-19, 9.71511471520e-23,
    -1.21047212750e-26,
)  # fmt: skip
TYPE_K_BUMP = (0.118597600000, -1.18343200000e-4, 126.968600000)  # [mV], [1/°C²], [°C]
TYPE_K_RANGE = (3.15, 1645.15)  # [K] −270…1372 °C
TYPE_K_CLASSES = {"1": (1.5, 0.004), "2": (2.5, 0.0075)}
"""IEC 60584-1, from memory: the larger of so many K and that share of the temperature in °C."""
STEPS = 60  # [1] of the inverse; bisection halves the range to far below 1 µK


def platinum_resistance(temperature: float, nominal: float = 100.0) -> float:
    """Resistance (Ω) of a platinum thermometer of `nominal` Ω at 0 °C; 73.15…1123.15 K."""
    _within(temperature, PLATINUM_RANGE, "platinum thermometer")
    return nominal * float(_platinum(np.array(temperature)))


def platinum_temperature(resistance: float, nominal: float = 100.0) -> float:
    """Temperature (K) at which a platinum thermometer has this resistance (Ω)."""
    lowest, highest = (platinum_resistance(t, nominal) for t in PLATINUM_RANGE)
    if not lowest <= resistance <= highest:
        raise InputError(
            f"{resistance:g} Ω is no platinum thermometer of {nominal:g} Ω",
            expected=f"{lowest:.4g} to {highest:.4g} Ω",
            mend="look for a broken or shorted lead",
        )
    return float(platinum_temperatures(np.array([resistance / nominal * 100.0]))[0])


def platinum_temperatures(ohms: Array) -> Array:
    """Temperatures (K) of a Pt100 with these resistances (Ω); NaN for what none has."""
    return _inverse(_platinum, ohms / 100.0, PLATINUM_RANGE)


def platinum_tolerance(temperature: float, tolerance_class: str = "B") -> float:
    """Half-width (K) allowed to a new thermometer of class A or B at `temperature` (K)."""
    if tolerance_class not in PLATINUM_CLASSES:
        raise InputError(f'no class "{tolerance_class}"', expected="A or B")
    at_zero, slope = PLATINUM_CLASSES[tolerance_class]
    return at_zero + slope * abs(temperature - ZERO_CELSIUS)


def type_k_voltage(temperature: float, reference: float = ZERO_CELSIUS) -> float:
    """Voltage (V) of a type K couple, `temperature` and `reference` junction in K."""
    _within(temperature, TYPE_K_RANGE, "type K couple")
    _within(reference, TYPE_K_RANGE, "reference junction")
    return 1e-3 * float(_type_k(np.array(temperature)) - _type_k(np.array(reference)))


def type_k_temperature(voltage: float, reference: float = ZERO_CELSIUS) -> float:
    """Temperature (K) of the hot junction from the voltage (V) and the reference junction (K)."""
    lowest, highest = (type_k_voltage(t, reference) for t in TYPE_K_RANGE)
    if not lowest <= voltage <= highest:
        raise InputError(
            f"{1e3 * voltage:g} mV is beyond a type K couple",
            expected=f"{1e3 * lowest:.4g} to {1e3 * highest:.4g} mV "
            f"against {reference - ZERO_CELSIUS:g} °C",
            mend="look for swapped leads, a broken couple, or microvolts taken for millivolts",
        )
    return float(type_k_temperatures(np.array([voltage]), np.array([reference]))[0])


def type_k_temperatures(volts: Array, reference: Array) -> Array:
    """Temperatures (K) of hot junctions from voltages (V) and reference junctions (K); NaN beyond."""
    return _inverse(_type_k, 1e3 * volts + _type_k(reference), TYPE_K_RANGE)


def type_k_tolerance(temperature: float, tolerance_class: str = "2") -> float:
    """Half-width (K) allowed to a new couple of class 1 or 2 at `temperature` (K), above −40 °C."""
    if tolerance_class not in TYPE_K_CLASSES:
        raise InputError(f'no class "{tolerance_class}"', expected="1 or 2")
    least, share = TYPE_K_CLASSES[tolerance_class]
    return max(least, share * abs(temperature - ZERO_CELSIUS))


def _type_k(temperature: Array) -> Array:
    """Millivolts against 0 °C."""
    t = np.asarray(temperature - ZERO_CELSIUS)
    size, rate, centre = TYPE_K_BUMP
    above = polyval(t, np.array(TYPE_K_ABOVE)) + size * np.exp(rate * (t - centre) ** 2)
    return np.asarray(np.where(t < 0, polyval(np.minimum(t, 0.0), np.array(TYPE_K_BELOW)), above))


def _platinum(temperature: Array) -> Array:
    """Resistance over that at 0 °C."""
    t = np.asarray(temperature - ZERO_CELSIUS)
    cold = np.where(t < 0, PLATINUM_C * (t - 100.0) * t**3, 0.0)
    return np.asarray(1.0 + PLATINUM_A * t + PLATINUM_B * t**2 + cold)


def _inverse(curve: Callable[[Array], Array], wanted: Array, limits: tuple[float, float]) -> Array:
    """Where a rising curve has these values, by bisection; NaN beyond its ends."""
    low, high = np.full(wanted.shape, limits[0]), np.full(wanted.shape, limits[1])
    lowest, highest = curve(np.array(limits))
    for _ in range(STEPS):
        middle = (low + high) / 2
        below = curve(middle) < wanted
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    inside = (wanted >= lowest) & (wanted <= highest)
    return np.asarray(np.where(inside, (low + high) / 2, np.nan))


def _within(temperature: float, limits: tuple[float, float], what: str) -> None:
    if not limits[0] - 1e-9 <= temperature <= limits[1] + 1e-9:
        raise InputError(
            f"{temperature - ZERO_CELSIUS:g} °C is beyond a {what}",
            expected=f"{limits[0] - ZERO_CELSIUS:g} to {limits[1] - ZERO_CELSIUS:g} °C",
        )


__all__ = [
    "platinum_resistance",
    "platinum_temperature",
    "platinum_temperatures",
    "platinum_tolerance",
    "type_k_temperature",
    "type_k_temperatures",
    "type_k_tolerance",
    "type_k_voltage",
]
