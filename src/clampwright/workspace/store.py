"""Sessions in the readings database: raw readings appended once, everything later said beside them.

A session is one sitting at the bench. Its readings are numbered from 1 and never change; a
correction is a new row that says who, when and why; a mark says what happened between readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, get_args

import numpy as np
import sqlalchemy as sql
from numpy.typing import NDArray

from clampwright.bench.columns import COLUMNS, STATES, Readings
from clampwright.bench.instruments.samples import MarkKind
from clampwright.errors import InputError
from clampwright.quantities import read
from clampwright.workspace.condensed import condensed, expanded, insert_readings
from clampwright.workspace.database import Store
from clampwright.workspace.names import must_name_a_session
from clampwright.workspace.schema import (
    BOARD_READINGS,
    CORRECTIONS,
    INSTRUMENTS,
    MARKS,
    READINGS,
    SESSIONS,
)

BOARD = "board"  # kind of a session
EXCLUDED = "excluded"  # the field of a correction that takes readings out
MARK_KINDS: tuple[str, ...] = get_args(MarkKind)
_CORRECTABLE = {c.field: c for c in COLUMNS if c.field != "reading"}


@dataclass(frozen=True)
class Session:
    """One sitting: who, when (UTC), under which conditions, and whose evidence it is.

    `origin` is "" for this bench's own readings; `source_hash` is the SHA-256 of the file or bundle
    it came from, "" when it was logged here.
    """

    id: int
    name: str
    who: str
    started: str
    origin: str
    conditions: str
    source_hash: str
    count: int
    kind: str = ""  # "" for readings of parts, "board" for those of an assembled board


@dataclass(frozen=True)
class Correction:
    """What was written wrong in readings `first`…`last`, and why; never a reading itself."""

    first: int
    last: int
    field: str
    value: str  # as it would be written in a CSV cell, with its unit
    why: str
    who: str
    made: str = ""


@dataclass(frozen=True)
class Mark:
    """Something that happened after reading number `after`."""

    after: int
    time: str
    kind: str
    words: str


@dataclass(frozen=True)
class Snapshot:
    """An instrument as it was described, and as it named itself, when the session began."""

    instrument: str
    sheet: str  # text of its TOML sheet
    identity: str = ""
    taken: str = ""


def now() -> str:
    """The time now in UTC, to the microsecond, as ISO 8601 text."""
    return datetime.now(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")


def start_session(
    store: Store,
    name: str,
    *,
    who: str = "",
    origin: str = "",
    conditions: str = "",
    source_hash: str = "",
    started: str = "",
    kind: str = "",
    connection: sql.Connection | None = None,
) -> Session:
    """Begin a session; InputError when the name is taken or the same file is already there.

    connection : an open transaction to do it in; without one it is committed at once
    """
    must_name_a_session(name)
    if connection is None:
        with store.writing() as own:
            return start_session(
                store,
                name,
                who=who,
                origin=origin,
                conditions=conditions,
                source_hash=source_hash,
                started=started,
                kind=kind,
                connection=own,
            )
    _refuse_twice(connection, name, source_hash, store.place)
    values = {
        "name": name,
        "who": who,
        "started": started or now(),
        "origin": origin,
        "conditions": conditions,
        "source_hash": source_hash,
        "kind": kind,
    }
    made = connection.execute(sql.insert(SESSIONS).values(values).returning(SESSIONS.c.id))
    return Session(id=int(made.scalar_one()), count=0, **values)


def sessions(store: Store) -> tuple[Session, ...]:
    """Every session in the order they were begun here."""
    counts = [
        sql.select(sql.func.count()).where(t.c.session == SESSIONS.c.id).scalar_subquery()
        for t in (READINGS, BOARD_READINGS)
    ]
    count = (counts[0] + counts[1]).label("count")
    with store.reading() as connection:
        rows = connection.execute(sql.select(SESSIONS, count).order_by(SESSIONS.c.id))
        return tuple(Session(**row) for row in rows.mappings())


def session_named(store: Store, name: str) -> Session:
    """The session of that name; InputError lists those that are there."""
    there = sessions(store)
    for session in there:
        if session.name == name:
            return session
    raise InputError(
        f'there is no session "{name}"',
        where=store.place,
        expected=", ".join(s.name for s in there) or "a session: log or import one first",
    )


def append(
    store: Store,
    session: Session,
    readings: Readings,
    *,
    monotonic: Sequence[int] | None = None,
    after: int | None = None,
    connection: sql.Connection | None = None,
) -> int:
    """Add readings to a session; returns the number of the last one once all are on the disk.

    monotonic : nanoseconds of a clock that never jumps, one for each reading
    after : number of the last reading the caller knows of; with it and `monotonic` the same readings
        given again, because their acknowledgement was lost, are not added twice
    connection : an open transaction to do it in (then its commit is what acknowledges)
    Raises InputError, and nothing is added, when the database is locked, full or read-only.
    """
    if connection is None:
        with store.writing() as own:
            return append(
                store, session, readings, monotonic=monotonic, after=after, connection=own
            )
    if not len(readings):
        return _last_number(connection, session)
    locked = sql.select(SESSIONS.c.id).where(SESSIONS.c.id == session.id).with_for_update()
    connection.execute(locked).scalar_one()
    last = _last_number(connection, session)
    if after is not None and last != after:
        _refuse_another_writer(connection, session, last, after + len(readings), monotonic)
        return last
    insert_readings(connection, session.id, last + 1, condensed(readings), monotonic)
    return last + len(readings)


def mark(store: Store, session: Session, kind: str, words: str = "", time: str = "") -> None:
    """Say what happened after the last reading of a session; committed when it returns."""
    if kind not in MARK_KINDS:
        raise InputError(f'"{kind}" is no kind of mark', expected=" | ".join(MARK_KINDS))
    with store.writing() as connection:
        after = _last_number(connection, session)
        write_marks(connection, session, [Mark(after, time or now(), kind, words)])


def correct(store: Store, session: Session, correction: Correction) -> None:
    """Write a correction; InputError when it has no reason, no such readings or touches raw volts."""
    _refuse_board(store, session)
    checked(correction, store.place)
    with store.writing() as connection:
        last = _last_number(connection, session)
        if not 1 <= correction.first <= correction.last <= last:
            raise InputError(
                f"readings {correction.first} to {correction.last} are not in {session.name}",
                expected=f"numbers from 1 to {last}",
            )
        write_corrections(connection, session, [correction])


def checked(correction: Correction, where: str) -> bool | float | str:
    """The value a correction gives its field, in SI; InputError when it may not or cannot."""
    if not correction.why.strip():
        raise InputError("a correction must say why", where=where)
    if correction.field == EXCLUDED:
        if correction.value not in ("true", "false"):
            raise InputError(f'"{correction.value}" is neither true nor false', where=where)
        return correction.value == "true"
    column = _CORRECTABLE.get(correction.field)
    if column is None:
        raise InputError(
            f'"{correction.field}" cannot be corrected: readings stay as they were taken',
            where=where,
            expected=", ".join((EXCLUDED, *_CORRECTABLE)),
        )
    if column.dimension:
        return read(correction.value, column.dimension, where=where)
    if column.field == "state" and correction.value not in STATES:
        raise InputError(
            f'unknown state "{correction.value}"', where=where, expected=" | ".join(STATES)
        )
    return correction.value


def snapshot(store: Store, session: Session, taken: Snapshot) -> None:
    """Keep an instrument's sheet and identity as they are now."""
    with store.writing() as connection:
        write_snapshots(connection, session, [taken])


def readings_of(store: Store, session: Session, *, corrected: bool = True) -> Readings:
    """Readings of a session in the order they were taken, with corrections applied or raw."""
    return numbered_readings(store, session, corrected=corrected)[1]


def numbered_readings(
    store: Store, session: Session, *, corrected: bool = True
) -> tuple[NDArray[np.int64], Readings]:
    """Readings of a session with the number of each, seen at one moment while others may write."""
    _refuse_board(store, session)
    with store.reading() as connection:
        columns = expanded(connection, session.id)
    if not columns.count:
        raise InputError(f"the session {session.name} holds no readings yet", where=store.place)
    if corrected:
        for one in corrections(store, session):
            columns.change(one.first, one.last, one.field, checked(one, store.place))
    return np.flatnonzero(columns.kept) + 1, columns.readings()


def monotonic_of(store: Store, session: Session) -> NDArray[np.int64]:
    """The clock that never jumps (ns) of each reading; −1 where none was written."""
    query = sql.select(READINGS.c.monotonic).where(READINGS.c.session == session.id)
    with store.reading() as connection:
        found = connection.execute(query.order_by(READINGS.c.number)).scalars().all()
    return np.array([-1 if value is None else value for value in found], np.int64)


def corrections(store: Store, session: Session) -> tuple[Correction, ...]:
    """Corrections of a session, oldest first: a later one wins."""
    return tuple(Correction(**row) for row in _beside(store, session, CORRECTIONS))


def marks(store: Store, session: Session) -> tuple[Mark, ...]:
    """Marks of a session in the order they were made."""
    return tuple(Mark(**row) for row in _beside(store, session, MARKS))


def snapshots(store: Store, session: Session) -> tuple[Snapshot, ...]:
    """Instruments of a session as they were described when it was taken."""
    return tuple(Snapshot(**row) for row in _beside(store, session, INSTRUMENTS))


def write_corrections(
    connection: sql.Connection, session: Session, some: Sequence[Correction]
) -> None:
    """Add corrections in an open transaction."""
    _add(connection, CORRECTIONS, session, [{**vars(c), "made": c.made or now()} for c in some])


def write_marks(connection: sql.Connection, session: Session, some: Sequence[Mark]) -> None:
    """Add marks in an open transaction."""
    _add(connection, MARKS, session, [vars(m) for m in some])


def write_snapshots(connection: sql.Connection, session: Session, some: Sequence[Snapshot]) -> None:
    """Add instruments in an open transaction."""
    _add(connection, INSTRUMENTS, session, [{**vars(s), "taken": s.taken or now()} for s in some])


def _add(
    connection: sql.Connection, table: sql.Table, session: Session, rows: list[dict[str, Any]]
) -> None:
    if rows:
        connection.execute(sql.insert(table), [{**row, "session": session.id} for row in rows])


def _beside(store: Store, session: Session, table: sql.Table) -> list[dict[str, Any]]:
    wanted = [column for column in table.c if column.name not in ("id", "session")]
    query = sql.select(*wanted).where(table.c.session == session.id).order_by(table.c.id)
    with store.reading() as connection:
        return [dict(row) for row in connection.execute(query).mappings()]


def _refuse_board(store: Store, session: Session) -> None:
    if session.kind == BOARD:
        raise InputError(
            f"the session {session.name} holds readings of an assembled board",
            where=store.place,
            mend="use it with the commands separate and trend; export writes it as CSV",
        )


def _last_number(connection: sql.Connection, session: Session) -> int:
    query = sql.select(sql.func.max(READINGS.c.number)).where(READINGS.c.session == session.id)
    return int(connection.execute(query).scalar_one() or 0)


def _refuse_another_writer(
    connection: sql.Connection,
    session: Session,
    last: int,
    expected: int,
    monotonic: Sequence[int] | None,
) -> None:
    """Unless reading `last` is the last of those we are about to write."""
    wanted = READINGS.c.session == session.id, READINGS.c.number == last
    there = connection.execute(sql.select(READINGS.c.monotonic).where(*wanted)).scalar()
    if last != expected or monotonic is None or there != monotonic[-1]:
        raise InputError(
            f"another program writes to the session {session.name}",
            mend="log into a session of its own",
        )


def _refuse_twice(connection: sql.Connection, name: str, source_hash: str, where: str) -> None:
    found = sql.select(SESSIONS.c.name)
    if connection.execute(found.where(SESSIONS.c.name == name)).first():
        raise InputError(
            f'there is a session "{name}" already', where=where, mend="choose another name"
        )
    same = found.where(SESSIONS.c.source_hash == source_hash, SESSIONS.c.source_hash != "")
    if (there := connection.execute(same).scalar()) is not None:
        raise InputError(f'the same readings are there already as session "{there}"', where=where)


__all__ = [
    "BOARD",
    "EXCLUDED",
    "MARK_KINDS",
    "Correction",
    "Mark",
    "Session",
    "Snapshot",
    "append",
    "checked",
    "correct",
    "corrections",
    "mark",
    "marks",
    "monotonic_of",
    "now",
    "numbered_readings",
    "readings_of",
    "session_named",
    "sessions",
    "snapshot",
    "snapshots",
    "start_session",
    "write_corrections",
    "write_marks",
    "write_snapshots",
]
