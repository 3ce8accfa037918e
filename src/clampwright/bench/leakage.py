"""What a reduction hands on: one leakage with its uncertainty, limits and warnings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from pydantic import BaseModel, ConfigDict

from clampwright.quantities import write, write_uncertain
from clampwright.quantities.fields import (
    Current,
    Illuminance,
    Ratio,
    Temperature,
    TemperatureDifference,
    Voltage,
)

if TYPE_CHECKING:
    from clampwright.parts.evidence import EvidencePoint

Outcome = Literal["quantified", "detected", "not detected", "negative"]
NEGATIVE = "significantly negative: check sign, zero, photocurrent"


class Component(BaseModel):
    """One line of the uncertainty budget; `shared` is common to other results of the session."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    evaluation: Literal["A", "B"]
    value: Current  # standard uncertainty it adds
    degrees_of_freedom: Ratio
    shared: bool


class Leakage(BaseModel):
    """Leakage of one wiring of one part under one condition, positive in the reverse direction.

    The uncertainty is that of the current at the temperature the part really had; the standard
    uncertainty of that temperature stands beside it, because a law fit needs the two apart.
    `independent_uncertainty`, known to `independent_freedom`, leaves out what is proportional and
    common to all results of one instrument (`relative_scale_uncertainty`). The limits come from the
    zero and the scatter: see `reduce`. `zero_uncertainty` is the part of the independent one that
    results with the same `zero_read` (rows at which their zeros begin) have in common.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    part: str
    wiring: str
    instrument: str
    session: str
    reverse_voltage: Voltage
    temperature: Temperature
    temperature_uncertainty: TemperatureDifference
    illuminance: Illuminance
    lamp: str
    count: int
    mean_reading: Voltage
    zero: Voltage
    value: Current
    standard_uncertainty: Current
    degrees_of_freedom: Ratio
    expanded_uncertainty: Current
    components: tuple[Component, ...]
    decision_limit: Current
    detection_limit: Current
    quantification_limit: Current
    outcome: Outcome
    upper_bound: Current | None
    relative_scale_uncertainty: Ratio
    independent_uncertainty: Current
    independent_freedom: Ratio = math.inf
    zero_uncertainty: Current = 0.0
    zero_read: str = ""
    flags: tuple[str, ...] = ()

    @property
    def interval(self) -> tuple[float, float]:
        """95 % interval (A); for what is not detected, its upper end is the one-sided bound."""
        reach = self.expanded_uncertainty
        high = self.value + reach if self.upper_bound is None else self.upper_bound
        return self.value - reach, high

    def words(self) -> str:
        """Conditions in one short phrase."""
        return (
            f"{self.part} {self.wiring}, {write(self.reverse_voltage, 'voltage')} reverse, "
            f"{write(self.temperature, 'temperature')}, {write(self.illuminance, 'illuminance')}"
        )


def sentence(leakage: Leakage) -> str:
    """The result as it may be printed: "3.7 ± 1.5 pA", "not detected, ≤ 1.9 pA"; never zero.

    The bound of a non-detect is rounded up to two digits. A significantly negative result keeps its
    value and says what to check.
    """
    if leakage.outcome == "not detected" and leakage.upper_bound is not None:
        return f"not detected, ≤ {write(_rounded_up(leakage.upper_bound), 'current', digits=2)}"
    result = write_uncertain(leakage.value, leakage.expanded_uncertainty, "current")
    return f"{result}, {NEGATIVE}" if leakage.outcome == "negative" else result


def evidence_points(leakages: Sequence[Leakage], origin: str = "") -> tuple[EvidencePoint, ...]:
    """The same results as a law fit takes them; non-detects and negative results included.

    origin : whose evidence it is, "" for this bench; every point says so
    """
    from clampwright.parts.evidence import EvidencePoint

    whose = f"evidence of {origin}" if origin else "bench"
    return tuple(
        EvidencePoint(
            reverse_voltage=leakage.reverse_voltage,
            temperature=leakage.temperature,
            illuminance=leakage.illuminance,
            leakage=leakage.value,
            standard_uncertainty=leakage.independent_uncertainty,
            degrees_of_freedom=leakage.independent_freedom,
            decision_limit=leakage.decision_limit,
            reported=leakage.interval,
            zero_uncertainty=leakage.zero_uncertainty,
            zero=f"{leakage.session} {leakage.zero_read}" if leakage.zero_read else "",
            scale_uncertainty=leakage.relative_scale_uncertainty,
            session=leakage.session,
            temperature_uncertainty=leakage.temperature_uncertainty,
            source=f"{whose}, {leakage.session}: {leakage.words()}",
        )
        for leakage in leakages
    )


def _rounded_up(value: float, digits: int = 2) -> float:
    step = 10.0 ** (math.floor(math.log10(value)) - digits + 1)
    return math.ceil(value / step - 1e-9) * step


__all__ = ["NEGATIVE", "Component", "Leakage", "Outcome", "evidence_points", "sentence"]
