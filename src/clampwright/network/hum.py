"""Hum and interference rectified by a junction near zero bias.

The mean of exp((V + a·cos φ)/nV_T) over a period is exp(V/nV_T)·I₀(a/nV_T) with the modified Bessel
function I₀ (Abramowitz and Stegun 9.6.16), so a sine of peak a adds current to the exponential part.
A matched antiparallel pair cancels; what is left is the mismatch.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.physics.clamp import current_and_slope
from clampwright.physics.law import ClampState, Numbers

Array = NDArray[np.float64]

PHASES = 4096  # of a period; the mean of a smooth law is exact with far fewer, kinks need them
AT_ONCE = 64  # phases evaluated together
SERIES_BELOW = 1.0  # argument under which the power series keeps the digits of I₀ − 1
SERIES_TERMS = 12


def bessel_excess(argument: ArrayLike) -> Array:
    """I₀(x) − 1 without loss at small x (≈ x²/4)."""
    x = np.abs(np.asarray(argument, float))
    quarter = np.where(x < SERIES_BELOW, x * x / 4, 0.0)
    total, term = np.zeros_like(x), np.ones_like(x)
    for k in range(1, SERIES_TERMS + 1):
        term = term * quarter / k**2
        total = total + term
    return np.where(x < SERIES_BELOW, total, np.i0(np.where(x < SERIES_BELOW, 0.0, x)) - 1.0)


def rectified_share(peak: ArrayLike, ideality: ArrayLike, thermal_voltage: ArrayLike) -> Array:
    """Rectified current over saturation current at 0 V: I₀(a/nV_T) − 1; peak and V_T in V."""
    return bessel_excess(np.asarray(peak, float) / np.multiply(ideality, thermal_voltage))


def mean_current_shift(
    voltage: Numbers, peak: ArrayLike, state: ClampState, phases: int = PHASES
) -> Array:
    """Mean current minus the current without hum (A), by averaging the whole clamp law over a period.

    voltage : V, anode minus cathode, where the clamp sits; peak : V of the sine across it
    phases : of the average, a multiple of 64; 256 are good to 1e-4 within some volts
    Includes widening, avalanche and film; limited near 1e-12 of the current by rounding.
    """
    phase = (np.arange(phases) + 0.5) * np.pi / phases  # half a period: the cosine is even
    v, a = np.broadcast_arrays(np.asarray(voltage, float), np.asarray(peak, float))
    still = current_and_slope(v, state)[0]
    shape = np.shape(still)
    total = np.zeros(shape)
    for part in np.cos(phase).reshape(-1, AT_ONCE):
        waved = v + a * part.reshape(-1, *(1 for _ in shape))
        total = total + np.sum(current_and_slope(waved, state)[0] - still, axis=0)
    return total / phases
