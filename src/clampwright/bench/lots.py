"""What a few measured parts say about a lot: tolerance factors and sample sizes.

The one-sided factor lives in `uncertain.tolerance_factor`. Leakage is close to log-normal across
parts, so means and spreads are taken of ln I (common practice, no source).
"""

from __future__ import annotations

from math import ceil, log, sqrt

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.uncertain import tolerance_factor


def two_sided_tolerance_factor(
    count: int, content: float = 0.95, confidence: float = 0.95
) -> float:
    """Exact factor K: mean ± K·s holds `content` of a normal lot with `confidence`; n ≥ 2.

    Solves E[P(χ²_ν > ν·r²(z)/K²)] = confidence over the error z/√n of the mean, where r(z) is the
    half-width about a mean off by z/√n that still holds `content`.
    Source: Eisenhart, Hastay and Wallis (1947), as tabulated in ISO 16269-6.
    """
    from scipy.optimize import brentq

    _check_count(count)
    approximate = howe_tolerance_factor(count, content, confidence)

    def excess(factor: float) -> float:
        return _confidence(factor, count, content) - confidence

    return float(brentq(excess, approximate / 2, approximate * 2, xtol=1e-10))


def howe_tolerance_factor(count: int, content: float = 0.95, confidence: float = 0.95) -> float:
    """Howe's approximation of the two-sided factor; K² = z²·ν·(1 + 1/n)/χ²_{1−confidence, ν}.

    Source: W. G. Howe, J. Amer. Statist. Assoc. 64 (1969) 610; NIST/SEMATECH e-Handbook 7.2.6.3.
    """
    from scipy.special import chdtri, ndtri

    _check_count(count)
    freedom = count - 1
    z = float(ndtri((1 + content) / 2))
    return z * sqrt(freedom * (1 + 1 / count) / float(chdtri(freedom, confidence)))


def natrella_tolerance_factor(count: int, content: float = 0.95, confidence: float = 0.95) -> float:
    """Approximate one-sided factor in closed form, for checking the exact one.

    Source: M. G. Natrella (1963), in NIST/SEMATECH e-Handbook 7.2.6.3.
    """
    from scipy.special import ndtri

    _check_count(count)
    z_content, z_confidence = float(ndtri(content)), float(ndtri(confidence))
    a = 1 - z_confidence**2 / (2 * (count - 1))
    b = z_content**2 - z_confidence**2 / count
    return (z_content + sqrt(z_content**2 - a * b)) / a


def distribution_free_count(
    content: float = 0.95,
    confidence: float = 0.95,
    *,
    two_sided: bool = False,
    discarded: int = 0,
) -> int:
    """Parts to measure so that the largest (or smallest and largest) bounds `content` of the lot.

    discarded : how many of the largest values may be set aside (one-sided), default none
    Nothing is assumed about the distribution. Source: S. S. Wilks (1941), order statistics.
    """
    lost = discarded + (2 if two_sided else 1)
    count = lost
    if lost == 1:
        count = max(1, ceil(log(1 - confidence) / log(content) - 1e-9))
    while distribution_free_confidence(count, content, lost) < confidence:
        count += 1
    return count


def distribution_free_confidence(count: int, content: float = 0.95, lost: int = 1) -> float:
    """Confidence that n parts leave at least `content` of the lot inside.

    lost : 1 for the largest of n, 2 for smallest and largest or the second largest, and so on
    P(at least `lost` of n parts fall outside `content`), a binomial tail.
    """
    from scipy.special import bdtr

    return 1.0 - float(bdtr(lost - 1, count, 1 - content))


def _confidence(factor: float, count: int, content: float) -> float:
    """Probability that mean ± factor·s holds at least `content` (Gauss–Legendre over the mean)."""
    from scipy.special import chdtrc

    freedom = count - 1
    nodes, weights = np.polynomial.legendre.leggauss(120)
    z = 4.0 * (nodes + 1)  # 0 … 8, both sides counted below
    density = np.exp(-(z**2) / 2) / sqrt(2 * np.pi)
    half = _half_width(z / sqrt(count), content)
    inside = chdtrc(freedom, freedom * half**2 / factor**2)
    return float(2 * np.sum(4.0 * weights * density * inside))


def _half_width(offset: NDArray[np.float64], content: float) -> NDArray[np.float64]:
    """r with Φ(offset + r) − Φ(offset − r) = content, by Newton's method (arrays)."""
    from scipy.special import ndtr, ndtri

    r = offset + ndtri(content)
    r = np.maximum(r, ndtri((1 + content) / 2))
    for _ in range(60):
        held = ndtr(offset + r) - ndtr(offset - r) - content
        slope = (np.exp(-((offset + r) ** 2) / 2) + np.exp(-((offset - r) ** 2) / 2)) / sqrt(
            2 * np.pi
        )
        step = held / slope
        r = r - step
        if np.all(np.abs(step) < 1e-13):
            break
    return r


def _check_count(count: int) -> None:
    if count < 2:
        raise InputError(f"a lot of {count} has no spread", expected="2 parts or more")


__all__ = [
    "distribution_free_confidence",
    "distribution_free_count",
    "howe_tolerance_factor",
    "natrella_tolerance_factor",
    "tolerance_factor",
    "two_sided_tolerance_factor",
]
