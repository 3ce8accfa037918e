"""Inputs whose node is held by feedback: what the network costs an inverting or current amplifier.

The network is linearised with the summing node left unknown and the feedback left out; the adjoint
solution then gives both the current each source drives into the held node and the admittance that
multiplies the amplifier's own noise and offset (noise gain).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.network.adjoint import transimpedance
from clampwright.network.linearise import LinearNetwork
from clampwright.network.noise_at import NoiseCurrent, NoisePower, column, pink, towards
from clampwright.physics.constants import BOLTZMANN

Array = NDArray[np.float64]
Phasors = NDArray[np.complex128]


@dataclass(frozen=True)
class Feedback:
    """Feedback resistor (Ω, at `temperature` K) and capacitor (F); gain-bandwidth product (Hz)."""

    resistance: float
    temperature: float
    capacitance: float = 0.0
    gain_bandwidth: float = np.inf


@dataclass(frozen=True)
class AmplifierNoise:
    """Voltage (V/√Hz) and current noise (A/√Hz) of the amplifier with their 1/f corners (Hz)."""

    voltage: float
    current: float = 0.0
    voltage_corner: float = 0.0
    current_corner: float = 0.0


def noise_gain(
    network: LinearNetwork, node: str, feedback: Feedback, frequency: ArrayLike
) -> Phasors:
    """1 + Z_f/Z of the held node, (cases, frequencies): what offset and voltage noise are times."""
    f = np.atleast_1d(np.asarray(frequency, float))
    z = transimpedance(network, node, f)[:, :, network.nodes.index(node)]
    return 1.0 + feedback_impedance(feedback, f) / z


def feedback_impedance(feedback: Feedback, frequency: ArrayLike) -> Phasors:
    """R_f parallel to C_f (Ω) at each frequency (Hz)."""
    s = 2j * np.pi * np.asarray(frequency, float)
    return np.asarray(feedback.resistance / (1.0 + s * feedback.resistance * feedback.capacitance))


def virtual_ground_noise(
    network: LinearNetwork,
    node: str,
    feedback: Feedback,
    frequency: ArrayLike,
    currents: Iterable[NoiseCurrent],
    amplifier: AmplifierNoise,
) -> NoisePower:
    """Noise at the amplifier's output (V²/Hz) of every source, (cases, frequencies).

    Divide by |Z_f|² for the noise referred to the input current (A²/Hz).
    """
    f = np.atleast_1d(np.asarray(frequency, float))
    z = transimpedance(network, node, f)
    here = network.nodes.index(node)
    impedance = feedback_impedance(feedback, f)
    gain = 1.0 + impedance / z[:, :, here]
    closed = np.abs(1.0 / (1.0 + 1j * f * gain / feedback.gain_bandwidth)) ** 2
    lift = np.abs(impedance) ** 2 * closed
    found: dict[str, Array] = {}
    for source in currents:
        into = (towards(network, z, source.b) - towards(network, z, source.a)) / z[:, :, here]
        power = column(source.power) * pink(f, source.corner, source.name)
        found[source.name] = np.abs(into) ** 2 * lift * power
    thermal = 4 * BOLTZMANN * feedback.temperature / feedback.resistance
    found["feedback resistor"] = lift * thermal
    voltage = amplifier.voltage**2 * pink(f, amplifier.voltage_corner, "amplifier voltage noise")
    found["amplifier voltage noise"] = np.abs(gain) ** 2 * closed * voltage
    current = amplifier.current**2 * pink(f, amplifier.current_corner, "amplifier current noise")
    found["amplifier current noise"] = lift * current
    return NoisePower(found)
