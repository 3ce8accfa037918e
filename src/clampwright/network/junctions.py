"""Junction voltages of many clamps behind their series resistance, compiled.

The same safeguarded Newton as `physics.terminal.junction_voltage`, a case at a time, equal to it within
rounding. Import this module only once the machine code is made: it loads the compiler.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.network.kernel_version import source_version
from clampwright.physics.compiler import njit
from clampwright.physics.kernels import PARAMETERS, _whole_law
from clampwright.physics.law import FARTHEST_BREAKDOWN, ClampState, Numbers
from clampwright.physics.terminal import HALVE_EVERY, MOST_STEPS, ROUNDING, TOLERANCE, not_found

LIGHT = PARAMETERS.index("photocurrent")
OPTIONS: Any = {"error_model": "numpy", "fastmath": {"contract"}, "nogil": True}
compiled: Any = njit(**OPTIONS)


def junction_voltages(voltage: Numbers, state: ClampState) -> Any:
    """Voltage (V) across each junction when `voltage` (V) is at the terminals, shapes as they broadcast.

    Raises InternalError where no solution was found.
    """
    every = [np.asarray(getattr(state, name), float) for name in PARAMETERS]
    resistance = np.asarray(state.series_resistance, float)
    spread = np.broadcast_arrays(np.asarray(voltage, float), resistance, *every)
    v, ohms, *fields = (x.reshape(-1) for x in spread)
    rows = np.stack(fields, axis=1)
    limited = PARAMETERS.index("breakdown_voltage")
    rows[:, limited] = np.minimum(rows[:, limited], FARTHEST_BREAKDOWN)
    found = np.empty(v.size)
    missed, _ = solve_junctions(np.ascontiguousarray(v), np.ascontiguousarray(ohms), rows, found)
    if missed:
        raise not_found(missed, v.size)
    return found.reshape(spread[0].shape)[()]


@compiled
def _junction(v: Any, drop: Any, row: Any) -> Any:
    """Junction voltage of one case, and whether the steps came to rest."""
    lamp = row[LIGHT]
    low, high = min(v, 0.0), max(v, 0.0) + drop * lamp
    x = min(max(v, low), high)
    for count in range(1, MOST_STEPS + 1):
        current, slope = _whole_law(x, row, 0, 1)
        error = x - v + drop * current
        floor = abs(x) * (1 + drop * slope) + abs(v) + drop * (abs(current) + lamp)
        if error <= 0:
            low = x
        if error >= 0:
            high = x
        close = abs(error) <= ROUNDING * floor
        target = x + _step(x, v, drop, current, slope, lamp if x > 0 else 0.0)
        if not (low <= target <= high and (close or count % HALVE_EVERY != 0)):
            target = x if close else _middle(low, high)
        settled = abs(target - x) <= TOLERANCE * abs(target) or close
        x = target
        if settled or high - low <= TOLERANCE * abs(target):
            return x, True
    return x, False


@compiled
def _step(x: Any, v: Any, drop: Any, current: Any, slope: Any, lit: Any) -> Any:
    """Newton's step, in the logarithm of the current where the series resistance outweighs the slope."""
    left = v + drop * lit - x
    if drop * slope > 1 and left != 0 and current + lit != 0:
        ratio = drop * (current + lit) / left
        if ratio > 0:
            straight = np.log(ratio) / (slope / (current + lit) + 1 / left)
            if np.isfinite(straight):
                return -straight
    return -(x - v + drop * current) / (1 + drop * slope)


@compiled
def _middle(low: Any, high: Any) -> Any:
    """Middle of a bracket; the geometric one where both ends have one sign and differ widely."""
    small, large = min(abs(low), abs(high)), max(abs(low), abs(high))
    if low * high > 0 and large > 4 * small:
        return np.sign(high) * np.sqrt(abs(low * high))
    return (low + high) / 2


def kernel(version: int) -> Any:
    """The entry function, cached on disk under a version of its sources."""

    @njit(cache=True, **OPTIONS)
    def solve(voltage: Any, resistance: Any, rows: Any, out: Any) -> Any:
        """Fill `out` (V) for terminal voltages (V), Ω and rows of PARAMETERS.

        Returns how many were not found, and the version of the sources it was compiled from.
        """
        missed = 0
        for k in range(voltage.size):
            out[k], found = _junction(voltage[k], resistance[k], rows[k])
            if not found:
                missed += 1
        return missed, version

    return solve


solve_junctions = kernel(source_version())
