"""The steps and the zeros of a guided session as lines to show, each with what belongs to its readings.

Part of `actions`. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import hypot, sqrt
from typing import TYPE_CHECKING, Literal

from clampwright.bench.limits import blank_detection_limit
from clampwright.bench.zeros import NEAR_ZERO_BIAS
from clampwright.quantities import write, write_uncertain
from clampwright.uncertain import coverage_factor
from clampwright.verdict.results import Result

if TYPE_CHECKING:
    from clampwright.bench.instrument import Profile
    from clampwright.bench.session import GuidedStep
    from clampwright.workspace.guided import Sitting

Mean = tuple[float, float, int]
"""Mean, standard deviation (V) and number of readings."""


class StepLine(Result):
    """One step in the list: how it stands, and the words that were said when it was not as planned."""

    title: str
    kind: str
    status: Literal["open", "now", "done", "skipped"]
    words: str = ""
    settled: int = 0  # number of the reading from which it had settled, 0 when that is not known
    zero: float | None = None  # [V] that is subtracted from its readings
    detection_limit: float | None = None  # [A] of the mean of `count` readings
    count: int = 0  # readings that are wanted


class Zero(Result):
    """A zero that was taken: mean (V) and what it would be as a current (A)."""

    title: str
    volts: float
    current: float
    count: int
    expanded: float | None  # [V] ± at 95 % by scatter and resolution; None for one reading
    meter: str  # as it is shown, with its ±
    as_current: str


def zero_means(sitting: Sitting) -> dict[int, Mean]:
    """Every zero that was taken, by the index of its step."""
    steps = enumerate(sitting.plan.steps)
    return {
        number: mean
        for number, step in steps
        if step.kind == "zero" and (mean := sitting.mean_of(number))
    }


def zero_below(sitting: Sitting) -> Mean | None:
    """The zero that belongs to the present step."""
    return zero_of(sitting, sitting.at, zero_means(sitting))


def zero_of(sitting: Sitting, at: int, means: Mapping[int, Mean]) -> Mean | None:
    """The zero that belongs to the step of index `at`.

    That of the fixture at the same voltage, near 0 V that with the part fitted, else open leads.
    """
    steps = sitting.plan.steps
    step = steps[at] if at < len(steps) else None
    if step is None or step.state == "zero open" or step.kind == "known current":
        return None
    near = step.reverse_voltage is not None and abs(step.reverse_voltage) <= NEAR_ZERO_BIAS
    wanted = {"reading": ("zero part-fitted",) if near else ()}.get(step.state, ())
    found: tuple[int, Mean] | None = None
    for number, mean in means.items():
        one = steps[number]
        same = one.state == "zero fixture" and one.reverse_voltage == step.reverse_voltage
        rank = 3 if one.state in wanted else 2 if same else 1 if one.state == "zero open" else 0
        if not rank or number == at or (step.state == "zero fixture" and rank == 2):
            continue
        if found is None or rank >= found[0]:
            found = (rank, mean)
    return found[1] if found else None


def limit_of(step: GuidedStep | None, zero: Mean | None, profile: Profile) -> float | None:
    """Detection limit (A) of the mean of the readings a step wants, from its zero."""
    if step is None or step.state != "reading" or zero is None or zero[2] < 2 or zero[1] <= 0:
        return None
    return blank_detection_limit(zero[1] / profile.scale, step.count, zero[2])


def step_lines(
    sitting: Sitting, profile: Profile, means: Mapping[int, Mean]
) -> tuple[StepLine, ...]:
    """Every step of the plan in its order."""
    found = []
    for number, step in enumerate(sitting.plan.steps):
        outcome, words = sitting.outcome(number)
        status = {"done": "done", "skip": "skipped"}.get(outcome, "open")
        if number == sitting.at:
            status = "now"
        zero = zero_of(sitting, number, means) if step.state else None
        line = StepLine(
            title=step.title,
            kind=step.kind,
            status=status,
            words=words,
            settled=_settled(sitting, number) if (status, words) == ("done", "") else 0,
            zero=zero[0] if zero else None,
            detection_limit=limit_of(step, zero, profile),
            count=step.count,
        )
        found.append(line)
    return tuple(found)


def zero_lines(sitting: Sitting, profile: Profile, means: Mapping[int, Mean]) -> tuple[Zero, ...]:
    """The zeros that were taken, in the order of the plan."""
    return tuple(
        _zero(sitting.plan.steps[number].title, mean, profile) for number, mean in means.items()
    )


def _zero(title: str, mean: Mean, profile: Profile) -> Zero:
    volts, spread, count = mean
    current = volts / profile.scale * profile.sign
    expanded = None
    meter, as_current = write(volts, "voltage"), write(current, "current")
    if count > 1:
        standard = hypot(spread / sqrt(count), profile.resolution / sqrt(12))
        expanded = coverage_factor(count - 1) * standard
        meter = write_uncertain(volts, expanded, "voltage")
        as_current = write_uncertain(current, expanded / profile.scale, "current")
    return Zero(
        title=title, volts=volts, current=current, count=count, expanded=expanded, meter=meter,
        as_current=as_current,
    )  # fmt: skip


def _settled(sitting: Sitting, number: int) -> int:
    """Where the readings of a step begin to count, when some before were left out; else 0."""
    here = sitting.of_step(number)
    counting = sitting.rows.numbers[here & sitting.kept]
    if not len(counting) or counting[0] == sitting.rows.numbers[here][0]:
        return 0
    return int(counting[0])


__all__ = [
    "Mean",
    "StepLine",
    "Zero",
    "limit_of",
    "step_lines",
    "zero_below",
    "zero_lines",
    "zero_means",
    "zero_of",
]
