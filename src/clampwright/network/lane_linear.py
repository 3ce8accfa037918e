"""Linear algebra of the compiled solver: every number is a row of lanes.

Part of `lanes`; imports the compiler.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.network.lane_clamps import LANES, compiled


@compiled
def eliminate(n: Any, pattern: Any, coupling: Any, b: Any, x: Any) -> None:
    """Solve for x as `linear.solve_without_subtraction`; destroys coupling and b.

    pattern[i, j] tells whether coupling i, j is ever more than zero.
    """
    for k in range(n - 1, -1, -1):
        pivot, inverse = coupling[k], x[k]
        for lane in range(LANES):
            inverse[lane] = pivot[n, lane]
        for j in range(k):
            if pattern[k, j]:
                add(inverse, 1.0, pivot[j])
        for lane in range(LANES):
            inverse[lane] = 1.0 / inverse[lane] if inverse[lane] > 0.0 else 0.0
        for i in range(k):
            if not pattern[i, k]:
                continue
            row, factor = coupling[i], coupling[i, k]
            for lane in range(LANES):
                factor[lane] *= inverse[lane]
            for j in range(k):
                if j != i and pattern[k, j]:
                    add_product(row[j], factor, pivot[j])
            add_product(row[n], factor, pivot[n])
            add_product(b[i], factor, b[k])
    for k in range(n):
        for j in range(k):
            if pattern[k, j]:
                add_product(b[k], coupling[k, j], x[j])
        for lane in range(LANES):
            x[k, lane] *= b[k, lane]


@compiled
def stamp(n: Any, a: Any, b: Any, source: Any, gain: Any, g: Any, coupling: Any) -> None:
    """Add a conductance between nodes a and b; only positive numbers are added."""
    for here, there in ((a, b), (b, a)):
        if here >= n:
            continue
        follows, share = source[there], gain[there]
        near, far = coupling[here, follows], coupling[here, n]
        if follows != here:
            for lane in range(LANES):
                near[lane] += g[lane] * share[lane]
        for lane in range(LANES):
            far[lane] += g[lane] * (1.0 - share[lane])


@compiled
def across(a: Any, b: Any, source: Any, gain: Any, value: Any, out: Any) -> None:
    """Difference between two nodes of what the unknowns contribute."""
    here, there = value[source[a]], value[source[b]]
    if source[a] == source[b]:
        for lane in range(LANES):
            out[lane] = (gain[a, lane] - gain[b, lane]) * here[lane]
    else:
        for lane in range(LANES):
            out[lane] = gain[a, lane] * here[lane] - gain[b, lane] * there[lane]


@compiled
def clamp_voltage(
    a: Any, b: Any, source: Any, gain: Any, offset: Any, reference: Any, deviation: Any, out: Any
) -> None:
    """Voltage of a clamp, anode less cathode, lane by lane."""
    moved = np.empty(LANES)
    across(a, b, source, gain, reference, out)
    across(a, b, source, gain, deviation, moved)
    for lane in range(LANES):
        out[lane] = (out[lane] + (offset[a, lane] - offset[b, lane])) + moved[lane]


@compiled
def fill(to: Any, value: Any) -> None:
    """Set every entry of a contiguous array."""
    flat = to.reshape(-1)
    for k in range(flat.size):
        flat[k] = value


@compiled
def copy(values: Any, to: Any) -> None:
    """Copy a contiguous array into another."""
    first, second = values.reshape(-1), to.reshape(-1)
    for k in range(first.size):
        second[k] = first[k]


@compiled
def add(to: Any, sign: Any, value: Any) -> None:
    """sign · value added lane by lane."""
    for lane in range(LANES):
        to[lane] += sign * value[lane]


@compiled
def add_product(to: Any, factor: Any, value: Any) -> None:
    """factor · value added lane by lane."""
    for lane in range(LANES):
        to[lane] += factor[lane] * value[lane]
