"""Noise of resistors, capacitors and clamps.

Shot noise adds the magnitudes of the mechanisms even where their currents cancel, and every dark
mechanism obeys the fluctuation–dissipation theorem: at 0 V its density is 4kT·dI/dV.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.physics.clamp import current_and_slope, mechanism_currents, multiplication
from clampwright.physics.constants import BOLTZMANN, ELEMENTARY_CHARGE
from clampwright.physics.law import ClampState, Numbers

SMALL = 1e-6  # |qV/2kT| below which y·coth y is 1 to double precision


def resistor_voltage_noise(resistance: Numbers, temperature: Numbers) -> Any:
    """√(4kTR) in V/√Hz; ohm, K. Source: Johnson and Nyquist 1928."""
    return np.sqrt(4 * BOLTZMANN * np.asarray(temperature, float) * resistance)


def resistor_current_noise(resistance: Numbers, temperature: Numbers) -> Any:
    """√(4kT/R) in A/√Hz; ohm, K."""
    return np.sqrt(4 * BOLTZMANN * np.asarray(temperature, float) / resistance)


def shot_noise(current: Numbers) -> Any:
    """√(2q|I|) in A/√Hz of a current (A) that crosses a barrier one way. Source: Schottky 1918."""
    return np.sqrt(2 * ELEMENTARY_CHARGE * np.abs(current))


def capacitor_noise(capacitance: Numbers, temperature: Numbers) -> Any:
    """√(kT/C) in V rms: the noise of any resistor in the bandwidth it makes with C (F, K)."""
    return np.sqrt(BOLTZMANN * np.asarray(temperature, float) / capacitance)


def clamp_noise_density(voltage: Numbers, state: ClampState) -> Any:
    """Noise density (A²/Hz) of a clamp at `voltage` (V): sum over its mechanisms.

    Barrier mechanisms: 2q·I·coth(qV/2kT), that is 2q(I + 2·I_0) for an ideal junction, tending to
    2q|I| far from zero and to 4kT·dI/dV at 0 V. Film: 4kT·G. Light: 2q·I_ph. Where the avalanche
    multiplies the current by M, its density grows by M² (equal ionisation by both carriers, the
    noisy case of McIntyre 1966); microplasma noise near the knee can exceed this.
    """
    v = np.asarray(voltage, float)
    currents = mechanism_currents(v, state)
    del currents["film"]  # thermal at any voltage, not shot
    light = np.abs(currents.pop("photocurrent"))
    factor = multiplication(v, state)
    steepness = _y_coth_y(v / (2 * np.asarray(state.thermal_voltage)))
    dark = sum(
        current * factor**2 if name in ("diffusion", "generation") else current
        for name, current in currents.items()
    )
    zero = v == 0
    at_zero = _dark_barrier_slope(state) if zero.any() else 0.0
    conductance = np.where(zero, at_zero, dark / np.where(zero, 1.0, v))
    thermal = 4 * ELEMENTARY_CHARGE * np.asarray(state.thermal_voltage)
    return (
        thermal * (conductance * steepness + state.film_conductance)
        + 2 * ELEMENTARY_CHARGE * light * factor**2
    )


def _dark_barrier_slope(state: ClampState) -> Any:
    """Zero-bias conductance (S) without the film; light does not change it."""
    return current_and_slope(0.0, state)[1] - state.film_conductance


def _y_coth_y(y: Any) -> Any:
    small = np.abs(y) < SMALL
    return np.where(small, 1.0, y / np.tanh(np.where(small, 1.0, y)))
