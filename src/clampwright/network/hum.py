"""Hum and interference rectified by a junction near zero bias.

The mean of exp((V + a·cos φ)/nV_T) over a period is exp(V/nV_T)·I₀(a/nV_T) with the modified Bessel
function I₀ (Abramowitz and Stegun 9.6.16), so a sine of peak a adds current to the exponential part.
A matched antiparallel pair cancels; what is left is the mismatch.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.network.adjoint import steady_transimpedance, transfer
from clampwright.network.batch import Solution, Values, given
from clampwright.network.circuit import Circuit
from clampwright.network.linearise import LinearNetwork
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


def rectified_current(voltage: Numbers, peak: ArrayLike, state: ClampState) -> Array:
    """Mean current minus the current without hum (A), diffusion and generation in closed form.

    voltage : V, anode minus cathode, where the clamp sits; peak : V of the sine across it
    For a bias within some nV_T of zero: the widening of the depletion layer is left out, see
    `mean_current_shift`.
    """
    v = np.asarray(voltage, float)
    total = np.zeros(np.broadcast_shapes(v.shape, np.shape(peak)))
    for current, ideality in (
        (state.diffusion_current, state.diffusion_ideality),
        (state.generation_current, state.generation_ideality),
    ):
        scale = np.multiply(ideality, state.thermal_voltage)
        total = total + current * np.exp(v / scale) * bessel_excess(np.asarray(peak) / scale)
    return total


def mean_current_shift(
    voltage: Numbers, peak: ArrayLike, state: ClampState, phases: int = PHASES
) -> Array:
    """The same of the whole clamp law by averaging over a period (A).

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


def hum_error(
    circuit: Circuit,
    values: Values,
    solution: Solution,
    network: LinearNetwork,
    source: str,
    pin: str,
    peak: ArrayLike,
    frequency: float,
) -> Array:
    """Steady error (V) at `pin` that hum of `source` (V peak, Hz) makes in every clamp, per case.

    source : the fixed node that hums: the signal's, or one that couples in by a capacitor alone
    Each clamp rectifies its own share of the hum; the small steady shift it makes does not change
    that share. Clamps that see it the opposite way cancel, as they do in the circuit.
    """
    z = steady_transimpedance(network, pin)
    total = np.zeros(network.cases)
    for c in circuit.clamps:
        ends = [transfer(network, source, n, frequency)[:, 0] for n in (c.anode, c.cathode)]
        across = np.abs(ends[0] - ends[1]) * np.asarray(peak, float)
        state = given(values.laws, c.name, "law")
        shift = mean_current_shift(solution.clamp_voltage[c.name], across, state)
        for node, sign in ((c.anode, -1.0), (c.cathode, 1.0)):
            if node in network.nodes:
                total = total + sign * shift * z[:, network.nodes.index(node)]
    return total


def pair_shift(
    voltage: Numbers, peak: ArrayLike, forward: ClampState, backward: ClampState
) -> Array:
    """Rectified current out of the node of an antiparallel pair (A): forward minus backward.

    voltage : V of the node over the far end of the pair; the same hum lies across both.
    """
    return mean_current_shift(voltage, peak, forward) - mean_current_shift(
        -np.asarray(voltage, float), peak, backward
    )
