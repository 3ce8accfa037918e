"""Spread from part to part of a lot and the upper limit that n parts can support.

Leakage is close to log-normal across parts (common practice, no source), so everything is in ln I.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import exp, sqrt

from clampwright.errors import InputError


@dataclass(frozen=True)
class LotSpread:
    """A lot as measured: how many parts and the standard deviation of ln I across them."""

    count: int
    log_standard_deviation: float

    def __post_init__(self) -> None:
        if self.count < 2 or not self.log_standard_deviation >= 0:
            raise InputError(
                f"a lot of {self.count} parts with log standard deviation "
                f"{self.log_standard_deviation:g} tells no spread",
                expected="at least 2 parts and a standard deviation of 0 or more",
                mend="measure more parts of the same lot",
            )

    def upper_factor(self, content: float = 0.95, confidence: float = 0.95) -> float:
        """exp(K·s): the upper tolerance limit divided by the lot's geometric mean."""
        return exp(tolerance_factor(self.count, content, confidence) * self.log_standard_deviation)


@lru_cache(maxsize=256)
def tolerance_factor(count: int, content: float = 0.95, confidence: float = 0.95) -> float:
    """One-sided normal tolerance factor K: mean + K·s covers `content` with `confidence`.

    count : number of parts, ≥ 2 (InputError below)
    content, confidence : between 0 and 1
    Exact: K = t'(confidence; n − 1, z(content)·√n)/√n with the noncentral t distribution.
    Source: ISO 16269-6 (value from memory: check the current edition).
    """
    if count < 2 or not 0 < content < 1 or not 0 < confidence < 1:
        raise InputError(
            f"no tolerance factor for {count} parts at {content:g} with {confidence:g} confidence",
            expected="at least 2 parts; content and confidence between 0 and 1",
        )
    from clampwright.uncertain.special import nctdtrit, ndtri

    noncentrality = float(ndtri(content)) * sqrt(count)
    return float(nctdtrit(count - 1, noncentrality, confidence)) / sqrt(count)
