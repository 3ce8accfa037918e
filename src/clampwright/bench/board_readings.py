"""Readings of an assembled board in and out as CSV, and the conditions they were taken under.

One line for each reading: which signal and rails were applied, through which resistance, how warm and
how lit, and the error seen. Lines of one condition are averaged; how they scatter is their
uncertainty, taken together over all conditions with one resistance.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import Any

import numpy as np

from clampwright.bench.board_solve import Sitting
from clampwright.bench.board_terms import Array, BoardReading
from clampwright.bench.columns import Column, Text
from clampwright.bench.table import MOST_PROBLEMS, Problem, blank_rows, read_table, write_table
from clampwright.errors import InputError

BOARD_COLUMNS = (
    Column("board", "board", None, False),
    Column("signal", "signal", "voltage", True, "V"),
    Column("upper rail", "upper_rail", "voltage", True, "V"),
    Column("lower rail", "lower_rail", "voltage", True, "V"),
    Column("resistance", "resistance", "resistance", True, "MΩ", 1e6),
    Column("temperature", "temperature", "temperature", True, "°C"),
    Column("light", "light", "illuminance", True, "lx"),
    Column("error", "error", "voltage", True, "µV", 1e-6),
    Column("uncertainty", "uncertainty", "voltage", False, "µV", 1e-6),
    Column("resistor", "resistor", None, False),
    Column("tolerance", "tolerance", "ratio", False, "%", 0.01),
    Column("humidity", "humidity", "ratio", False, "%", 0.01),
    Column("time", "time", None, False),
    Column("note", "note", None, False),
)
"""`error` is what the amplifier shows less the true signal; `resistance` all of it up to the node;
`uncertainty` a standard uncertainty of the reading beside its scatter, the same for all lines of a
condition; `tolerance` how far the largest resistance may be off."""

NUMBERS = tuple(c.field for c in BOARD_COLUMNS if c.dimension)
TEXTS = tuple(c.field for c in BOARD_COLUMNS if not c.dimension)
NEEDED = tuple(c.field for c in BOARD_COLUMNS if c.required)
CONDITION = ("resistance", "signal", "upper_rail", "lower_rail", "temperature", "light")
NAMES = {c.field: c.name for c in BOARD_COLUMNS}
ONE_ALONE = ("board", "resistor")  # what a sitting has one of


@dataclass(frozen=True)
class BoardReadings:
    """Readings of one board in file order, SI; numbers that were not written are NaN."""

    numbers: Mapping[str, Array]  # field → (readings,)
    texts: Mapping[str, Text]

    def __len__(self) -> int:
        return len(self.numbers["error"])

    @property
    def board(self) -> str:
        """Which board; "" when it was not written."""
        return self.texts["board"].names[0]

    @property
    def resistor(self) -> str:
        """Which test resistor; "" when it was not written."""
        return self.texts["resistor"].names[0]

    @property
    def tolerance(self) -> float | None:
        """How far the test resistor may be off (1); None when it was not written."""
        known = self.numbers["tolerance"][~np.isnan(self.numbers["tolerance"])]
        return float(known.max()) if len(known) else None

    @property
    def time(self) -> str:
        """The earliest time that was written, "" for none."""
        return min((t for t in self.texts["time"].names if t), default="")

    def rows(self) -> list[dict[str, Any]]:
        """Each reading as field → plain value (None or "" where nothing was written)."""
        plain = {f: [None if v != v else v for v in self.numbers[f].tolist()] for f in NUMBERS}
        plain |= {f: [self.texts[f][k] for k in range(len(self))] for f in TEXTS}
        return [{f: column[k] for f, column in plain.items()} for k in range(len(self))]


@dataclass(frozen=True)
class Conditions:
    """What was read under each condition, and how many further readings tell the scatter."""

    readings: tuple[BoardReading, ...]
    counts: tuple[int, ...]
    degrees_of_freedom: float  # of the scatter, the least of any resistance; infinite when typed

    def sitting(self, resistor: str, scale_uncertainty: float) -> Sitting:
        """As the separation takes it."""
        return Sitting(self.readings, resistor, scale_uncertainty)


def read_board(data: bytes | str, name: str = "board") -> BoardReadings:
    """Readings of one board from the text or bytes of a CSV file called `name`.

    Raises InputError naming file, line and column of at most five problems; nothing is taken then.
    """
    made = read_table(data, name, BOARD_COLUMNS, _wrong)
    return BoardReadings({f: made[f] for f in NUMBERS}, {f: made[f] for f in TEXTS})


def board_from_rows(rows: Sequence[Mapping[str, Any]]) -> BoardReadings:
    """Readings of one board from field → value mappings (as `BoardReadings.rows`, or a database)."""
    from clampwright.bench.columns import text_column

    numbers = {f: np.array([_or_nan(row.get(f)) for row in rows], float) for f in NUMBERS}
    texts = {f: text_column([str(row.get(f) or "") for row in rows]) for f in TEXTS}
    return BoardReadings(numbers, texts)


def write_board(readings: BoardReadings) -> str:
    """CSV text that `read_board` gives back unchanged."""
    return write_table(iter(readings.rows()), BOARD_COLUMNS)


def conditions(readings: BoardReadings, name: str = "board") -> Conditions:
    """Mean and standard uncertainty of the readings of each condition.

    Raises InputError when a resistance has neither repeated readings nor a typed uncertainty.
    """
    keys = np.column_stack([readings.numbers[field] for field in CONDITION])
    _, first, which = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    which = which.reshape(-1)
    errors, typed = readings.numbers["error"], readings.numbers["uncertainty"]
    counts = np.bincount(which)
    means = np.bincount(which, errors) / counts
    squares = np.bincount(which, (errors - means[which]) ** 2)
    resistance = keys[first, 0]
    beside = np.nan_to_num(typed[first])
    freedom, uncertainty = inf, np.zeros(len(first))
    for ohms in np.unique(resistance):
        here = resistance == ohms
        further = int((counts[here] - 1).sum())
        scatter = sqrt(float(squares[here].sum()) / further) if further else 0.0
        uncertainty[here] = np.hypot(scatter / np.sqrt(counts[here]), beside[here])
        if not (uncertainty[here] > 0).all():
            raise InputError(
                "the scatter is not known: no two readings of one condition differ",
                where=f"{name}, resistance {ohms / 1e6:g} MΩ",
                expected="three readings or more under each condition, or a column uncertainty",
            )
        if further and scatter / sqrt(float(counts[here].max())) > beside[here].max():
            freedom = min(freedom, further)
    order = np.argsort(first)
    made = [
        BoardReading(float(means[k]), float(uncertainty[k]), *(float(v) for v in keys[first[k]]))
        for k in order
    ]
    return Conditions(tuple(made), tuple(int(counts[k]) for k in order), freedom)


def _wrong(columns: dict[str, Any]) -> list[Problem]:
    """Cells a reading cannot do without, and what cannot be on a board."""
    problems: list[Problem] = []
    for field in NEEDED:
        rows = np.flatnonzero(blank_rows(columns[field]))[:MOST_PROBLEMS]
        problems += [(int(r), NAMES[field], f"the {NAMES[field]} is missing") for r in rows]
    signal = columns["signal"]
    outside = (signal >= columns["upper_rail"]) | (signal <= columns["lower_rail"])
    rows = np.flatnonzero(outside)[:MOST_PROBLEMS]
    problems += [(int(r), "signal", "the signal is not between the rails") for r in rows]
    for field, words in (("resistance", "below 0 Ω"), ("uncertainty", "below 0 V")):
        rows = np.flatnonzero(columns[field] < 0)[:MOST_PROBLEMS]
        problems += [(int(r), NAMES[field], words) for r in rows]
    for field in ONE_ALONE:
        if len(columns[field].names) > 1:
            other = int(np.argmax(columns[field].codes == 1))
            problems.append((other, field, f"another {field} than in the first line"))
    return problems


def _or_nan(value: Any) -> float:
    return float("nan") if value is None else float(value)


__all__ = [
    "BOARD_COLUMNS",
    "BoardReadings",
    "Conditions",
    "board_from_rows",
    "conditions",
    "read_board",
    "write_board",
]
