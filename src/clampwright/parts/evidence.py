"""What a law may be fitted to: bench readings reduced to leakage, and typical data-sheet figures.

A maximum bounds a leakage and never estimates it (`law_interval.maximum_bound`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import hypot, inf
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from clampwright import uncertain

SMALLEST_UNCERTAINTY = 1e-21  # [A] one electron in 160 s: keeps a covariance invertible
TYPICAL_LOG_STANDARD_DEVIATION = 1.0  # [1] common practice, no source: one sd is a factor 2.7


@dataclass(frozen=True)
class EvidencePoint:
    """One measured leakage of one wiring, with what is shared between points kept apart.

    `decision_limit` and `reported` are what the reduction said of it, where it came from one; without
    them they follow from the uncertainties.
    """

    reverse_voltage: float  # [V] negative means forward
    temperature: float  # [K]
    illuminance: float  # [lx]
    leakage: float  # [A] positive in the reverse direction; may be negative or undetected
    standard_uncertainty: float  # [A] independent from point to point
    scale_uncertainty: float = 0.0  # [1] relative, shared by all points of `session`
    session: str = ""
    temperature_uncertainty: float = 0.0  # [K] shared by points of one session and temperature
    illuminance_uncertainty: float = 0.0  # [1] relative, shared by all points of `session`
    source: str = ""
    basis: Literal["measured"] = "measured"
    degrees_of_freedom: float = inf  # of `standard_uncertainty`
    decision_limit: float | None = None  # [A]
    zero_uncertainty: float = 0.0  # [A] of the standard uncertainty, shared by points of one `zero`
    zero: str = ""
    reported: tuple[float, float] | None = None  # [A] 95 % interval, without temperature and light

    @property
    def detected(self) -> bool:
        """Whether the reading stands above its decision limit (one-sided 95 %, t·u without one)."""
        limit = self.decision_limit
        if limit is None:
            limit = uncertain.one_sided_factor(self.degrees_of_freedom) * self.standard_uncertainty
        return abs(self.leakage) > limit

    @cached_property
    def normal_equivalent(self) -> float:
        """Standard uncertainty (A) of a normal distribution with the same 95 % interval.

        u·t(0.975, ν)/1.96: how a fit that thinks in normal distributions carries few readings.
        """
        return self.widening * self.standard_uncertainty

    @cached_property
    def widening(self) -> float:
        """Student factor over the normal one, both two-sided 95 %."""
        return uncertain.coverage_factor(self.degrees_of_freedom) / uncertain.coverage_factor(inf)

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval (A) of the current at the temperature and light the part really had."""
        if self.reported is not None:
            return self.reported
        spread = hypot(self.normal_equivalent, self.scale_uncertainty * self.leakage)
        reach = uncertain.coverage_factor(inf) * spread
        return self.leakage - reach, self.leakage + reach


def own_covariance(points: Sequence[EvidencePoint]) -> NDArray[np.float64]:
    """Covariance (A²) of points without scale, temperature and light: own noise, zeros in common.

    All of it as normal equivalents of few readings. A difference of two readings between the same
    zeros is thus better known than either.
    """
    own = np.array([max(p.normal_equivalent, SMALLEST_UNCERTAINTY) ** 2 for p in points])
    zero = np.array([p.widening * p.zero_uncertainty for p in points])
    same = np.array([[p.zero != "" and p.zero == q.zero for q in points] for p in points])
    covariance: NDArray[np.float64] = np.outer(zero, zero) * same
    np.fill_diagonal(covariance, own)
    return covariance


@dataclass(frozen=True)
class TypicalFigure:
    """A typical figure of a data sheet: evidence of magnitude with a wide log-normal spread."""

    reverse_voltage: float  # [V]
    temperature: float  # [K]
    leakage: float  # [A] positive
    illuminance: float = 0.0  # [lx]
    log_standard_deviation: float = TYPICAL_LOG_STANDARD_DEVIATION
    source: str = ""


@dataclass(frozen=True)
class MaximumFigure:
    """A maximum of a data sheet: a bound at its own voltage and temperature, never an estimate."""

    reverse_voltage: float  # [V]
    temperature: float  # [K]
    leakage: float  # [A]
    illuminance: float = 0.0  # [lx]
    source: str = ""
