"""Tables of the readings database, how it came to them, and the triggers that keep readings unchanged.

A database carries the number of its version; opening it applies every later step, each in one
transaction. Steps are never edited once released: a new one is added.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import sqlalchemy as sql

from clampwright.errors import InputError

if TYPE_CHECKING:
    from clampwright.workspace.database import Store

LOCK = 0x434C414D  # PostgreSQL's advisory lock while a step is applied
_metadata = sql.MetaData()


def _table(name: str, *columns: sql.Column[object]) -> sql.Table:
    return sql.Table(name, _metadata, *columns)


def _whole(name: str, *, key: bool = False) -> sql.Column[object]:
    return sql.Column(name, sql.BigInteger, primary_key=key)


def _real(name: str) -> sql.Column[object]:
    return sql.Column(name, sql.Double)


def _text(name: str) -> sql.Column[object]:
    return sql.Column(name, sql.Text)


SESSIONS = _table(
    "sessions",
    *(_whole("id", key=True), _text("name"), _text("who"), _text("started"), _text("origin")),
    *(_text("conditions"), _text("source_hash"), _text("kind")),
)
CONDITIONS = _table(
    "conditions",
    *(_whole("id", key=True), _whole("session"), _text("part"), _text("wiring"), _text("state")),
    *(_real("reverse_voltage"), _real("light"), _text("lamp"), _text("instrument"), _text("note")),
)
READINGS = _table(
    "readings",
    *(_whole("session", key=True), _whole("number", key=True), _whole("condition")),
    *(_real("temperature"), _real("reading"), _real("humidity"), _text("time")),
    _whole("monotonic"),
)
CORRECTIONS = _table(
    "corrections",
    *(_whole("id", key=True), _whole("session"), _whole("first"), _whole("last"), _text("field")),
    *(_text("value"), _text("why"), _text("who"), _text("made")),
)
MARKS = _table(
    "marks",
    *(_whole("id", key=True), _whole("session"), _whole("after"), _text("time"), _text("kind")),
    _text("words"),
)
INSTRUMENTS = _table(
    "instruments",
    *(_whole("id", key=True), _whole("session"), _text("instrument"), _text("sheet")),
    *(_text("identity"), _text("taken")),
)
BOARD_READINGS = _table(
    "board_readings",
    *(_whole("session", key=True), _whole("number", key=True), _text("board"), _real("signal")),
    *(_real("upper_rail"), _real("lower_rail"), _real("resistance"), _real("temperature")),
    *(_real("light"), _real("error"), _real("uncertainty"), _text("resistor")),
    *(_real("tolerance"), _real("humidity"), _text("time"), _text("note")),
)
TABLES = (SESSIONS, CONDITIONS, READINGS, CORRECTIONS, MARKS, INSTRUMENTS, BOARD_READINGS)

_VERSION_1 = (
    "CREATE TABLE sessions (id {key}, name TEXT NOT NULL UNIQUE, who TEXT NOT NULL, "
    "started TEXT NOT NULL, origin TEXT NOT NULL, conditions TEXT NOT NULL, source_hash TEXT NOT NULL)",
    "CREATE TABLE conditions (id {key}, session BIGINT NOT NULL REFERENCES sessions(id), "
    "part TEXT NOT NULL, wiring TEXT NOT NULL, state TEXT NOT NULL, reverse_voltage {real}, "
    "light {real}, lamp TEXT NOT NULL, instrument TEXT NOT NULL, note TEXT NOT NULL)",
    "CREATE INDEX conditions_of_session ON conditions (session)",
    "CREATE TABLE readings (session BIGINT NOT NULL, number BIGINT NOT NULL, "
    "condition BIGINT NOT NULL, temperature {real}, reading {real} NOT NULL, humidity {real}, "
    "time TEXT NOT NULL, monotonic BIGINT, PRIMARY KEY (session, number)){compact}",
    "CREATE TABLE corrections (id {key}, session BIGINT NOT NULL REFERENCES sessions(id), "
    "first BIGINT NOT NULL, last BIGINT NOT NULL, field TEXT NOT NULL, value TEXT NOT NULL, "
    "why TEXT NOT NULL CHECK (why <> ''), who TEXT NOT NULL, made TEXT NOT NULL)",
    "CREATE TABLE marks (id {key}, session BIGINT NOT NULL REFERENCES sessions(id), "
    "after BIGINT NOT NULL, time TEXT NOT NULL, kind TEXT NOT NULL, words TEXT NOT NULL)",
)
_VERSION_2 = (
    "CREATE TABLE instruments (id {key}, session BIGINT NOT NULL REFERENCES sessions(id), "
    "instrument TEXT NOT NULL, sheet TEXT NOT NULL, identity TEXT NOT NULL, taken TEXT NOT NULL)",
)
_VERSION_3 = (
    "ALTER TABLE sessions ADD COLUMN kind TEXT NOT NULL DEFAULT ''",
    "CREATE TABLE board_readings (session BIGINT NOT NULL, number BIGINT NOT NULL, "
    "board TEXT NOT NULL, signal {real} NOT NULL, upper_rail {real} NOT NULL, "
    "lower_rail {real} NOT NULL, resistance {real} NOT NULL, temperature {real} NOT NULL, "
    "light {real} NOT NULL, error {real} NOT NULL, uncertainty {real}, resistor TEXT NOT NULL, "
    "tolerance {real}, humidity {real}, time TEXT NOT NULL, note TEXT NOT NULL, "
    "PRIMARY KEY (session, number)){compact}",
)
STEPS: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = (
    (_VERSION_1, ("sessions", "conditions", "readings", "corrections", "marks")),
    (_VERSION_2, ("instruments",)),
    (_VERSION_3, ("board_readings",)),
)  # statements of each version, and the tables it makes unchangeable
VERSION = len(STEPS)

_SPELLING = {
    "sqlite": {"key": "INTEGER PRIMARY KEY", "real": "REAL", "compact": " WITHOUT ROWID"},
    "postgresql": {
        "key": "BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY",
        "real": "DOUBLE PRECISION",
        "compact": "",
    },
}
_SAME_ROW = {
    "sessions": "id = NEW.id OR name = NEW.name",
    "readings": "session = NEW.session AND number = NEW.number",
    "board_readings": "session = NEW.session AND number = NEW.number",
}
_REFUSED = "{table} are immutable"


def migrate(store: Store, *, writable: bool = True, upto: int | None = None) -> None:
    """Bring a database from any earlier version (0: empty) to `upto`, by default the newest.

    Raises InputError for a database made by a later version of this program, or an older one that
    may only be read.
    """
    version = version_of(store)
    upto = VERSION if upto is None else upto
    if version > VERSION:
        raise InputError(
            f"the readings database has version {version}, this program knows {VERSION}",
            where=store.place,
            mend="use the newer program that made it",
        )
    if version < upto and not writable:
        raise InputError(
            f"the readings database has version {version} and cannot be brought to {upto} here",
            where=store.place,
            mend="copy the folder to a place that can be written",
        )
    if version < upto:
        with store.writing() as connection:
            _apply(connection, upto)


def version_of(store: Store) -> int:
    """Version of a database; 0 when it is empty."""
    with store.reading() as connection:
        return _version(connection)


def _version(connection: sql.Connection) -> int:
    if not sql.inspect(connection).has_table("schema_version"):
        return 0
    return int(connection.exec_driver_sql("SELECT max(version) FROM schema_version").scalar_one())


def _apply(connection: sql.Connection, upto: int) -> None:
    dialect = connection.dialect.name
    if dialect == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK})")
    version = _version(connection)  # again: another program may have been here meanwhile
    if version == 0:
        connection.exec_driver_sql(
            "CREATE TABLE schema_version (version BIGINT PRIMARY KEY, applied TEXT NOT NULL)"
        )
        _protect(connection, "schema_version")
    for number in range(version + 1, upto + 1):
        statements, tables = STEPS[number - 1]
        for statement in statements:
            connection.exec_driver_sql(statement.format(**_SPELLING[dialect]))
        for table in tables:
            _protect(connection, table)
        applied = datetime.now(UTC).isoformat()
        connection.exec_driver_sql(
            f"INSERT INTO schema_version (version, applied) VALUES ({number}, '{applied}')"
        )


def _protect(connection: sql.Connection, table: str) -> None:
    """Refuse every change and deletion of rows of a table, whichever program tries."""
    words = _REFUSED.format(table=table)
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(
            f"CREATE FUNCTION refuse_{table}() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{words}'; END $$"
        )
        connection.exec_driver_sql(
            f"CREATE TRIGGER {table}_immutable BEFORE UPDATE OR DELETE OR TRUNCATE ON {table} "
            f"FOR EACH STATEMENT EXECUTE FUNCTION refuse_{table}()"
        )
        return
    key = "version" if table == "schema_version" else "id"
    same = _SAME_ROW.get(table, f"{key} = NEW.{key}")
    replaces = f"INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})"
    for name, event in (
        ("update", f"UPDATE ON {table}"),
        ("delete", f"DELETE ON {table}"),
        ("replace", replaces),  # "insert or replace" deletes without asking the trigger before it
    ):
        connection.exec_driver_sql(
            f"CREATE TRIGGER {table}_no_{name} BEFORE {event} "
            f"BEGIN SELECT RAISE(ABORT, '{words}'); END"
        )


@contextmanager
def many_new_rows(connection: sql.Connection, table: str) -> Iterator[None]:
    """Add rows to a table without asking for each whether it replaces one: a quarter of the time.

    Only inside a transaction, which the plain INSERT of a row that is there already still ends; the
    trigger is back before the commit, and a crash brings it back with everything else.
    """
    name = f"{table}_no_replace"
    query = sql.text("SELECT sql FROM sqlite_master WHERE type = 'trigger' AND name = :name")
    trigger = str(connection.execute(query, {"name": name}).scalar_one())
    connection.exec_driver_sql(f"DROP TRIGGER {name}")
    yield
    connection.exec_driver_sql(trigger)


__all__ = [
    "BOARD_READINGS",
    "CONDITIONS",
    "CORRECTIONS",
    "INSTRUMENTS",
    "MARKS",
    "READINGS",
    "SESSIONS",
    "STEPS",
    "TABLES",
    "VERSION",
    "many_new_rows",
    "migrate",
    "version_of",
]
