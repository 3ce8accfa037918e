"""What a reader must know about a reduced leakage besides its uncertainty."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from clampwright.bench.grouping import Group
from clampwright.bench.history import DAY, Creep, History
from clampwright.bench.instrument import THROUGH_THE_METER, Profile
from clampwright.bench.propagate import Observed
from clampwright.bench.settling import settled
from clampwright.bench.zeros import SIGNIFICANT, Zero, difference_uncertainty
from clampwright.quantities import write

ZERO_MOVED = 0.2  # [1] of the result; common practice, no source
COLDEST_PART, HOTTEST_PART = 218.15, 423.15  # [K] −55 to 150 °C; common practice, no source
FIXTURE_SHARE = 0.5  # [1] of the result; common practice, no source


@dataclass(frozen=True)
class Facts:
    """One condition with everything its warnings are drawn from."""

    seen: Observed
    leads: Zero | None  # open-lead zero beside another zero
    fitted: Group | None  # zero with this part fitted
    creep: Creep | None
    history: History

    @property
    def condition(self) -> Group:
        """The readings."""
        return self.seen.condition

    @property
    def zero(self) -> Zero:
        """The zero that was subtracted."""
        return self.seen.zero

    @property
    def profile(self) -> Profile:
        """The instrument."""
        return self.seen.profile

    @property
    def net(self) -> float:
        """Net reading without sign (V)."""
        return abs(self.condition.mean - self.zero.value)


def flags_of(facts: Facts) -> tuple[str, ...]:
    """Flags in order of weight; empty when there is nothing to say."""
    checks = (
        _fixture, _moved, _fitted, _light, _creeping, _open_only, _zero_once, _single, _correlated,
        _lamp, _heat, _bias, _hum, _warm_up, _calibration,
    )  # fmt: skip
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
    """Where the scatter of a reading comes from, when it was not repeated."""
    told = {
        "repeated": "single reading: scatter taken from repeated ones",
        "zeros": "single reading, single zeros: scatter taken from the difference of the zeros",
        "stated": "single reading, single zero: scatter as the instrument sheet states it",
        "single": "scatter not known, so nothing can be detected: take at least 2 readings",
    }
    source = facts.seen.scatter.source
    return told[source] if source != "repeated" or facts.condition.count == 1 else ""


def _correlated(facts: Facts) -> str:
    n, effective = facts.condition.count, facts.seen.count
    if effective >= n:
        return ""
    rho = facts.condition.autocorrelation
    return f"readings follow each other (lag-1 {rho:.2f}): {n} count as {effective:.1f}"


def _light(facts: Facts) -> str:
    if not facts.seen.light > FIXTURE_SHARE / 10 * facts.net:
        return ""
    amount = write(facts.seen.light / facts.profile.scale, "current")
    return f"up to {amount} of this may be light: the part fitted at 0 V shows it"


def _creeping(facts: Facts) -> str:
    """Soakage that is told from the scatter, and how long to wait for it to go."""
    if facts.creep is None:
        return ""
    scale, last = facts.profile.scale, facts.creep.last
    amount = write(abs(facts.creep.left) / scale, "current")
    times = (last / 4, last / 2, last)
    currents = [facts.creep.slope / t / scale for t in times]
    spread = facts.seen.scatter.size / sqrt(facts.seen.count) / scale
    verdict = settled(times, currents, spread).words if spread > 0 else "still creeping"
    return f"creeps like soakage, up to {amount} of it left in the mean; {verdict}"


def _bias(facts: Facts) -> str:
    profile = facts.profile
    if profile.method not in THROUGH_THE_METER or profile.bias_current is not None:
        return ""
    return (
        f"bias current of the meter is not stated: {write(profile.input_bias, 'current')} assumed, "
        "the zero removes all but its change"
    )


def _hum(facts: Facts) -> str:
    if facts.profile.whole_cycles:
        return ""
    return (
        f"each reading integrates {facts.profile.mains_cycles:g} cycles of the mains, which is no "
        "whole number: hum stays in it"
    )


def _warm_up(facts: Facts) -> str:
    since = facts.history.too_early(facts.condition, facts.profile)
    if since is None:
        return ""
    return (
        f"read {write(since, 'time')} after switching on, before the warm-up of "
        f"{write(facts.profile.warm_up, 'time')} was over"
    )


def _calibration(facts: Facts) -> str:
    profile = facts.profile
    age = facts.history.age(profile, facts.condition.rows)
    if age is None:
        return ""
    if age < -DAY:
        return f"calibrated {profile.calibrated}, after it was read"
    if age <= profile.calibration_interval:
        return ""
    told = (
        f"calibrated {profile.calibrated}, {age / DAY:.0f} days before it was read, beyond its "
        f"{profile.calibration_interval / DAY:.0f} days"
    )
    if profile.scale_drift:
        return f"{told}; the scale is widened by {100 * profile.scale_drift:.2g} % a year"
    return f"{told}: its tolerance may no longer hold; calibrate, or state scale_drift"


def _heat(facts: Facts) -> str:
    """A temperature that plastic parts do not stand, or no bench has: mostly a slip of the pen."""
    kelvin = facts.condition.temperature
    if COLDEST_PART <= kelvin <= HOTTEST_PART:
        return ""
    return (
        f"read at {write(kelvin, 'temperature')}, beyond the {write(COLDEST_PART, 'temperature')} to "
        f"{write(HOTTEST_PART, 'temperature')} that parts in plastic stand: check what was written"
    )


def _lamp(facts: Facts) -> str:
    if not facts.condition.light > 0 or facts.condition.lamp:
        return ""
    return "lamp not named: current for each lux depends on the lamp"


__all__ = ["Facts", "flags_of"]
