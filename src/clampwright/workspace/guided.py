"""A guided session as the readings database holds it: plan, steps and checks are marks, the rest rows.

Nothing of a session lives elsewhere, so that it goes on after any interruption.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any, Literal

import numpy as np
import sqlalchemy as sql
from numpy.typing import NDArray
from pydantic import ValidationError

from clampwright.bench.session import GuidedStep, Plan
from clampwright.errors import InputError
from clampwright.workspace.database import Store
from clampwright.workspace.schema import READINGS
from clampwright.workspace.store import (
    EXCLUDED,
    Correction,
    Mark,
    Session,
    corrections,
    marks,
    now,
    session_named,
    sessions,
    write_corrections,
    write_marks,
)

Act = Literal["begin", "on", "done", "skip", "finish"]
_STEP = re.compile(r"(begin|on|done|skip|finish)(?: (\d+))?(?:: (.*))?", re.DOTALL)
_CHECK = re.compile(r"(\d+) (\S+) V: (right|wrong), (.*)", re.DOTALL)
Volts = NDArray[np.float64]
Numbers = NDArray[np.int64]


@dataclass(frozen=True)
class Visit:
    """One time at a step: readings after number `after` up to the next visit belong to it."""

    step: int
    after: int
    begun: str
    on: str = ""  # when the voltage was applied, if that was said
    outcome: Literal["", "done", "skip"] = ""
    words: str = ""

    @property
    def start(self) -> float:
        """When time begins to count, seconds since 1970."""
        return epoch(self.on or self.begun)


@dataclass(frozen=True)
class Check:
    """What a known current or a polarity step found."""

    step: int
    volts: float
    right: bool
    words: str


@dataclass(frozen=True)
class Rows:
    """Raw readings in order: number, volts as the meter showed them, time in seconds since 1970."""

    numbers: Numbers = field(default_factory=lambda: np.zeros(0, np.int64))
    volts: Volts = field(default_factory=lambda: np.zeros(0))
    times: Volts = field(default_factory=lambda: np.zeros(0))

    @property
    def last(self) -> int:
        """Number of the last one, 0 without any."""
        return int(self.numbers[-1]) if len(self.numbers) else 0

    def where(self, chosen: NDArray[np.bool_]) -> Rows:
        """Only some of them."""
        return Rows(self.numbers[chosen], self.volts[chosen], self.times[chosen])


@dataclass(frozen=True)
class Sitting:
    """A guided session as it stands."""

    session: Session
    plan: Plan
    visits: tuple[Visit, ...]
    checks: tuple[Check, ...]
    marks: tuple[Mark, ...]
    corrections: tuple[Correction, ...]
    rows: Rows
    finished: str  # what was said when it was, "" before

    @property
    def at(self) -> int:
        """Index of the step to do now; the number of steps when all are done."""
        return self.visits[-1].step if self.visits else 0

    @property
    def step(self) -> GuidedStep | None:
        """The step to do now."""
        return self.plan.steps[self.at] if self.at < len(self.plan.steps) else None

    @cached_property
    def visit_of(self) -> Numbers:
        """Index of the visit each reading belongs to, −1 before any."""
        afters = np.array([v.after for v in self.visits], np.int64)
        return np.searchsorted(afters, self.rows.numbers, side="left") - 1

    @cached_property
    def kept(self) -> NDArray[np.bool_]:
        """Readings that no correction leaves out."""
        kept = np.ones(len(self.rows.numbers), bool)
        for one in self.corrections:
            if one.field == EXCLUDED:
                kept[one.first - 1 : one.last] = one.value != "true"
        return kept

    def run(self) -> Rows:
        """Readings of the present visit."""
        return self.rows.where(self.visit_of == len(self.visits) - 1)

    def of_step(self, number: int) -> NDArray[np.bool_]:
        """Which readings were taken at a step, at any visit."""
        steps = np.array([*(v.step for v in self.visits), -1], np.int64)
        return np.asarray(steps[self.visit_of] == number)

    def mean_of(self, number: int) -> tuple[float, float, int] | None:
        """Mean, standard deviation (V) and number of the kept readings of a step that is done."""
        volts = self.rows.volts[self.of_step(number) & self.kept]
        if not len(volts):
            return None
        spread = float(np.std(volts, ddof=1)) if len(volts) > 1 else 0.0
        return float(np.mean(volts)), spread, len(volts)

    def outcome(self, number: int) -> tuple[str, str]:
        """How the last visit to a step that came to an end did so: "done", "skip" or ""; words."""
        for visit in reversed(self.visits):
            if visit.step == number and visit.outcome:
                return visit.outcome, visit.words
        return "", ""


def sitting(store: Store, name: str, before: Sitting | None = None) -> Sitting:
    """A guided session as it stands now.

    before : as it stood earlier, so that only what came since is read
    Raises InputError when the session is not a guided one.
    """
    session = before.session if before else session_named(store, name)
    said = marks(store, session)
    plan = before.plan if before else _plan(session, said)
    visits, finished = _visits(said)
    return Sitting(
        session=session,
        plan=plan,
        visits=visits,
        checks=_checks(said),
        marks=said,
        corrections=corrections(store, session),
        rows=_rows(store, session, before.rows if before else Rows()),
        finished=finished,
    )


def guided_names(store: Store) -> list[tuple[Session, bool]]:
    """Sessions of this bench that are guided, latest first, and whether each is finished."""
    found = []
    for session in reversed(sessions(store)):
        kinds = [m for m in marks(store, session) if m.kind in ("plan", "step")]
        if not session.origin and any(m.kind == "plan" for m in kinds):
            found.append((session, any(m.words.startswith("finish") for m in kinds)))
    return found


def write_plan(store: Store, session: Session, plan: Plan) -> None:
    """Keep the plan of a session and begin its first step; committed when it returns."""
    begun = step_mark(0, "begin", 0, plan.steps[0].title)
    with store.writing() as connection:
        write_marks(connection, session, [Mark(0, now(), "plan", plan.model_dump_json()), begun])


def write_together(
    store: Store, session: Session, some: Sequence[Mark], left_out: Sequence[Correction] = ()
) -> None:
    """Marks and corrections at once: all of them or none."""
    with store.writing() as connection:
        write_corrections(connection, session, left_out)
        write_marks(connection, session, some)


def step_mark(after: int, act: Act, step: int, words: str = "") -> Mark:
    """The mark that says how a step stands; steps count from 1 there, as people count."""
    where = "" if act == "finish" else f" {step + 1}"
    return Mark(after, now(), "step", f"{act}{where}" + (f": {words}" if words else ""))


def check_mark(after: int, step: int, volts: float, right: bool, words: str) -> Mark:
    """The mark that keeps what a known current or a polarity step found."""
    return Mark(
        after, now(), "check", f"{step + 1} {volts!r} V: {'right' if right else 'wrong'}, {words}"
    )


def spans(numbers: Numbers) -> list[tuple[int, int]]:
    """First and last of each unbroken stretch of rising numbers."""
    if not len(numbers):
        return []
    parts = np.split(numbers, np.flatnonzero(np.diff(numbers) != 1) + 1)
    return [(int(part[0]), int(part[-1])) for part in parts]


def epoch(time: str) -> float:
    """Seconds since 1970 of an ISO 8601 time."""
    return datetime.fromisoformat(time).timestamp()


def _plan(session: Session, said: Sequence[Mark]) -> Plan:
    for one in said:
        if one.kind == "plan":
            try:
                return Plan.model_validate_json(one.words)
            except ValidationError:
                break
    raise InputError(
        f'the session "{session.name}" was not guided, or its plan cannot be read',
        mend="log into it, or open a guided session of another name",
    )


def _visits(said: Sequence[Mark]) -> tuple[tuple[Visit, ...], str]:
    visits: list[Visit] = []
    finished = ""
    for one in said:
        match = _STEP.fullmatch(one.words) if one.kind == "step" else None
        if match is None:
            continue
        act, number, words = match[1], int(match[2] or 1) - 1, match[3] or ""
        if act == "begin":
            visits.append(Visit(number, one.after, one.time))
        elif act == "finish":
            finished = words or "finished"
        elif visits and visits[-1].step == number:
            visits[-1] = _after_act(visits[-1], act, one.time, words)
    return tuple(visits), finished


def _after_act(visit: Visit, act: str, time: str, words: str) -> Visit:
    on = time if act == "on" else visit.on
    outcome = visit.outcome if act == "on" else act
    return Visit(visit.step, visit.after, visit.begun, on, outcome, words or visit.words)  # type: ignore[arg-type]


def _checks(said: Sequence[Mark]) -> tuple[Check, ...]:
    found = []
    for one in said:
        if one.kind == "check" and (match := _CHECK.fullmatch(one.words)):
            found.append(Check(int(match[1]) - 1, float(match[2]), match[3] == "right", match[4]))
    return tuple(found)


def _rows(store: Store, session: Session, before: Rows) -> Rows:
    wanted = READINGS.c.session == session.id, READINGS.c.number > before.last
    query = sql.select(READINGS.c.number, READINGS.c.reading, READINGS.c.time).where(*wanted)
    with store.reading() as connection:
        rows = connection.execute(query.order_by(READINGS.c.number)).cursor.fetchall()
    if not rows:
        return before
    numbers, volts, times = zip(*rows, strict=True)
    fresh = np.array([_seconds(text) for text in times], float)
    joined: list[Any] = [
        np.concatenate([before.numbers, np.array(numbers, np.int64)]),
        np.concatenate([before.volts, np.array(volts, float)]),
        np.maximum.accumulate(np.concatenate([before.times, fresh])),
    ]  # a clock that was set back must not make times fall
    return Rows(*joined)


def _seconds(text: str) -> float:
    try:
        return epoch(text)
    except ValueError:
        return 0.0


__all__ = [
    "Act",
    "Check",
    "Rows",
    "Sitting",
    "Visit",
    "check_mark",
    "epoch",
    "guided_names",
    "sitting",
    "spans",
    "step_mark",
    "write_plan",
    "write_together",
]
