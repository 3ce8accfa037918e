"""Capacitance and stored charge of a clamp, each the exact derivative or integral of the other."""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.physics.law import ClampState, Numbers


def capacitance(voltage: Numbers, state: ClampState) -> Any:
    """Depletion capacitance (F): C0/(1 + V_R/V_bi)^m in reverse, linear continuation forward.

    voltage : V, anode minus cathode. The forward branch C0·(1 + m·V/V_bi) holds to about V_bi; the
    diffusion capacitance there is `diffusion_capacitance`. Grading 0 gives a constant capacitor.
    Source: Sze, Physics of Semiconductor Devices, ch. 2.
    """
    v = np.asarray(voltage, float)
    reverse = np.maximum(-v, 0.0)
    return state.zero_bias_capacitance * (
        (1 + reverse / state.built_in_voltage) ** -np.asarray(state.grading)
        + np.where(v > 0, state.grading * v / state.built_in_voltage, 0.0)
    )


def stored_charge(voltage: Numbers, state: ClampState) -> Any:
    """Depletion charge (C): the exact integral of `capacitance` from 0 V, negative in reverse.

    −C0·V_bi/(1−m)·((1 + V_R/V_bi)^(1−m) − 1) in reverse, with the logarithm at m = 1;
    C0·(V + m·V²/2V_bi) forward.
    """
    v = np.asarray(voltage, float)
    left = 1.0 - np.asarray(state.grading, float)
    growth = np.log1p(np.maximum(-v, 0.0) / state.built_in_voltage)
    bounded = np.where(left == 0, 1.0, left)
    reverse = np.where(left == 0, growth, np.expm1(bounded * growth) / bounded)
    ahead = np.maximum(v, 0.0)
    forward = ahead + state.grading * ahead**2 / (2 * np.asarray(state.built_in_voltage))
    return state.zero_bias_capacitance * (forward - state.built_in_voltage * reverse)


def diffusion_capacitance(current: Numbers, slope: Numbers, state: ClampState) -> Any:
    """Diffusion capacitance (F) from the current (A) and its slope (S).

    The derivative by voltage of the minority charge, transit time × forward current.
    """
    return state.transit_time * np.where(np.asarray(current) > 0, slope, 0.0)
