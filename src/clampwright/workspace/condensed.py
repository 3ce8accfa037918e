"""Readings as database rows: what many share is stored once, so that a million rows take seconds.

A row holds number, temperature, reading, humidity and time; part, wiring, state, voltage, light,
lamp, instrument and note stand once for all rows that agree in them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import sqlalchemy as sql
from numpy.typing import NDArray

from clampwright.bench.columns import Readings, Text
from clampwright.workspace.schema import CONDITIONS, READINGS, many_new_rows

SHARED_TEXTS = ("part", "wiring", "state", "lamp", "instrument", "note")
SHARED_NUMBERS = ("reverse_voltage", "light")
OWN_NUMBERS = ("temperature", "reading", "humidity")
MANY = 10_000  # new rows at once, for which SQLite's own check of the key is enough
TOGETHER = 100  # rows in one statement: a third quicker than one by one
STATEMENTS = 100  # with their values handed over at once
LARGEST_CODE = 2**62

_Numbers = NDArray[np.float64]
_Codes = NDArray[np.int64]


@dataclass(frozen=True)
class Condensed:
    """Readings with the conditions they share: row k was taken under `conditions[codes[k]]`."""

    conditions: list[dict[str, Any]]
    codes: _Codes
    readings: Readings


def condensed(readings: Readings) -> Condensed:
    """Find the conditions that rows share."""
    codes = [getattr(readings, field).codes for field in SHARED_TEXTS]
    for field in SHARED_NUMBERS:
        codes.append(np.unique(getattr(readings, field), return_inverse=True)[1])
    _, first, shared = np.unique(_joined(codes), return_index=True, return_inverse=True)
    conditions = [
        {field: getattr(readings, field)[int(row)] for field in SHARED_TEXTS}
        | {field: _plain(getattr(readings, field)[int(row)]) for field in SHARED_NUMBERS}
        for row in first
    ]
    return Condensed(conditions, shared.astype(np.int64), readings)


def insert_readings(
    connection: sql.Connection,
    session: int,
    first: int,
    rows: Condensed,
    monotonic: Sequence[int] | None,
) -> None:
    """Insert rows numbered from `first` in an open transaction."""
    ids = _condition_ids(connection, session, rows.conditions)
    readings = rows.readings
    time = readings.time.names
    columns = (
        [session] * len(readings),
        list(range(first, first + len(readings))),
        np.array(ids, np.int64)[rows.codes].tolist(),
        *(_cells(getattr(readings, field)) for field in OWN_NUMBERS),
        [time[code] for code in readings.time.codes.tolist()],
        list(monotonic) if monotonic is not None else [None] * len(readings),
    )
    if connection.dialect.name == "postgresql":
        _copy(connection, columns)
    elif len(readings) < MANY:
        _insert(connection, columns)
    else:
        with many_new_rows(connection, READINGS.name):
            _insert(connection, columns)


def _copy(connection: sql.Connection, columns: Sequence[list[Any]]) -> None:
    names = ", ".join(READINGS.c.keys())
    driver: Any = connection.connection.driver_connection
    refused: Any = connection.dialect.loaded_dbapi.Error
    statement = f"COPY readings ({names}) FROM STDIN"
    try:
        with driver.cursor() as cursor, cursor.copy(statement) as copy:
            for row in zip(*columns, strict=True):
                copy.write_row(row)
    except refused as error:  # past SQLAlchemy, so it must be told as SQLAlchemy tells it
        raise sql.exc.DBAPIError(statement, None, error) from None


def _insert(connection: sql.Connection, columns: Sequence[list[Any]]) -> None:
    """Insert whole columns: a list of all cells, row by row, is cut into statements' worth."""
    width, count = len(columns), len(columns[0])
    cells: list[Any] = [None] * (width * count)
    for place, column in enumerate(columns):
        cells[place::width] = column
    size = width * TOGETHER
    whole = count // TOGETHER * size
    for first in range(0, whole, size * STATEMENTS):
        end = min(first + size * STATEMENTS, whole)
        together = [tuple(cells[k : k + size]) for k in range(first, end, size)]
        connection.exec_driver_sql(_insertion(connection, TOGETHER), together)
    if rest := [tuple(cells[k : k + width]) for k in range(whole, len(cells), width)]:
        connection.exec_driver_sql(_insertion(connection, 1), rest)


def _insertion(connection: sql.Connection, rows: int) -> str:
    statement = str(sql.insert(READINGS).compile(dialect=connection.dialect))
    head, values = statement.split(" VALUES ")
    return f"{head} VALUES {', '.join([values] * rows)}"


def _condition_ids(
    connection: sql.Connection, session: int, conditions: Sequence[dict[str, Any]]
) -> list[int]:
    """Ids of conditions, those of the session used again."""
    fields = (*SHARED_TEXTS, *SHARED_NUMBERS)
    columns = [CONDITIONS.c[field] for field in fields]
    query = sql.select(CONDITIONS.c.id, *columns).where(CONDITIONS.c.session == session)
    known = {tuple(row[1:]): int(row[0]) for row in connection.execute(query)}
    ids = []
    for condition in conditions:
        key = tuple(condition[field] for field in fields)
        if key not in known:
            insert = sql.insert(CONDITIONS).values(**condition, session=session)
            known[key] = int(connection.execute(insert.returning(CONDITIONS.c.id)).scalar_one())
        ids.append(known[key])
    return ids


class Columns:
    """Columns of a session read back, changeable by corrections before they become `Readings`."""

    def __init__(
        self, numbers: dict[str, _Numbers], texts: dict[str, tuple[_Codes, list[str]]]
    ) -> None:
        """numbers, texts : by field; a text column is codes into a list of names."""
        self.numbers = numbers
        self.texts = texts
        self.count = len(numbers["reading"])
        self.kept = np.ones(self.count, bool)

    def change(self, first: int, last: int, field: str, value: bool | float | str) -> None:
        """Apply one correction to rows `first`…`last`, counted from 1."""
        rows = slice(first - 1, last)
        if isinstance(value, bool):
            self.kept[rows] = not value
        elif isinstance(value, str):
            codes, names = self.texts[field]
            codes[rows] = len(names)
            names.append(value)
        else:
            self.numbers[field][rows] = value

    def readings(self) -> Readings:
        """The rows that are kept, read-only, as the reduction takes them."""
        made: dict[str, Any] = {}
        for field, numbers in self.numbers.items():
            made[field] = numbers[self.kept]
            made[field].flags.writeable = False
        for field, (codes, names) in self.texts.items():
            made[field] = _tidy(codes[self.kept], names)
        return Readings(**made)


def expanded(connection: sql.Connection, session: int) -> Columns:
    """Columns of a session, in the order of its rows."""
    wanted = sql.select(CONDITIONS).where(CONDITIONS.c.session == session)
    conditions = connection.execute(wanted.order_by(CONDITIONS.c.id)).mappings().all()
    own = [READINGS.c[field] for field in ("condition", *OWN_NUMBERS, "time")]
    query = sql.select(*own).where(READINGS.c.session == session).order_by(READINGS.c.number)
    rows = connection.execute(query).cursor.fetchall()  # plain tuples: half the time of named rows
    cells: list[Any] = list(zip(*rows, strict=True)) if rows else [()] * len(own)
    ids = np.array([c["id"] for c in conditions], np.int64)
    at = np.searchsorted(ids, np.array(cells[0], np.int64))
    numbers = {
        field: np.array(cells[1 + place], float)  # None becomes NaN
        for place, field in enumerate(OWN_NUMBERS)
    }
    for field in SHARED_NUMBERS:
        numbers[field] = np.array([c[field] for c in conditions], float)[at]
    texts = {
        field: (at.astype(np.int64), [str(c[field]) for c in conditions]) for field in SHARED_TEXTS
    }
    texts["time"] = (np.arange(len(rows), dtype=np.int64), list(cells[-1]))
    return Columns(numbers, texts)


def _tidy(codes: _Codes, names: Sequence[str]) -> Text:
    """The same text column with every name once, in order of appearance."""
    used, first = np.unique(codes, return_index=True)
    table: dict[str, int] = {}
    fresh = np.zeros(len(names), np.int64)
    for code in used[np.argsort(first)].tolist():
        fresh[code] = table.setdefault(names[code], len(table))
    codes = fresh[codes]
    codes.flags.writeable = False
    return Text(codes, tuple(table))


def _joined(columns: Sequence[_Codes]) -> _Codes:
    """One whole number for each row, equal where all columns are."""
    key, size = np.zeros(len(columns[0]), np.int64), 1
    for codes in columns:
        width = int(codes.max()) + 1
        if size * width > LARGEST_CODE:
            key = np.unique(key, return_inverse=True)[1].astype(np.int64)
            size = int(key.max()) + 1
        key = key * width + codes
        size *= width
    return key


def _cells(values: _Numbers) -> list[float | None]:
    blank = np.isnan(values)
    if blank.all():
        return [None] * len(values)
    cells: list[float | None] = values.tolist()
    for row in np.flatnonzero(blank).tolist():
        cells[row] = None
    return cells


def _plain(value: float) -> float | None:
    return None if value != value else float(value)


__all__ = ["Columns", "Condensed", "condensed", "expanded", "insert_readings"]
