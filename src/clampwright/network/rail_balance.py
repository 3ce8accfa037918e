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

MOST_STEPS, TOLERANCE = 60, 1e-9  # of the search for the level, relative


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
    injected = _fed(channels, rail, np.asarray(nominal, float))
    start = np.broadcast_to(np.asarray(nominal, float), injected.shape)
    excess = np.maximum(injected - load(start), 0.0)
    level = start
    if np.any(excess > 0):
        top = np.broadcast_to(np.asarray(highest, float), injected.shape)
        level = _crossing(lambda v: _fed(channels, rail, v) - load(v), start, top)
    return RailBalance(
        injected,
        excess,
        excess / np.asarray(capacitance, float),
        np.where(excess > 0, level, start),
    )


def _crossing(left: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Where a falling function crosses zero, `high` where it does not reach it (Illinois method)."""
    top, below, above = high, left(low), left(high)
    never = above > 0
    side = np.zeros(low.shape)
    for _ in range(MOST_STEPS):
        fall = np.where(below > above, below - above, 1.0)
        middle = np.clip(high + above * (high - low) / fall, low, high)
        value = left(middle)
        up = value > 0
        above = np.where(up & (side > 0), above / 2, above)
        below = np.where(~up & (side < 0), below / 2, below)
        low, below = np.where(up, middle, low), np.where(up, value, below)
        high, above = np.where(up, high, middle), np.where(up, above, value)
        side = np.where(up, 1.0, -1.0)
        if np.all(never | (value == 0) | (high - low <= TOLERANCE * np.abs(high))):
            break
    return np.where(never, top, middle)


def _fed(channels: Sequence[tuple[Circuit, Values]], rail: str, level: Array) -> Array:
    total: Array = np.zeros(1)
    for circuit, values in channels:
        held = replace(values, potentials={**values.potentials, rail: level})
        solution = require_converged(solve(circuit, held), "the rail balance")
        total = total + current_into(circuit, solution, rail)
    return total
