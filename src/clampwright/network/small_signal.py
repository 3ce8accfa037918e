"""Bandwidth, settling and noise of a resistor ladder given by its matrices.

For callers that have a ladder and no circuit; the answers come from the modules that serve any circuit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampwright.network import adjoint, noise_at, noise_band, settling
from clampwright.network.linearise import LinearNetwork, Stamp

Array = NDArray[np.float64]

SOURCE, FIXED = "source", "fixed potential"
ROUNDING = 4 * float(np.finfo(float).eps)  # of a diagonal: below, a row sum says nothing


@dataclass(frozen=True)
class Ladder:
    """A linearised network at one corner.

    conductance : (n, n) S, the full nodal matrix; capacitance : (n, n) F;
    drive : (n,) S, coupling of each node to the source; pin : index of the amplifier pin.
    """

    conductance: Array
    capacitance: Array
    drive: Array
    pin: int


@dataclass(frozen=True)
class Noise:
    """Noise at the pin: density at low frequency (V/√Hz) by source, total, and in the band (V)."""

    by_source: dict[str, float]
    density: float
    integrated: float


def transfer(ladder: Ladder, frequency: Array) -> NDArray[np.complexfloating]:
    """Voltage at the pin per volt of source at each frequency (Hz)."""
    found = adjoint.transfer(_network(ladder), SOURCE, _node(ladder.pin), frequency)
    return np.asarray(found[0])


def bandwidth(ladder: Ladder) -> float:
    """Frequency (Hz) at which the transfer falls by 3 dB; inf without capacitance."""
    return float(settling.bandwidth(_network(ladder), SOURCE, _node(ladder.pin))[0])


def settling_time(ladder: Ladder, relative_error: float) -> float:
    """Time (s) after a step of the source until the pin stays within `relative_error` of its end."""
    network = _network(ladder)
    return float(settling.settling_time(network, SOURCE, _node(ladder.pin), relative_error)[0])


def noise(
    ladder: Ladder,
    currents: dict[str, tuple[int, int, float]],
    pin_voltage_noise: float,
    band: float,
) -> Noise:
    """Noise at the pin from current sources and a voltage source at the amplifier.

    currents : name → (node from, node to, density A/√Hz); −1 stands for a fixed potential
    band     : Hz, brick-wall upper edge of the integral
    """
    network, pin = _network(ladder), _node(ladder.pin)
    sources = [
        noise_at.NoiseCurrent(name, _node(a), _node(b), density**2)
        for name, (a, b, density) in currents.items()
    ]
    own = [noise_at.NoiseVoltage("amplifier voltage noise", pin_voltage_noise)]

    def power(frequency: Array) -> noise_at.NoisePower:
        return noise_at.noise_power(network, pin, frequency, sources, own)

    still = power(np.zeros(1))
    constants = settling.time_constants(network)[0]
    slowest = 1 / (2 * np.pi * np.abs(constants).max()) if constants.size else np.inf
    rms = noise_band.noise_in_band(lambda f: power(f).total, band, "brick wall", slowest=slowest)
    return Noise(
        by_source={name: float(np.sqrt(p[0, 0])) for name, p in still.by_source.items()},
        density=float(still.density[0, 0]),
        integrated=float(rms[0]),
    )


def _node(index: int) -> str:
    return FIXED if index < 0 else f"node {index}"


def _network(ladder: Ladder) -> LinearNetwork:
    nodes = tuple(_node(i) for i in range(ladder.drive.size))
    names = (SOURCE, FIXED, *nodes)
    return LinearNetwork(
        nodes,
        {name: (name, np.ones(1)) for name in names},
        _stamp(ladder.conductance, ladder.drive),
        _stamp(ladder.capacitance, np.zeros_like(ladder.drive)),
    )


def _stamp(matrix: Array, drive: Array) -> Stamp:
    coupling = -matrix * (1.0 - np.eye(len(matrix)))
    rest = matrix.sum(axis=1) - drive
    rest = np.where(
        rest > ROUNDING * np.diag(matrix), rest, 0.0
    )  # what the matrix still knows of it
    return Stamp(
        coupling[None], {SOURCE: drive[None], FIXED: rest[None]}, np.zeros((1, len(drive))), {}
    )
