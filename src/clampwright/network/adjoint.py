"""Transfers of a linear network: from every node to one output by a single adjoint solution."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.network.elimination import solve, solve_transposed
from clampwright.network.linearise import LinearNetwork
from clampwright.network.machine_code import is_made

Array = NDArray[np.float64]
Phasors = NDArray[np.complex128]

COMPILED_FROM = (
    8  # frequencies of a case; the kernel takes a case at a time, NumPy all cases at once
)


def transimpedance(network: LinearNetwork, node: str, frequency: ArrayLike) -> Phasors:
    """Voltage at `node` per ampere into each unknown node (Ω), (cases, frequencies, n).

    frequency : Hz, (frequencies,) or (cases, frequencies)
    One factorisation and one adjoint solve for all currents. COMPILED_FROM frequencies or more go to
    the compiled kernel once its code is made, see `solve`; both agree within rounding.
    """
    f = np.atleast_1d(np.asarray(frequency, float))
    if f.shape[-1] >= COMPILED_FROM and is_made():
        return transimpedance_compiled(network, node, f)
    return transimpedance_plain(network, node, f)


def transimpedance_plain(network: LinearNetwork, node: str, frequency: ArrayLike) -> Phasors:
    """The same, always by NumPy alone."""
    f = np.atleast_1d(np.asarray(frequency, float))
    picked = np.repeat(network.share(node).T, f.shape[-1], axis=1)
    z = solve_transposed(network.factors(f), picked)
    shaped = z.reshape(len(network.nodes), network.cases, f.shape[-1])
    return np.moveaxis(shaped, 0, -1).astype(complex)


def transimpedance_compiled(network: LinearNetwork, node: str, frequency: ArrayLike) -> Phasors:
    """The same by the compiled kernel; loads the compiler on first use (seconds without cache)."""
    from clampwright.network.adjoint_lanes import adjoint

    f = np.atleast_1d(np.asarray(frequency, float))
    omega = np.broadcast_to(2 * np.pi * f, (network.cases, f.shape[-1]))
    g, c, picked = network.conductance, network.capacitance, network.share(node)
    out = np.empty((network.cases, len(network.nodes), f.shape[-1]), complex)
    for k in range(network.cases):
        row = omega[k].copy()  # its own: the code was made for an array that may be written to
        adjoint(g.coupling[k], g.excess[k], c.coupling[k], c.excess[k], picked[k], row, out[k])
    return np.moveaxis(out, 1, 2)


def steady_transimpedance(network: LinearNetwork, node: str) -> Array:
    """The same at 0 Hz, real, (cases, n)."""
    return transimpedance(network, node, 0.0)[:, 0].real


def transfer(network: LinearNetwork, source: str, node: str, frequency: ArrayLike) -> Phasors:
    """Voltage at `node` per volt of `source`, (cases, frequencies).

    source : a fixed node, or a driven node, meaning the offset of its follower
    """
    f = np.atleast_1d(np.asarray(frequency, float))
    z = transimpedance(network, node, f)
    current = network.drive(source, f).reshape(len(network.nodes), network.cases, f.shape[-1])
    through = np.einsum("cfn,ncf->cf", z, current)
    return np.asarray(through + straight(network, source, node)[:, None])


def straight(network: LinearNetwork, source: str, node: str) -> Array:
    """What `node` has of `source` past all unknown nodes, because it follows it, V/V, (cases,)."""
    root, gain = network.ties[node]
    return (gain if root == source else np.zeros(network.cases)) + (node == source != root)


def missing(
    network: LinearNetwork, common: tuple[str, ...], frequency: ArrayLike
) -> dict[str, Phasors]:
    """1 − transfer from all `common` fixed nodes together, per unknown node, (cases, frequencies).

    What is missing from a follower-like gain of one, solved for itself: a difference of two nearly
    equal transfers would lose its digits. Everything that is not moved along draws it.
    """
    f = np.atleast_1d(np.asarray(frequency, float))
    n, cases = len(network.nodes), network.cases
    left = network.conductance, network.capacitance
    real, imaginary = (
        s.slack + np.sum([y for name, y in s.held.items() if name not in common], axis=0)
        for s in left
    )
    s = 2j * np.pi * f
    injected = real.T[:, :, None] + imaginary.T[:, :, None] * s
    lost = solve(network.factors(f), injected.reshape(n, -1)).reshape(n, cases, f.shape[-1])
    return {name: lost[i] for i, name in enumerate(network.nodes)}
