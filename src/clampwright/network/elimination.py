"""Factor once, solve many: elimination without subtraction for conductances and admittances.

The matrix is given as what it is made of, couplings between nodes and excess towards held potentials,
so that a node which hardly leaks keeps all its digits; the same factors serve the system and its
transpose (the adjoint, which gives the transfer from every node to one output at once). Lanes, cases
or frequencies, lie on the last axis. With complex admittances of resistors and capacitors all parts
lie in one quadrant, and the low-frequency limit is again free of subtraction.
Source of the method: as in `linear`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Numbers = NDArray[Any]  # float or complex


@dataclass(frozen=True)
class Factors:
    """Eliminated couplings (n, n, lanes), multipliers (n, n, lanes) and pivots (n, lanes)."""

    lower: Numbers
    upper: Numbers
    pivots: Numbers


def factorise(coupling: Numbers, excess: Numbers) -> Factors:
    """Factors of diag(excess + row sums of coupling) − coupling.

    coupling : (n, n, lanes), S, the diagonal is ignored; excess : (n, lanes), S
    A node without any admittance is kept at 0 V.
    """
    a, e = coupling.copy(), excess.copy()
    n = e.shape[0]
    upper = np.zeros_like(a)
    pivots = np.empty_like(e)
    for k in range(n - 1, -1, -1):
        pivots[k] = e[k] + a[k, :k].sum(axis=0)
        inverse = _inverse(pivots[k])
        upper[:k, k] = a[:k, k] * inverse
        a[:k, :k] += upper[:k, k, None] * a[k, None, :k]
        e[:k] += upper[:k, k] * e[k]
    return Factors(a, upper, pivots)


def solve(factors: Factors, injected: Numbers) -> Numbers:
    """Node voltages for injected currents, (n, lanes), or (n, several, lanes) for several at once."""
    b = injected.astype(np.result_type(injected, factors.pivots), copy=True)
    n, several = len(b), (None,) * (b.ndim - 2)
    for k in range(n - 1, -1, -1):
        b[:k] += factors.upper[(slice(k), k, *several)] * b[k]
    for k in range(n):
        total = b[k] + np.einsum("jl,j...l->...l", factors.lower[k, :k], b[:k])
        b[k] = total * _inverse(factors.pivots[k])
    return b


def solve_transposed(factors: Factors, picked: Numbers) -> Numbers:
    """Voltage of an output per ampere into each node (n, lanes).

    picked : (n, lanes), the share of each node in the output
    """
    z = picked.astype(np.result_type(picked, factors.pivots), copy=True)
    n = len(z)
    for k in range(n - 1, -1, -1):
        total = z[k] + np.einsum("jl,jl->l", factors.lower[k + 1 :, k], z[k + 1 :])
        z[k] = total * _inverse(factors.pivots[k])
    for k in range(n):
        z[k] += np.einsum("jl,jl->l", factors.upper[:k, k], z[:k])
    return z


def _inverse(pivot: Numbers) -> Numbers:
    return np.divide(1.0, pivot, out=np.zeros_like(pivot), where=pivot != 0)
