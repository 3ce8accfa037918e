"""A fitted law seen as one activation energy and one exponent, with their standard uncertainties."""

from __future__ import annotations

from math import log, sqrt
from typing import NamedTuple

from clampwright.parts.law_fit import FittedLaw
from clampwright.parts.law_interval import principal_directions
from clampwright.parts.law_model import reverse_leakage
from clampwright.physics.clamp import ClampLaw
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE, BUILT_IN_VOLTAGE


class Apparent(NamedTuple):
    """A value and its standard uncertainty."""

    value: float
    standard_uncertainty: float


def apparent_energy(fitted: FittedLaw, voltage: float, cold: float, hot: float) -> Apparent:
    """k·ln(I₂/I₁)/(1/T₁ − 1/T₂) in eV at a reverse voltage (V) between two temperatures (K)."""
    kelvin = (1 / cold - 1 / hot) / BOLTZMANN_PER_CHARGE
    return _apparent(fitted, (voltage, hot), (voltage, cold), kelvin)


def apparent_exponent(fitted: FittedLaw, low: float, high: float, temperature: float) -> Apparent:
    """Exponent of the leakage over V + 0.7 V between two reverse voltages (V) at a temperature (K)."""
    wide = log((high + BUILT_IN_VOLTAGE) / (low + BUILT_IN_VOLTAGE))
    return _apparent(fitted, (high, temperature), (low, temperature), wide)


def _apparent(
    fitted: FittedLaw, one: tuple[float, float], other: tuple[float, float], by: float
) -> Apparent:
    """ln of the ratio of two leakages over `by`; doubt: laws one standard deviation away."""

    def of(law: ClampLaw) -> float:
        return log(float(reverse_leakage(law, *one)) / float(reverse_leakage(law, *other))) / by

    value = of(fitted.law)
    moved = (of(law) - value for law in principal_directions(fitted))
    return Apparent(value, sqrt(sum(change**2 for change in moved)))


__all__ = ["Apparent", "apparent_energy", "apparent_exponent"]
