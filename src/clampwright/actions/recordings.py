"""What a user does with the readings database: log, import, export, hand over evidence.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5 without
`record`; the database and the drivers are loaded only when one of these runs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from threading import Event as Flag
from typing import TYPE_CHECKING

from clampwright.bench.instrument import Profile
from clampwright.errors import InputError
from clampwright.verdict.results import Result
from clampwright.workspace.folder import (
    Workspace,
    check_writable,
    open_workspace,
    read_bytes,
    workspace_of,
    write_bytes,
    write_text,
)

if TYPE_CHECKING:
    from clampwright.workspace.store import Session

EXPORTS = (".csv", ".parquet")
HAPPENINGS = ("touch", "light", "cable", "note")  # what a person may say of the bench


class SessionResult(Result):
    """A session of the readings database; `origin` says whose evidence it is, "" for this bench."""

    name: str
    who: str
    started: str
    origin: str
    conditions: str
    source_hash: str
    count: int
    kind: str = ""  # "board": of an assembled board


class SessionsResult(Result):
    """Every session of a readings database."""

    database: str
    sessions: tuple[SessionResult, ...]


class LogResult(Result):
    """What a log did; every counted reading is on the disk."""

    session: str
    count: int
    seconds: float
    gaps: int
    garbled: int
    overloads: int
    ended: str


def log_readings(
    instrument: Path,
    typed: Mapping[str, str],
    *,
    session: str = "",
    count: int | None = None,
    seconds: float | None = None,
    interval: float = 0.0,
    who: str = "",
    stop: Flag | None = None,
    told: Callable[[int], None] = lambda count: None,
    arranged: Callable[[Profile], Profile] = lambda profile: profile,
) -> LogResult:
    """Log the meter of an instrument into a session of its workspace, until a limit or `stop`.

    instrument : its sheet, or the folder of a workspace and the id of an instrument
    typed : field → text of what all these readings share, such as {"reverse_voltage": "5 V"};
        temperature and light may come from second instruments instead
    session : the day (UTC) when empty; a session of ours goes on
    arranged : changes the profile before its meter is opened
    """
    from clampwright.bench.instruments.logger import Limits
    from clampwright.workspace.database import open_store, read_settings
    from clampwright.workspace.recording import log_session

    workspace = open_workspace(workspace_of(instrument))
    key = _instrument_id(instrument, workspace)
    name = session or datetime.now(UTC).date().isoformat()
    _refuse_file_name(workspace, name)
    limits = Limits(count, float("inf") if seconds is None else seconds, interval)
    profile, sheet = arranged(workspace.instruments[key]), workspace.sheets[key]
    who = who or read_settings(workspace.root).owner
    with open_store(workspace.root) as store:
        _, done = log_session(
            store, name, profile, sheet, typed, limits, who=who, stop=stop, told=told
        )
    return LogResult(session=name, **vars(done))


def add_typed(
    session: str,
    root: Path,
    texts: str,
    typed: Mapping[str, str],
    *,
    instrument: str,
    unit: str = "",
    who: str = "",
) -> SessionResult:
    """Add readings read off a meter, typed or pasted as a column, to a session, new or ours.

    texts : one value a line such as "12.4 µV", or a first line "reading (µV)"; decimal comma too
    typed : field → text of what they share, as of `log_readings`; `instrument` is an id in `root`
    unit : for lines without one, such as "µV"
    All are kept, or none: InputError names lines that cannot be read and conditions that miss.
    """
    from clampwright.bench.values import read_values
    from clampwright.workspace.database import open_store, read_settings
    from clampwright.workspace.recording import type_session
    from clampwright.workspace.store import session_named

    workspace = open_workspace(root)
    key = _instrument_id(root / instrument, workspace)
    _refuse_file_name(workspace, session)
    volts = read_values(texts, unit=unit)
    profile, sheet = workspace.instruments[key], workspace.sheets[key]
    who = who or read_settings(root).owner
    with open_store(root) as store:
        type_session(store, session, profile, sheet, typed, volts, who=who)
        return _result(session_named(store, session))


def import_readings(
    file: Path, root: Path, *, session: str = "", who: str = "", conditions: str = ""
) -> SessionResult:
    """A CSV file of readings, or an evidence bundle, as a new session of the workspace `root`.

    All of the file is imported or, with an InputError that names the lines, nothing.
    """
    from clampwright.workspace.bundle import is_bundle
    from clampwright.workspace.database import open_store, read_settings
    from clampwright.workspace.exchange import import_csv

    data = read_bytes(file)
    if is_bundle(data):
        return read_bundle(file, root, session=session)
    workspace = open_workspace(root)
    name = session or file.stem
    _refuse_file_name(workspace, name)
    who = who or read_settings(root).owner
    with open_store(root) as store:
        made = import_csv(
            store,
            data,
            file.name,
            session=name,
            who=who,
            conditions=conditions,
            sheets=workspace.sheets,
        )
    return _result(made)


def export_readings(session: str, root: Path, target: Path, *, corrected: bool = True) -> Path:
    """Write a session as CSV or Parquet (the ending of `target` decides), corrected or as taken."""
    from clampwright.workspace.database import open_store
    from clampwright.workspace.exchange import export_csv, export_parquet
    from clampwright.workspace.store import session_named

    if target.suffix.lower() not in EXPORTS:
        raise InputError(
            f'readings cannot be written as "{target.suffix or "no kind at all"}"',
            where=str(target),
            expected="a name that ends in " + " or ".join(EXPORTS),
        )
    check_writable(target)
    with open_store(_with_store(root)) as store:
        found = session_named(store, session)
        if target.suffix.lower() == ".csv":
            write_text(target, export_csv(store, found, corrected=corrected))
        else:
            write_bytes(target, export_parquet(store, found, corrected=corrected))
    return target


def list_sessions(root: Path) -> SessionsResult:
    """Every session in the readings database of a workspace."""
    from clampwright.workspace.database import open_store
    from clampwright.workspace.store import sessions

    with open_store(_with_store(root)) as store:
        found = tuple(_result(session) for session in sessions(store))
        return SessionsResult(database=store.place, sessions=found)


def correct_readings(
    session: str, root: Path, *, rows: str, field: str, value: str, why: str, who: str = ""
) -> SessionResult:
    """Write a correction beside readings; they themselves stay as they were taken.

    rows : number of a reading, or first and last such as "3-7"; numbered from 1 as exported raw
    field : name of a column other than the reading, or "excluded" with value "true" or "false"
    """
    from clampwright.workspace.database import open_store, read_settings
    from clampwright.workspace.store import Correction, correct, session_named

    first, last = _span(rows)
    told = Correction(
        first, last, field.replace(" ", "_"), value, why, who or read_settings(root).owner
    )
    with open_store(_with_store(root)) as store:
        found = session_named(store, session)
        correct(store, found, told)
        return _result(found)


def mark_session(session: str, root: Path, kind: str, words: str = "") -> SessionResult:
    """Say what happened at the bench after the last reading of a session, also while it is logged."""
    from clampwright.workspace.database import open_store
    from clampwright.workspace.store import mark, session_named

    if kind not in HAPPENINGS:
        raise InputError(f'"{kind[:40]}" is no kind of mark', expected=" | ".join(HAPPENINGS))
    with open_store(_with_store(root)) as store:
        found = session_named(store, session)
        mark(store, found, kind, words)
        return _result(found)


def write_bundle(session: str, root: Path, target: Path, *, origin: str = "") -> Path:
    """Write the evidence bundle of a session: raw readings, corrections, instruments, one hash.

    origin : whose evidence it is; `owner` of workspace.toml when empty
    """
    from clampwright.workspace import bundle
    from clampwright.workspace.database import open_store, read_settings
    from clampwright.workspace.store import session_named

    sheets = open_workspace(root).sheets
    check_writable(target)
    whose = origin or read_settings(root).owner
    with open_store(_with_store(root)) as store:
        found = session_named(store, session)
        write_bytes(target, bundle.write_bundle(store, found, origin=whose, sheets=sheets))
    return target


def read_bundle(file: Path, root: Path, *, session: str = "") -> SessionResult:
    """Check an evidence bundle and keep it as a session that says whose evidence it is."""
    from clampwright.workspace import bundle
    from clampwright.workspace.database import open_store

    content = bundle.read_bundle(read_bytes(file), file.name)
    _refuse_file_name(open_workspace(root), session or content.manifest.session)
    with open_store(root) as store:
        return _result(bundle.import_bundle(store, content, session))


def _result(session: Session) -> SessionResult:
    return SessionResult(**{key: value for key, value in vars(session).items() if key != "id"})


def _span(rows: str) -> tuple[int, int]:
    first, _, last = rows.partition("-")
    if not first.strip().isdecimal() or not (last or first).strip().isdecimal():
        raise InputError(f'"{rows[:20]}" is no row', where="rows", expected='"3" or "3-7"')
    return int(first), int(last or first)


def _with_store(root: Path) -> Path:
    from clampwright.workspace.database import has_store

    if not has_store(root):
        raise InputError(
            "there is no readings database yet",
            where=str(root),
            mend="make one by: clampwright log or clampwright import",
        )
    return root


def _instrument_id(path: Path, workspace: Workspace) -> str:
    if path.is_file():
        from clampwright.workspace.folder import instrument_in

        return instrument_in(path).id
    if path.name in workspace.instruments:
        return path.name
    raise InputError(
        f'there is no instrument "{path.name}"',
        where=str(workspace.root),
        expected=", ".join(sorted(workspace.instruments)) or "a sheet under instruments/",
    )


def _refuse_file_name(workspace: Workspace, name: str) -> None:
    """A part sheet names files and sessions alike, so that one name must not mean both."""
    if name in workspace.readings:
        raise InputError(
            f'the name "{name}" belongs to a file of readings already',
            where=str(workspace.root / "readings" / f"{name}.csv"),
            mend="choose another name for the session, or move the file out of readings/",
        )


__all__ = [
    "LogResult",
    "SessionResult",
    "SessionsResult",
    "add_typed",
    "correct_readings",
    "export_readings",
    "import_readings",
    "list_sessions",
    "log_readings",
    "mark_session",
    "read_bundle",
    "write_bundle",
]
