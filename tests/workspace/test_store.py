"""The readings database, the same tests on SQLite and on a real PostgreSQL.

What goes in comes out unchanged, readings are never changed or deleted by any program, corrections
stand beside them, an import is all or nothing.
"""

from __future__ import annotations

import io
import threading
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
import sqlalchemy as sql
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as some

from clampwright.bench.board_readings import read_board
from clampwright.bench.columns import COLUMNS, STATES, Readings, Text, readings_from_rows
from clampwright.bench.instrument import Profile
from clampwright.bench.pretend import demo_profiles, demo_readings
from clampwright.bench.pretend_board import demo_boards
from clampwright.bench.readings import read_readings
from clampwright.bench.reduce import reduce_readings
from clampwright.errors import InputError
from clampwright.workspace import condensed
from clampwright.workspace.boards import keep_board
from clampwright.workspace.database import Store, open_store
from clampwright.workspace.exchange import export_csv, export_parquet, import_csv
from clampwright.workspace.schema import TABLES
from clampwright.workspace.store import (
    Correction,
    Session,
    Snapshot,
    append,
    correct,
    corrections,
    mark,
    marks,
    monotonic_of,
    numbered_readings,
    readings_of,
    session_named,
    sessions,
    snapshot,
    snapshots,
    start_session,
)


@pytest.fixture(scope="module")
def orchard() -> Readings:
    """An invented sitting of some hundred readings, zeros included."""
    return read_readings(demo_readings("orchard"))


def some_rows(count: int, **changes: object) -> Readings:
    row = {
        "part": "npn-small",
        "wiring": "C/B+E",
        "state": "reading",
        "reverse_voltage": 5.0,
        "temperature": 296.15,
        "light": 0.0,
        "instrument": "A1",
        **changes,
    }
    return readings_from_rows([{**row, "reading": 1e-6 * k} for k in range(1, count + 1)])


def same(one: Readings, other: Readings) -> None:
    for field in fields(Readings):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if isinstance(a, Text):
            assert a.names == b.names, field.name
            np.testing.assert_array_equal(a.codes, b.codes, field.name)
        else:
            np.testing.assert_array_equal(a, b, field.name)


def added(store: Store, readings: Readings, name: str = "monday") -> Session:
    session = start_session(store, name, who="a person")
    append(store, session, readings)
    return session


def test_what_goes_in_comes_out_unchanged(root: Path, orchard: Readings) -> None:
    with open_store(root) as store:
        added(store, orchard)
    with open_store(root) as store:
        found = readings_of(store, session_named(store, "monday"))
    same(found, orchard)


def test_reduction_is_the_same_as_from_the_file(store: Store, orchard: Readings) -> None:
    profiles: dict[str, Profile] = demo_profiles("orchard")
    session = added(store, orchard)
    from_file = reduce_readings(orchard, profiles, "monday")
    assert reduce_readings(readings_of(store, session), profiles, "monday") == from_file
    assert len(from_file) > 10


_TEXTS = some.text(
    some.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=12
)
_NUMBERS = some.floats(allow_nan=False, allow_infinity=False)


@given(
    some.lists(
        some.fixed_dictionaries(
            {
                c.field: some.one_of(some.none(), _NUMBERS)
                if c.dimension and c.field != "reading"
                else _NUMBERS
                if c.dimension
                else some.sampled_from(STATES)
                if c.field == "state"
                else _TEXTS
                for c in COLUMNS
            }
        ),
        min_size=1,
        max_size=8,
    )
)
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_readings_come_back_bit_for_bit(store: Store, rows: list[dict[str, object]]) -> None:
    readings = readings_from_rows(rows)
    session = start_session(store, f"s{len(sessions(store))}")
    append(store, session, readings)
    same(readings_of(store, session), readings)


def test_batches_go_on_where_the_last_ended(store: Store) -> None:
    session = start_session(store, "monday")
    assert [append(store, session, some_rows(n)) for n in (3, 1, 4)] == [3, 4, 8]
    assert append(store, session, some_rows(0)) == 8
    assert session_named(store, "monday").count == 8
    found = readings_of(store, session).reading * 1e6
    np.testing.assert_allclose(found, [1, 2, 3, 1, 1, 2, 3, 4])


def test_both_clocks_are_kept(store: Store) -> None:
    session = start_session(store, "monday")
    stamps = ["2026-11-25T08:00:00.000001Z", "2026-11-25T08:00:00.25Z"]
    rows = readings_from_rows(
        [{"state": "zero open", "instrument": "A1", "reading": 1e-6, "time": t} for t in stamps]
    )
    append(store, session, rows, monotonic=[123_456_789_012_345_678, 123_456_789_262_345_678])
    found = readings_of(store, session)
    assert [found.time[0], found.time[1]] == stamps, "the zone must not get lost"
    assert np.diff(monotonic_of(store, session)).tolist() == [250_000_000]


STATEMENTS = (
    "UPDATE readings SET reading = 0",
    "UPDATE readings SET temperature = 300 WHERE number = 1",
    "DELETE FROM readings WHERE number = 2",
    "DELETE FROM readings",
    "UPDATE conditions SET part = 'another'",
    "DELETE FROM conditions",
    "UPDATE sessions SET origin = 'mine'",
    "DELETE FROM sessions",
    "UPDATE corrections SET why = 'another reason'",
    "DELETE FROM corrections",
    "UPDATE marks SET words = ''",
    "DELETE FROM marks",
    "UPDATE instruments SET sheet = ''",
    "DELETE FROM instruments",
    "UPDATE board_readings SET error = 0",
    "DELETE FROM board_readings",
    "UPDATE schema_version SET version = 9",
    "DELETE FROM schema_version",
)
ONLY_SQLITE = (
    "INSERT OR REPLACE INTO readings (session, number, condition, reading, time) "
    "VALUES (1, 1, 1, 0, '')",
    "REPLACE INTO sessions (id, name, who, started, origin, conditions, source_hash) "
    "VALUES (7, 'monday', '', '', '', '', '')",
    "REPLACE INTO schema_version (version, applied) VALUES (1, '')",
)
ONLY_POSTGRESQL = (
    "TRUNCATE readings",
    "TRUNCATE sessions CASCADE",
    "INSERT INTO readings (session, number, condition, reading, time) VALUES (1, 1, 1, 0, '') "
    "ON CONFLICT (session, number) DO UPDATE SET reading = 0",
)


def test_no_program_changes_or_deletes_anything(store: Store) -> None:
    """The database itself refuses, also when somebody goes past our code."""
    session = added(store, some_rows(3))
    correct(store, session, Correction(1, 1, "temperature", "24 °C", "read again", "a person"))
    mark(store, session, "touch", "the box was opened")
    snapshot(store, session, Snapshot("A1", "id = 'A1'"))
    keep_board(store, "board", read_board(next(iter(demo_boards("orchard").values()))))
    sqlite = store.engine.dialect.name == "sqlite"
    for statement in (*STATEMENTS, *(ONLY_SQLITE if sqlite else ONLY_POSTGRESQL)):
        with (
            pytest.raises(sql.exc.DBAPIError, match="are immutable"),
            store.engine.begin() as connection,
        ):
            connection.exec_driver_sql(statement)
    told = "never changed or deleted; write a correction"
    with pytest.raises(InputError, match=told), store.writing() as connection:
        connection.exec_driver_sql(STATEMENTS[0])
    same(readings_of(store, session, corrected=False), some_rows(3))
    assert {t.name for t in TABLES} == {s.split()[2] for s in STATEMENTS if "DELETE" in s} - {
        "schema_version"
    }, "a table without its triggers tested"


def test_many_rows_at_once_leave_the_same_protection(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also after a batch that fails half-way: the trigger is back with everything else."""
    monkeypatch.setattr(condensed, "MANY", 4)
    with open_store(root) as store:
        session = added(store, some_rows(9))
        with pytest.raises(ZeroDivisionError), store.writing() as connection:
            append(store, session, some_rows(9), connection=connection)
            _ = 1 / 0
        taken = condensed.condensed(some_rows(9))
        with pytest.raises(InputError), store.writing() as connection:
            condensed.insert_readings(connection, session.id, 5, taken, None)
        assert session_named(store, session.name).count == 9
        if store.engine.dialect.name == "sqlite":
            with pytest.raises(InputError, match="never changed"), store.writing() as connection:
                connection.exec_driver_sql(
                    "INSERT OR REPLACE INTO readings SELECT * FROM readings WHERE number = 9"
                )


def test_corrections_stand_beside_the_readings(store: Store) -> None:
    session = added(store, some_rows(6))
    for one in (
        Correction(2, 3, "temperature", "25 °C", "thermometer was off", "me"),
        Correction(3, 3, "temperature", "26 °C", "and off again", "me"),
        Correction(1, 2, "part", "npn-other", "the other one was fitted", "me"),
        Correction(5, 6, "excluded", "true", "the cable was touched", "me"),
        Correction(6, 6, "excluded", "false", "it was not", "me"),
    ):
        correct(store, session, one)
    numbers, found = numbered_readings(store, session)
    assert numbers.tolist() == [1, 2, 3, 4, 6]
    np.testing.assert_allclose(found.temperature - 273.15, [23, 25, 26, 23, 23])
    assert [found.part[k] for k in range(5)] == ["npn-other"] * 2 + ["npn-small"] * 3
    np.testing.assert_allclose(found.reading * 1e6, [1, 2, 3, 4, 6])
    same(readings_of(store, session, corrected=False), some_rows(6))
    assert corrections(store, session)[0].why == "thermometer was off"
    assert all(c.made.endswith("Z") for c in corrections(store, session))


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (Correction(1, 1, "temperature", "25 °C", " ", "me"), "must say why"),
        (Correction(1, 1, "reading", "3 µV", "looks better", "me"), "cannot be corrected"),
        (Correction(1, 1, "excluded", "maybe", "?", "me"), "neither true nor false"),
        (Correction(1, 1, "state", "zero", "?", "me"), "unknown state"),
        (Correction(1, 1, "temperature", "25", "?", "me"), "unit"),
        (Correction(0, 1, "part", "x", "?", "me"), "expected numbers from 1 to 6"),
        (Correction(3, 2, "part", "x", "?", "me"), "expected numbers from 1 to 6"),
        (Correction(6, 7, "part", "x", "?", "me"), "expected numbers from 1 to 6"),
    ],
)
def test_corrections_that_are_refused(store: Store, wrong: Correction, told: str) -> None:
    session = added(store, some_rows(6))
    with pytest.raises(InputError, match=told):
        correct(store, session, wrong)
    assert corrections(store, session) == ()


def test_marks_stand_between_readings(store: Store) -> None:
    session = start_session(store, "monday")
    mark(store, session, "note", "warming up")
    append(store, session, some_rows(2))
    mark(store, session, "cable", "pulled")
    assert [(m.after, m.kind, m.words) for m in marks(store, session)] == [
        (0, "note", "warming up"),
        (2, "cable", "pulled"),
    ]
    with pytest.raises(InputError, match=r"no kind of mark; expected touch \| light"):
        mark(store, session, "lunch")


def test_instruments_are_kept_as_they_were(store: Store) -> None:
    session = start_session(store, "monday")
    snapshot(store, session, Snapshot("A1", "scale = '1 mV/nA'", "Maker,Model,1,2"))
    snapshot(store, session, Snapshot("A1", "scale = '1.02 mV/nA'"))
    found = snapshots(store, session)
    assert [s.sheet for s in found] == ["scale = '1 mV/nA'", "scale = '1.02 mV/nA'"]
    assert found[0].taken.endswith("Z")


@pytest.mark.parametrize("name", ["", " a", "a/b", "../up", "x" * 101, "tab\t", "-x"])
def test_names_that_are_refused(store: Store, name: str) -> None:
    with pytest.raises(InputError, match="cannot name a session"):
        start_session(store, name)


def test_a_name_stands_for_one_session(store: Store) -> None:
    start_session(store, "monday")
    with pytest.raises(InputError, match='there is a session "monday" already; choose another'):
        start_session(store, "monday")
    with pytest.raises(InputError, match='no session "tuesday"; expected monday'):
        session_named(store, "tuesday")


def test_a_batch_given_twice_is_there_once(store: Store) -> None:
    """The acknowledgement got lost, so the same readings are given again."""
    session = start_session(store, "monday")
    clock = [10, 20, 30]
    assert append(store, session, some_rows(3), monotonic=clock, after=0) == 3
    assert append(store, session, some_rows(3), monotonic=clock, after=0) == 3
    assert session_named(store, "monday").count == 3
    with pytest.raises(InputError, match="another program writes to the session monday"):
        append(store, session, some_rows(3), monotonic=[40, 50, 60], after=0)
    assert append(store, session, some_rows(1), monotonic=[70], after=3) == 4


def test_two_benches_write_at_once(root: Path) -> None:
    def write(name: str) -> None:
        with open_store(root) as store:
            session = start_session(store, name)
            for _ in range(20):
                append(store, session, some_rows(3))

    threads = [threading.Thread(target=write, args=(f"bench {k}",)) for k in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with open_store(root) as store:
        assert {s.name: s.count for s in sessions(store)} == {f"bench {k}": 60 for k in range(3)}


SPELLINGS: Sequence[bytes] = (
    "part,wiring,state,reverse voltage (V),temperature (°C),light (lx),instrument,reading (mV)\n"
    "d1,K/A,zero open,,,,A1,0.01\nd1,K/A,reading,5,23.5,0,A1,3.25\n".encode(),
    "\ufeffpart;wiring;state;reverse voltage;temperature;light;instrument;reading\r\n"
    'd1;K/A;"zero open";;;;A1;10 µV\r\nd1;K/A;reading;5 V;23,5 °C;0 lx;A1;3,25 mV\r\n'.encode(),
)


@pytest.mark.parametrize("data", SPELLINGS)
def test_import_and_export_of_csv(store: Store, data: bytes) -> None:
    made = import_csv(
        store, data, "day.csv", session="day", who="me", sheets={"A1": "x", "A2": "y"}
    )
    assert (made.name, made.count, made.who, len(made.source_hash)) == ("day", 2, "me", 64)
    found = readings_of(store, made)
    np.testing.assert_allclose(found.reading, [10e-6, 3.25e-3])
    np.testing.assert_allclose(found.temperature, [np.nan, 296.65])
    assert [s.instrument for s in snapshots(store, made)] == ["A1"], "only those that are named"
    again = read_readings(export_csv(store, made))
    np.testing.assert_allclose(again.reading, found.reading, rtol=1e-12)  # twelve digits
    np.testing.assert_array_equal(again.temperature, found.temperature)
    assert [again.state[k] for k in range(2)] == ["zero open", "reading"]


def test_a_wrong_line_imports_nothing_and_is_named(store: Store) -> None:
    lines = SPELLINGS[0].decode().replace("3.25", "3.x5")
    with pytest.raises(
        InputError, match=r'day\.csv: line 3, column "reading".*nothing was imported'
    ):
        import_csv(store, lines.encode(), "day.csv", session="day")
    assert sessions(store) == ()


def test_a_file_is_imported_once(store: Store) -> None:
    import_csv(store, SPELLINGS[0], "day.csv", session="day")
    with pytest.raises(InputError, match='there already as session "day"'):
        import_csv(store, SPELLINGS[0], "copy.csv", session="copy")
    assert [s.name for s in sessions(store)] == ["day"]


def test_parquet_as_another_library_reads_it(store: Store, orchard: Readings) -> None:
    parquet = pytest.importorskip("pyarrow.parquet")
    session = added(store, orchard)
    table = parquet.read_table(io.BytesIO(export_parquet(store, session)))
    assert table.num_rows == len(orchard)
    assert table.column_names[3:6] == ["reverse voltage (V)", "temperature (K)", "light (lx)"]
    np.testing.assert_array_equal(table["reading (V)"].to_numpy(), orchard.reading)
    blank = np.isnan(orchard.temperature)
    assert table["temperature (K)"].null_count == blank.sum() > 0
    assert table["part"].to_pylist() == [orchard.part[k] for k in range(len(orchard))]
    assert table.schema.metadata[b"session"] == b"monday"
