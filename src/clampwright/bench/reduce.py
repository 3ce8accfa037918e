"""From raw readings to leakages: subtract the right zero, apply sign and scale, keep every doubt.

Limits: decision t(0.95, ν)·u_0, detection twice that, quantification 10·u_0, with u_0 from the
scatter and drift of the zero (Currie, Anal. Chem. 40 (1968) 586, and its later harmonised forms).
Nothing is clipped: a current in the wrong direction is kept, and flagged when it is significant.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from clampwright import uncertain
from clampwright.bench.columns import Readings
from clampwright.bench.flags import Facts, flags_of
from clampwright.bench.grouping import Group, grouped
from clampwright.bench.history import History, history_of
from clampwright.bench.instrument import Profile
from clampwright.bench.leakage import NEGATIVE, Leakage, Outcome
from clampwright.bench.one_sided import light_left, soakage_left
from clampwright.bench.part_temperature import temperature_doubt
from clampwright.bench.propagate import Observed, Propagated, Propagation
from clampwright.bench.scatter import scatter_of
from clampwright.bench.zeros import Zero, ZeroBook, limit_uncertainty
from clampwright.errors import InputError
from clampwright.quantities import write

DETECTION_FACTOR = 2.0  # [1] detection over decision limit (both risks 5 %)
QUANTIFICATION_FACTOR = 10.0  # [1] in u_0: relative standard uncertainty 10 % at the limit


def reduce_readings(
    readings: Readings, profiles: Mapping[str, Profile], session: str = ""
) -> tuple[Leakage, ...]:
    """Leakages in the order they were measured; `profiles` by instrument id.

    session : name of the day or file; results of one session and instrument share its scale error
    Raises InputError for an instrument without profile, or readings without any zero.
    """
    _check_instruments(readings, profiles)
    groups = grouped(readings)
    book = ZeroBook([g for g in groups if g.state != "reading"])
    conditions = [g for g in groups if g.state == "reading"]
    zeros = [book.zero_for(c) for c in conditions]
    _check_zeros(conditions, zeros)
    told = _Session(session, book, history_of(readings), Propagation())
    return tuple(
        _reduced(condition, zero, profiles[condition.instrument], told)
        for condition, zero in zip(conditions, zeros, strict=True)
        if zero is not None
    )


@dataclass(frozen=True)
class _Session:
    """What the results of one session share."""

    name: str
    book: ZeroBook
    history: History
    propagation: Propagation


def _check_instruments(readings: Readings, profiles: Mapping[str, Profile]) -> None:
    for name in readings.instrument.names:
        if name not in profiles:
            raise InputError(
                f'the readings name an instrument "{name}" that has no profile',
                expected=", ".join(sorted(profiles)) or "an instrument profile",
                mend="describe it in a sheet under instruments/",
            )


def _check_zeros(conditions: Sequence[Group], zeros: Sequence[Zero | None]) -> None:
    lacking = [c for c, zero in zip(conditions, zeros, strict=True) if zero is None]
    if lacking:
        first = lacking[0]
        volts = write(first.reverse_voltage, "voltage")
        number = "1 condition has" if len(lacking) == 1 else f"{len(lacking)} conditions have"
        raise InputError(
            f"{number} no zero, first {first.part} {first.wiring} at {volts} "
            f"with {first.instrument}",
            expected=f'rows "zero fixture" at {volts} before and after, or at least "zero open"',
            mend="an offset read as leakage is fiction: take the zeros and reduce again",
        )


def _reduced(condition: Group, zero: Zero, profile: Profile, told: _Session) -> Leakage:
    history, book = told.history, told.book
    leads = book.open_leads(condition) if zero.kind != "open leads" else None
    fitted = book.part_fitted(condition)
    creep = soakage_left(history, condition)
    seen = Observed(
        condition=condition,
        zero=zero,
        leads=leads if zero.kind == "fixture" else None,  # only there it tells of the fixture
        profile=profile,
        scatter=scatter_of(condition, zero, profile),
        soakage=creep.left if creep else 0.0,
        light=light_left(condition, zero, leads or zero, fitted, profile),
        calibration_age=max(history.age(profile, condition.rows) or 0.0, 0.0),
    )
    made = told.propagation.leakage(seen)
    facts = Facts(seen, leads, fitted, creep, history)
    return _leakage(facts, made, f"{told.name} {condition.instrument}".strip())


def _leakage(facts: Facts, made: Propagated, session: str) -> Leakage:
    condition, profile, result = facts.condition, facts.profile, made.result
    u_0, freedom_0 = limit_uncertainty(made.scatter, made.systematic, made.drift)
    u_0 /= profile.scale
    decision = uncertain.one_sided_factor(freedom_0) * u_0
    value, spread = uncertain.value_of(result), uncertain.standard_uncertainty(result)
    freedom = made.degrees_of_freedom
    size = _size(value, condition)
    outcome = _outcome(size, decision, QUANTIFICATION_FACTOR * u_0)
    undetected = outcome == "not detected" and spread > 0
    return Leakage(
        part=condition.part,
        wiring=condition.wiring,
        instrument=condition.instrument,
        session=session,
        reverse_voltage=condition.reverse_voltage,
        temperature=condition.temperature,
        temperature_uncertainty=temperature_doubt(profile, condition.temperature),
        illuminance=condition.light,
        lamp=condition.lamp,
        count=condition.count,
        mean_reading=condition.mean,
        zero=facts.zero.value,
        value=value,
        standard_uncertainty=spread,
        degrees_of_freedom=freedom,
        expanded_uncertainty=uncertain.coverage_factor(freedom) * spread,
        components=made.components,
        decision_limit=decision,
        detection_limit=DETECTION_FACTOR * decision,
        quantification_limit=QUANTIFICATION_FACTOR * u_0,
        outcome=outcome,
        upper_bound=uncertain.upper_bound(size, spread, freedom) if undetected else None,
        relative_scale_uncertainty=made.relative,
        independent_uncertainty=made.independent,
        independent_freedom=made.independent_freedom,
        zero_uncertainty=made.zero,
        zero_read="rows " + ", ".join(str(group.first + 1) for group in facts.zero.groups),
        flags=flags_of(facts) + ((NEGATIVE,) if outcome == "negative" else ()),
    )


def _size(value: float, condition: Group) -> float:
    """The current counted in the direction it should have.

    Reverse bias expects reverse current; forward bias in the dark expects forward current. At 0 V,
    or forward and lit, either direction is possible.
    """
    if condition.reverse_voltage > 0:
        return value
    if condition.reverse_voltage < 0 and not condition.light > 0:
        return -value
    return abs(value)


def _outcome(size: float, decision: float, quantification: float) -> Outcome:
    if size < -decision:
        return "negative"
    if size < decision:
        return "not detected"
    return "quantified" if size >= quantification else "detected"


__all__ = ["reduce_readings"]
