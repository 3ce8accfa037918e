"""What a reader must know about a reduced leakage besides its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan

from clampwright.bench.grouping import Group
from clampwright.bench.instrument import Profile
from clampwright.bench.zeros import SIGNIFICANT, Zero, difference_uncertainty
from clampwright.quantities import write

ZERO_MOVED = 0.2  # [1] of the result; common practice, no source
FIXTURE_SHARE = 0.5  # [1] of the result; common practice, no source


@dataclass(frozen=True)
class Facts:
    """One condition with everything its warnings are drawn from."""

    condition: Group
    zero: Zero
    leads: Zero | None  # open-lead zero beside a fixture zero
    fitted: Group | None  # zero with this part fitted
    profile: Profile
    effective_count: float

    @property
    def net(self) -> float:
        """Net reading without sign (V)."""
        return abs(self.condition.mean - self.zero.value)


def flags_of(facts: Facts) -> tuple[str, ...]:
    """Flags in order of weight; empty when there is nothing to say."""
    checks = (_fixture, _moved, _fitted, _open_only, _zero_once, _single, _correlated, _lamp)
    return tuple(text for check in checks if (text := check(facts)))


def _fixture(facts: Facts) -> str:
    """Fixture leakage of more than half of the result: nothing of this session may be used."""
    if facts.leads is None or facts.zero.kind != "fixture":
        return ""
    extra = abs(facts.zero.value - facts.leads.value)
    noise = difference_uncertainty(facts.zero, facts.leads, facts.profile.resolution)
    if extra <= FIXTURE_SHARE * facts.net or extra <= SIGNIFICANT * noise:
        return ""
    amount = write(extra / facts.profile.scale, "current")
    return f"session fails: fixture leakage {amount} is more than half of the result"


def _moved(facts: Facts) -> str:
    if facts.zero.drift is None or facts.zero.drift <= ZERO_MOVED * facts.net:
        return ""
    return f"zero moved by {write(facts.zero.drift, 'voltage')}, more than 20 % of the result"


def _fitted(facts: Facts) -> str:
    """Part-fitted zero against open-lead zero: light, offset over a low resistance, thermal EMF."""
    leads = facts.leads or (facts.zero if facts.zero.kind == "open leads" else None)
    if facts.fitted is None or leads is None:
        return ""
    noise = difference_uncertainty(facts.fitted, leads, facts.profile.resolution)
    noise += (leads.drift or 0.0) / SIGNIFICANT
    moved = facts.fitted.mean - leads.value
    if abs(moved) <= SIGNIFICANT * noise:
        return ""
    told = (
        f"fitting the part moves the zero by {write(moved, 'voltage', signed=True)}: light, offset "
        "voltage across a low resistance, or thermal voltage"
    )
    return f"{told}; that zero was subtracted" if facts.zero.kind == "part-fitted" else told


def _open_only(facts: Facts) -> str:
    if facts.zero.kind != "open leads":
        return ""
    return "zero taken with open leads: leakage of the fixture is not removed"


def _zero_once(facts: Facts) -> str:
    return "zero taken once: its drift is not known" if facts.zero.drift is None else ""


def _single(facts: Facts) -> str:
    if facts.condition.count > 1:
        return ""
    if isnan(facts.zero.spread):
        return "single reading, single zero: scatter is not known"
    return "single reading: scatter taken from the zero"


def _correlated(facts: Facts) -> str:
    n, effective = facts.condition.count, facts.effective_count
    if effective >= n:
        return ""
    rho = facts.condition.autocorrelation
    return f"readings follow each other (lag-1 {rho:.2f}): {n} count as {effective:.1f}"


def _lamp(facts: Facts) -> str:
    if not facts.condition.light > 0 or facts.condition.lamp:
        return ""
    return "lamp not named: current for each lux depends on the lamp"


__all__ = ["Facts", "flags_of"]
