"""Solder joints and connectors: thermal voltages that no part sheet mentions."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.adjoint import steady_transimpedance
from clampwright.network.batch import Values
from clampwright.network.circuit import Circuit
from clampwright.network.linearise import LinearNetwork

Array = NDArray[np.float64]


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
