"""Second harmonic that clamps make of a sine: their capacitance and current change with the signal.

Second-order perturbation: every clamp feeds back a current at twice the frequency made of the square
of its own voltage; the adjoint solution at that frequency carries it to the pin. Clamps above and
below a node mid-way between the rails cancel each other's, as their derivatives differ in sign.
Valid while the harmonic is small against the fundamental.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.network.adjoint import transfer, transimpedance
from clampwright.network.batch import Solution, Values, given
from clampwright.network.circuit import Circuit
from clampwright.network.linearise import LinearNetwork
from clampwright.physics.clamp import current_and_slope
from clampwright.physics.law import ClampState, Numbers

Array = NDArray[np.float64]
Phasors = NDArray[np.complex128]

CURVATURE_STEP = 1e-3  # of kT/q; the central difference is then good to about 1e-7


def second_harmonic(
    circuit: Circuit,
    values: Values,
    solution: Solution,
    network: LinearNetwork,
    source: str,
    pin: str,
    peak: ArrayLike,
    frequency: float,
) -> Array:
    """Second harmonic over fundamental at `pin`, one ratio per case.

    solution, network : of the circuit at the middle of the sine, network with its capacitors
    peak              : V of the sine at `source`; frequency : Hz
    """
    amplitude = np.asarray(peak, float)
    z = transimpedance(network, pin, 2 * frequency)[:, 0]
    omega = 2 * np.pi * frequency
    harmonic = np.zeros(network.cases, complex)
    for clamp in circuit.clamps:
        state = given(values.laws, clamp.name, "law")
        volts = solution.clamp_voltage[clamp.name]
        ends = [transfer(network, source, n, frequency)[:, 0] for n in (clamp.anode, clamp.cathode)]
        square = ((ends[0] - ends[1]) * amplitude) ** 2
        drawn = square * (
            0.5j * omega * capacitance_slope(volts, state) + 0.25 * curvature(volts, state)
        )
        harmonic += drawn * (_at(network, z, clamp.cathode) - _at(network, z, clamp.anode))
    fundamental = transfer(network, source, pin, frequency)[:, 0] * amplitude
    return np.asarray(np.abs(harmonic) / np.abs(fundamental))


def capacitance_slope(voltage: Numbers, state: ClampState) -> Array:
    """dC/dV (F/V) of the depletion capacitance at `voltage` (V): the derivative of `capacitance`."""
    reverse = np.maximum(-np.asarray(voltage, float), 0.0)
    grading = np.asarray(state.grading)
    falling = (1 + reverse / state.built_in_voltage) ** -(grading + 1.0)
    return np.asarray(state.zero_bias_capacitance * grading / state.built_in_voltage * falling)


def curvature(voltage: Numbers, state: ClampState) -> Array:
    """d²I/dV² (A/V²) at `voltage` (V)."""
    v, step = np.asarray(voltage, float), CURVATURE_STEP * np.asarray(state.thermal_voltage)
    above, below = current_and_slope(v + step, state)[1], current_and_slope(v - step, state)[1]
    return np.asarray((above - below) / (2 * step))


def _at(network: LinearNetwork, z: Phasors, node: str) -> Phasors:
    if node in network.nodes:
        return z[:, network.nodes.index(node)]
    return np.zeros(len(z), complex)
