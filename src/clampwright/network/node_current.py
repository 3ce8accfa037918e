"""What flows into a node of a solved circuit, a rail for example."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clampwright.network.batch import Solution
from clampwright.network.circuit import Circuit

Array = NDArray[np.float64]


def current_into(circuit: Circuit, solution: Solution, node: str) -> Array:
    """Current (A) that resistors and clamps carry into any node, fixed ones included."""
    total = np.zeros(solution.residual.shape)
    for r in circuit.resistors:
        total = total + solution.resistor_current[r.name] * ((r.b == node) - float(r.a == node))
    for c in circuit.clamps:
        sign = (c.cathode == node) - float(c.anode == node)
        total = total + solution.clamp_current[c.name] * sign
    return total
