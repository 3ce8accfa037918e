"""Textbook depletion layer: what doping says about built-in voltage, width, field and capacitance.

Used to check fitted parameters for plausibility, and to find the image-force lowering of a Schottky
barrier. Abrupt junction, complete depletion; concentrations in 1/m³. Source: Sze, Physics of
Semiconductor Devices, ch. 2 and 3.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.physics.constants import (
    ELEMENTARY_CHARGE,
    SILICON_RELATIVE_PERMITTIVITY,
    VACUUM_PERMITTIVITY,
)
from clampwright.physics.law import Numbers
from clampwright.physics.temperature import silicon_intrinsic_concentration, thermal_voltage


def built_in_voltage(
    acceptors: Numbers,
    donors: Numbers,
    temperature: Numbers,
    intrinsic_concentration: Numbers | None = None,
) -> Any:
    """V_bi = kT/q·ln(N_A·N_D/n_i²) in V; acceptors, donors, n_i in 1/m³, temperature in K."""
    if intrinsic_concentration is None:
        intrinsic_concentration = silicon_intrinsic_concentration(temperature)
    ratio = np.asarray(acceptors, float) / intrinsic_concentration
    return thermal_voltage(temperature) * np.log(ratio * donors / intrinsic_concentration)


def depletion_width(
    reverse_voltage: Numbers,
    built_in: Numbers,
    acceptors: Numbers,
    donors: Numbers,
    relative_permittivity: Numbers = SILICON_RELATIVE_PERMITTIVITY,
) -> Any:
    """W = √(2ε(V_bi + V_R)/q·(1/N_A + 1/N_D)) in m; voltages in V (V_R ≥ 0)."""
    permittivity = VACUUM_PERMITTIVITY * np.asarray(relative_permittivity)
    voltage = np.asarray(reverse_voltage, float) + built_in
    doping = 1 / np.asarray(acceptors, float) + 1 / np.asarray(donors, float)
    return np.sqrt(2 * permittivity * voltage / ELEMENTARY_CHARGE * doping)


def largest_field(reverse_voltage: Numbers, built_in: Numbers, width: Numbers) -> Any:
    """E_max = 2(V_bi + V_R)/W in V/m."""
    return 2 * (np.asarray(reverse_voltage, float) + built_in) / width


def depletion_capacitance(
    area: Numbers,
    width: Numbers,
    relative_permittivity: Numbers = SILICON_RELATIVE_PERMITTIVITY,
) -> Any:
    """C = εA/W in F; area in m², width in m."""
    return VACUUM_PERMITTIVITY * np.asarray(relative_permittivity) * np.asarray(area) / width


def image_force_lowering(
    donors: Numbers, relative_permittivity: Numbers = SILICON_RELATIVE_PERMITTIVITY
) -> Any:
    """c in Δφ = c·(V_R + V_bi)^¼ (V^¾) for a Schottky barrier on material of `donors` (1/m³).

    Δφ = √(qE/4πε) with E = √(2qN(V_R + V_bi)/ε). Put it into `ClampLaw.image_force_lowering`; the
    clamp law counts the lowering relative to zero bias.
    """
    permittivity = VACUUM_PERMITTIVITY * np.asarray(relative_permittivity, float)
    field = np.sqrt(2 * ELEMENTARY_CHARGE * np.asarray(donors, float) / permittivity)
    return np.sqrt(ELEMENTARY_CHARGE * field / (4 * np.pi * permittivity))
