"""The clamp law: one formula for every junction a practitioner would try.

`at_conditions` moves a `ClampLaw` to a temperature and an illuminance, `current_and_slope`
evaluates it (everything of the clamp law can be imported from here):

    I(V) = M·(I_D·L·(exp(V/n_D·V_T) − 1) + I_G·w·(exp(V/n_G·V_T) − 1) − I_ph)
           − I_K·(exp(−V/V_k) − 1) + G·V + sign(V)·I_ref·(|V|/V_ref)^α

with, for reverse voltage V_R = max(−V, 0): depletion widening w = (1 + V_R/V_bi)^m, image-force
lowering L = exp(c·((V_R + V_bi)^¼ − V_bi^¼)/V_T), avalanche multiplication
M = 1/(1 − (V_R/V_BR)^n).

Past each knee a term grows linearly from the point where its slope resistance has fallen to
`breakdown_resistance` (the widening adds a few percent). So the multiplication has no pole and
never turns negative, and the current stays monotone and finite (checked for ±10 kV and
100…500 K). Where the leakage is so small that the multiplication would need more than
LARGEST_MULTIPLICATION to get there, it stops at that value and the rest of the conductance starts
at the knee at once (a kink in the slope).

Sources: Sze, Physics of Semiconductor Devices (junctions, Schottky, avalanche); Sah, Noyce and
Shockley 1957 (generation); Miller 1955 (multiplication).
"""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.physics.cases import in_any
from clampwright.physics.charge import capacitance, stored_charge
from clampwright.physics.conditions import at_conditions
from clampwright.physics.law import (
    FARTHEST_BREAKDOWN,
    LARGEST_EXPONENT,
    LARGEST_GAP,
    TINY,
    ClampLaw,
    ClampState,
    Numbers,
    take,
)
from clampwright.physics.temperature import temperature_factor

__all__ = [
    "ClampLaw",
    "ClampState",
    "Numbers",
    "at_conditions",
    "capacitance",
    "current_and_slope",
    "mechanism_currents",
    "multiplication",
    "stored_charge",
    "take",
    "temperature_factor",
]


def current_and_slope(voltage: Numbers, state: ClampState) -> tuple[Any, Any]:
    """Current (A) and slope dI/dV (S) at `voltage` (V, anode minus cathode).

    Without series resistance (see `terminal`). Valid −10 kV…+10 kV, 100…500 K. Shapes are
    those of `voltage` and the state's fields broadcast together.
    """
    v = np.asarray(voltage, float)
    current, slope = _junction(v, state)
    for term in (_tunnelling, _symmetric):
        more_current, more_slope = term(v, state)
        current, slope = current + more_current, slope + more_slope
    return current + state.film_conductance * v, slope + state.film_conductance


def mechanism_currents(voltage: Numbers, state: ClampState) -> dict[str, Any]:
    """The current (A) of each mechanism alone; their sum is the current of `current_and_slope`.

    Keys: diffusion, generation, photocurrent (these three multiplied by the avalanche),
    breakdown, tunnelling, film, symmetric.
    """
    v = np.asarray(voltage, float)
    multiplication, _, extra, _ = _avalanche(v, state)
    return {
        "diffusion": multiplication * _diffusion(v, state)[0],
        "generation": multiplication * _generation(v, state)[0],
        "photocurrent": -multiplication * np.asarray(state.photocurrent),
        "breakdown": extra,
        "tunnelling": _tunnelling(v, state)[0],
        "film": state.film_conductance * v,
        "symmetric": _symmetric(v, state)[0],
    }


def multiplication(voltage: Numbers, state: ClampState) -> Any:
    """Avalanche multiplication (≥ 1) at `voltage` (V); linear past the knee."""
    return _avalanche(np.asarray(voltage, float), state)[0]


def _junction(v: Any, state: ClampState) -> tuple[Any, Any]:
    """Diffusion, generation and photocurrent, multiplied by the avalanche."""
    diffusion, diffusion_slope = _diffusion(v, state)
    generation, generation_slope = _generation(v, state)
    primary = diffusion + generation - state.photocurrent
    primary_slope = diffusion_slope + generation_slope
    if not _breaks_down(state):
        return primary, primary_slope
    factor, factor_slope, extra, extra_slope = _avalanche(v, state)
    slope = factor * primary_slope + factor_slope * primary + extra_slope
    return factor * primary + extra, slope


def _breaks_down(state: ClampState) -> bool:
    """Whether there is an avalanche in any case."""
    return in_any(state.breakdown_voltage < FARTHEST_BREAKDOWN)


def _diffusion(v: Any, state: ClampState) -> tuple[Any, Any]:
    """I_D·L·(exp(V/n·V_T) − 1)."""
    shape, shape_slope = _exponential(v, state.diffusion_ideality * state.thermal_voltage)
    if not in_any(state.image_force_lowering):
        return state.diffusion_current * shape, state.diffusion_current * shape_slope
    zero, reverse = np.asarray(state.built_in_voltage), np.maximum(-v, 0.0)
    root = (reverse + zero) ** 0.25
    scale = state.image_force_lowering / state.thermal_voltage
    lowered, growth = _exponential(scale * (root - zero**0.25), 1.0)
    lowered_slope = -growth * scale * 0.25 * root / (reverse + zero)
    slope = (1 + lowered) * shape_slope + np.where(v < 0, lowered_slope, 0.0) * shape
    return state.diffusion_current * (1 + lowered) * shape, state.diffusion_current * slope


def _generation(v: Any, state: ClampState) -> tuple[Any, Any]:
    """I_G·w·(exp(V/n·V_T) − 1)."""
    shape, shape_slope = _exponential(v, state.generation_ideality * state.thermal_voltage)
    reverse = np.maximum(-v, 0.0)
    width = (1.0 + reverse / state.built_in_voltage) ** state.grading
    width_slope = np.where(v < 0, -state.grading * width / (state.built_in_voltage + reverse), 0.0)
    slope = width * shape_slope + width_slope * shape
    return state.generation_current * width * shape, state.generation_current * slope


def _avalanche(v: Any, state: ClampState) -> tuple[Any, Any, Any, Any]:
    """Multiplication and its slope in V, and the current and slope added past the knee."""
    if not _breaks_down(state):
        return 1.0, 0.0, 0.0, 0.0
    limit = np.minimum(state.breakdown_voltage, FARTHEST_BREAKDOWN)
    gap = (limit - np.maximum(-v, 0.0)) / limit  # exact where it matters, near breakdown
    inside = np.clip(gap, state.breakdown_knee, LARGEST_GAP)
    logarithm = state.breakdown_exponent * np.log1p(-inside)
    factor = -1.0 / np.expm1(logarithm)
    rise = state.breakdown_exponent * np.exp(logarithm) / (1.0 - inside) * factor**2
    beyond = np.maximum(inside - gap, 0.0)
    added = np.where(inside > gap, state.breakdown_conductance, 0.0)
    return factor + rise * beyond, -rise / limit, -added * beyond * limit, added


def _tunnelling(v: Any, state: ClampState) -> tuple[Any, Any]:
    """−I_K·(exp(−V/V_k) − 1), linear past the knee: the soft knee of low zeners."""
    if not in_any(state.tunnelling_current):
        return 0.0, 0.0
    shape, slope = _exponential(-v, state.tunnelling_width, state.tunnelling_knee)
    return -state.tunnelling_current * shape, state.tunnelling_current * slope


def _symmetric(v: Any, state: ClampState) -> tuple[Any, Any]:
    """sign(V)·I_ref·(|V|/V_ref)^α, linear past the knee: varistor or two-way suppressor."""
    if not in_any(state.symmetric_current):
        return 0.0, 0.0
    ratio = np.abs(v) / state.symmetric_voltage
    inside = np.minimum(ratio, state.symmetric_knee)
    power = inside**state.symmetric_exponent
    rise = state.symmetric_exponent * power / np.maximum(inside, TINY)
    current = np.sign(v) * state.symmetric_current * (power + rise * (ratio - inside))
    return current, state.symmetric_current * rise / state.symmetric_voltage


def _exponential(v: Any, scale: Any, knee: Any = LARGEST_EXPONENT) -> tuple[Any, Any]:
    """expm1(v/scale) and its slope in v, continued linearly above `knee`."""
    x = v / scale
    top = np.minimum(x, knee)
    growth = np.exp(top)
    return np.expm1(top) + growth * (x - top), growth / scale
