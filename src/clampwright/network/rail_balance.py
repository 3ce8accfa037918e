"""Where the fault current ends: the balance of a supply rail at its smallest load.

A supply that only sources cannot take current back; what the clamps of all channels feed in beyond
load and sink charges the rail until something limits.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.batch import Solution, Values
from clampwright.network.circuit import Circuit
from clampwright.network.solve import require_converged, solve

Array = NDArray[np.float64]

HALVINGS = 60


@dataclass(frozen=True)
class RailBalance:
    """Current into the rail (A, all channels), what is left over (A), and dV/dt (V/s, 0 if none).

    level : V where load and sink take it all, or the limit given; nominal where nothing is left
    """

    injected: Array
    excess: Array
    rise: Array
    level: Array


def current_into(circuit: Circuit, solution: Solution, node: str) -> Array:
    """Current (A) that resistors and clamps carry into any node, fixed ones included."""
    total = np.zeros(solution.residual.shape)
    for r in circuit.resistors:
        total = total + solution.resistor_current[r.name] * ((r.b == node) - float(r.a == node))
    for c in circuit.clamps:
        sign = (c.cathode == node) - float(c.anode == node)
        total = total + solution.clamp_current[c.name] * sign
    return total


def rail_excess(
    injected: Sequence[ArrayLike], load: ArrayLike, sink: ArrayLike = 0.0
) -> tuple[Array, Array]:
    """Sum of the channels' currents (A) and what load and sink do not take (A, at least 0)."""
    total = np.asarray(np.sum(np.broadcast_arrays(*injected), axis=0), float)
    return total, np.maximum(total - np.asarray(load, float) - sink, 0.0)


def rail_balance(
    channels: Sequence[tuple[Circuit, Values]],
    rail: str,
    load: Callable[[Array], Array],
    *,
    nominal: ArrayLike,
    capacitance: ArrayLike,
    highest: ArrayLike,
) -> RailBalance:
    """Balance of a positive rail that several channels pump together.

    channels    : circuit and values of each channel that fails at the same time; all the same cases
    load        : A that the board and any shunt or sink take at a rail voltage (V, per case)
    nominal     : V the supply holds; capacitance : F on the rail
    highest     : V up to which the level is searched; where even there current is left, it is given
    A negative rail: mirror it (swap the sign of all voltages) before calling.
    """
    if not channels:
        raise InputError("no channel feeds the rail", where="rail balance")
    start = np.asarray(nominal, float)
    injected = _fed(channels, rail, start)
    low, high = np.broadcast_arrays(start, np.asarray(highest, float), injected)[:2]
    excess = np.maximum(injected - load(np.broadcast_to(start, injected.shape)), 0.0)
    low, high = low.copy(), high.copy()
    over = _fed(channels, rail, high) > load(high)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        more = _fed(channels, rail, middle) > load(middle)
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    level = np.where(over, np.broadcast_to(highest, high.shape), high)
    return RailBalance(
        injected,
        excess,
        excess / np.asarray(capacitance, float),
        np.where(excess > 0, level, np.broadcast_to(start, level.shape)),
    )


def _fed(channels: Sequence[tuple[Circuit, Values]], rail: str, level: Array) -> Array:
    total: Array = np.zeros(1)
    for circuit, values in channels:
        held = replace(values, potentials={**values.potentials, rail: level})
        solution = require_converged(solve(circuit, held), "the rail balance")
        total = total + current_into(circuit, solution, rail)
    return total
