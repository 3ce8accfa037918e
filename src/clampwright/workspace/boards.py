"""Readings of assembled boards in the readings database: a session of a kind of its own for each sitting.

They are kept once and never change, like all readings; what they gave when they were kept stands
beside them as a mark.
"""

from __future__ import annotations

import sqlalchemy as sql

from clampwright.bench.board_readings import BoardReadings, board_from_rows
from clampwright.errors import InputError
from clampwright.workspace.database import Store
from clampwright.workspace.schema import BOARD_READINGS
from clampwright.workspace.store import (
    BOARD,
    Mark,
    Session,
    now,
    session_named,
    sessions,
    start_session,
    write_marks,
)


def keep_board(
    store: Store,
    name: str,
    readings: BoardReadings,
    *,
    who: str = "",
    source_hash: str = "",
    words: str = "",
) -> Session:
    """A new session with readings of a board: all of them, or none.

    words : what they gave, kept beside them
    Raises InputError when the name is taken or the same file was kept before.
    """
    with store.writing() as connection:
        made = start_session(
            store,
            name,
            who=who,
            source_hash=source_hash,
            started=readings.time,
            kind=BOARD,
            connection=connection,
        )
        rows = [
            {**row, "session": made.id, "number": number}
            for number, row in enumerate(readings.rows(), 1)
        ]
        connection.execute(sql.insert(BOARD_READINGS), rows)
        write_marks(connection, made, [Mark(len(rows), now(), "result", words)] if words else [])
    return session_named(store, name)


def board_sessions(store: Store) -> tuple[Session, ...]:
    """Every kept sitting of a board, the earliest first."""
    found = (s for s in sessions(store) if s.kind == BOARD)
    return tuple(sorted(found, key=lambda s: s.started))


def board_readings_of(store: Store, session: Session) -> BoardReadings:
    """The readings of a kept sitting; InputError for a session of another kind."""
    if session.kind != BOARD:
        raise InputError(
            f"the session {session.name} holds no readings of an assembled board",
            where=store.place,
            expected=", ".join(s.name for s in board_sessions(store)) or "a sitting that was kept",
        )
    query = sql.select(BOARD_READINGS).where(BOARD_READINGS.c.session == session.id)
    with store.reading() as connection:
        rows = connection.execute(query.order_by(BOARD_READINGS.c.number)).mappings().all()
    return board_from_rows([dict(row) for row in rows])


__all__ = ["board_readings_of", "board_sessions", "keep_board"]
