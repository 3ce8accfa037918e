"""Series resistance: solve the junction voltage behind it, and the inverse question.

Safeguarded Newton on the junction voltage, all cases at once. Where the series resistance
outweighs the slope resistance the step is taken in the logarithm of the current, which is nearly
straight there; every step stays inside a bracket that always holds the answer.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from clampwright.errors import InputError, InternalError
from clampwright.physics.clamp import current_and_slope, take
from clampwright.physics.law import TINY, ClampState, Numbers
from clampwright.physics.ranges import LARGEST_VOLTAGE

MOST_STEPS = 200
TOLERANCE = 4e-16  # relative step
HALVE_EVERY = 8  # a plain halving now and then bounds the number of steps
STEEP = 3.0  # local power of the current above which its logarithm is the straighter curve
ROUNDING = 1e-15  # of the terms of a residual


def terminal_current_and_slope(voltage: Numbers, state: ClampState) -> tuple[Any, Any]:
    """Current (A) and slope (S) at the terminals, series resistance included.

    voltage : V, anode minus cathode, ±10 kV. Relative error of the current about 1e-14 (limited by
    the spacing of doubles in the junction voltage over its exponential scale).
    Raises InternalError where no solution was found.
    """
    return at_junction(voltage, junction_voltage(voltage, state), state)


def at_junction(voltage: Numbers, junction: Any, state: ClampState) -> tuple[Any, Any]:
    """The same where the voltage (V) across the junction itself is known."""
    v = np.asarray(voltage, float)
    current, slope = current_and_slope(junction, state)
    resistance = np.asarray(state.series_resistance, float)
    through = (v - junction) / np.where(resistance > 0, resistance, 1.0)
    by_difference = resistance * slope * np.abs(junction) > np.maximum(abs(v), abs(junction))
    current = np.where(by_difference & (resistance > 0), through, current)
    return current, slope / (1 + resistance * slope)


def junction_voltage(voltage: Numbers, state: ClampState) -> Any:
    """Voltage (V) across the junction itself when `voltage` (V) is at the terminals."""
    v, resistance = np.asarray(voltage, float), np.asarray(state.series_resistance, float)
    shape = np.broadcast_shapes(v.shape, _shape(state))
    some = _picker(state, shape)

    terminal, ohms, light = (
        np.broadcast_to(x, shape).reshape(-1) for x in (v, resistance, state.photocurrent)
    )

    def residual(x: Any, case: Any) -> tuple[Any, Any, Any]:
        here, drop, lamp = terminal[case], ohms[case], light[case]
        current, slope = current_and_slope(x, some(case))
        lit = np.where(x > 0, lamp, 0.0)  # the current without its photocurrent
        left = here + drop * lit - x
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            ratio = drop * (current + lit) / left
            straight = np.log(ratio) / (slope / (current + lit) + 1 / left)
        steep = (drop * slope > 1) & (ratio > 0) & np.isfinite(straight)
        error = x - here + drop * current
        floor = np.abs(x) * (1 + drop * slope) + np.abs(here) + drop * (np.abs(current) + lamp)
        step = np.where(steep, -straight, -error / (1 + drop * slope))
        return error, step, ROUNDING * floor

    low = np.minimum(v, 0.0)
    high = np.maximum(v, 0.0) + resistance * state.photocurrent
    return _solve(residual, low, high, shape, start=np.clip(v, low, high))


def voltage_at_current(current: Numbers, state: ClampState) -> tuple[Any, Any]:
    """Terminal voltage (V) and slope resistance (ohm) where the clamp carries `current` (A).

    The forward drop at a fault current. Raises InputError where ±10 kV cannot drive it, for
    example a reverse current larger than a clamp without breakdown or film leaks.
    """
    wanted = np.asarray(current, float)
    lowest, highest = (current_and_slope(v, state)[0] for v in (-LARGEST_VOLTAGE, LARGEST_VOLTAGE))
    if not np.all((wanted >= lowest) & (wanted <= highest)):
        raise InputError(
            f"the clamp cannot carry {np.min(wanted):g} A to {np.max(wanted):g} A",
            where="clamp law",
            expected=f"a current between its {np.max(lowest):.3g} A and {np.min(highest):.3g} A",
            mend="give the clamp a breakdown voltage or a film, or check the sign of the current",
        )
    shape = np.broadcast_shapes(wanted.shape, _shape(state))
    some = _picker(state, shape)

    def light(case: Any) -> Any:
        return np.broadcast_to(state.photocurrent, shape).reshape(-1)[case]

    def residual(x: Any, case: Any) -> tuple[Any, Any, Any]:
        target = np.broadcast_to(wanted, shape).reshape(-1)[case]
        flow, slope = current_and_slope(x, some(case))
        lit = np.where(x > 0, light(case), 0.0)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            linear = (target - flow) / slope
            ratio = (target + lit) / (flow + lit)
            straight = np.log(ratio) * (flow + lit) / slope
        steep = (
            (np.abs(x) * slope > STEEP * np.abs(flow + lit)) & (ratio > 0) & np.isfinite(straight)
        )
        floor = np.abs(x) * slope + np.abs(flow) + np.abs(target) + light(case)
        return flow - target, np.where(steep, straight, linear), ROUNDING * floor

    side = np.sign(
        wanted + np.asarray(state.photocurrent)
    )  # of the answer: at 0 V only light flows
    low, high = np.minimum(side, 0.0) * LARGEST_VOLTAGE, np.maximum(side, 0.0) * LARGEST_VOLTAGE
    with np.errstate(over="ignore"):
        small = (wanted + state.photocurrent) / np.maximum(current_and_slope(0.0, state)[1], TINY)
    junction = _solve(residual, low, high, shape, np.clip(small, -1.0, 1.0))
    slope = current_and_slope(junction, state)[1]
    with np.errstate(divide="ignore"):  # a saturated reverse current has no slope: infinite
        return junction + state.series_resistance * wanted, 1 / slope + state.series_resistance


def _solve(residual: Any, low: Any, high: Any, shape: tuple[int, ...], start: Any) -> Any:
    """Root of an increasing residual between `low` and `high`, one per case."""

    def flat(value: Any) -> Any:
        return np.array(np.broadcast_to(value, shape), float).reshape(-1)

    x, low, high = flat(start), flat(low), flat(high)
    case = np.arange(x.size)
    for count in range(1, MOST_STEPS + 1):
        here, bottom, top = x[case], low[case], high[case]
        error, step, rounding = residual(here, case)
        bottom, top = np.where(error <= 0, here, bottom), np.where(error >= 0, here, top)
        target = here + step
        close = np.abs(error) <= rounding
        inside = (target >= bottom) & (target <= top) & (close | (count % HALVE_EVERY != 0))
        target = np.where(inside, target, np.where(close, here, between(bottom, top)))
        x[case], low[case], high[case] = target, bottom, top
        moving = (np.abs(target - here) > TOLERANCE * np.abs(target)) & ~close
        case = case[moving & (top - bottom > TOLERANCE * np.abs(target))]
        if case.size == 0:
            return x.reshape(shape)[()]
    raise not_found(case.size, x.size)


def not_found(missed: int, cases: int) -> InternalError:
    """What is told of junction voltages that came to no rest."""
    return InternalError(
        f"{missed} of {cases} junction voltages were not found",
        where="clamp law",
        expected=f"a solution in {MOST_STEPS} steps within ±{LARGEST_VOLTAGE:g} V",
        mend="check the current and the series resistance",
    )


def between(bottom: Any, top: Any) -> Any:
    """Middle of a bracket; the geometric one where both ends have one sign and differ widely."""
    small, large = np.sort(np.abs((bottom, top)), axis=0)
    wide = (bottom * top > 0) & (large > 4 * small)
    return np.where(wide, np.sign(top) * np.sqrt(np.abs(bottom * top)), (bottom + top) / 2)


def _shape(state: ClampState) -> tuple[int, ...]:
    return np.broadcast_shapes(*(np.shape(value) for value in vars(state).values()))


def _picker(state: ClampState, shape: tuple[int, ...]) -> Callable[[Any], ClampState]:
    """A function that gives the state of those flattened cases that are still being solved."""
    if not _shape(state):
        return lambda case: state
    spread = {
        name: np.broadcast_to(value, shape).reshape(-1) if np.ndim(value) else value
        for name, value in vars(state).items()
    }
    whole, count = ClampState(**spread), int(np.prod(shape))
    return lambda case: whole if case.size == count else take(whole, case)
