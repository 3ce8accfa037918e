"""What a zero calibration takes away, and what two legs of a differential input share.

Both act on the terms of a single-ended solution: calibration subtracts the same terms at the
calibration temperature; a pair leaves the mismatch of two legs.
"""

from __future__ import annotations

from dataclasses import replace
from math import log, sqrt

import numpy as np
from numpy.typing import NDArray

from clampwright.verdict.design import Design
from clampwright.verdict.terms import ErrorTerms, Interval

Array = NDArray[np.float64]

# Two isothermal clamps of one package or lot differ by 10–50 %: common practice, no source. Half is
# taken as probable and, for want of a measured match, a factor of five either way as its 95 % range.
MATCH_PROBABLE = 0.5
MATCH_FACTOR = 5.0
LARGEST_MISMATCH = 2.0  # both legs at full size, pulling opposite ways


def less_calibration(sides: list[ErrorTerms], reference: list[ErrorTerms]) -> list[ErrorTerms]:
    """Terms that remain after a zero taken in the `reference` state of the same circuit.

    The same part leaks in both states, so each interval shrinks with its value. Light is not
    calibrated away: the zero is taken in the dark.
    """
    return [
        replace(
            side,
            clamp=_less(side.clamp, zero.clamp.value),
            bias=_less(side.bias, zero.bias.value),
            leak=_less(side.leak, zero.leak.value),
            own=side.own - zero.own,
            together=side.together - zero.together,
        )
        for side, zero in zip(sides, reference, strict=True)
    ]


def _less(interval: Interval, removed: Array) -> Interval:
    size = np.where(interval.value == 0, 1.0, interval.value)
    share = np.where(interval.value == 0, 1.0, 1.0 - removed / size)
    ends = np.array([interval.low * share, interval.high * share])
    return Interval(interval.value * share, ends.min(axis=0), ends.max(axis=0))


def as_pair(design: Design, sides: list[ErrorTerms]) -> list[ErrorTerms]:
    """Terms of two legs: E = ΔI·R + I·ΔR for clamp and bias; light falls on one leg only.

    Source of the split: Kirchhoff on each leg, differences to first order.
    """
    network = design.network
    match, spread = clamp_mismatch(design)
    share = match + sqrt(2.0) * network.resistor_tolerance
    return [
        replace(
            side,
            clamp=mismatch(side.clamp, share, spread),
            bias=mismatch(side.bias, share, 0.0),
            leak=mismatch(side.leak, share, 0.0),
            together=side.together * share,
        )
        for side in sides
    ]


def clamp_mismatch(design: Design) -> tuple[float, float]:
    """Probable mismatch of two clamps as a share, and the half-width of its logarithm."""
    stated = design.network.clamp_match
    return (MATCH_PROBABLE, log(MATCH_FACTOR)) if stated is None else (stated, 0.0)


def mismatch(interval: Interval, share: float, spread: float) -> Interval:
    """A signed interval reduced to the difference of two such parts; its sign is not known."""
    value = np.abs(interval.value)
    top = np.maximum(np.abs(interval.low), np.abs(interval.high))
    crosses = interval.low * interval.high <= 0
    bottom = np.where(crosses, 0.0, np.minimum(np.abs(interval.low), np.abs(interval.high)))
    with np.errstate(divide="ignore", invalid="ignore"):
        up = np.where(value > 0, np.log(top / np.where(value > 0, value, 1.0)), 0.0)
        down = np.where(bottom > 0, np.log(value / np.where(bottom > 0, bottom, 1.0)), np.inf)
    high = np.minimum(share * value * np.exp(np.hypot(up, spread)), LARGEST_MISMATCH * top)
    low = share * value * np.exp(-np.hypot(down, spread))
    return Interval(share * value, low, np.maximum(high, share * value))
