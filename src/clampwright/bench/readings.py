"""Readings in and out as CSV: strict about meaning, easy about spelling, all or nothing.

Comma, semicolon or tab; decimal point or comma; units in the header or in the cells; byte order
mark; any line ending; quoted cells; UTF-8 or, failing that, Latin-1. A million rows take seconds:
whole columns are turned into numbers at once and single cells are looked at only where that fails.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from itertools import islice
from typing import Any

import numpy as np

from clampwright.bench.cells import NumberReader, TextReader
from clampwright.bench.columns import COLUMNS, NEEDED, STATES, Column, Readings, text_column
from clampwright.bench.header import Header, read_header
from clampwright.errors import InputError

ROWS_AT_ONCE = 512  # stays in the processor's cache, and fewer lists than wake the collector
MOST_PROBLEMS = 5  # named in one message
NOTHING_IMPORTED = "nothing was imported: mend the file and read it again"

Problem = tuple[int, str, str]  # data row, column, what is wrong


def read_readings(data: bytes | str, name: str = "readings") -> Readings:
    """Readings from the text or bytes of a CSV file called `name`.

    Columns (any order, units in the header or in every cell): part, wiring, state, reverse voltage,
    temperature, light, lamp, instrument, reading, and optional lamp, humidity, time, note.
    Raises InputError naming file, line and column of at most five problems.
    """
    text = _decoded(data, name)
    header = read_header(text, name)
    problems: list[Problem] = []
    columns = _columns(text, header, name, problems)
    if not problems and columns:
        problems = _missing(columns)
    if problems:
        raise _refused(text, header, name, problems)
    if not columns:
        raise InputError(
            "a header but no readings", where=name, expected="one line for each reading"
        )
    return Readings(**columns)


def write_readings(readings: Readings) -> str:
    """CSV text that `read_readings` gives back unchanged: comma, decimal point, units in header."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([f"{c.name} ({c.unit})" if c.unit else c.name for c in COLUMNS])
    for row in readings.rows():
        writer.writerow([_written(column, row[column.field]) for column in COLUMNS])
    return out.getvalue()


def _written(column: Column, value: Any) -> str:
    if column.dimension is None or value is None:
        return value or ""
    zero = 273.15 if column.dimension == "temperature" else 0.0
    return f"{(value - zero) / column.size:.12g}"


def _decoded(data: bytes | str, name: str) -> str:
    if isinstance(data, bytes):
        if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
            raise InputError("the file is UTF-16 text", where=name, mend="save it as UTF-8")
        if (at := data.find(b"\0")) >= 0:
            line = data.count(b"\n", 0, at) + 1
            raise InputError(
                f"line {line} holds a NUL byte", where=name, mend="save the file as plain text"
            )
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("latin-1")
    else:
        text = data.removeprefix("\ufeff")
        if (at := text.find("\0")) >= 0:
            line = text.count("\n", 0, at) + 1
            raise InputError(f"line {line} holds a NUL character", where=name)
    if not text.strip():
        raise InputError("the file is empty", where=name, expected="a header and readings")
    return text


def _data_rows(text: str, header: Header) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of every data row that is not blank (slow: used to name problems)."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=header.delimiter, strict=True)
    line = 1
    for number, row in enumerate(reader):
        if number > header.row and any(row):
            yield line, row
        line = reader.line_num + 1


def _chunks(text: str, header: Header, name: str) -> Iterator[list[list[str]]]:
    """Rows after the header, some thousands at a time."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=header.delimiter, strict=True)
    try:
        for _ in range(header.row + 1):
            next(reader)
        while rows := list(islice(reader, ROWS_AT_ONCE)):
            yield rows
    except csv.Error as error:
        raise InputError(
            f"cells cannot be told apart ({error})",
            where=f"{name}, line {reader.line_num}",
            mend="look for a quotation mark that is never closed",
        ) from None


def _columns(text: str, header: Header, name: str, problems: list[Problem]) -> dict[str, Any]:
    """Field → column of the whole file; empty when there are no rows; fills `problems`."""
    numbers = {
        field: NumberReader(column, header.units[field], header.delimiter, name)
        for field, (column, _) in header.places.items()
        if column.dimension
    }
    texts = {
        field: TextReader(field == "state")
        for field, (column, _) in header.places.items()
        if not column.dimension
    }
    start = 0
    for chunk in _chunks(text, header, name):
        rows = _squared([row for row in chunk if any(row)], header.width, start, problems)
        cells = list(zip(*rows, strict=True)) if rows else [()] * header.width
        for field, (column, place) in header.places.items():
            if column.dimension:
                for row, wrong in numbers[field].take(cells[place]):
                    problems.append((start + row, column.name, wrong))
            else:
                texts[field].take(cells[place])
        start += len(rows)
        if len(problems) >= MOST_PROBLEMS:
            break
    for reader_of_column in numbers.values():
        problems += [(r, reader_of_column.column.name, w) for r, w in reader_of_column.mixed()]
    if not start:
        return {}
    made: dict[str, Any] = {field: number.column_array() for field, number in numbers.items()}
    made |= {field: text.column() for field, text in texts.items()}
    return made | _absent(made, start)


def _absent(made: dict[str, Any], count: int) -> dict[str, Any]:
    """Columns that the file does not have."""
    return {
        c.field: np.full(count, np.nan) if c.dimension else text_column([""] * count)
        for c in COLUMNS
        if c.field not in made
    }


def _squared(
    rows: list[list[str]], width: int, start: int, problems: list[Problem]
) -> list[list[str]]:
    """Rows of `width` cells; blank cells too many are cut, other lengths become problems."""
    if set(map(len, rows)) <= {width}:
        return rows
    square = []
    for number, row in enumerate(rows):
        if len(row) < width or any(row[width:]):
            wrong = f"{len(row)} cells where the header has {width}"
            hint = "" if len(row) < width else " (a decimal comma needs quotes, or semicolons)"
            problems.append((start + number, "", wrong + hint))
        square.append((row + [""] * width)[:width])
    return square


def _missing(columns: dict[str, Any]) -> list[Problem]:
    """Cells a row of its state cannot do without, and states we do not know."""
    state = columns["state"]
    problems: list[Problem] = []
    for name in state.names:
        if name not in STATES:
            row = int(np.argmax(state.is_(name)))
            wrong = f'"{name}"' if name else "an empty cell"
            problems.append((row, "state", f"{wrong}, expected {' | '.join(STATES)}"))
    titles = {column.field: column.name for column in COLUMNS}
    for field, rows in [("instrument", None), ("reading", None)] + [
        (field, state.is_(name)) for name, fields in NEEDED.items() for field in fields
    ]:
        column = columns[field]
        blank = np.isnan(column) if isinstance(column, np.ndarray) else column.is_("")
        at = np.flatnonzero(blank if rows is None else blank & rows)[:MOST_PROBLEMS]
        problems += [(int(row), titles[field], f"the {titles[field]} is missing") for row in at]
    return problems


def _refused(text: str, header: Header, name: str, problems: list[Problem]) -> InputError:
    """The error for these problems, each with the line on which it stands."""
    problems = sorted(set(problems))
    wanted = {row for row, _, _ in problems[:MOST_PROBLEMS]}
    lines: dict[int, int] = {}
    for row, (line, _) in enumerate(_data_rows(text, header)):
        if row in wanted:
            lines[row] = line
        if len(lines) == len(wanted):
            break
    told = [
        f"line {lines[row]}" + (f', column "{column}": ' if column else ": ") + wrong
        for row, column, wrong in problems[:MOST_PROBLEMS]
    ]
    more = "; and more" if len(problems) >= MOST_PROBLEMS else ""
    return InputError("; ".join(told) + more, where=name, mend=NOTHING_IMPORTED)


__all__ = ["read_readings", "write_readings"]
