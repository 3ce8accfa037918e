"""A table of quantities from CSV text: strict about meaning, easy about spelling, all or nothing.

Comma, semicolon or tab; decimal point or comma; units in the header or in the cells; byte order
mark; any line ending; quoted cells; UTF-8 or, failing that, Latin-1. A million rows take seconds:
whole columns are turned into numbers at once and single cells are looked at only where that fails.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from typing import Any

import numpy as np

from clampwright.bench.blocks import block
from clampwright.bench.cells import NumberReader, TextReader
from clampwright.bench.columns import Column, text_column
from clampwright.bench.header import Header, read_header
from clampwright.errors import InputError
from clampwright.quantities import ZERO_CELSIUS

ROWS_AT_ONCE = 512  # stays in the processor's cache, and fewer lists than wake the collector
MOST_PROBLEMS = 5  # named in one message
NOTHING_IMPORTED = "nothing was imported: mend the file and read it again"

Problem = tuple[int, str, str]  # data row, column, what is wrong


Check = Callable[[dict[str, Any]], list[Problem]]


def read_table(
    data: bytes | str,
    name: str,
    columns: Sequence[Column],
    check: Check,
    row_words: str = "one line for each reading",
) -> dict[str, Any]:
    """Field → column (array in SI with NaN for blank cells, or `Text`) of a CSV file called `name`.

    columns : those the file may have, in any order, units in the header or in every cell
    check : finds what is wrong with cells that could be read; row_words : what the lines should be
    Raises InputError naming file, line and column of at most five problems.
    """
    text = _decoded(data, name)
    header = read_header(text, name, columns)
    problems: list[Problem] = []
    made = _quickly(text, header, name) or _carefully(text, header, name, problems)
    if made:
        made |= _absent(made, columns)
        problems = problems or check(made)
    if problems:
        raise _refused(text, header, name, problems)
    if not made:
        raise InputError("a header but no readings", where=name, expected=row_words)
    return made


def write_table(rows: Iterator[dict[str, Any]], columns: Sequence[Column]) -> str:
    """CSV text that `read_table` gives back unchanged: comma, decimal point, units in header."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([f"{c.name} ({c.unit})" if c.unit else c.name for c in columns])
    for row in rows:
        writer.writerow([_written(column, row[column.field]) for column in columns])
    return out.getvalue()


def _written(column: Column, value: Any) -> str:
    if column.dimension is None or value is None:
        return value or ""
    zero = ZERO_CELSIUS if column.dimension == "temperature" else 0.0
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


_Readers = dict[str, NumberReader | TextReader]


def _readers(header: Header, name: str) -> _Readers:
    return {
        field: NumberReader(column, header.units[field], header.delimiter, name)
        if column.dimension
        else TextReader(field == "state")
        for field, (column, _) in header.places.items()
    }


def _quickly(text: str, header: Header, name: str) -> dict[str, Any] | None:
    """Every column of a file of plain equal lines without a problem, or None."""
    found = block(text, header.delimiter, header.row, header.width)
    if found is None:
        return None
    readers = _readers(header, name)
    for field, (_, place) in header.places.items():
        reader = readers[field]
        for cells, counts in found.runs(place):
            if reader.take(cells, counts):
                return None
        if reader.mixed():
            return None
    return {field: reader.made() for field, reader in readers.items()}


def _carefully(text: str, header: Header, name: str, problems: list[Problem]) -> dict[str, Any]:
    """Every column of a file line by line; empty when there are no rows; fills `problems`."""
    readers = _readers(header, name)
    start = 0
    for chunk in _chunks(text, header, name):
        rows = _squared([row for row in chunk if any(row)], header.width, start, problems)
        cells = list(zip(*rows, strict=True)) if rows else [()] * header.width
        for field, (column, place) in header.places.items():
            for row, wrong in readers[field].take(cells[place]):
                problems.append((start + row, column.name, wrong))
        start += len(rows)
        if len(problems) >= MOST_PROBLEMS:
            break
    for field, reader in readers.items():
        name_of = header.places[field][0].name
        problems += [(row, name_of, wrong) for row, wrong in reader.mixed()]
    return {field: reader.made() for field, reader in readers.items()} if start else {}


def _absent(made: dict[str, Any], columns: Sequence[Column]) -> dict[str, Any]:
    """Columns that the file does not have."""
    count = len(next(iter(made.values())))
    return {
        c.field: np.full(count, np.nan) if c.dimension else text_column([""] * count)
        for c in columns
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


def blank_rows(column: Any) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Rows in which a column says nothing."""
    return np.isnan(column) if isinstance(column, np.ndarray) else column.is_("")


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


__all__ = ["MOST_PROBLEMS", "Problem", "blank_rows", "read_table", "write_table"]
