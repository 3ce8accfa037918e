"""Linear solves that keep every digit of a nearly floating node.

Ordinary elimination subtracts large conductances to find a small one and may lose all of it. Here the
matrix is given as what it is made of — couplings between nodes and conductances to fixed potentials —
and the elimination only ever adds positive numbers.
Source of the method: Alfa, Xue and Ye, "Accurate computation of the smallest eigenvalue of a
diagonally dominant M-matrix", Math. Comp. 71 (2002); after Grassmann, Taksar and Heyman (1985).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def solve_without_subtraction(coupling: Array, excess: Array, injected: Array) -> Array:
    """Solve (diag(excess + row sums of coupling) − coupling) · x = injected for a batch.

    coupling : (cases, n, n), S, ≥ 0, diagonal ignored (taken as 0)
    excess   : (cases, n), S, ≥ 0; conductance to fixed potentials
    injected : (cases, n), A
    Returns x, (cases, n), V. A node without any conductance gets 0 V.
    """
    a, e, b = coupling.copy(), excess.copy(), injected.copy()
    n = b.shape[1]
    a[:, range(n), range(n)] = 0.0
    pivots = np.empty_like(b)
    for k in range(n - 1, -1, -1):
        pivot = e[:, k] + a[:, k, :k].sum(axis=1)
        pivots[:, k] = pivot
        with np.errstate(divide="ignore", invalid="ignore"):
            factor = np.where(pivot[:, None] > 0, a[:, :k, k] / pivot[:, None], 0.0)
        diagonal = a[:, range(k), range(k)]
        a[:, :k, :k] += factor[:, :, None] * a[:, k, None, :k]
        a[:, range(k), range(k)] = diagonal
        e[:, :k] += factor * e[:, k, None]
        b[:, :k] += factor * b[:, k, None]
    x = np.zeros_like(b)
    for k in range(n):
        total = b[:, k] + (a[:, k, :k] * x[:, :k]).sum(axis=1)
        np.divide(total, pivots[:, k], out=x[:, k], where=pivots[:, k] > 0)
    return x
