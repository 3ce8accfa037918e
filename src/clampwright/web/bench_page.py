"""The bench page: a guided session in large type, and the endpoints it lives on."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from dataclasses import asdict
from pathlib import Path as Folder
from tempfile import TemporaryDirectory
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.responses import Response, StreamingResponse
from pydantic import BaseModel, Field, StringConstraints
from starlette.concurrency import run_in_threadpool

from clampwright import actions
from clampwright.errors import ClampwrightError, InputError
from clampwright.record.cautions import cautions_to_print
from clampwright.record.terminal import leakage_words
from clampwright.record.words import quantity
from clampwright.web.api import Body, Name, Nothing
from clampwright.web.bench_takes import Takes
from clampwright.web.guard import CSV
from clampwright.web.pages import design_page, fragment, open_design

router = APIRouter()
api = APIRouter(prefix="/api/bench/{place}")
LOOK_EVERY = 0.25  # [s] between looks at the database
LONGEST_STREAM = 20.0  # [s] then the browser asks again, so that a server can stop
POINTS_AT_ONCE = 20_000
Session = Annotated[str, Path(min_length=1, max_length=100)]
Short = Annotated[str, StringConstraints(max_length=200)]
Line = Annotated[str, StringConstraints(max_length=500)]
At = Annotated[int, Field(ge=0, le=10_000)]


class OpenBody(Body):
    """A session to begin."""

    instrument: Short
    part: Short
    wiring: Short
    design: Short = ""
    voltages: Annotated[tuple[Short, ...], Field(max_length=20)] = ()
    light: Short = ""
    warm: Annotated[tuple[Short, ...], Field(max_length=20)] = ()
    session: Short = ""
    who: Short = ""
    conditions: Line = ""
    wait_share: Short = "100 %"
    why: Line = ""


class TypedBody(Body):
    """The step that is meant, and what differs from its plan."""

    at: At
    temperature: Short = ""
    light: Short = ""
    lamp: Short = ""
    humidity: Short = ""
    note: Short = ""

    def typed(self) -> dict[str, str]:
        """Only what was filled in."""
        names = ("temperature", "light", "lamp", "humidity", "note")
        return {name: text for name in names if (text := getattr(self, name).strip())}


class ValuesBody(TypedBody):
    """Readings typed or pasted, one a line."""

    text: Annotated[str, StringConstraints(max_length=150_000)]
    unit: Short = ""
    last: Annotated[int, Field(ge=0)]


class MoveBody(Body):
    """Next, skip or back, from the step that is meant."""

    act: Short
    at: At
    reason: Line = ""


class MarkBody(Body):
    """What just happened at the bench."""

    kind: Short
    words: Line = ""


class LeaveOutBody(Body):
    """Readings `first` to `last` of a session that shall not count, and why."""

    first: Annotated[int, Field(ge=1)]
    last: Annotated[int, Field(ge=1)]
    why: Annotated[str, StringConstraints(min_length=1, max_length=300)]


class BenchReply(BaseModel):
    """Where the session stands, whether the meter is being read, and why that ended."""

    state: actions.GuidedState
    taking: bool
    error: str


class ResultReply(BaseModel):
    """Results so far as a piece of the page; `problem` says what is still missing."""

    html: str
    problem: str


class DoneReply(BaseModel):
    """What finishing or importing did."""

    sentence: str
    before: str = ""
    after: str = ""
    session: str = ""


@router.get("/w/{place}/{design}/bench", include_in_schema=False)
def bench(
    request: Request,
    place: Name,
    design: Name,
    session: Annotated[str, Query(max_length=100)] = "",
) -> Response:
    """Begin or go on with a guided session."""
    table, opened = open_design(request, place, design)
    workspace = opened.case.workspace
    root = workspace.root
    known = actions.guided_sessions(root)
    chosen = session if session in {name for name, _, _ in known} else ""
    return design_page(
        request, table, opened, "bench", session=chosen, known=known,
        clamps=[f"{o.part} {o.wiring.name}" for o in opened.case.options() if o.clamp is not None],
        instruments=sorted(workspace.instruments.values(), key=lambda i: (i.meter is None, i.id)),
        voltages=_suggested(opened.path), cautions=cautions_to_print(()),
    )  # fmt: skip


@api.post("/open", status_code=201)
def open_session(request: Request, place: Name, body: OpenBody) -> BenchReply:
    """Begin a guided session; its plan is on the disk when this answers."""
    shelf = request.app.state.table.workspace(place)
    given = body.model_dump(exclude={"design", "instrument", "part", "wiring"})
    design = shelf.design(body.design) if body.design else None
    state = actions.open_guided(
        shelf.folder, body.instrument, body.part, body.wiring, design=design, **given
    )
    return BenchReply(state=state, taking=False, error="")


@api.get("/{session}/state")
def state(request: Request, place: Name, session: Session) -> BenchReply:
    """Where a session stands."""
    root = _root(request, place)
    return _reply(request, root, actions.guided_state(root, session))


@api.get("/{session}/live", response_class=StreamingResponse)
def live(
    request: Request,
    place: Name,
    session: Session,
    after: Annotated[int, Query(ge=0, le=2**62)] = 0,
) -> StreamingResponse:
    """Readings and state as server-sent events, for some seconds; then ask again."""
    known = request.headers.get("last-event-id", "")
    start = int(known) if known.isdecimal() and len(known) < 19 else after
    root = _root(request, place)
    follower = actions.Follower(root, session, after=start)
    return StreamingResponse(
        _events(request, root, follower),
        media_type="text/event-stream",
        headers={"cache-control": "no-store", "x-accel-buffering": "no"},
    )


@api.post("/{session}/take", status_code=202)
def take(request: Request, place: Name, session: Session, body: TypedBody) -> BenchReply:
    """Begin to read the meter for the present step."""
    root = _root(request, place)
    found = actions.guided_state(root, session)
    takes_of(request).start(root, session, body.at, body.typed())
    return BenchReply(state=found, taking=True, error="")


@api.post("/{session}/stop", status_code=202)
def stop(request: Request, place: Name, session: Session, body: Nothing = None) -> BenchReply:
    """Stop reading the meter; what was read is kept."""
    root = _root(request, place)
    takes_of(request).stop(root, session)
    return _reply(request, root, actions.guided_state(root, session))


@api.post("/{session}/on")
def on(request: Request, place: Name, session: Session, body: TypedBody) -> BenchReply:
    """The voltage of the present step is applied now."""
    root = _root(request, place)
    return _reply(request, root, actions.voltage_on(root, session, at=body.at))


@api.post("/{session}/values")
def values(request: Request, place: Name, session: Session, body: ValuesBody) -> BenchReply:
    """Readings typed, pasted or dropped for the present step: all or none."""
    root = _root(request, place)
    made = actions.take_values(
        root, session, body.text, at=body.at, last=body.last, unit=body.unit, typed=body.typed()
    )
    return _reply(request, root, made)


@api.post("/{session}/move")
def move(request: Request, place: Name, session: Session, body: MoveBody) -> BenchReply:
    """Go on, back, or past the present step."""
    root = _root(request, place)
    takes_of(request).stop(root, session)
    made = actions.move(root, session, body.act, at=body.at, reason=body.reason)
    return _reply(request, root, made)


@api.post("/{session}/mark")
def mark(request: Request, place: Name, session: Session, body: MarkBody) -> BenchReply:
    """Say what happened after the last reading."""
    root = _root(request, place)
    actions.mark_session(session, root, body.kind, body.words)
    return _reply(request, root, actions.guided_state(root, session))


@api.post("/{session}/leave-out")
def leave_out(request: Request, place: Name, session: Session, body: LeaveOutBody) -> BenchReply:
    """Leave readings out by a correction with its reason, and note it; they stay as they were taken."""
    root = _root(request, place)
    actions.correct_readings(
        session, root, rows=f"{body.first}-{body.last}", field="excluded", value="true",
        why=body.why,
    )  # fmt: skip
    words = f"readings {body.first} to {body.last} left out: {body.why}"
    actions.mark_session(session, root, "note", words)
    return _reply(request, root, actions.guided_state(root, session))


@api.get("/{session}/result")
def result(request: Request, place: Name, session: Session) -> ResultReply:
    """What the readings so far reduce to."""
    root = _root(request, place)
    actions.guided_state(root, session)
    try:
        found = actions.guided_result(root, session)
    except InputError as error:
        told = InputError(error.wrong, expected=error.expected, mend=error.mend)
        return ResultReply(html="", problem=str(told))
    html = fragment(
        "_bench_result.html", leakages=found.leakages, quantity=quantity,
        result_words=leakage_words, name=_condition, warnings=_warnings(found.leakages),
    )  # fmt: skip
    return ResultReply(html=html, problem="" if found.leakages else "no reading of the part yet")


@api.post("/{session}/finish")
def finish(request: Request, place: Name, session: Session, body: Nothing = None) -> DoneReply:
    """The session becomes evidence of its part; its design is judged again."""
    done = actions.finish_session(_root(request, place), session)
    return DoneReply(
        sentence=f"{actions.evidence_words(done)}.",
        before=done.before,
        after=done.after,
        session=session,
    )


@api.post(
    "/csv",
    status_code=201,
    openapi_extra={"requestBody": {"content": {CSV: {"schema": {"type": "string"}}}}},
)
async def take_csv(
    request: Request,
    place: Name,
    name: Annotated[str, Query(min_length=1, max_length=100, description="of the file")],
    who: Annotated[str, Query(max_length=200)] = "",
) -> DoneReply:
    """A whole sitting as a CSV file: a session of its own and evidence of its parts, or nothing."""
    root = _root(request, place)
    data = await request.body()
    return await run_in_threadpool(_imported, root, data, name, who)


def takes_of(request: Request) -> Takes:
    """The takes of this server."""
    takes: Takes = request.app.state.takes
    return takes


def _condition(one: Any) -> str:
    """At which voltage, temperature and light a result was read."""
    light = quantity(one.illuminance, "illuminance") if one.illuminance else "dark"
    volts = quantity(one.reverse_voltage, "voltage")
    return f"{volts} at {quantity(one.temperature, 'temperature')}, {light}"


def _warnings(leakages: tuple[Any, ...]) -> dict[str, str]:
    """Each warning once, with the results it holds for."""
    found: dict[str, list[str]] = {}
    for one in leakages:
        for flag in one.flags:
            found.setdefault(flag, []).append(_condition(one))
    return {
        flag: "every result" if len(rows) == len(leakages) > 1 else "; ".join(rows)
        for flag, rows in found.items()
    }


def _imported(root: Folder, data: bytes, name: str, who: str) -> DoneReply:
    plain = "".join(c if c.isalnum() or c in " ._+-" else "-" for c in Folder(name).name)
    with TemporaryDirectory() as folder:
        file = Folder(folder) / (plain.strip(" .") or "readings.csv")
        file.write_bytes(data)
        made = actions.import_evidence(file, root, who=who)
    return DoneReply(sentence=f"{made.words()}.", session=made.session)


def _root(request: Request, place: str) -> Folder:
    folder: Folder = request.app.state.table.workspace(place).folder
    return folder


def _reply(request: Request, root: Folder, found: actions.GuidedState) -> BenchReply:
    take = takes_of(request).get(root, found.session)
    running = bool(take and take.running)
    return BenchReply(state=found, taking=running, error=take.error if take else "")


def _suggested(design: Folder) -> tuple[str, ...]:
    try:
        return actions.suggested_voltages(design)
    except ClampwrightError:
        return ()


async def _events(request: Request, root: Folder, follower: actions.Follower) -> AsyncIterator[str]:
    """One event whenever something changed, and each second while nothing does."""
    before, silent = "", 0.0
    loop = asyncio.get_running_loop()
    end = loop.time() + LONGEST_STREAM
    yield "retry: 300\n\n"
    while loop.time() < end:
        found = await run_in_threadpool(follower.look)
        points = follower.points(POINTS_AT_ONCE)
        reply = _reply(request, root, found)
        changed = f"{found.last} {found.at} {len(found.marks)} {found.since < 1} {reply.taking}"
        if points.numbers or changed != before or silent >= 1.0:
            before, silent = changed, 0.0
            yield _event(reply, points, found.last - points.left)
        if not points.left:
            await asyncio.sleep(LOOK_EVERY)
            silent += LOOK_EVERY


def _event(reply: BenchReply, points: Any, known: int) -> str:
    drawn = json.dumps(asdict(points), separators=(",", ":"))
    return f'id: {known}\ndata: {reply.model_dump_json()[:-1]},"points":{drawn}}}\n\n'


router.include_router(api)
