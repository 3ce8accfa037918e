"""One node, a source resistor and two rail clamps in SIMD lanes; imports the compiler.

Unknowns: the error voltage d and the two junction voltages, the latter eliminated in closed form. Each
pass evaluates both laws once with two derivatives, so its error is of third order (Chebyshev's method);
a bound on the third derivative tells when that is below rounding. Used through `rail_node`.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit

from clampwright.network.batch import EPSILON
from clampwright.network.kernel_version import source_version
from clampwright.physics.kernels import _exponential, _grown, _logarithm
from clampwright.physics.law import LARGEST_EXPONENT, TINY

LANES = 64
NODE_ROWS = 4  # resistance, source − upper rail, lower rail − source, current into the node
CLAMP_ROWS = 9  # saturation and scale of diffusion and generation, V_bi, m, film, light, series
ROWS = NODE_ROWS + 2 * CLAMP_ROWS
STATE_ROWS = 6  # error voltage, current of upper and lower, error left over, junction voltages
MOST_PASSES = 4
HALF = 0.5
cached: Any = njit(cache=True, error_model="numpy", fastmath={"contract"}, nogil=True)
compiled: Any = njit(error_model="numpy", fastmath={"contract"}, nogil=True)
inlined: Any = njit(error_model="numpy", fastmath={"contract"}, forceinline=True)


def kernel(version: int) -> Any:
    """The entry function, cached on disk under a version of its sources."""

    @cached
    def solve_blocks(first: Any, last: Any, values: Any, out: Any) -> int:
        """Solve blocks first…last − 1.

        values : blocks × ROWS × LANES, flat; out : (4, blocks × LANES): error voltage, current of the
        upper and of the lower clamp, and the error left over relative to rounding (≤ 1: solved).
        Returns the version of the sources it was compiled from.
        """
        work = np.empty(STATE_ROWS * LANES)
        for block in range(first, last):
            row = values[block * ROWS * LANES : (block + 1) * ROWS * LANES]
            _start(row, work)
            for _ in range(MOST_PASSES):
                _pass(row, work)
                if _worst(work) <= 1.0:
                    break
            for k in range(4):
                place = out[k, block * LANES : (block + 1) * LANES]
                for lane in range(LANES):
                    place[lane] = work[lane + k * LANES]
        return version

    return solve_blocks


@compiled
def _start(row: Any, work: Any) -> None:
    """Leak-free voltages, and where a clamp conducts the voltage at which it carries the fault."""
    conducting = False
    for lane in range(LANES):
        work[lane] = 0.0
        work[lane + 4 * LANES], work[lane + 5 * LANES] = row[lane + LANES], row[lane + 2 * LANES]
        conducting |= max(work[lane + 4 * LANES], work[lane + 5 * LANES]) > 0.0
    if not conducting:
        return
    for lane in range(LANES):
        high, low = row[lane + LANES], row[lane + 2 * LANES]
        top = high > low
        excess = max(high, low)
        base = lane + (NODE_ROWS if top else NODE_ROWS + CLAMP_ROWS) * LANES
        resistance = row[lane] + row[base + 8 * LANES]
        i_d, s_d = max(row[base], TINY), row[base + LANES]
        i_g, s_g = max(row[base + 2 * LANES], TINY), row[base + 3 * LANES]
        current = max(excess, 1e-3) / resistance
        x_d = s_d * _logarithm(1.0 + current / i_d)
        x_g = s_g * _logarithm(1.0 + current / i_g)
        scale, saturation = (s_d, i_d) if x_d < x_g else (s_g, i_g)
        x = min(min(x_d, x_g), 0.98 * max(excess, 1e-3))
        through = (max(excess, 1e-3) - x) / resistance
        wrong = x - scale * _logarithm(1.0 + through / saturation)
        x -= wrong / (1.0 + scale / (max(excess, 1e-3) - x))
        moved = x + row[base + 8 * LANES] * through - excess
        if excess > 0.0:
            work[lane] = moved if top else -moved
            work[lane + 4 * LANES] = x if top else high - moved
            work[lane + 5 * LANES] = low - moved if top else x


@compiled
def _pass(row: Any, work: Any) -> None:
    """Move every lane once."""
    for lane in range(LANES):
        resistance, bias = row[lane], row[lane + 3 * LANES]
        d, x, y = work[lane], work[lane + 4 * LANES], work[lane + 5 * LANES]
        i, g, h, t = _junction(x, row, lane + NODE_ROWS * LANES)
        j, k, q, u = _junction(y, row, lane + (NODE_ROWS + CLAMP_ROWS) * LANES)
        r_i = row[lane + (NODE_ROWS + 8) * LANES]
        r_j = row[lane + (NODE_ROWS + CLAMP_ROWS + 8) * LANES]
        share_i, share_j = 1.0 / (1.0 + r_i * g), 1.0 / (1.0 + r_j * k)
        miss_i = ((row[lane + LANES] + d) - x - r_i * i) * share_i
        miss_j = ((row[lane + 2 * LANES] - d) - y - r_j * j) * share_j
        loop = 1.0 / (1.0 + resistance * (g * share_i + k * share_j))
        step = -(d + resistance * ((i - j - bias) + (g * miss_i - k * miss_j))) * loop
        move_i, move_j = miss_i + step * share_i, miss_j - step * share_j
        bend_i, bend_j = HALF * h * move_i * move_i, HALF * q * move_j * move_j
        again = -resistance * (bend_i * share_i - bend_j * share_j) * loop
        more_i, more_j = (again - r_i * bend_i) * share_i, -(again + r_j * bend_j) * share_j
        size_i, size_j = abs(move_i), abs(move_j)
        wrong = t * size_i * size_i * size_i + abs(h * move_i * more_i)
        wrong += u * size_j * size_j * size_j + abs(q * move_j * more_j)
        crossed = (x < 0.0) != (x + move_i < 0.0) or (y < 0.0) != (y + move_j < 0.0)
        wrong += abs(h) * size_i * size_i + abs(q) * size_j * size_j if crossed else 0.0
        work[lane] = d + step + again
        work[lane + 4 * LANES], work[lane + 5 * LANES] = x + move_i + more_i, y + move_j + more_j
        first = i + (g * (move_i + more_i) + bend_i)
        second = j + (k * (move_j + more_j) + bend_j)
        rounding = HALF * EPSILON * (abs(first) + abs(second) + abs(bias)) + TINY
        work[lane + LANES], work[lane + 2 * LANES] = first, second
        work[lane + 3 * LANES] = wrong * loop / (rounding)


@compiled
def _worst(work: Any) -> Any:
    """Largest error left over; infinite where a lane is not a number."""
    worst = 0.0
    for lane in range(LANES):
        left = work[lane + 3 * LANES]
        worst = max(worst, left if left == left else np.inf)
    return worst


@inlined
def _junction(x: Any, row: Any, at: Any) -> Any:
    """Current, slope, curvature and a bound on the third derivative of the plain junction law."""
    i_d, s_d = row[at], 1.0 / row[at + LANES]
    i_g, s_g = row[at + 2 * LANES], 1.0 / row[at + 3 * LANES]
    film, reverse = row[at + 6 * LANES], max(-x, 0.0)
    shape, growth = _grown(x * s_d, LARGEST_EXPONENT)
    form, rise = _grown(x * s_g, LARGEST_EXPONENT)
    m, depth = row[at + 5 * LANES], 1.0 / (row[at + 4 * LANES] + reverse)
    _, w = _exponential(m * _logarithm(1.0 + reverse / row[at + 4 * LANES]))
    depth = depth if x < 0.0 else 0.0
    a, b, c = s_g * rise, s_g * s_g * rise, s_g * s_g * s_g * rise
    one, two, three = m * depth, m * (1.0 - m) * depth * depth, (2.0 - m) * depth
    diffusion = i_d * s_d * growth
    generation = i_g * w
    current = (i_d * shape + generation * form) + (film * x - row[at + 7 * LANES])
    slope = diffusion + generation * (a - one * form) + film
    curvature = diffusion * s_d + generation * (b - 2.0 * one * a - two * form)
    third = diffusion * s_d * s_d
    third += generation * (c + 3.0 * one * b + 3.0 * two * a + two * three * abs(form))
    return current, slope, curvature, third


solve_blocks = kernel(source_version())
