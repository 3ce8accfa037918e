"""Insulation, board film, fixture and solder joints: currents and voltages no part sheet mentions.

Unguarded, the whole voltage lies across the insulation; a guard at the potential of the node leaves
only its error. Geometry gives a resistance from the surface resistance of the film (Ω per square).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.adjoint import steady_transimpedance
from clampwright.network.batch import Values
from clampwright.network.circuit import Circuit, Resistor
from clampwright.network.linearise import LinearNetwork

Array = NDArray[np.float64]


def insulation_current(voltage: ArrayLike, resistance: ArrayLike) -> Array:
    """V/R (A) through an insulation: the bias where unguarded, the guard's error where guarded."""
    ohms = np.asarray(resistance, float)
    if not np.all(ohms > 0):
        raise InputError("an insulation resistance is not positive", expected="above 0 Ω")
    return np.asarray(np.asarray(voltage, float) / ohms)


def strip_resistance(surface_resistance: ArrayLike, gap: ArrayLike, length: ArrayLike) -> Array:
    """ρ_s·gap/length (Ω) between two parallel traces; Ω per square, m, m."""
    return np.asarray(np.multiply(surface_resistance, gap) / np.asarray(length, float))


def ring_resistance(surface_resistance: ArrayLike, inner: ArrayLike, outer: ArrayLike) -> Array:
    """ρ_s·ln(outer/inner)/2π (Ω) between a round pad and a ring about it; Ω per square, m, m."""
    ratio = np.asarray(outer, float) / np.asarray(inner, float)
    if not np.all(ratio > 1):
        raise InputError("the ring does not lie outside the pad", expected="outer above inner")
    return np.asarray(surface_resistance * np.log(ratio) / (2 * np.pi))


def insulation_resistance(resistivity: ArrayLike, area: ArrayLike, thickness: ArrayLike) -> Array:
    """ρ·thickness/area (Ω) through an insulator; Ω·m, m², m."""
    return np.asarray(np.multiply(resistivity, thickness) / np.asarray(area, float))


def with_film(
    circuit: Circuit, values: Values, name: str, a: str, b: str, resistance: ArrayLike
) -> tuple[Circuit, Values]:
    """The circuit with a film (Ω) between two nodes: node and neighbour, or node and guard ring."""
    return (
        replace(circuit, resistors=(*circuit.resistors, Resistor(name, a, b))),
        replace(values, resistances={**values.resistances, name: resistance}),
    )


def with_guard_ring(
    circuit: Circuit,
    values: Values,
    node: str,
    neighbour: str,
    guard: str,
    inside: ArrayLike,
    outside: ArrayLike,
) -> tuple[Circuit, Values]:
    """A film from `node` to `neighbour` cut by a ring on `guard`; Ω on either side of the ring.

    The outer part loads the guard alone, which a follower carries without harm.
    """
    circuit, values = with_film(circuit, values, "film inside the ring", node, guard, inside)
    return with_film(circuit, values, "film outside the ring", guard, neighbour, outside)


def joint_voltage(coefficient: ArrayLike, difference: ArrayLike) -> Array:
    """Thermal EMF (V) of a pair of joints: V/K × K between them."""
    return np.asarray(np.multiply(coefficient, difference))


def joint_error(
    circuit: Circuit, values: Values, network: LinearNetwork, emf: Mapping[str, ArrayLike], pin: str
) -> dict[str, Array]:
    """Error (V) at `pin` of a thermal EMF (V) in series with each named resistor, per case.

    Positive where the EMF raises end b of the resistor over end a. Without load it arrives whole.
    """
    z = steady_transimpedance(network, pin)
    by_name = {r.name: r for r in circuit.resistors}
    found = {}
    for name, volts in emf.items():
        if name not in by_name:
            raise InputError(
                f'there is no resistor "{name}"', expected="one of " + ", ".join(by_name)
            )
        r = by_name[name]
        current = np.asarray(volts, float) / np.asarray(values.resistances[name], float)
        found[name] = current * (_at(network, z, r.b) - _at(network, z, r.a))
    return found


def _at(network: LinearNetwork, z: Array, node: str) -> Array:
    if node in network.nodes:
        return z[:, network.nodes.index(node)]
    return np.zeros(len(z))
