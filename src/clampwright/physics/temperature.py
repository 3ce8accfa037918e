"""Temperature laws by mechanism: how a current moves with temperature, and what a fit will see.

Temperatures in kelvin, energies in electronvolts.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.physics.constants import BOLTZMANN_PER_CHARGE
from clampwright.physics.law import Numbers


def temperature_factor(
    temperature: Numbers, reference: Numbers, activation_energy: Numbers, exponent: Numbers
) -> Any:
    """(T/T0)^exponent · exp(−E/k·(1/T − 1/T0)): Arrhenius with a power of temperature.

    temperature, reference : K, > 0
    activation_energy : eV; exponent : power of T (diffusion 3, Schottky 2, generation 1.5…2.5)

    Returns the ratio I(T)/I(T0). Source: Sze, Physics of Semiconductor Devices, ch. 2 and 3.
    """
    t, t0 = np.asarray(temperature, float), np.asarray(reference, float)
    return (t / t0) ** exponent * np.exp(
        -np.asarray(activation_energy) / BOLTZMANN_PER_CHARGE * (1 / t - 1 / t0)
    )


def thermal_voltage(temperature: Numbers) -> Any:
    """kT/q (V) at `temperature` (K)."""
    return BOLTZMANN_PER_CHARGE * np.asarray(temperature, float)


def apparent_activation_energy(
    activation_energy: Numbers, exponent: Numbers, temperature: Numbers
) -> Any:
    """E + γkT (eV): what an Arrhenius fit around `temperature` (K) reports for T^γ·exp(−E/kT)."""
    return np.asarray(activation_energy) + np.asarray(exponent) * thermal_voltage(temperature)


def doubling_interval(
    temperature: Numbers, activation_energy: Numbers, exponent: Numbers = 0.0
) -> Any:
    """Temperature rise (K) that doubles the current, from the slope d ln I/dT at `temperature`."""
    t = np.asarray(temperature, float)
    energy = apparent_activation_energy(activation_energy, exponent, t)
    return np.log(2.0) * BOLTZMANN_PER_CHARGE * t**2 / energy


def silicon_band_gap(temperature: Numbers) -> Any:
    """Band gap of silicon (eV): 1.17 − 4.73e-4·T²/(T + 636), 0…600 K.

    Source: Varshni form with the constants of Sze, Physics of Semiconductor Devices.
    """
    t = np.asarray(temperature, float)
    return 1.17 - 4.73e-4 * t**2 / (t + 636.0)


def silicon_intrinsic_concentration(temperature: Numbers) -> Any:
    """Intrinsic carrier concentration of silicon (1/m³), 77…400 K.

    5.29e25·(T/300)^2.54·exp(−6726/T). Source: Misiakos and Tsamakis, J. Appl. Phys. 74 (1993) 3293.
    Other published fits differ by up to a factor 1.6.
    """
    t = np.asarray(temperature, float)
    return 5.29e25 * (t / 300.0) ** 2.54 * np.exp(-6726.0 / t)
