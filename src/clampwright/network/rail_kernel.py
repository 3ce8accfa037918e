"""One node, a source resistor and two rail clamps in SIMD lanes; imports the compiler.

Unknowns: the error voltage d and the two junction voltages, the latter eliminated in closed form. Each
pass evaluates both laws once with two derivatives, so its error is of third order (Chebyshev's method);
a bound on the third derivative tells when that is below rounding. Used through `rail_node`.

Every block first takes one pass that holds both clamps far in reverse, where no exponential of the
voltage is left. The few lanes that it does not settle (a clamp conducts, or the pin moves far) are
gathered into full blocks, so that no lane waits for a slower neighbour. There the clamp nearer to
conduction comes first (the mirror image where that is the lower one).
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.network.batch import EPSILON
from clampwright.network.kernel_version import source_version
from clampwright.network.rail_laws import FAR, far_in_reverse, forward, junction
from clampwright.physics.compiler import njit
from clampwright.physics.kernels import _logarithm
from clampwright.physics.law import TINY

LANES = 64
NODE_ROWS = 4  # resistance, source − upper rail, lower rail − source, current into the node
CLAMP_ROWS = 9  # saturation and scale of diffusion and generation, V_bi, m, film, light, series
ROWS = NODE_ROWS + 2 * CLAMP_ROWS
FIRST, SECOND = NODE_ROWS * LANES, (NODE_ROWS + CLAMP_ROWS) * LANES
STATE_ROWS = 6  # error voltage, current of upper and lower, error left over, junction voltages
MOST_PASSES = 4
SMALLEST_EXCESS = 1e-3  # [V] keeps the start of lanes in which nothing conducts finite
HALF = 0.5
cached: Any = njit(cache=True, error_model="numpy", fastmath={"contract"}, nogil=True)
compiled: Any = njit(error_model="numpy", fastmath={"contract"}, nogil=True)


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
        waiting = np.empty((last - first) * LANES, np.int64)
        few, many = 0, waiting.size  # conducting ones from the front, others from the back
        for block in range(first, last):
            row = values[block * ROWS * LANES : (block + 1) * ROWS * LANES]
            _rest(row, work)
            _pass_far(row, work)
            for k in range(4):
                place = out[k, block * LANES : (block + 1) * LANES]
                for lane in range(LANES):
                    place[lane] = work[lane + k * LANES]
            for lane in range(LANES):
                if not work[lane + 3 * LANES] <= 1.0:
                    shift = row[lane] * row[lane + 3 * LANES]
                    if max(row[lane + LANES] + shift, row[lane + 2 * LANES] - shift) > 0.0:
                        waiting[few] = block * LANES + lane
                        few += 1
                    else:
                        many -= 1
                        waiting[many] = block * LANES + lane
        for start in range(0, few, LANES):
            _settle(waiting[start : min(start + LANES, few)], values, work, out)
        for start in range(many, waiting.size, LANES):
            _settle(waiting[start : min(start + LANES, waiting.size)], values, work, out)
        return version

    return solve_blocks


@compiled
def _settle(cases: Any, values: Any, work: Any, out: Any) -> None:
    """Solve these cases side by side, as many as there are lanes or fewer."""
    row, turned = np.empty(ROWS * LANES), np.empty(LANES, np.bool_)
    _gather(cases, values, row, turned)
    _start(row, work)
    for _ in range(MOST_PASSES):
        if _all_far(row, work, 5, SECOND):
            if _all_conduct(work):
                _pass_forward(row, work)
            else:
                _pass_first(row, work)
        else:
            _pass_both(row, work)
        if _worst(work) <= 1.0:
            break
    for lane in range(cases.size):
        case, sign = cases[lane], -1.0 if turned[lane] else 1.0
        upper, lower = (2, 1) if turned[lane] else (1, 2)
        out[0, case] = sign * work[lane]
        out[1, case], out[2, case] = work[lane + upper * LANES], work[lane + lower * LANES]
        out[3, case] = work[lane + 3 * LANES]


@compiled
def _gather(cases: Any, values: Any, row: Any, turned: Any) -> None:
    """Copy cases into one block, mirrored where the lower clamp is nearer to conduction."""
    for lane in range(LANES):
        case = cases[min(lane, cases.size - 1)]
        at = case // LANES * ROWS * LANES + case % LANES
        shift = values[at] * values[at + 3 * LANES]
        turn = values[at + LANES] + shift < values[at + 2 * LANES] - shift
        sign, first, second = (-1.0, SECOND, FIRST) if turn else (1.0, FIRST, SECOND)
        row[lane] = values[at]
        row[lane + LANES] = values[at + (2 * LANES if turn else LANES)]
        row[lane + 2 * LANES] = values[at + (LANES if turn else 2 * LANES)]
        row[lane + 3 * LANES] = sign * values[at + 3 * LANES]
        for k in range(0, CLAMP_ROWS * LANES, LANES):
            row[lane + FIRST + k] = values[at + first + k]
            row[lane + SECOND + k] = values[at + second + k]
        turned[lane] = turn


@compiled
def _rest(row: Any, work: Any) -> None:
    """Leak-free voltages."""
    for lane in range(LANES):
        work[lane] = 0.0
        work[lane + 4 * LANES], work[lane + 5 * LANES] = row[lane + LANES], row[lane + 2 * LANES]


@compiled
def _start(row: Any, work: Any) -> None:
    """Leak-free voltages, and where the first clamp conducts the voltage at which it carries the fault."""
    for lane in range(LANES):
        high, low = row[lane + LANES], row[lane + 2 * LANES]
        excess = high + row[lane] * row[lane + 3 * LANES]
        drive = max(excess, SMALLEST_EXCESS)
        series = row[lane + FIRST + 8 * LANES]
        resistance = row[lane] + series
        i_d, s_d = max(row[lane + FIRST], TINY), row[lane + FIRST + LANES]
        i_g, s_g = max(row[lane + FIRST + 2 * LANES], TINY), row[lane + FIRST + 3 * LANES]
        current = drive / resistance
        x_d = s_d * _logarithm(1.0 + current / i_d)
        x_g = s_g * _logarithm(1.0 + current / i_g)
        scale, saturation = (s_d, i_d) if x_d < x_g else (s_g, i_g)
        x = min(min(x_d, x_g), 0.98 * drive)
        through = (drive - x) / resistance
        wrong = x - scale * _logarithm(1.0 + through / saturation)
        x -= wrong / (1.0 + scale / (drive - x))
        moved = x + series * through - high
        conducts = excess > 0.0
        work[lane] = moved if conducts else 0.0
        work[lane + 4 * LANES] = x if conducts else high
        work[lane + 5 * LANES] = low - moved if conducts else low


def _passing(first: Any, second: Any) -> Any:
    """A pass that moves every lane once, with these laws of the first and the second junction.

    Lanes that leave the range in which their law holds are not solved.
    """
    far = first is far_in_reverse, second is far_in_reverse

    @compiled
    def move(row: Any, work: Any) -> None:
        for lane in range(LANES):
            resistance, bias = row[lane], row[lane + 3 * LANES]
            d, x, y = work[lane], work[lane + 4 * LANES], work[lane + 5 * LANES]
            i, g, h, t = first(x, row, lane + FIRST, LANES)
            j, k, q, u = second(y, row, lane + SECOND, LANES)
            r_i, r_j = row[lane + FIRST + 8 * LANES], row[lane + SECOND + 8 * LANES]
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
            here, there = x + move_i + more_i, y + move_j + more_j
            upper = i + (g * (move_i + more_i) + bend_i)
            lower = j + (k * (move_j + more_j) + bend_j)
            rounding = HALF * EPSILON * (abs(upper) + abs(lower) + abs(bias)) + TINY
            work[lane] = d + step + again
            work[lane + LANES], work[lane + 2 * LANES] = upper, lower
            left = wrong * loop / rounding
            if far[0]:
                near = max(x, here) > -FAR * _scale(row, lane + FIRST)
                left = np.inf if near else left
            if far[1]:
                near = max(y, there) > -FAR * _scale(row, lane + SECOND)
                left = np.inf if near else left
            work[lane + 3 * LANES] = left
            work[lane + 4 * LANES], work[lane + 5 * LANES] = here, there

    return move


_pass_far = _passing(far_in_reverse, far_in_reverse)
_pass_forward = _passing(forward, far_in_reverse)
_pass_first = _passing(junction, far_in_reverse)
_pass_both = _passing(junction, junction)


@compiled
def _scale(row: Any, at: Any) -> Any:
    """The wider of the two exponential scales of a junction (V)."""
    return max(row[at + LANES], row[at + 3 * LANES])


@compiled
def _all_far(row: Any, work: Any, state: Any, clamp: Any) -> Any:
    """Whether a junction is far in reverse in every lane."""
    near = False
    for lane in range(LANES):
        near |= work[lane + state * LANES] > -FAR * _scale(row, lane + clamp)
    return not near


@compiled
def _all_conduct(work: Any) -> Any:
    """Whether the first junction conducts in every lane."""
    reverse = False
    for lane in range(LANES):
        reverse |= work[lane + 4 * LANES] < 0.0
    return not reverse


@compiled
def _worst(work: Any) -> Any:
    """Largest error left over; infinite where a lane is not a number."""
    worst = 0.0
    for lane in range(LANES):
        left = work[lane + 3 * LANES]
        worst = max(worst, left if left == left else np.inf)
    return worst


solve_blocks = kernel(source_version())
