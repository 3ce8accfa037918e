"""Lots in which some parts were too quiet to be detected: maximum likelihood, and what it supports.

The logarithm of leakage is normal across parts (common practice, no source). A part not detected
tells only that it lies below its decision limit. The tolerance factor for such lots has no closed
form; it comes from a simulation whose table and script are kept (`censored_factors.csv`).
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError

Array = NDArray[np.float64]
FEWEST_DETECTED = 3  # [1] parts; with fewer the spread is a guess
ROUNDS = 400  # of the expectation step, far more than needed at half a lot hidden
SETTLED = 1e-9  # [1] in both parameters, relative to the spread


@dataclass(frozen=True)
class CensoredLot:
    """Mean and spread of ln I over a lot, as far as its quiet parts allow."""

    count: int
    hidden: int
    mean: float  # of ln(I/A)
    spread: float  # maximum-likelihood standard deviation, measurement scatter included
    mean_uncertainty: float


def fit_lot(
    logarithms: Sequence[float] | Array, hidden: Sequence[bool] | NDArray[np.bool_]
) -> CensoredLot:
    """Maximum-likelihood normal of values of which some are only known to lie below.

    logarithms : ln(I/A) of each detected part, and ln of the decision limit of each hidden one
    hidden     : True where the part was not detected
    InputError with fewer than three detected parts, or all of them equal.
    Source: A. C. Cohen, Technometrics 1 (1959) 217; solved by expectation and maximisation.
    """
    y, below = np.asarray(logarithms, float), np.asarray(hidden, bool)
    seen = int((~below).sum())
    if seen < FEWEST_DETECTED:
        raise InputError(
            f"{seen} of {len(y)} parts were detected: that tells no spread",
            expected=f"{FEWEST_DETECTED} or more",
            mend="measure warmer or with a more sensitive method",
        )
    means, spreads = solve(y[None, :], below[None, :])
    mean, spread = float(means[0]), float(spreads[0])
    if not spread > 0:
        raise InputError("all parts read the same: that tells no spread", mend="use finer readings")
    return CensoredLot(
        len(y), int(below.sum()), mean, spread, _mean_uncertainty(y, below, mean, spread)
    )


def solve(values: Array, hidden: NDArray[np.bool_]) -> tuple[Array, Array]:
    """Means and spreads of many lots at once; `values` and `hidden` (lots, parts).

    Each round replaces a hidden value and its square by what they are on average below their limit.
    """
    from clampwright.uncertain.special import log_ndtr

    mean, spread = values.mean(axis=1), values.std(axis=1)
    for _ in range(ROUNDS):
        z = (values - mean[:, None]) / spread[:, None]
        ratio = np.exp(-(z**2) / 2 - log_ndtr(z)) / sqrt(2 * np.pi)
        expected = np.where(hidden, mean[:, None] - spread[:, None] * ratio, values)
        extra = np.where(hidden, spread[:, None] ** 2 * (1 - z * ratio - ratio**2), 0.0)
        new_mean = expected.mean(axis=1)
        variance = ((expected - new_mean[:, None]) ** 2 + extra).mean(axis=1)
        new_spread = np.sqrt(np.maximum(variance, 0.0))
        change = np.abs(new_mean - mean) + np.abs(new_spread - spread)
        mean, spread = new_mean, new_spread
        if np.all(change <= SETTLED * np.maximum(spread, 1e-300)):
            break
    return mean, spread


def censored_factor(count: int, hidden: int) -> float:
    """K with P(mean + K·spread above 95 % of the lot) = 95 %, for maximum-likelihood estimates.

    count 4…30, hidden 0…count − 3. Between tabulated counts the next smaller one is used with the
    hidden share rounded up. Exact when the number of hidden parts is fixed (the smallest ones), by
    simulation to about 0.5 %.
    """
    table = _factors()
    counts = sorted({n for n, _ in table})
    if not counts[0] <= count or not 0 <= hidden <= count - FEWEST_DETECTED:
        raise InputError(
            f"no tolerance factor for {count} parts of which {hidden} are hidden",
            expected=f"{counts[0]} parts or more, {FEWEST_DETECTED} or more of them detected",
        )
    nearest = max(n for n in counts if n <= count)
    share = min(-(-hidden * nearest // count), nearest - FEWEST_DETECTED)
    return table[nearest, share]


def upper_tolerance_limit(lot: CensoredLot, measurement: float = 0.0) -> float:
    """Current (A) above which at most 5 % of the lot lie, with 95 % confidence.

    measurement : standard uncertainty of ln I of one part; its variance is taken out again, from
        the upper limit of the spread and not from its estimate, which keeps the confidence
    """
    from clampwright.uncertain.special import ndtri

    content = float(ndtri(0.95))
    whole = censored_factor(lot.count, lot.hidden) * lot.spread / content
    part = sqrt(max(whole**2 - measurement**2, lot.mean_uncertainty**2))
    return float(np.exp(lot.mean + content * part))


def _mean_uncertainty(y: Array, hidden: NDArray[np.bool_], mean: float, spread: float) -> float:
    """From the observed information of both parameters."""
    from clampwright.uncertain.special import log_ndtr

    z = (y - mean) / spread
    ratio = np.exp(-(z**2) / 2 - log_ndtr(z)) / sqrt(2 * np.pi)
    bend = ratio * (z + ratio)
    of_mean = np.where(hidden, bend, 1.0)
    cross = np.where(hidden, ratio - z * bend, 2 * z) * np.where(hidden, -1.0, 1.0)
    of_spread = np.where(hidden, z * (z * bend - 2 * ratio), 3 * z**2 - 1)
    information = np.array([[of_mean.sum(), cross.sum()], [cross.sum(), of_spread.sum()]]) / (
        spread**2
    )
    determinant = np.linalg.det(information)
    seen = int((~hidden).sum())
    if not determinant > 0:
        return spread / sqrt(seen)
    return max(sqrt(information[1, 1] / determinant), spread / sqrt(len(y)))


@lru_cache
def _factors() -> dict[tuple[int, int], float]:
    text = files("clampwright").joinpath("bench", "censored_factors.csv").read_text("utf-8")
    return {
        (int(row["parts"]), int(row["hidden"])): float(row["factor"])
        for row in csv.DictReader(text.splitlines())
    }


__all__ = ["CensoredLot", "censored_factor", "fit_lot", "solve", "upper_tolerance_limit"]
