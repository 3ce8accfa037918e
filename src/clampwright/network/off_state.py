"""The input with its supplies off: what it draws from the source and feeds into dead rails."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.batch import Solution, Values
from clampwright.network.circuit import Circuit, Resistor
from clampwright.network.node_current import current_into
from clampwright.network.solve import require_converged, solve

Array = NDArray[np.float64]


@dataclass(frozen=True)
class OffState:
    """Loading of the source (A, drawn from it), current into each rail (A), rail voltages (V)."""

    loading: Array
    into_rail: dict[str, Array]
    rail_voltage: dict[str, Array]
    solution: Solution


def rails_at_zero(
    circuit: Circuit, values: Values, source: str, rails: tuple[str, ...]
) -> OffState:
    """Supplies off and held at 0 V by their loads; followers stay as `values` says (gain 0: dead)."""
    off = replace(values, potentials={**values.potentials, **dict.fromkeys(rails, 0.0)})
    solution = require_converged(solve(circuit, off), "the unpowered input")
    return OffState(
        loading=-current_into(circuit, solution, source),
        into_rail={name: current_into(circuit, solution, name) for name in rails},
        rail_voltage={name: np.zeros(solution.residual.shape) for name in rails},
        solution=solution,
    )


def rails_floating(
    circuit: Circuit,
    values: Values,
    source: str,
    loads: Mapping[str, ArrayLike],
    ground: str = "ground",
) -> OffState:
    """Supplies disconnected: each rail in `loads` floats with its load resistance (Ω) to `ground`.

    The board behind the rails is powered backwards through the clamps; the current into a rail is
    what its load takes. Raises InputError for a rail that is no fixed node.
    """
    lost = [name for name in loads if name not in circuit.fixed]
    if lost or circuit.base in loads:
        raise InputError(
            f'"{(lost or [circuit.base])[0]}" cannot be let float',
            where="network",
            expected="one of " + ", ".join(f for f in circuit.fixed if f != circuit.base),
        )
    kept = tuple(f for f in circuit.fixed if f not in loads)
    opened = replace(
        circuit,
        fixed=kept if ground in kept else (*kept, ground),
        resistors=(*circuit.resistors, *(Resistor(f"load of {n}", n, ground) for n in loads)),
    )
    left = {name: v for name, v in values.potentials.items() if name not in loads}
    loose = replace(
        values,
        potentials={ground: 0.0, **left},
        resistances={**values.resistances, **{f"load of {n}": r for n, r in loads.items()}},
    )
    solution = require_converged(solve(opened, loose), "the unpowered input")
    return OffState(
        loading=-current_into(opened, solution, source),
        into_rail={name: solution.resistor_current[f"load of {name}"] for name in loads},
        rail_voltage={name: solution.voltage(name) for name in loads},
        solution=solution,
    )
