"""The readings database of a workspace: SQLite in the folder, or PostgreSQL where `workspace.toml` says.

Everything above speaks to both through one layer. What is acknowledged has been committed, and a
commit is on the disk (write-ahead log, every commit flushed).
"""

from __future__ import annotations

import os
import sqlite3
import tomllib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sql
from pydantic import BaseModel, ConfigDict

from clampwright.errors import InputError
from clampwright.quantities.sheets import validated

FILE = "readings.db"
SETTINGS = "workspace.toml"
PATIENCE = 10.0  # [s] waited for another program that writes to the same file
SERVER_PATIENCE = 10  # [s] waited for a database server to answer


class Settings(BaseModel):
    """`workspace.toml`: where readings are kept when not in the folder, and whose bench this is."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    database: str = ""
    owner: str = ""


@dataclass(frozen=True)
class Store:
    """An open readings database; `place` names it in messages and never shows a password."""

    engine: sql.Engine
    place: str

    @contextmanager
    def reading(self) -> Iterator[sql.Connection]:
        """A connection that sees one state of the database."""
        with told(self.place), self.engine.connect() as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[sql.Connection]:
        """One transaction: all of it is on the disk when the block ends, or none of it."""
        with told(self.place), self.engine.execution_options(writes=True).begin() as connection:
            yield connection


def read_settings(root: Path) -> Settings:
    """The settings of a workspace; defaults where there is no `workspace.toml`."""
    path = root / SETTINGS
    if not path.is_file():
        return Settings()
    try:
        data = tomllib.loads(path.read_text("utf-8-sig"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"the settings cannot be read: {error}", where=str(path)) from None
    return validated(Settings, data, SETTINGS)


def has_store(root: Path) -> bool:
    """Whether a workspace has a readings database already, or names a server."""
    return (root / FILE).is_file() or bool(read_settings(root).database)


@contextmanager
def open_store(root: Path) -> Iterator[Store]:
    """Open the readings database of a workspace, made or brought to this version where needed.

    Raises InputError, one sentence, for a folder that is not there, a file that is no readings
    database, a server that does not answer, a full disk, a locked or damaged file.
    """
    from clampwright.workspace.schema import migrate

    url = read_settings(root).database
    if not url and not root.is_dir():
        raise InputError("there is no such folder", where=str(root), expected="a workspace")
    store, writable = _server(url) if url else _file(root / FILE)
    try:
        with told(store.place):
            migrate(store, writable=writable)
        yield store
    finally:
        store.engine.dispose()


@contextmanager
def told(place: str) -> Iterator[None]:
    """Turn a database's complaint into one sentence about `place`."""
    try:
        yield
    except sql.exc.SQLAlchemyError as error:
        complaint = str(getattr(error, "orig", None) or error).strip().splitlines()[0]
        raise _sentence(complaint, place) from None
    except sqlite3.Error as error:
        raise _sentence(str(error), place) from None


def _sentence(complaint: str, place: str) -> InputError:
    for words, wrong, mend in _COMPLAINTS:
        if any(word in complaint.lower() for word in words):
            return InputError(wrong, where=place, mend=mend)
    return InputError(f"the readings database refused: {complaint.rstrip('.')}", where=place)


_KEPT = "nothing of this was written; what was acknowledged before is kept"
_COMPLAINTS = (
    (("immutable",), "readings are never changed or deleted", "write a correction instead"),
    (("locked", "busy"), "another program holds the readings database", f"{_KEPT}; try again"),
    (
        ("is full", "no space", "file too large", "disk i/o error", "disk full"),
        "the disk is full or fails",
        f"{_KEPT}; make room and try again",
    ),
    (
        ("readonly", "read-only", "unable to open", "permission denied"),
        "the readings database cannot be written",
        f"{_KEPT}; check the permissions of file and folder",
    ),
    (
        ("not a database", "malformed", "file is encrypted"),
        "the file is damaged or is no readings database",
        "keep a copy of it, then restore your last backup",
    ),
    (
        ("connection refused", "could not connect", "connection failed", "timeout expired"),
        "the database server does not answer",
        "check the address in workspace.toml and that the server runs",
    ),
    (
        ("server closed the connection", "terminating connection", "connection is lost"),
        "the database server ended the connection",
        f"{_KEPT}; try again",
    ),
)


def _file(path: Path) -> tuple[Store, bool]:
    writable = os.access(path if path.exists() else path.parent, os.W_OK)
    writable = writable and os.access(path.parent, os.W_OK)
    pending = path.with_name(f"{path.name}-wal")
    untouched = not pending.exists() or not pending.stat().st_size
    if not writable and not path.exists():
        raise InputError(
            "the folder cannot be written, so no readings database can be made",
            where=str(path.parent),
            mend="check its permissions",
        )
    mode = "rwc" if writable else "ro&immutable=1" if untouched else "ro"

    def connect() -> sqlite3.Connection:
        uri = f"{path.resolve().as_uri()}?mode={mode}"
        return sqlite3.connect(uri, uri=True, timeout=PATIENCE, check_same_thread=False)

    engine = sql.create_engine("sqlite://", creator=connect, poolclass=sql.QueuePool)
    sql.event.listen(engine, "connect", _write_ahead if writable else _by_hand)
    sql.event.listen(engine, "begin", _begin)
    return Store(engine, str(path)), writable


def _by_hand(connection: sqlite3.Connection, _record: Any) -> None:
    connection.isolation_level = None  # transactions begin where we say, also around new tables


def _write_ahead(connection: sqlite3.Connection, record: Any) -> None:
    _by_hand(connection, record)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.execute("PRAGMA synchronous = FULL")


def _begin(connection: sql.Connection) -> None:
    writes = connection.get_execution_options().get("writes")
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _server(text: str) -> tuple[Store, bool]:
    try:
        url = sql.make_url(text)
    except sql.exc.ArgumentError:
        url = None
    if url is None or url.get_backend_name() != "postgresql":
        raise InputError(
            "the database is not an address we can use",
            where=f"{SETTINGS}, database",
            expected='"postgresql://user@host/database", or no line at all for a file in the folder',
        )
    try:
        import psycopg  # noqa: F401
    except ImportError:
        raise InputError(
            "the PostgreSQL driver is not installed",
            where=f"{SETTINGS}, database",
            mend='install it with: pip install "clampwright[lab]"',
        ) from None
    engine = sql.create_engine(
        url.set(drivername="postgresql+psycopg"),
        pool_pre_ping=True,
        connect_args={"connect_timeout": SERVER_PATIENCE},
    )
    return Store(engine, url.render_as_string(hide_password=True)), True


__all__ = ["FILE", "SETTINGS", "Settings", "Store", "has_store", "open_store", "read_settings"]
