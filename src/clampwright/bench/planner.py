"""What to read, how hot, how often and by which method, before anyone sits down to measure.

Two questions: can this method see this part, and can it support a claim such as "below 1 pA"? Heat is
the cheapest amplifier: a reading at 60 °C is 15 to 35 times larger and comes back by the activation
energy, whose doubt is part of the answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import exp, sqrt
from statistics import NormalDist

import numpy as np

from clampwright.bench.columns import Readings
from clampwright.bench.methods import FULL_SCALE, Method, timed_charge
from clampwright.bench.session import SOAK
from clampwright.bench.settling import default_wait
from clampwright.errors import InputError
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE, ROOM_TEMPERATURE
from clampwright.quantities import write
from clampwright.uncertain import CONFIDENCE

TEMPERATURES = (296.15, 318.15, 333.15, 343.15)  # [K] 23, 45, 60, 70 °C
COUNTS = (10, 30, 100, 300)
RELATIVE_GOAL = 0.1  # [1] a reading to 10 % is a number and not only a sign
CYCLES = 10.0  # mains cycles in a gate
CHARGE_CAPACITANCE = 100e-12  # [F] of the timed charge we suggest
CHARGE_TIMES = (60.0, 600.0, 3600.0)  # [s]


@dataclass(frozen=True)
class Expectation:
    """What is known of the part before: from its class, or from earlier readings."""

    leakage: float  # [A] expected at 23 °C and the voltage of interest
    energy: float = 0.64  # [eV] apparent
    energy_uncertainty: float = 0.04  # [eV] standard
    temperature_uncertainty: float = 1.0  # [K] standard, of the part when warm
    reach: float = 3.0  # factor up and down the expectation may be off; told, not used to decide


@dataclass(frozen=True)
class Plan:
    """One way to do it. `upper_bound` is what could be claimed for 23 °C if the part is as expected."""

    method: str
    temperature: float  # [K]
    gate: float  # [s]
    count: int
    wait: float  # [s] after bias and heat
    expected: float  # [A] at that temperature
    detection_limit: float  # [A] there
    relative: float  # [1] standard uncertainty of the reading there
    upper_bound: float  # [A] at 23 °C, one-sided, at the confidence asked for
    minutes: float
    signal: float  # [V] that the meter shows of it

    def words(self) -> str:
        """One sentence to follow."""
        return (
            f"{self.method} at {write(self.temperature, 'temperature')}: wait "
            f"{self.wait / 60:.0f} min, {self.count} readings of {1000 * self.gate:.0f} ms; expect "
            f"{write(self.expected, 'current', digits=2)} (detection limit "
            f"{write(self.detection_limit, 'current', digits=2)}, ± {196 * self.relative:.0f} %); "
            f"about {self.minutes:.0f} min with zeros"
        )


@dataclass(frozen=True)
class Advice:
    """The quickest plan that does it, or None; in words what to do instead."""

    plan: Plan | None
    words: str
    others: tuple[Plan, ...] = ()  # the quickest at other temperatures or by other methods


def plans(
    method: Method, part: Expectation, mains: float = 50.0, confidence: float = CONFIDENCE
) -> tuple[Plan, ...]:
    """Every temperature and count, quickest first."""
    if not part.leakage > 0:
        raise InputError("a plan needs an expected leakage above 0 A")
    gate = CYCLES / mains
    some = [plan_at(method, part, t, gate, n, confidence) for t in TEMPERATURES for n in COUNTS]
    return tuple(sorted((p for p in some if p.expected <= method.largest), key=lambda p: p.minutes))


def plan_to_see(methods: Sequence[Method], part: Expectation, mains: float = 50.0) -> Advice:
    """Quickest way to a number (10 %), by any of these methods; else to a detection; else what else."""
    some = [p for m in methods for p in plans(m, part, mains)]
    for goal, told in (
        (_number, "with a standard uncertainty of 10 % or less"),
        (_seen, "as a detection only"),
    ):
        if fitting := quickest(p for p in some if goal(p)):
            words = f"{fitting[0].words()}; reads the part {told}"
            return Advice(fitting[0], words, fitting[1:])
    return Advice(None, _cannot(methods, part, "see this part"))


def plan_claim(
    methods: Sequence[Method],
    part: Expectation,
    claim: float,
    mains: float = 50.0,
    confidence: float = CONFIDENCE,
) -> Advice:
    """Quickest way to support "below `claim` (A) at 23 °C", one-sided at this confidence."""
    sure = f"{100 * confidence:g} %"
    goal = f'support "below {write(claim, "current")} with {sure} confidence"'
    if part.leakage >= claim:
        return Advice(
            None,
            f"no reading can {goal}: the part is expected at {write(part.leakage, 'current')}; "
            "choose another part or another limit",
        )
    some = [p for m in methods for p in plans(m, part, mains, confidence)]
    if fitting := quickest(p for p in some if p.upper_bound <= claim):
        bound = write(fitting[0].upper_bound, "current", digits=2)
        words = f"{fitting[0].words()}; the bound would be {bound} if the part is as expected"
        return Advice(fitting[0], words, fitting[1:])
    return Advice(None, _cannot(methods, part, goal))


def quickest(some: Iterable[Plan]) -> tuple[Plan, ...]:
    """The quickest plan at each temperature by each method, quickest first."""
    best: dict[tuple[str, float], Plan] = {}
    for plan in sorted(some, key=lambda p: p.minutes):
        best.setdefault((plan.method, plan.temperature), plan)
    return tuple(best.values())


def zero_scatter(readings: Readings, instrument: str) -> tuple[float, int] | None:
    """Standard deviation (V) of one reading of an instrument's zero, and its degrees of freedom.

    Pooled over runs of one state and voltage; None without a run of two readings.
    """
    rows = np.flatnonzero(readings.instrument.is_(instrument) & ~readings.state.is_("reading"))
    key = np.column_stack([readings.state.codes, np.nan_to_num(readings.reverse_voltage)])[rows]
    new = (np.diff(rows) > 1) | (np.diff(key, axis=0) != 0).any(axis=1)
    runs = np.split(readings.reading[rows], np.flatnonzero(new) + 1)
    freedom = sum(len(run) - 1 for run in runs if len(run))
    if freedom < 1:
        return None
    squares = sum(float(((run - run.mean()) ** 2).sum()) for run in runs if len(run))
    return sqrt(squares / freedom), freedom


def charge_plan(part: Expectation, relative: float = 0.3) -> str:
    """The timed charge that reads the part to `relative`, in words; or that none does."""
    for seconds in CHARGE_TIMES:
        method = timed_charge(CHARGE_CAPACITANCE, seconds)
        errors = method.errors(part.leakage, 1.0, 1)
        if errors.total <= relative * part.leakage and part.leakage <= method.largest:
            moved = part.leakage * seconds / CHARGE_CAPACITANCE
            return (
                f"use the timed charge method: {write(CHARGE_CAPACITANCE, 'capacitance')} film or air, "
                f"rest {method.settling / 60:.0f} min, then watch {seconds / 60:.0f} min: "
                f"{write(moved, 'voltage', digits=2)} expected"
            )
    return (
        "the timed charge method does not reach it either within an hour: only a bound is possible"
    )


def _cannot(methods: Sequence[Method], part: Expectation, goal: str) -> str:
    best = min(methods, key=lambda m: m.smallest_seen())
    return (
        f"this adapter cannot {goal}: {best.name} sees {write(best.smallest_seen(), 'current', digits=2)} "
        f"at best and even at 70 °C that is not enough; {charge_plan(part)}"
    )


def plan_at(
    method: Method,
    part: Expectation,
    temperature: float,
    gate: float,
    count: int,
    confidence: float = CONFIDENCE,
) -> Plan:
    """What one method gives at one temperature (K) with `count` readings of `gate` seconds each."""
    step = (1 / ROOM_TEMPERATURE - 1 / temperature) / BOLTZMANN_PER_CHARGE
    factor = exp(part.energy * step)
    expected = part.leakage * factor
    errors = method.errors(expected, gate, count)
    kelvin = part.energy / (BOLTZMANN_PER_CHARGE * temperature**2) * part.temperature_uncertainty
    carried = sqrt(kelvin**2 + (part.energy_uncertainty * step) ** 2)
    reach = NormalDist().inv_cdf(confidence)
    bound = (expected + reach * errors.total) / factor * exp(reach * carried)
    wait = max(default_wait(expected), method.settling) + (
        SOAK if temperature > ROOM_TEMPERATURE else 0.0
    )
    minutes = (wait + 3 * gate * count + 2 * default_wait(expected)) / 60
    return Plan(
        method=method.name,
        temperature=temperature,
        gate=gate,
        count=count,
        wait=wait,
        expected=expected,
        detection_limit=method.smallest_seen(gate, count),
        relative=errors.total / expected,
        upper_bound=bound,
        minutes=minutes,
        signal=expected / method.largest * FULL_SCALE,
    )


def _number(plan: Plan) -> bool:
    return plan.relative <= RELATIVE_GOAL


def _seen(plan: Plan) -> bool:
    return plan.expected >= plan.detection_limit


__all__ = [
    "Advice",
    "Expectation",
    "Plan",
    "charge_plan",
    "plan_at",
    "plan_claim",
    "plan_to_see",
    "plans",
    "quickest",
    "zero_scatter",
]
