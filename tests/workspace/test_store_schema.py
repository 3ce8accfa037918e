"""The database grows with the program: from the first version on, forwards only, nothing lost."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
import sqlalchemy as sql

from clampwright.errors import InputError
from clampwright.workspace.database import FILE, Store, _server, open_store
from clampwright.workspace.schema import STEPS, TABLES, VERSION, migrate, version_of
from clampwright.workspace.store import readings_of, sessions, snapshots

DUMP = Path(__file__).parents[1] / "data" / "readings_database_version_1.sql"


def test_a_new_database_has_the_tables_we_speak_of(store: Store) -> None:
    assert version_of(store) == VERSION == len(STEPS)
    inspector = sql.inspect(store.engine)
    for table in TABLES:
        there = {c["name"] for c in inspector.get_columns(table.name)}
        assert there == {c.name for c in table.c}, table.name


def test_opening_again_changes_nothing(root: Path) -> None:
    for _ in range(2):
        with open_store(root) as store, store.reading() as connection:
            rows = connection.exec_driver_sql("SELECT version FROM schema_version").fetchall()
            assert [int(row[0]) for row in rows] == list(range(1, VERSION + 1))


def test_a_database_of_version_1_is_brought_forward(tmp_path: Path) -> None:
    """The file was written by version 1 and dumped; the dump must never be made anew."""
    connection = sqlite3.connect(tmp_path / FILE)
    connection.executescript(DUMP.read_text("utf-8"))
    connection.close()
    with open_store(tmp_path) as store:
        assert version_of(store) == VERSION
        (session,) = sessions(store)
        assert (session.name, session.who, session.count) == ("first ever", "a person", 3)
        found = readings_of(store, session)
        assert found.reading.tolist() == [1e-6, 2e-6, 3e-6]
        assert found.temperature.tolist() == [297.15, 296.15, 296.15]  # the first was corrected
        assert snapshots(store, session) == ()
        with pytest.raises(sql.exc.DBAPIError, match="immutable"), store.engine.begin() as open_one:
            open_one.exec_driver_sql("DELETE FROM readings")


def test_every_step_of_a_server(new_database: Callable[[], str]) -> None:
    store, _ = _server(new_database())
    for version in range(1, VERSION + 1):
        migrate(store, upto=version)
        assert version_of(store) == version
    store.engine.dispose()


def test_a_step_that_fails_leaves_the_version_before(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with open_store(tmp_path):
        pass
    broken = (*STEPS, (("CREATE TABLE extra (id {key})", "CREATE TABLE nonsense ("), ()))
    monkeypatch.setattr("clampwright.workspace.schema.STEPS", broken)
    monkeypatch.setattr("clampwright.workspace.schema.VERSION", VERSION + 1)
    with pytest.raises(InputError, match=r"readings\.db.*refused"), open_store(tmp_path):
        pass
    connection = sqlite3.connect(tmp_path / FILE)
    there = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    latest = connection.execute("SELECT max(version) FROM schema_version").fetchone()
    connection.close()
    assert "extra" not in there and latest == (VERSION,)


def test_a_database_of_a_newer_program_is_refused(root: Path) -> None:
    with open_store(root) as store, store.writing() as connection:
        connection.exec_driver_sql(
            f"INSERT INTO schema_version (version, applied) VALUES ({VERSION + 1}, '')"
        )
    told = f"has version {VERSION + 1}, this program knows {VERSION}; use the newer program"
    with pytest.raises(InputError, match=told), open_store(root):
        pass
