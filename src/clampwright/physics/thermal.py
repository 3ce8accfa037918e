"""Heat in a clamp: junction temperature, self-heating, and the extra leakage while it is hot."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from clampwright.physics.clamp import at_conditions, current_and_slope
from clampwright.physics.law import ClampLaw, Numbers

HOTTEST = 500.0  # [K] end of the valid range of the laws
STEPS, BISECTIONS = 400, 60


def junction_temperature(ambient: Numbers, power: Numbers, thermal_resistance: Numbers) -> Any:
    """T_j = T_a + P·R_th (K) in steady state; K, W, K/W."""
    return np.asarray(ambient, float) + np.asarray(power) * thermal_resistance


def thermal_impedance(time: Numbers, thermal_resistance: Numbers, time_constant: Numbers) -> Any:
    """R_th·(1 − exp(−t/τ)) in K/W: temperature rise per watt after `time` (s) of constant power."""
    return -np.asarray(thermal_resistance) * np.expm1(-np.asarray(time, float) / time_constant)


def self_heated_temperature(
    power: Callable[[Any], Any],
    ambient: Numbers,
    thermal_resistance: Numbers,
    hottest: float = HOTTEST,
) -> Any:
    """Coolest steady junction temperature (K) with T = T_a + R_th·power(T); infinite on runaway.

    power : W at a temperature (K); called with an array whose first axis is added in front
    ambient : K; thermal_resistance : K/W; both broadcast

    The balance is scanned upwards in 400 steps and bisected, so two balances closer together than
    a step are passed over towards the hotter, cautious side. No balance below `hottest` is called
    runaway: reverse leakage at a fixed voltage does that.
    """
    cold = np.asarray(ambient, float) + np.zeros(np.shape(thermal_resistance))
    ladder = np.linspace(0.0, 1.0, STEPS + 1).reshape(-1, *([1] * cold.ndim))
    grid = cold + ladder * (hottest - cold)
    balanced = cold + thermal_resistance * power(grid) <= grid
    step = np.maximum(np.argmax(balanced, axis=0), 1)
    width = (hottest - cold) / STEPS
    low, high = cold + (step - 1) * width, cold + step * width
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        reached = (cold + thermal_resistance * power(middle[np.newaxis])[0]) <= middle
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    return np.where(np.any(balanced, axis=0), high, np.inf)


def self_heated_clamp(
    law: ClampLaw,
    voltage: Numbers,
    ambient: Numbers,
    thermal_resistance: Numbers,
    illuminance: Numbers = 0.0,
) -> tuple[Any, Any]:
    """Junction temperature (K) and current (A) of a clamp held at `voltage` (V, junction).

    Infinite temperature and current mean thermal runaway. Law fields must be scalars.
    """

    def power(temperature: Any) -> Any:
        state = at_conditions(law, temperature, illuminance)
        return np.abs(np.asarray(voltage) * current_and_slope(voltage, state)[0])

    cold = np.broadcast_arrays(np.asarray(ambient, float), np.asarray(voltage, float))[0]
    hot = self_heated_temperature(power, cold, thermal_resistance)
    finite = np.where(np.isinf(hot), cold, hot)
    current = current_and_slope(voltage, at_conditions(law, finite, illuminance))[0]
    return hot, np.where(np.isinf(hot), np.inf, current)
