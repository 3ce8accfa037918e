"""Noise of any circuit at any node: every source by one adjoint solution.

Magnitudes add although currents cancel: two clamps whose leakages oppose are twice as noisy as one.
Sources: Nyquist 1928 (4kT/R); Schottky 1918 (2qI); `physics.noise` for what a clamp makes.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.adjoint import transfer, transimpedance
from clampwright.network.batch import Values, given
from clampwright.network.circuit import Circuit
from clampwright.network.linearise import LinearNetwork
from clampwright.network.rest_point import RestPoint
from clampwright.physics.cases import in_any
from clampwright.physics.constants import BOLTZMANN, BOLTZMANN_PER_CHARGE
from clampwright.physics.law import ClampState
from clampwright.physics.noise import clamp_noise_density, resistor_current_noise

Array = NDArray[np.float64]


@dataclass(frozen=True)
class NoiseCurrent:
    """A noise current (A²/Hz, one value or one per case) between two nodes; 1/f below `corner` (Hz)."""

    name: str
    a: str
    b: str
    power: ArrayLike
    corner: float = 0.0


@dataclass(frozen=True)
class NoiseVoltage:
    """A noise voltage (V/√Hz, one value or one per case); 1/f below `corner` (Hz).

    at : a follower whose output has it, or a fixed node such as a rail; empty: the very output, as
    the voltage noise of the amplifier that reads it
    """

    name: str
    density: ArrayLike
    corner: float = 0.0
    at: str = ""


@dataclass(frozen=True)
class NoisePower:
    """Noise at a node (V²/Hz) of each source and of all, (cases, frequencies)."""

    by_source: dict[str, Array]

    @property
    def total(self) -> Array:
        """Sum over the sources, V²/Hz."""
        return np.asarray(np.sum(list(self.by_source.values()), axis=0))

    @property
    def density(self) -> Array:
        """√ of `total`, V/√Hz."""
        return np.sqrt(self.total)


def resistor_currents(
    circuit: Circuit, values: Values, temperature: Mapping[str, ArrayLike]
) -> list[NoiseCurrent]:
    """Thermal noise of each resistor at its own temperature (K, by name)."""
    return [
        NoiseCurrent(
            r.name,
            r.a,
            r.b,
            resistor_current_noise(
                np.asarray(given(values.resistances, r.name, "resistance"), float),
                np.asarray(given(temperature, r.name, "temperature"), float),
            )
            ** 2,
        )
        for r in circuit.resistors
    ]


def clamp_currents(
    circuit: Circuit, values: Values, clamps: Mapping[str, RestPoint]
) -> list[NoiseCurrent]:
    """Noise of each clamp where it rests, its series resistance at the same temperature.

    clamps : as the linearised network holds them
    """
    return [
        NoiseCurrent(
            c.name,
            c.anode,
            c.cathode,
            terminal_noise_power(clamps[c.name], given(values.laws, c.name, "law")),
        )
        for c in circuit.clamps
    ]


def terminal_noise_power(point: RestPoint, state: ClampState) -> Array:
    """Noise current power (A²/Hz) of a clamp with its series resistance where it rests."""
    own = clamp_noise_density(point.junction, state)
    if not in_any(state.series_resistance):
        return np.asarray(own)
    loading = state.series_resistance * point.junction_slope
    kelvin = np.asarray(state.thermal_voltage) / BOLTZMANN_PER_CHARGE
    thermal = 4 * BOLTZMANN * kelvin * loading * point.junction_slope
    return np.asarray((own + thermal) / (1 + loading) ** 2)


def noise_power(
    network: LinearNetwork,
    node: str,
    frequency: ArrayLike,
    currents: Iterable[NoiseCurrent],
    voltages: Sequence[NoiseVoltage] = (),
    less: str = "",
) -> NoisePower:
    """Noise at `node` of every source at each frequency (Hz).

    less : for a differential input the other pin; the noise is that of node minus other pin
    The amplifier adds a `NoiseCurrent` from a fixed node into its pin and a `NoiseVoltage`.
    Raises InputError where 1/f noise is asked for at 0 Hz.
    """
    f = np.atleast_1d(np.asarray(frequency, float))
    pins = [(node, 1.0)] + ([(less, -1.0)] if less else [])
    z = np.asarray(sum(sign * transimpedance(network, pin, f) for pin, sign in pins))
    across = {name: towards(network, z, name) for name in network.ties}
    found: dict[str, Array] = {}
    for source in currents:
        gain = np.abs(across[_known(network, source.b)] - across[_known(network, source.a)]) ** 2
        found[source.name] = gain * column(source.power) * pink(f, source.corner, source.name)
    for v in voltages:
        power = column(np.square(v.density)) * pink(f, v.corner, v.name)
        if v.at:
            passed = [sign * transfer(network, v.at, pin, f) for pin, sign in pins]
            power = power * np.abs(np.sum(passed, axis=0)) ** 2
        found[v.name] = np.broadcast_to(power, (network.cases, f.size))
    return NoisePower(found)


def towards(network: LinearNetwork, z: NDArray[np.complex128], node: str) -> NDArray[np.complex128]:
    """Transimpedance from any node: a fixed or a driven node swallows current without a trace."""
    if node in network.nodes:
        return z[:, :, network.nodes.index(node)]
    return np.zeros(z.shape[:2], complex)


def _known(network: LinearNetwork, node: str) -> str:
    if node not in network.ties:
        raise InputError(
            f'there is no node "{node}"',
            where="noise",
            expected="one of " + ", ".join(network.ties),
        )
    return node


def column(value: ArrayLike) -> Array:
    """One row per case."""
    return np.asarray(value, float).reshape(-1, 1)


def pink(frequency: Array, corner: float, name: str) -> Array:
    """1 + corner/f."""
    if corner <= 0:
        return np.ones_like(frequency)
    if np.any(frequency <= 0):
        raise InputError(
            f'the 1/f noise of "{name}" has no density at 0 Hz',
            where="noise",
            expected="a band that starts above 0 Hz",
        )
    return 1.0 + corner / frequency
