"""Modes of a linear network: the time constants of G⁻¹·C and their vectors.

G⁻¹ comes from the elimination without subtraction, so a nearly floating node keeps its time constant.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from clampwright.network.elimination import solve

if TYPE_CHECKING:
    from clampwright.network.linearise import LinearNetwork

Array = NDArray[np.float64]
Phasors = NDArray[np.complex128]

RANK = 1e-10  # of the capacitance matrix, scaled to 1 on its diagonal
DISTINCT = 1e6  # condition of the modes above which time constants count as equal …
SPREAD = 3e-4  # … and capacitances are parted by this much, far closer than real parts are


class Modes(NamedTuple):
    """One case: time constants (s, (n,)), their vectors in columns (n, n) and G⁻¹ (Ω, (n, n))."""

    time_constants: Phasors
    vectors: Phasors
    resistance: Array


def modes_of(network: LinearNetwork) -> list[Modes]:
    """The modes of each case; static ones have τ = 0 exactly."""
    n = len(network.nodes)
    one_by_one = np.repeat(np.eye(n)[:, :, None], network.cases, axis=2)
    inverse = solve(network.factors(0.0), one_by_one).transpose(2, 0, 1)  # [case, node, injected]
    c = _matrices(network)
    tau, vectors = _eigen(inverse, c)
    order, static = np.argsort(np.abs(tau), axis=1), n - _ranks(c)
    for k, count in enumerate(static):
        tau[k, order[k, :count]] = 0.0
    return [Modes(tau[k], vectors[k], inverse[k]) for k in range(network.cases)]


def _eigen(inverse: Array, c: Array) -> tuple[Phasors, Phasors]:
    tau, vectors = (np.asarray(found, complex) for found in np.linalg.eig(inverse @ c))
    sizes = np.linalg.svd(vectors, compute_uv=False)
    alike = sizes[:, 0] > DISTINCT * sizes[:, -1]
    if alike.any():
        n = c.shape[-1]
        apart = 1.0 + SPREAD * (np.arange(n) - (n - 1) / 2)
        tau[alike], vectors[alike] = np.linalg.eig(inverse[alike] @ (c[alike] * apart[:, None]))
    return tau, vectors


def _matrices(network: LinearNetwork) -> Array:
    """The capacitance matrix of each case (F)."""
    stamp = network.capacitance
    out = -stamp.coupling
    n = out.shape[-1]
    out[:, range(n), range(n)] += stamp.excess + stamp.coupling.sum(axis=2)
    return out


def _ranks(c: Array) -> NDArray[np.int64]:
    """Rank of each matrix, scaled to 1 on its diagonal."""
    size = np.sqrt(np.diagonal(c, axis1=1, axis2=2))
    scale = np.where(size > 0, size, 1.0)
    scaled = c / (scale[:, :, None] * scale[:, None, :])
    return np.asarray((np.linalg.svd(scaled, compute_uv=False) > RANK).sum(axis=1))
