"""Readings as columns: what one reading holds, and which columns a file of readings has.

Text columns are kept as codes into a list of names, because a million readings name only a handful
of parts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError

STATES = ("reading", "zero open", "zero fixture", "zero part-fitted")


@dataclass(frozen=True)
class Column:
    """One column: its name in a file, the kind of number (None for text), whether it must exist."""

    name: str
    field: str
    dimension: str | None
    required: bool
    unit: str = ""  # in which we write it
    size: float = 1.0  # of that unit in SI


COLUMNS = (
    Column("part", "part", None, True),
    Column("wiring", "wiring", None, True),
    Column("state", "state", None, True),
    Column("reverse voltage", "reverse_voltage", "voltage", True, "V"),
    Column("temperature", "temperature", "temperature", False, "°C"),
    Column("light", "light", "illuminance", True, "lx"),
    Column("lamp", "lamp", None, False),
    Column("instrument", "instrument", None, True),
    Column("reading", "reading", "voltage", True, "µV", 1e-6),
    Column("humidity", "humidity", "ratio", False, "%", 0.01),
    Column("time", "time", None, False),
    Column("note", "note", None, False),
)

THERMOMETERS = (
    Column("pt100", "pt100", "resistance", False, "Ω"),
    Column("type k", "type_k", "voltage", False, "µV", 1e-6),
    Column("cold junction", "cold_junction", "temperature", False, "°C"),
)
"""What may be written instead of a temperature; it becomes one where it is read."""

NEEDED = {
    "reading": ("part", "wiring", "reverse_voltage", "temperature", "light"),
    "zero fixture": ("reverse_voltage",),
    "zero part-fitted": ("part", "wiring"),
}
"""State → fields a row of that state cannot do without, besides instrument and reading."""


@dataclass(frozen=True)
class Text:
    """A text column: row k reads `names[codes[k]]`."""

    codes: NDArray[np.int64]
    names: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.codes)

    def __getitem__(self, row: int) -> str:
        return self.names[int(self.codes[row])]

    def is_(self, name: str) -> NDArray[np.bool_]:
        """Rows that read `name`."""
        if name not in self.names:
            return np.zeros(len(self.codes), bool)
        return np.asarray(self.codes == self.names.index(name), bool)


@dataclass(frozen=True)
class Readings:
    """Raw readings in file order, SI (volts, kelvin, lux, humidity as a ratio).

    Numbers that were not written are NaN: temperature, light and reverse voltage of zero readings,
    and humidity. `reverse_voltage` is negative when the junction is forward biased. `reading` is
    what the meter showed, never corrected.
    """

    part: Text
    wiring: Text
    state: Text
    reverse_voltage: NDArray[np.float64]
    temperature: NDArray[np.float64]
    light: NDArray[np.float64]
    lamp: Text
    instrument: Text
    reading: NDArray[np.float64]
    humidity: NDArray[np.float64]
    time: Text
    note: Text

    def __len__(self) -> int:
        return len(self.reading)

    def rows(self) -> Iterator[dict[str, Any]]:
        """Each reading as field → plain value (None where nothing was written)."""
        names = [f.name for f in fields(self)]
        plain = [_plain(getattr(self, name)) for name in names]
        for values in zip(*plain, strict=True):
            yield dict(zip(names, values, strict=True))


def readings_from_rows(rows: Sequence[Mapping[str, Any]]) -> Readings:
    """Readings from field → value mappings (as `Readings.rows` gives, or a database)."""
    columns: dict[str, Any] = {}
    for column in COLUMNS:
        values = [row.get(column.field) for row in rows]
        if column.dimension is None:
            columns[column.field] = text_column(["" if v is None else str(v) for v in values])
        else:
            numbers = np.array([np.nan if v is None else v for v in values], float)
            numbers.flags.writeable = False
            columns[column.field] = numbers
    unknown = set(columns["state"].names) - set(STATES)
    if unknown:
        raise InputError(f"unknown state {min(unknown)!r}", expected=" | ".join(STATES))
    return Readings(**columns)


def chosen(readings: Readings, rows: NDArray[np.bool_]) -> Readings:
    """Only the readings where `rows` is true, in the same order."""
    made: dict[str, Any] = {}
    for f in fields(readings):
        column = getattr(readings, f.name)
        if isinstance(column, Text):
            made[f.name] = Text(column.codes[rows], column.names)
        else:
            made[f.name] = column[rows]
    return Readings(**made)


def text_column(cells: Sequence[str]) -> Text:
    """Codes and names of a column of texts, names in order of appearance."""
    names = tuple(dict.fromkeys(cells))
    if len(names) == len(cells):  # times differ from row to row
        codes = np.arange(len(cells), dtype=np.int64)
    else:
        table = {name: code for code, name in enumerate(names)}
        codes = np.fromiter(map(table.__getitem__, cells), np.int64, len(cells))
    codes.flags.writeable = False
    return Text(codes, names)


def _plain(column: Text | NDArray[np.float64]) -> list[Any]:
    if isinstance(column, Text):
        return [column.names[code] for code in column.codes.tolist()]
    return [None if value != value else value for value in column.tolist()]


__all__ = [
    "COLUMNS",
    "NEEDED",
    "STATES",
    "THERMOMETERS",
    "Column",
    "Readings",
    "Text",
    "chosen",
    "readings_from_rows",
    "text_column",
]
