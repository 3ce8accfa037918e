"""The adjoint solution compiled: sixteen frequencies side by side in SIMD lanes.

Same elimination as `elimination`, real and imaginary parts apart, and only where the circuit has or
makes a coupling. Import this module only for many frequencies: it loads the compiler. Everything it
calls lies in this file, which is what the compiler's cache watches.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.physics.compiler import njit

LANES = 16
compiled: Any = njit(cache=True, error_model="numpy", fastmath={"contract"}, nogil=True)


@compiled
def adjoint(
    g: Any, g_excess: Any, c: Any, c_excess: Any, picked: Any, omega: Any, out: Any
) -> None:
    """Voltage of an output per ampere into each node of one case.

    g, c  : (n, n) couplings, S and F; g_excess, c_excess : (n,); picked : (n,) share of each node
    omega : (points,) rad/s; out : (n, points) complex, filled
    """
    n, points = picked.size, omega.size
    filled = _couplings(g, c)
    a, b = np.empty((n, n, LANES)), np.empty((n, n, LANES))  # real and imaginary couplings
    e, f = np.empty((n, LANES)), np.empty((n, LANES))  # excess, at last the inverse pivots
    x, y = np.empty((n, LANES)), np.empty((n, LANES))  # the answer
    w = np.empty(LANES)
    for start in range(0, points, LANES):
        for m in range(LANES):
            w[m] = omega[min(start + m, points - 1)]
        for i in range(n):
            for j in range(n):
                for m in range(LANES):
                    a[i, j, m], b[i, j, m] = g[i, j], w[m] * c[i, j]
            for m in range(LANES):
                e[i, m], f[i, m] = g_excess[i], w[m] * c_excess[i]
                x[i, m], y[i, m] = picked[i], 0.0
        _factorise(filled, a, b, e, f)
        _solve_transposed(filled, a, b, e, f, x, y)
        for i in range(n):
            for m in range(min(LANES, points - start)):
                out[i, start + m] = complex(x[i, m], y[i, m])


@compiled
def _couplings(g: Any, c: Any) -> Any:
    """Where there is a coupling, or elimination makes one."""
    n = g.shape[0]
    filled = np.empty((n, n), np.bool_)
    for i in range(n):
        for j in range(n):
            filled[i, j] = g[i, j] != 0.0 or c[i, j] != 0.0
    for k in range(n - 1, -1, -1):
        for i in range(k):
            for j in range(k):
                filled[i, j] |= filled[i, k] and filled[k, j]
    return filled


@compiled
def _factorise(filled: Any, a: Any, b: Any, e: Any, f: Any) -> None:
    """Eliminate from the last node on: multipliers above, couplings below, inverse pivots in e, f."""
    n = e.shape[0]
    p, q = np.empty(LANES), np.empty(LANES)
    for k in range(n - 1, -1, -1):
        for m in range(LANES):
            p[m], q[m] = e[k, m], f[k, m]
        for j in range(k):
            if filled[k, j]:
                for m in range(LANES):
                    p[m] += a[k, j, m]
                    q[m] += b[k, j, m]
        for m in range(LANES):
            size = p[m] * p[m] + q[m] * q[m]
            inverse = 1.0 / size if size > 0.0 else 0.0
            p[m], q[m] = p[m] * inverse, -q[m] * inverse
        for i in range(k):
            if filled[i, k]:
                _eliminate(filled, a, b, e, f, i, k, p, q)
        for m in range(LANES):
            e[k, m], f[k, m] = p[m], q[m]


@compiled
def _eliminate(filled: Any, a: Any, b: Any, e: Any, f: Any, i: int, k: int, p: Any, q: Any) -> None:
    """Hand what node k has to node i, which couples to it."""
    for m in range(LANES):
        real = a[i, k, m] * p[m] - b[i, k, m] * q[m]
        b[i, k, m] = a[i, k, m] * q[m] + b[i, k, m] * p[m]
        a[i, k, m] = real
        e[i, m] += real * e[k, m] - b[i, k, m] * f[k, m]
        f[i, m] += real * f[k, m] + b[i, k, m] * e[k, m]
    for j in range(k):
        if filled[k, j]:
            for m in range(LANES):
                a[i, j, m] += a[i, k, m] * a[k, j, m] - b[i, k, m] * b[k, j, m]
                b[i, j, m] += a[i, k, m] * b[k, j, m] + b[i, k, m] * a[k, j, m]


@compiled
def _solve_transposed(filled: Any, a: Any, b: Any, e: Any, f: Any, x: Any, y: Any) -> None:
    """Both triangular solutions of the transposed system, in place."""
    n = e.shape[0]
    for k in range(n - 1, -1, -1):
        for j in range(k + 1, n):
            if filled[j, k]:
                for m in range(LANES):
                    x[k, m] += a[j, k, m] * x[j, m] - b[j, k, m] * y[j, m]
                    y[k, m] += a[j, k, m] * y[j, m] + b[j, k, m] * x[j, m]
        for m in range(LANES):
            real = x[k, m] * e[k, m] - y[k, m] * f[k, m]
            y[k, m] = x[k, m] * f[k, m] + y[k, m] * e[k, m]
            x[k, m] = real
    for k in range(n):
        for i in range(k):
            if filled[i, k]:
                for m in range(LANES):
                    x[k, m] += a[i, k, m] * x[i, m] - b[i, k, m] * y[i, m]
                    y[k, m] += a[i, k, m] * y[i, m] + b[i, k, m] * x[i, m]
