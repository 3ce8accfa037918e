"""A guided session at the bench: take readings step by step, move on, finish it as evidence.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5. A session
stands in the readings database and nowhere else: each call opens it, does one thing and is done, so
that any face, or the same one after a restart, goes on where another stopped.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from threading import Event as Flag
from typing import TYPE_CHECKING, Any

import numpy as np

from clampwright.actions.case import open_case
from clampwright.actions.evidence import ReduceResult, reduce_named
from clampwright.actions.guided_follow import Follower
from clampwright.actions.guided_open import must_know
from clampwright.actions.judging import check
from clampwright.actions.recordings import log_readings
from clampwright.actions.session_state import (
    FinishResult,
    GuidedState,
    checked_words,
    closing,
    state_of,
    watch_run,
)
from clampwright.bench.session import GuidedStep
from clampwright.bench.values import read_values
from clampwright.errors import ConflictError, InputError
from clampwright.physics.constants import ROOM_TEMPERATURE
from clampwright.quantities import ZERO_CELSIUS
from clampwright.workspace.edit import add_evidence
from clampwright.workspace.folder import Workspace, open_workspace

if TYPE_CHECKING:
    from clampwright.bench.instrument import Profile
    from clampwright.workspace.database import Store
    from clampwright.workspace.guided import Sitting

QUICKEST = 100  # readings that fit into the wait of a step; then at least one a second
Typed = Mapping[str, str]
"""What differs from the plan: temperature, light, lamp, humidity, note; text with units."""


def guided_state(root: Path, session: str, before: Sitting | None = None) -> GuidedState:
    """Where a guided session stands, what its present run says, and what to do next."""
    with _opened(root, session, before) as (_, sitting, workspace):
        return state_of(sitting, _profile(workspace, sitting))


def guided_result(root: Path, session: str) -> ReduceResult:
    """What the readings taken so far reduce to; InputError says what is still missing.

    Of the run that is being taken only what had settled is counted.
    """
    from dataclasses import replace

    from clampwright.bench.columns import chosen
    from clampwright.workspace.sessions import stored_sessions

    with _opened(root, session) as (_, sitting, workspace):
        stored = stored_sessions(root, {session})
        run = sitting.run()
        if session in stored and sitting.step is not None and len(run.numbers):
            seen = watch_run(sitting, _profile(workspace, sitting))
            counts = run.numbers[seen.first if seen.settled is not False else len(run.numbers) :]
            whole = stored[session]
            left = (whole.numbers < run.numbers[0]) | np.isin(whole.numbers, counts)
            readings = chosen(whole.readings, left)
            stored = {session: replace(whole, readings=readings, numbers=whole.numbers[left])}
    if not len(stored[session].readings):
        raise InputError("no reading counts yet", where=session)
    return reduce_named(session, replace(workspace, sessions=stored))


def take_values(
    root: Path,
    session: str,
    text: str,
    *,
    at: int,
    last: int | None = None,
    unit: str = "",
    typed: Typed | None = None,
) -> GuidedState:
    """Readings typed, pasted or dropped for the present step: all of them are kept, or none.

    text : one value a line with its unit, or a first line "reading (µV)"
    at : index of the step they belong to; last : number of the last reading the writer knows of.
        ConflictError when the session has gone on since, so that nothing is kept twice.
    """
    from clampwright.bench.columns import readings_from_rows
    from clampwright.workspace.recording import condition_of
    from clampwright.workspace.store import append, now

    values = read_values(text, unit=unit)
    with _opened(root, session) as (store, sitting, workspace):
        step = _present(sitting, at, last)
        if step.kind in ("known current", "polarity"):
            _keep_check(store, sitting, _profile(workspace, sitting), values)
        elif not step.state:
            raise InputError("nothing is read at this step", where=step.title)
        else:
            condition = condition_of(_typed(sitting, typed), _profile(workspace, sitting))
            shared = {**condition, "time": now()}  # typed together: one moment
            rows = [{**shared, "reading": volts} for volts in values]
            append(store, sitting.session, readings_from_rows(rows))
    return guided_state(root, session)


def voltage_on(root: Path, session: str, *, at: int) -> GuidedState:
    """Say that the voltage of the present step is applied now: waiting begins."""
    from clampwright.workspace.guided import step_mark, write_together

    with _opened(root, session) as (store, sitting, _):
        _present(sitting, at)
        write_together(store, sitting.session, [step_mark(sitting.rows.last, "on", at)])
    return guided_state(root, session)


def take_live(
    root: Path,
    session: str,
    *,
    at: int,
    typed: Typed | None = None,
    stop: Flag | None = None,
    told: Callable[[GuidedState], None] = lambda state: None,
) -> GuidedState:
    """Read the meter for the present step until it has settled and enough was read, or `stop`.

    Every reading that was told of is on the disk. Waiting begins with the first take of a visit.
    """
    stop = stop or Flag()
    with _opened(root, session) as (store, sitting, workspace):
        step, profile = _present(sitting, at), _profile(workspace, sitting)
        _must_have_meter(profile)
        if step.kind in ("known current", "polarity"):
            from clampwright.workspace.recording import look

            volts = look(_arranged(profile, sitting), step.count, step.wait, stop)
            _keep_check(store, sitting, profile, volts)
            return guided_state(root, session)
        if not step.state:
            raise InputError("nothing is read at this step", where=step.title)
        if not sitting.visits[-1].on:
            from clampwright.workspace.guided import step_mark, write_together

            write_together(store, sitting.session, [step_mark(sitting.rows.last, "on", at)])
    follower = Follower(root, session)

    def judge(_count: int) -> None:
        state = follower.look()
        told(state)
        if state.run.enough:
            stop.set()

    log_readings(
        root / sitting.plan.instrument,
        _typed(sitting, typed),
        session=session,
        interval=min(1.0, step.wait / QUICKEST),
        stop=stop,
        told=judge,
        arranged=lambda found: _arranged(found, sitting),
    )
    return guided_state(root, session)


def _must_have_meter(profile: Profile) -> None:
    if profile.meter is None:
        raise InputError(
            "this instrument sheet does not say how to reach its meter",
            where=profile.id,
            mend="type the readings, or add a table [meter]",
        )


def move(root: Path, session: str, act: str, *, at: int, reason: str = "") -> GuidedState:
    """Go on, back, or past a step.

    act : "next" when the step is done (with a reason where something is missing), "skip" with a
        reason, "back" to the step before
    """
    from clampwright.workspace.guided import step_mark, write_together

    acts = ("next", "skip", "back")
    if act not in acts:
        raise InputError(f'"{act}" is no move', expected=" | ".join(acts))
    reason = " ".join(reason.split())
    with _opened(root, session) as (store, sitting, workspace):
        step = _present(sitting, at) if act != "back" else sitting.step
        last = sitting.rows.last
        marks: list[Any] = []
        left_out: list[Any] = []
        if act == "back":
            if sitting.at != at or at == 0:
                raise ConflictError("there is no step before this one, or the session has gone on")
            to = at - 1
        elif act == "skip":
            if not reason:
                raise InputError("skipping a step needs a reason", where="reason")
            marks, to = [step_mark(last, "skip", at, reason)], at + 1
        else:
            assert step is not None
            profile = _profile(workspace, sitting)
            missing = state_of(sitting, profile).missing
            if missing and not reason:
                raise InputError(
                    missing, where=step.title, mend="or go on as it is and say why"
                )  # fmt: skip
            seen, left_out = closing(sitting, profile)
            words = f"as it is: {reason}" if missing else ""
            marks, to = [*seen, step_mark(last, "done", at, words)], at + 1
        steps = sitting.plan.steps
        title = steps[to].title if to < len(steps) else "complete"
        marks.append(step_mark(last, "begin", to, title))
        write_together(store, sitting.session, marks, left_out)
    return guided_state(root, session)


def finish_session(root: Path, session: str) -> FinishResult:
    """Make a session evidence: its part sheet refers to it, and its design is judged again.

    Raises InputError while the readings cannot be reduced; then nothing changes.
    """
    from clampwright.workspace.guided import step_mark, write_together

    result = guided_result(root, session)
    if not result.leakages:
        raise InputError(
            "there is no reading of the part yet", where=session,
            expected="zeros, and readings of at least one voltage",
        )  # fmt: skip
    with _opened(root, session) as (store, sitting, workspace):
        plan = sitting.plan
        before = _verdict(root, plan.design)
        sheet = root / workspace.names[plan.part]
        added = add_evidence(sheet, session, plan.wiring)
        if not sitting.finished:
            words = f"evidence of {plan.part} {plan.wiring}"
            mark = step_mark(sitting.rows.last, "finish", sitting.at, words)
            write_together(store, sitting.session, [mark])
    return FinishResult(
        session=session,
        part=plan.part,
        wiring=plan.wiring,
        added=added,
        design=plan.design,
        before=before,
        after=_verdict(root, plan.design),
        leakages=result.leakages,
    )


def guided_sessions(root: Path) -> tuple[tuple[str, str, bool], ...]:
    """Name, beginning and whether it is finished of every guided session, the latest first."""
    from clampwright.workspace.database import has_store, open_store
    from clampwright.workspace.guided import guided_names

    if not has_store(root):
        return ()
    with open_store(root) as store:
        return tuple((s.name, s.started, done) for s, done in guided_names(store))


@contextmanager
def _opened(
    root: Path, session: str, before: Sitting | None = None
) -> Iterator[tuple[Store, Sitting, Workspace]]:
    from clampwright.workspace.database import has_store, open_store
    from clampwright.workspace.guided import sitting

    if not has_store(root):
        raise InputError(f'there is no session "{session}"', where=str(root))
    workspace = open_workspace(root)
    with open_store(root) as store:
        yield store, sitting(store, session, before), workspace


def _present(sitting: Sitting, at: int, last: int | None = None) -> GuidedStep:
    """The step to do now; ConflictError when the session has gone on, InputError at its end."""
    if sitting.finished:
        raise InputError("the session is finished", mend="open another one")
    if sitting.at != at or (last is not None and last != sitting.rows.last):
        raise ConflictError(
            "the session has gone on since, in another window perhaps; nothing was written",
            mend="look at it again",
        )
    if sitting.step is None:
        raise InputError("every step is done", mend="finish the session, or go back")
    return sitting.step


def _profile(workspace: Workspace, sitting: Sitting) -> Profile:
    must_know(workspace.instruments, sitting.plan.instrument, "instrument")
    return workspace.instruments[sitting.plan.instrument]


def _typed(sitting: Sitting, typed: Typed | None) -> dict[str, str]:
    """What all readings of the present step share, in words that lose no digit."""
    step, plan = sitting.step, sitting.plan
    assert step is not None
    made = {"state": step.state}
    if step.fitted:
        made |= {"part": plan.part, "wiring": plan.wiring}
    for name, value, unit in (
        ("reverse_voltage", step.reverse_voltage, "V"),
        ("temperature", step.temperature, "K"),
        ("light", step.light, "lx"),
    ):
        if value is not None:
            made[name] = f"{value!r} {unit}"
    allowed = ("temperature", "light", "lamp", "humidity", "note")
    return made | {k: v for k, v in (typed or {}).items() if k in allowed and v.strip()}


def _arranged(profile: Profile, sitting: Sitting) -> Profile:
    """The profile with what a pretend bench is told of this step; others are as they were."""
    from clampwright.bench.session import KNOWN_RESISTANCE, KNOWN_VOLTAGE

    step = sitting.step
    if profile.meter is None or not profile.meter.tell or step is None:
        return profile
    known = KNOWN_VOLTAGE / KNOWN_RESISTANCE if step.kind == "known current" else 0.0
    bench = {
        "part": sitting.plan.part,
        "wiring": sitting.plan.wiring,
        "fitted": "1" if step.fitted else "0",
        "bias": f"{step.reverse_voltage or 0.0:g}",
        "temperature": f"{(step.temperature or ROOM_TEMPERATURE) - ZERO_CELSIUS:g}",
        "light": f"{step.light or 0.0:g}",
        "known": f"{known:g}",
    }
    return profile.model_copy(update={"meter": profile.meter.told(bench)})


def _keep_check(store: Store, sitting: Sitting, profile: Profile, volts: tuple[float, ...]) -> None:
    """What a known current or a polarity step shows is a mark: it never becomes evidence."""
    from clampwright.workspace.guided import check_mark, write_together

    if not volts:
        return
    mean = sum(volts) / len(volts)
    said = checked_words(sitting, profile, mean)
    mark = check_mark(sitting.rows.last, sitting.at, mean, said.right, said.words)
    write_together(store, sitting.session, [mark])


def _verdict(root: Path, design: str) -> str:
    path = root / "designs" / f"{design}.toml"
    if not design or not path.is_file():
        return ""
    return check(open_case(path)).verdict.value


__all__ = [
    "finish_session",
    "guided_result",
    "guided_sessions",
    "guided_state",
    "move",
    "take_live",
    "take_values",
    "voltage_on",
]
