"""A case that does not converge because nothing holds a node: whose fault it is, and the node by name."""

from __future__ import annotations

import numpy as np

from clampwright.errors import InputError
from clampwright.network.circuit import Circuit
from clampwright.network.compose import unheld
from clampwright.network.solve import Solution, Values, require_converged
from clampwright.physics.clamp import current_and_slope


def require_held(circuit: Circuit, values: Values, solution: Solution, what: str) -> Solution:
    """The solution; InputError naming the node that nothing holds, else InternalError.

    A design is solved without its clamps too, so a node that only clamps hold, and into which a current
    or a follower pushes, has no voltage then.
    """
    if bool(solution.converged.all()):
        return solution
    lost = ~solution.converged
    blocking = []
    for name, law in values.laws.items():
        slope = np.broadcast_to(current_and_slope(0.0, law)[1], lost.shape)
        if not np.all(slope[lost] > 0):
            blocking.append(name)
    loose = unheld(circuit, blocking)
    if not loose:
        return require_converged(solution, what)
    raise InputError(
        f'nothing holds node "{loose[0]}" while its clamps do not conduct',
        where="network",
        expected="a resistor or a leak from it towards a rail, ground or the source",
        mend="a follower of its own, or a part without leakage at 0 V, does not hold it",
    )
