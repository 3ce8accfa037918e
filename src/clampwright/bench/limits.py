"""Decision and detection limits where the noise is counts or repeated blanks.

For leakages the limits come with each reduction (`reduce`); these are the classical forms to check
them against and to plan with.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from clampwright import uncertain
from clampwright.errors import InputError


@dataclass(frozen=True)
class Limits:
    """Smallest net signal that may be called present, and smallest that seldom escapes."""

    decision: float
    detection: float


def counting_limits(background: float, *, blank_known: bool = False, risk: float = 0.05) -> Limits:
    """Limits of a net count over `background` counts (≥ 0), both risks equal.

    L_C = z·√(ηB), L_D = z² + 2·L_C, with η = 2 for a blank counted as long as the sample and 1 for
    a well-known blank. Source: L. A. Currie, Anal. Chem. 40 (1968) 586.
    """
    if not background >= 0:
        raise InputError(f"a background of {background!r} counts", expected="zero or more")
    z = uncertain.one_sided_factor(float("inf"), 1 - risk)
    decision = z * sqrt(background if blank_known else 2 * background)
    return Limits(decision, z**2 + 2 * decision)


def blank_limits(spread: float, count: int, blanks: int, *, risk: float = 0.05) -> Limits:
    """Limits of the mean of `count` readings less the mean of `blanks` blank readings.

    spread : standard deviation of one blank reading, from the blanks (unit of the result)
    L_C = t(1 − risk, blanks − 1)·s·√(1/n + 1/n_0), L_D = 2·L_C. Needs two blanks or more.
    """
    if blanks < 2 or count < 1:
        raise InputError("limits need repeated blanks", expected="2 blanks and 1 reading or more")
    factor = uncertain.one_sided_factor(blanks - 1, 1 - risk)
    decision = factor * spread * sqrt(1 / count + 1 / blanks)
    return Limits(decision, 2 * decision)


def method_detection_factor(degrees_of_freedom: int, confidence: float = 0.99) -> float:
    """Student t by which the standard deviation of replicates is multiplied, one-sided.

    Replicates n give n − 1 degrees of freedom, pooled series the sum of theirs.
    Source: method-detection-limit procedure of US environmental law.
    """
    return uncertain.one_sided_factor(degrees_of_freedom, confidence)


__all__ = ["Limits", "blank_limits", "counting_limits", "method_detection_factor"]
