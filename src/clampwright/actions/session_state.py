"""Where a guided session stands, as plain frozen results that any face can show.

Part of `actions`. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

import re
import time
from dataclasses import replace
from math import hypot, isfinite, sqrt
from typing import TYPE_CHECKING, Any

import numpy as np

from clampwright.actions.guided_steps import (
    StepLine,
    Zero,
    limit_of,
    step_lines,
    zero_below,
    zero_lines,
    zero_means,
)
from clampwright.bench.leakage import Leakage
from clampwright.bench.session import Said, known_current_said, polarity_said
from clampwright.bench.watch import Watched, wait_words, watched
from clampwright.quantities import write, write_uncertain
from clampwright.verdict.results import Result

if TYPE_CHECKING:
    from clampwright.bench.instrument import Profile
    from clampwright.bench.session import GuidedStep
    from clampwright.workspace.guided import Sitting

_SHARED = re.compile(r"(-?[\d.]+) ± ([\d.]+)\u2009(\S+)")
SILENT = 2.0  # [s] without a reading, then the wait is counted down by the clock
COVERAGE = 2.0  # [1] for the ± beside the large figure


class SeenMark(Result):
    """Something that happened after reading `after`."""

    after: int
    kind: str
    words: str


class RunState(Result):
    """What the present run says; currents in A, in the reverse direction.

    `figure`, `unit` and `spread` are the large figure as it is shown: value with sign, its unit, and
    ± of its scatter alone (95 %).
    """

    count: int
    needed: int
    first: int  # number of the first reading that counts, 0 before
    settled: bool | None
    enough: bool
    words: str
    wait: float  # [s] more, -1 when waiting will not do
    figure: str
    unit: str
    spread: str
    diagnosis: tuple[str, ...]
    seen: tuple[SeenMark, ...]
    detection_limit: float | None  # [A] of the mean of `needed` readings
    zero: float | None  # [V] that is subtracted for the figure


class GuidedState(Result):
    """A guided session as it stands."""

    session: str
    who: str
    started: str
    instrument: str
    live: bool  # the instrument sheet names a meter
    part: str
    wiring: str
    design: str
    wait_share: float
    why: str
    at: int
    title: str
    words: str
    caution: str
    kind: str
    state: str
    lit: bool
    since: float  # [s] since waiting began
    missing: str  # what speaks against going on, "" when nothing does
    check: str  # what a known current or a polarity step found
    steps: tuple[StepLine, ...]
    run: RunState
    zeros: tuple[Zero, ...]
    marks: tuple[SeenMark, ...]
    last: int  # number of the last reading
    scale: float  # [V/A] with sign: volts for a current in the reverse direction
    complete: bool
    finished: bool


class FinishResult(Result):
    """A session that became evidence, and what that made of its design."""

    session: str
    part: str
    wiring: str
    added: bool  # the part sheet did not refer to it before
    design: str
    before: str
    after: str
    leakages: tuple[Leakage, ...]


def evidence_words(result: FinishResult) -> str:
    """What finishing did, in one sentence."""
    made = f"{result.session} is evidence of {result.part} {result.wiring}"
    if not result.design:
        return made
    if result.before == result.after:
        return f"{made}; {result.design} stays {result.after}"
    return f"{made}; {result.design} was {result.before} and is {result.after}"


def state_of(sitting: Sitting, profile: Profile) -> GuidedState:
    """Everything to show of a session."""
    plan, step = sitting.plan, sitting.step
    since = time.time() - sitting.visits[-1].start
    seen = counted_down(watch_run(sitting, profile), sitting, since)
    run = _run_state(sitting, profile, seen)
    check = _last_check(sitting)
    means = zero_means(sitting)
    return GuidedState(
        session=sitting.session.name,
        who=sitting.session.who,
        started=sitting.session.started,
        instrument=plan.instrument,
        live=profile.meter is not None,
        part=plan.part,
        wiring=plan.wiring,
        design=plan.design,
        wait_share=plan.wait_share,
        why=plan.why,
        at=sitting.at,
        title=step.title if step else "complete",
        words=step.words if step else "finish the session: it becomes evidence of the part",
        caution=step.caution if step else "",
        kind=step.kind if step else "",
        state=step.state if step else "",
        lit=bool(step and step.light),
        since=since,
        missing=_missing(step, since, seen, check) if step else "",
        check=check[1] if check else "",
        steps=step_lines(sitting, profile, means),
        run=run,
        zeros=zero_lines(sitting, profile, means),
        marks=tuple(
            SeenMark(after=m.after, kind=m.kind, words=m.words)
            for m in sitting.marks
            if m.kind not in ("plan", "step", "check", "start", "end")
        ),
        last=sitting.rows.last,
        scale=profile.scale * profile.sign,
        complete=step is None,
        finished=bool(sitting.finished),
    )


def watch_run(sitting: Sitting, profile: Profile) -> Watched:
    """Judge the readings of the present visit."""
    step, run = sitting.step, sitting.run()
    if step is None:
        return watched([], [], wait=0.0, count=1, resolution=0.0)
    zero = zero_below(sitting)
    currents = (run.volts - (zero[0] if zero else 0.0)) / profile.scale * profile.sign
    known = 0.0
    if step.state == "reading" and len(currents):
        scale = profile.tolerance * abs(float(np.mean(currents[-step.count :]))) / sqrt(3)
        known = hypot(scale, zero[1] / sqrt(zero[2]) / profile.scale if zero else 0.0)
    return watched(
        run.times - sitting.visits[-1].start,
        currents,
        wait=step.wait,
        count=max(step.count, 1),
        resolution=profile.resolution / profile.scale,
        known=known,
    )


def counted_down(seen: Watched, sitting: Sitting, since: float) -> Watched:
    """The same run with the wait that is left now: its own counts from its latest reading.

    since : s since the voltage was applied
    """
    if not seen.count or seen.settled is not False or not isfinite(seen.wait):
        return seen
    latest = float(sitting.run().times[-1]) - sitting.visits[-1].start
    silent = since - latest
    if silent < SILENT or wait_words(seen.wait) not in seen.words:
        return seen
    left = seen.wait - silent
    words = wait_words(left) if left > 0 else "the wait is over: take readings now"
    return replace(
        seen, words=seen.words.replace(wait_words(seen.wait), words), wait=max(left, 0.0)
    )


def checked_words(sitting: Sitting, profile: Profile, volts: float) -> Said:
    """What a known current or a polarity reading (mean, V) says."""
    step = sitting.step
    assert step is not None
    zero = zero_below(sitting)
    current = (volts - (zero[0] if zero else 0.0)) / profile.scale * profile.sign
    if step.kind == "known current":
        return known_current_said(current)
    shown = write(current, "current", signed=True)
    if (step.reverse_voltage or 0.0) > 0:
        return Said(True, f"{shown} in reverse; now turn the bias round")
    reverse = [c for c in sitting.checks if c.step == sitting.at - 1]
    if not reverse:
        return Said(False, "the reverse reading before it is missing: go back")
    other = (reverse[-1].volts - (zero[0] if zero else 0.0)) / profile.scale * profile.sign
    spread = zero[1] / sqrt(step.count) if zero else profile.resolution
    doubt = hypot(spread, profile.resolution) / profile.scale
    said = polarity_said(other, current, doubt)
    return Said(
        said.right, f"{shown} forward, {write(other, 'current', signed=True)} reverse: {said.words}"
    )


def closing(sitting: Sitting, profile: Profile) -> tuple[list[Any], list[Any]]:
    """Marks of what was seen in the run that counts, and corrections that leave the rest out."""
    from clampwright.workspace.guided import spans
    from clampwright.workspace.store import EXCLUDED, Correction, Mark, now

    step, run = sitting.step, sitting.run()
    if step is None or not step.state or not len(run.numbers):
        return [], []
    found = watch_run(sitting, profile)
    seen = [
        Mark(int(run.numbers[e.at]), now(), "note", f"seen: {e.kind}, {e.words}")
        for e in found.events
    ]
    first = int(run.numbers[found.first])
    drifts = (line for line in found.diagnosis if "drift" in line)
    seen += [Mark(first, now(), "note", f"seen: drift, {line}") for line in drifts]
    left_out: list[Correction] = []
    for numbers, why in (
        (run.numbers[: found.first], "before it was settled"),
        (sitting.rows.numbers[sitting.of_step(sitting.at)], "taken again"),
    ):
        kept = sitting.kept[numbers - 1] & (numbers < first)
        for start, end in spans(numbers[kept]):
            if not any(c.first <= start <= c.last for c in left_out):
                who = sitting.session.who
                left_out.append(Correction(start, end, EXCLUDED, "true", why, who))
    return seen, left_out


def _last_check(sitting: Sitting) -> tuple[bool, str] | None:
    found = [c for c in sitting.checks if c.step == sitting.at]
    return (found[-1].right, found[-1].words) if found else None


def _missing(step: GuidedStep, since: float, seen: Watched, check: tuple[bool, str] | None) -> str:
    """What speaks against going on from a step."""
    if step.kind in ("known current", "polarity"):
        if check is None:
            return "nothing was read yet"
        return "" if check[0] else check[1]
    if step.state:
        if not seen.count:
            return "nothing was read yet"
        if seen.settled is False:
            return seen.words
        more = step.count - (seen.count - seen.first)
        return f"{more} more readings are wanted" if more > 0 else ""
    return wait_words(step.wait - since) if since < step.wait else ""


def _run_state(sitting: Sitting, profile: Profile, seen: Watched) -> RunState:
    run, step = sitting.run(), sitting.step
    zero = zero_below(sitting)
    figure, spread, unit = _figure(seen)
    return RunState(
        count=seen.count,
        needed=step.count if step else 0,
        first=int(run.numbers[seen.first]) if seen.count and seen.settled is not False else 0,
        settled=seen.settled,
        enough=seen.enough,
        words=seen.words,
        wait=seen.wait if isfinite(seen.wait) else -1.0,
        figure=figure,
        unit=unit,
        spread=spread,
        diagnosis=seen.diagnosis,
        seen=tuple(
            SeenMark(after=int(run.numbers[e.at]), kind=e.kind, words=e.words) for e in seen.events
        ),
        detection_limit=limit_of(step, zero, profile),
        zero=zero[0] if zero else None,
    )


def _figure(seen: Watched) -> tuple[str, str, str]:
    """Value with its sign, its ± and the unit of both; empty before any reading."""
    if not seen.count or seen.mean != seen.mean:
        return "", "", ""
    half = COVERAGE * seen.uncertainty
    if match := _SHARED.fullmatch(write_uncertain(seen.mean, half, "current")):
        value, spread, unit = match.groups()
        return value if value.startswith("-") else f"+{value}", spread, unit
    value, _, unit = write(seen.mean, "current", signed=True).partition("\u2009")
    return value, write(half, "current", digits=2), unit


__all__ = [
    "FinishResult",
    "GuidedState",
    "RunState",
    "SeenMark",
    "StepLine",
    "Zero",
    "checked_words",
    "closing",
    "evidence_words",
    "state_of",
    "watch_run",
    "zero_below",
]
