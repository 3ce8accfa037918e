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
CUTS = 14  # of a bracket into as many parts: as often as a double can tell them apart
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
    matrices, rows, w = _room(n)
    for start in range(0, points, LANES):
        for m in range(LANES):
            w[m] = omega[min(start + m, points - 1)]
        x, y = _answer(filled, g, g_excess, c, c_excess, picked, w, matrices, rows)
        for i in range(n):
            for m in range(min(LANES, points - start)):
                out[i, start + m] = complex(x[i, m], y[i, m])


@compiled
def first_fall(
    g: Any,
    g_excess: Any,
    c: Any,
    c_excess: Any,
    picked: Any,
    drive: Any,
    kick: Any,
    past: Any,
    lowest: Any,
    step: Any,
    points: Any,
) -> float:
    """Lowest frequency (Hz) at which a transfer of one case is 3 dB under that at 0 Hz, else inf.

    drive, kick : (n,) what ties the source to each node, S and F; past : V/V that goes past all nodes
    lowest, step, points : Hz, ln of the ratio, and number of the frequencies at which it is looked for
    """
    filled = _couplings(g, c)
    matrices, rows, w = _room(picked.size)
    power = np.empty(LANES)
    low, high, level = 0.0, np.inf, -1.0
    for start in range(-LANES, points, LANES):  # 0 Hz comes first
        for m in range(LANES):
            place = min(start + m, points - 1)
            w[m] = 2 * np.pi * lowest * np.exp(step * place) if start >= 0 else 0.0
        x, y = _answer(filled, g, g_excess, c, c_excess, picked, w, matrices, rows)
        _power(drive, kick, past, w, x, y, power)
        if start < 0:
            level = power[0] / 2
        first = _first_under(power, level)
        if first < LANES:
            low, high = w[first - 1] if first > 0 else low, w[first]
            break
        low = w[LANES - 1]
    for _ in range(CUTS if high < np.inf else 0):
        for m in range(LANES):
            w[m] = low + (high - low) * ((m + 1) / LANES)
        x, y = _answer(filled, g, g_excess, c, c_excess, picked, w, matrices, rows)
        _power(drive, kick, past, w, x, y, power)
        first = min(_first_under(power, level), LANES - 1)  # the bracket ends under it
        low, high = w[first - 1] if first > 0 else low, w[first]
    return high / (2 * np.pi)


@compiled
def _power(drive: Any, kick: Any, past: Any, w: Any, x: Any, y: Any, power: Any) -> None:
    """Square of the transfer at each frequency, filled."""
    for m in range(LANES):
        real, imaginary = past, 0.0
        for i in range(drive.size):
            real += x[i, m] * drive[i] - y[i, m] * w[m] * kick[i]
            imaginary += y[i, m] * drive[i] + x[i, m] * w[m] * kick[i]
        power[m] = real * real + imaginary * imaginary


@compiled
def _first_under(power: Any, level: Any) -> int:
    """The first lane under the level; LANES where none is."""
    for m in range(LANES):
        if power[m] < level:
            return m
    return LANES


@compiled
def _room(n: Any) -> Any:
    """Room for couplings, rows and frequencies of LANES problems of n nodes."""
    return np.empty((2, n, n, LANES)), np.empty((4, n, LANES)), np.empty(LANES)


@compiled
def _answer(
    filled: Any,
    g: Any,
    g_excess: Any,
    c: Any,
    c_excess: Any,
    picked: Any,
    w: Any,
    matrices: Any,
    rows: Any,
) -> Any:
    """Real and imaginary answer of `adjoint`, (n, LANES) each, at LANES frequencies (rad/s)."""
    a, b = matrices[0], matrices[1]  # real and imaginary couplings
    e, f = rows[0], rows[1]  # excess, at last the inverse pivots
    x, y = rows[2], rows[3]
    n = picked.size
    for i in range(n):
        for j in range(n):
            for m in range(LANES):
                a[i, j, m], b[i, j, m] = g[i, j], w[m] * c[i, j]
        for m in range(LANES):
            e[i, m], f[i, m] = g_excess[i], w[m] * c_excess[i]
            x[i, m], y[i, m] = picked[i], 0.0
    _factorise(filled, a, b, e, f)
    _solve_transposed(filled, a, b, e, f, x, y)
    return x, y


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
