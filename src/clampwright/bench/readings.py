"""Readings in and out as CSV: which cells a reading of each state cannot do without."""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.bench.columns import COLUMNS, NEEDED, STATES, THERMOMETERS, Readings
from clampwright.bench.part_temperature import fill_temperatures
from clampwright.bench.table import MOST_PROBLEMS, Problem, blank_rows, read_table, write_table


def read_readings(data: bytes | str, name: str = "readings") -> Readings:
    """Readings from the text or bytes of a CSV file called `name`.

    Columns (any order, units in the header or in every cell): part, wiring, state, reverse voltage,
    temperature, light, lamp, instrument, reading, and optional lamp, humidity, time, note. Instead of
    a temperature: pt100 (its resistance), or type k and cold junction (its voltage, its other end).
    Raises InputError naming file, line and column of at most five problems.
    """
    made = read_table(data, name, (*COLUMNS, *THERMOMETERS), _checked)
    return Readings(**{column.field: made[column.field] for column in COLUMNS})


def write_readings(readings: Readings) -> str:
    """CSV text that `read_readings` gives back unchanged: comma, decimal point, units in header."""
    return write_table(readings.rows(), COLUMNS)


def _checked(columns: dict[str, Any]) -> list[Problem]:
    """What is wrong with the rows; temperatures are filled in from the thermometers first."""
    problems = fill_temperatures(columns)
    return problems[:MOST_PROBLEMS] or _missing(columns)


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
        blank = blank_rows(columns[field])
        at = np.flatnonzero(blank if rows is None else blank & rows)[:MOST_PROBLEMS]
        problems += [(int(row), titles[field], f"the {titles[field]} is missing") for row in at]
    return problems


__all__ = ["read_readings", "write_readings"]
