"""What a law may be fitted to: bench readings reduced to leakage, and typical data-sheet figures.

A maximum bounds a leakage and never estimates it (`law_interval.maximum_bound`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

TYPICAL_LOG_STANDARD_DEVIATION = 1.0  # [1] common practice, no source: one sd is a factor 2.7


@dataclass(frozen=True)
class EvidencePoint:
    """One measured leakage of one wiring, with what is shared between points kept apart."""

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

    @property
    def detected(self) -> bool:
        """Whether the reading stands out of its own uncertainty (one-sided 95 %, 1.645 u)."""
        return abs(self.leakage) > 1.645 * self.standard_uncertainty


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
