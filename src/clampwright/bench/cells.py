"""Cells of a file of readings: whole columns to numbers at once, single cells only where needed."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from clampwright.bench.columns import Column, Text
from clampwright.errors import InputError
from clampwright.quantities import DIMENSIONS, read
from clampwright.quantities.plausible import PLAUSIBLE, plausible

CellProblem = tuple[int, str]  # row within the column, what is wrong

_BARE = re.compile(r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?")
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3},[0-9]{3}")
_UNTIDY = ("  ", " \n", "\n ", *"\t\r\v\f\x1c\x1d\x1e\x1f")
_LONGEST_SHOWN = 24


class NumberReader:
    """Turns the cells of one number column into SI, chunk by chunk."""

    def __init__(self, column: Column, unit: str, delimiter: str, file: str) -> None:
        """`unit` is the header's ("" when cells carry their own); InputError when unknown."""
        assert column.dimension
        self.column = column
        self.dimension = column.dimension
        self.delimiter = delimiter
        self.unit = unit
        where = f'{file}, header, column "{column.name}"'
        self.offset = read(f"0 {unit}", self.dimension, where=where) if unit else 0.0
        self.size = read(f"1 {unit}", self.dimension, where=where) if unit else 1.0
        if self.offset:
            self.size = 1.0  # kelvin and degree Celsius have the same size
        self.chunks: list[NDArray[np.float64]] = []
        self.rows = 0
        self.first_comma = self.first_point = -1

    def take(
        self, cells: Sequence[str], counts: NDArray[np.int64] | None = None
    ) -> list[CellProblem]:
        """Convert one chunk; returns what could not be read, rows counted within the chunk.

        counts : how often each cell stands there, once without
        """
        values, problems = self._values(cells)
        self.chunks.append(values if counts is None else np.repeat(values, counts))
        self.rows += len(cells)
        return problems

    def made(self) -> NDArray[np.float64]:
        """All chunks together, read-only; blank cells are NaN."""
        values = np.concatenate(self.chunks)
        values.flags.writeable = False
        return values

    def mixed(self) -> list[CellProblem]:
        """The first decimal comma, when the same column also holds decimal points."""
        if self.first_comma < 0 or self.first_point < 0:
            return []
        row = max(self.first_comma, self.first_point)
        return [(row, "decimal points and decimal commas are mixed in this column")]

    def _values(self, cells: Sequence[str]) -> tuple[NDArray[np.float64], list[CellProblem]]:
        joined = "\n".join(cells)
        self._note_marks(cells, joined)
        values = self._at_once(cells, joined)
        return (values, []) if values is not None else self._one_by_one(cells)

    def _note_marks(self, cells: Sequence[str], joined: str) -> None:
        for mark, name in ((",", "first_comma"), (".", "first_point")):
            if getattr(self, name) < 0 and mark in joined:
                at = next(row for row, cell in enumerate(cells) if mark in cell)
                setattr(self, name, self.rows + at)

    def _at_once(self, cells: Sequence[str], joined: str) -> NDArray[np.float64] | None:
        """The fast path: plain finite numbers in the header's unit, or None."""
        if not self.unit or "_" in joined:
            return None
        if "," in joined:
            if self.delimiter == "," or "." in joined:
                return None
            cells = joined.replace(",", ".").split("\n")
        try:
            values = np.fromiter(map(float, cells), np.float64, len(cells))
        except ValueError:
            return None
        values = self._scaled(values)
        minimum, largest = DIMENSIONS[self.dimension].minimum, PLAUSIBLE[self.dimension][1]
        if not (np.abs(values) <= largest).all() or (
            minimum is not None and (values < minimum).any()
        ):
            return None
        return values

    def _one_by_one(self, cells: Sequence[str]) -> tuple[NDArray[np.float64], list[CellProblem]]:
        """Every different cell once; problems for those that cannot be read."""
        known: dict[str, float | str] = {}
        for cell in dict.fromkeys(cells):
            try:
                known[cell] = self._cell(cell.strip())
            except InputError as error:
                known[cell] = str(error).rstrip(".")
        values = np.full(len(cells), np.nan)
        problems = []
        for row, cell in enumerate(cells):
            value = known[cell]
            if isinstance(value, str):
                problems.append((row, value))
            else:
                values[row] = value
        return values, problems

    def _cell(self, cell: str) -> float:
        if not cell:
            return float("nan")
        return self._scaled_like_a_column(_possible(self._read(cell), self.dimension, cell))

    def _read(self, cell: str) -> float:
        """One cell with the unit it carries or that of the header."""
        plain = cell.replace("\u2212", "-")
        if not _BARE.fullmatch(plain):
            return read(self._with_point(cell), self.dimension)
        if not self.unit:
            raise InputError(
                f'"{cell[:_LONGEST_SHOWN]}" has no unit', mend="write it in the cell or the header"
            )
        if self.delimiter == "," and _THOUSANDS.fullmatch(plain):
            raise InputError(f'"{cell}" may mean a thousand or a decimal comma')
        text = f"{plain.rstrip('.,')} {self.unit}"
        return read(text.replace(",", "."), self.dimension)

    def _with_point(self, cell: str) -> str:
        """A decimal comma as a point, where commas do not part the columns: never thousands there."""
        comma = self.delimiter != "," and cell.count(",") == 1 and "." not in cell
        return cell.replace(",", ".") if comma else cell

    def _scaled(self, values: NDArray[np.float64]) -> NDArray[np.float64]:
        values = values * self.size + self.offset
        return values.round(9) if self.offset else values

    def _scaled_like_a_column(self, value: float) -> float:
        return round(value, 9) if self.dimension == "temperature" else value


def _possible(value: float, dimension: str, cell: str) -> float:
    """The value of a cell unless it is larger than anything real; small readings are honest."""
    too_large = abs(value) > PLAUSIBLE[dimension][1]
    return plausible(value, dimension, cell) if too_large else value


class TextReader:
    """Turns the cells of one text column into codes, chunk by chunk: a million cells, few names."""

    def __init__(self, lower: bool) -> None:
        """lower : whether these are words of ours, which are written in lower case."""
        self.lower = lower
        self.table: dict[str, int] = {}
        self.chunks: list[NDArray[np.int64]] = []

    def take(
        self, cells: Sequence[str], counts: NDArray[np.int64] | None = None
    ) -> list[CellProblem]:
        """Add one chunk, each cell as often as `counts` says; any text can be read."""
        table = self.table
        cells = spelled(cells, self.lower)
        known = len(table)
        distinct = dict.fromkeys(cells)
        new = table.keys().isdisjoint(distinct)
        fresh = list(distinct) if new else [name for name in distinct if name not in table]
        table.update(zip(fresh, range(known, known + len(fresh)), strict=True))
        if len(fresh) == len(cells):  # such as times: all are new
            codes = np.arange(known, known + len(fresh), dtype=np.int64)
        else:
            codes = np.fromiter(map(table.__getitem__, cells), np.int64, len(cells))
        self.chunks.append(codes if counts is None else np.repeat(codes, counts))
        return []

    def mixed(self) -> list[CellProblem]:
        """Nothing: texts may hold any marks."""
        return []

    def made(self) -> Text:
        """All chunks together, read-only, names in order of appearance."""
        codes = np.concatenate(self.chunks)
        codes.flags.writeable = False
        return Text(codes, tuple(self.table))


def spelled(cells: Sequence[str], lower: bool) -> Sequence[str]:
    """Text cells without outer blanks, inner blanks single; lower case for words of ours."""
    if not lower and _tidy(cells):
        return cells
    table = {cell: " ".join(cell.split()) for cell in set(cells)}
    if lower:
        table = {cell: text.lower() for cell, text in table.items()}
    return [table[cell] for cell in cells]


def _tidy(cells: Sequence[str]) -> bool:
    """Whether no cell has a blank too many: looked up in all of them at once."""
    joined = "\n".join(("", *cells, ""))
    plain = joined.isascii() and joined.count("\n") == len(cells) + 1
    return plain and not any(blank in joined for blank in _UNTIDY)


__all__ = ["CellProblem", "NumberReader", "TextReader"]
