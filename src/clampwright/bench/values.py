"""Readings that were typed or pasted: one value a line, each with its unit or one for all."""

from __future__ import annotations

import re

from clampwright.bench.table import MOST_PROBLEMS
from clampwright.errors import InputError
from clampwright.quantities import read

MOST_VALUES = 10_000
_HEADER = re.compile(r"(?:reading|voltage|volts?)?\s*[(\[]\s*(\S+?)\s*[)\]]|(\S*V)", re.IGNORECASE)
_BARE = re.compile(r"[+-]?[\d.,]+(?:[eE][+-]?\d+)?")


def read_values(text: str, name: str = "values", unit: str = "") -> tuple[float, ...]:
    """Voltages (V) from lines such as "12.4 µV"; a first line "reading (µV)" gives the unit.

    unit : for lines without one, such as "µV"; a header wins
    All or nothing: InputError names the line of at most five problems.
    """
    if "\0" in text:
        raise InputError("the text holds a NUL character", where=name)
    lines = [
        (n, line.strip().rstrip(";,").strip())
        for n, line in enumerate(text.removeprefix("\ufeff").splitlines(), 1)
    ]
    lines = [(n, line) for n, line in lines if line]
    if lines and (match := _HEADER.fullmatch(lines[0][1])):
        unit = match[1] or match[2]
        lines = lines[1:]
    if not lines:
        raise InputError("no value is there", where=name, expected='lines such as "12.4 µV"')
    if len(lines) > MOST_VALUES:
        raise InputError(f"{len(lines)} values are too many at once", expected=f"{MOST_VALUES}")
    values, problems = [], []
    for number, line in lines:
        written = f"{line} {unit}" if unit and _BARE.fullmatch(line) else line
        try:
            values.append(read(written, "voltage"))
        except InputError as error:
            problems.append(f"line {number}: {str(error).rstrip('.')}")
    if problems:
        more = "; and more" if len(problems) > MOST_PROBLEMS else ""
        told = "; ".join(problems[:MOST_PROBLEMS]) + more
        raise InputError(told, where=name, mend="nothing was taken: mend them and give all again")
    return tuple(values)


__all__ = ["read_values"]
