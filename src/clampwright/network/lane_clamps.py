"""Clamps in SIMD lanes: their law, and the junction voltage at which to linearise next.

Part of the compiled solver, see `lanes`; imports the compiler.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

import numpy as np
from llvmlite import ir

from clampwright.network.clamp_points import BEYOND, MOST_SEARCHES, NEARLY, OVERSHOOT
from clampwright.network.solve import ROUNDING
from clampwright.physics.compiler import intrinsic, njit, types
from clampwright.physics.kernels import COUNT, _silicon, _whole_law

LANES = 16
LAW = COUNT + 1  # parameters of a law and its series resistance
compiled: Any = njit(error_model="numpy", fastmath={"contract"}, nogil=True)
cached: Any = njit(cache=True, error_model="numpy", fastmath={"contract"}, nogil=True)
machine: Any = intrinsic


@compiled
def move_clamp(clamp: Any, row: Any, whole: Any, share: Any, iterations: Any, settled: Any) -> None:
    """Junction voltage, current and slope for the next iteration, and whether they still move."""
    moved, flow, steep = np.empty(LANES), np.empty(LANES), np.empty(LANES)
    voltage, junction, current, slope = clamp[0], clamp[1], clamp[2], clamp[3]
    through = clamp[4]
    for lane in range(LANES):
        resistance = row[lane + COUNT * LANES]
        through[lane] = (current[lane] + slope[lane] * (voltage[lane] - junction[lane])) / (
            1.0 + resistance * slope[lane]
        )
        moved[lane] = voltage[lane] - resistance * through[lane]
    law_in_lanes(moved, row, whole, flow, steep)
    for lane in range(LANES):
        if iterations[lane] > 0:
            continue
        change = abs(moved[lane] - junction[lane])
        settled[lane] &= change <= max(share * row[lane], ROUNDING * abs(moved[lane]))
        known = abs(through[lane]) + abs(current[lane])
        if known > 0.0 and abs(flow[lane]) > OVERSHOOT * known:
            moved[lane], flow[lane], steep[lane] = _voltage_carrying(
                through[lane], junction[lane], moved[lane], row, lane
            )
        junction[lane], current[lane], slope[lane] = moved[lane], flow[lane], steep[lane]


@compiled
def law_in_lanes(voltage: Any, row: Any, whole: Any, current: Any, slope: Any) -> None:
    """Current and slope of one clamp in every lane."""
    if whole:
        for lane in range(LANES):
            current[lane], slope[lane] = _whole_law(voltage[lane], row, lane, LANES)
    else:
        for lane in range(LANES):
            i, g = _silicon(voltage[lane], row, lane, LANES)
            current[lane] = i + row[lane + 7 * LANES] * voltage[lane]
            slope[lane] = g + row[lane + 7 * LANES]


@compiled
def _voltage_carrying(predicted: Any, old: Any, new: Any, row: Any, lane: Any) -> Any:
    """Junction voltage between old and new where the law nearly carries `predicted`; current, slope.

    Newton in the logarithm of the current, kept inside a bracket that always holds the answer.
    """
    target = predicted + (BEYOND if new > old else -BEYOND) * abs(predicted)
    low, high = min(old, new), max(old, new)
    x = min(max(_first_guess(target, row, lane), low), high)
    current, slope = _whole_law(x, row, lane, LANES)
    for count in range(MOST_SEARCHES):
        if abs(current - target) <= NEARLY * abs(target):
            break
        if current < target:
            low = x
        else:
            high = x
        lit = row[lane + 8 * LANES] if x > 0.0 else 0.0
        ratio = (target + lit) / (current + lit)
        if ratio > 0.0:
            following = x + np.log(ratio) * (current + lit) / slope
        else:
            following = x + (target - current) / slope
        if not low < following < high or count % 8 == 7:
            following = _between(low, high)
        if following == x:
            break
        x = following
        current, slope = _whole_law(x, row, lane, LANES)
    return x, current, slope


@compiled
def _first_guess(target: Any, row: Any, lane: Any) -> Any:
    """The smallest voltage at which one mechanism alone carries the current."""
    size = abs(target)
    guess = np.inf
    power = row[lane + 17 * LANES]
    if power > 0.0:
        guess = row[lane + 18 * LANES] * (size / power) ** (1.0 / row[lane + 19 * LANES])
    if target > 0.0:
        for k in (1, 3):
            scale = row[lane + (k + 1) * LANES] * row[lane]
            if row[lane + k * LANES] > 0.0:
                guess = min(guess, scale * np.log1p(size / row[lane + k * LANES]))
        return guess
    if row[lane + 14 * LANES] > 0.0:
        soft = row[lane + 15 * LANES] * np.log1p(size / row[lane + 14 * LANES])
        guess = min(guess, soft)
    return -min(guess, row[lane + 10 * LANES])


@compiled
def _between(low: Any, high: Any) -> Any:
    """Middle of a bracket; the geometric one where both ends have one sign and differ widely."""
    small, large = min(abs(low), abs(high)), max(abs(low), abs(high))
    if low * high > 0.0 and large > 4.0 * small:
        return np.sqrt(small) * np.sqrt(large) * (1.0 if high > 0.0 else -1.0)
    return 0.5 * (low + high)


@machine
def number_at(context: Any, address: Any) -> Any:
    """The double at an address: parameters are read where they lie, never copied."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        pointer = builder.inttoptr(arguments[0], ir.DoubleType().as_pointer())
        return builder.load(pointer)

    return types.float64(types.int64), generate
