"""The header of a file of readings: which separator, which columns, which units."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches

from clampwright.bench.columns import Column
from clampwright.errors import InputError

DELIMITERS = (",", ";", "\t")
LONGEST_HEADER = 20_000  # characters looked at
_CELL = re.compile(r"(?P<name>[^(\[]*?)\s*(?:[(\[]\s*(?P<unit>[^)\]]*?)\s*[)\]])?")


@dataclass(frozen=True)
class Header:
    """Where each field stands, the unit its header gives ("" where cells carry it)."""

    delimiter: str
    row: int  # index of the header among the rows of the file (blank lines may precede it)
    width: int
    places: dict[str, tuple[Column, int]]
    units: dict[str, str]


def read_header(text: str, name: str, columns: Sequence[Column]) -> Header:
    """Find the separator and the columns; InputError with "did you mean" for what is not known."""
    known = {column.name: column for column in columns}
    row, delimiter, cells = max(
        (_first_row(text, delimiter) for delimiter in DELIMITERS),
        key=lambda candidate: _recognised(candidate[2], known),
    )
    while cells and not cells[-1].strip():
        cells.pop()
    places: dict[str, tuple[Column, int]] = {}
    units: dict[str, str] = {}
    problems: list[str] = []
    for place, cell in enumerate(cells):
        title, unit = _split(cell)
        column = known.get(title)
        if column is None:
            problems.append(_unknown(title, place, known))
        elif column.field in places:
            problems.append(f'column "{title}" stands twice')
        else:
            places[column.field] = (column, place)
            units[column.field] = unit
    missing = [c.name for c in columns if c.required and c.field not in places]
    problems += [f'column "{title}" is missing' for title in missing]
    if problems:
        raise InputError(
            "; ".join(problems[:5]),
            where=f"{name}, header",
            expected="columns " + ", ".join(c.name for c in columns),
        )
    return Header(delimiter, row, len(cells), places, units)


def _first_row(text: str, delimiter: str) -> tuple[int, str, list[str]]:
    reader = csv.reader(io.StringIO(text[:LONGEST_HEADER], newline=""), delimiter=delimiter)
    try:
        for number, row in enumerate(reader):
            if any(cell.strip() for cell in row):
                return number, delimiter, row
    except csv.Error:
        pass
    return 0, delimiter, []


def _recognised(cells: Sequence[str], known: Mapping[str, Column]) -> int:
    return sum(_split(cell)[0] in known for cell in cells)


def _split(cell: str) -> tuple[str, str]:
    """Column name in lower case with single spaces, and unit."""
    match = _CELL.fullmatch(cell.strip())
    if match is None:
        return cell.strip().lower(), ""
    name = " ".join(match["name"].lower().replace("_", " ").split())
    return name, match["unit"] or ""


def _unknown(title: str, place: int, known: Mapping[str, Column]) -> str:
    if not title:
        return f"column {place + 1} has no name"
    close = get_close_matches(title, list(known), n=1, cutoff=0.55)
    return f'there is no column "{title}"' + (f', did you mean "{close[0]}"?' if close else "")


__all__ = ["DELIMITERS", "Header", "read_header"]
