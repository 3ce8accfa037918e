"""A weighted straight line through readings, and how well any fit explains what it was made from."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from clampwright.parts.least_squares import inverse_information

Array = NDArray[np.float64]
LACK_OF_FIT = 0.01  # [1] chance below which a line does not explain its readings


@dataclass(frozen=True)
class Judged:
    """How well a line explains its readings; `chance` is None without degrees of freedom."""

    chi_square: float
    degrees_of_freedom: int
    chance: float | None
    residuals: tuple[float, ...]  # each over its own standard uncertainty
    fitted: tuple[float, ...]  # what the line says there, in the unit of the readings

    @property
    def lacking(self) -> bool:
        """Whether the readings contradict the line."""
        return self.chance is not None and self.chance < LACK_OF_FIT

    @property
    def inflation(self) -> float:
        """By how much uncertainties are widened (Birge ratio, never below 1)."""
        if not self.degrees_of_freedom:
            return 1.0
        return max(1.0, sqrt(self.chi_square / self.degrees_of_freedom))


@dataclass(frozen=True)
class Line:
    """Intercept and slope with their covariance, already widened where the line fits badly."""

    intercept: float
    slope: float
    covariance: Array
    judged: Judged

    @property
    def slope_uncertainty(self) -> float:
        """Standard uncertainty of the slope."""
        return float(sqrt(self.covariance[1, 1]))


def weighted_line(x: Array, y: Array, noise: Array) -> Line:
    """The line through y at x, generalised least squares; `noise` is the covariance of y."""
    factor = np.linalg.cholesky(noise)
    plain = np.stack([np.ones_like(x), x], 1)
    rows, white = np.linalg.solve(factor, plain), np.linalg.solve(factor, y)
    scale = np.linalg.norm(rows, axis=0)
    found, *_ = np.linalg.lstsq(rows / scale, white, rcond=None)
    values = found / scale
    fitted = plain @ values
    judged = judge(white - rows @ values, (y - fitted) / np.sqrt(np.diag(noise)), fitted)
    covariance = inverse_information(rows) * judged.inflation**2
    return Line(float(values[0]), float(values[1]), covariance, judged)


def judge(rows: Array, shown: Array, fitted: Array, parameters: int = 2) -> Judged:
    """Chi-square of whitened residuals `rows`; `shown` are those a reader sees."""
    from clampwright.uncertain.special import gammaincc

    chi_square = float(rows @ rows)
    freedom = len(rows) - parameters
    chance = float(gammaincc(freedom / 2, chi_square / 2)) if freedom else None
    return Judged(chi_square, freedom, chance, tuple(shown.tolist()), tuple(fitted.tolist()))


__all__ = ["Judged", "Line", "judge", "weighted_line"]
