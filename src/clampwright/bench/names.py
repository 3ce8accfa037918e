"""Names in readings against the part sheets: what no sheet knows is told, with the nearest name.

A file of readings alone is reduced all the same; only its names are questioned.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from difflib import get_close_matches

import numpy as np

from clampwright.bench.columns import Readings
from clampwright.errors import InputError
from clampwright.parts.sheet import PartSheet
from clampwright.parts.wirings import wiring_named, wirings

LOT_MARK = "#"


def sheet_of(part: str) -> str:
    """The id of the sheet that a part of the readings belongs to: parts of a lot carry "#" and a number."""
    return part.split(LOT_MARK)[0]


def name_warnings(
    named: Iterable[tuple[str, str]], sheets: Mapping[str, PartSheet]
) -> tuple[str, ...]:
    """One sentence for each (part, wiring) that no sheet knows, or knows the other way round.

    Nothing is said where there are no sheets at all.
    """
    if not sheets:
        return ()
    told = (_warning(part, wiring, sheets) for part, wiring in dict.fromkeys(named))
    return tuple(dict.fromkeys(text for text in told if text))


def part_names(readings: Readings) -> tuple[tuple[str, str], ...]:
    """Every part and wiring that rows of some readings name, in order of their names."""
    pairs = np.unique(np.stack([readings.part.codes, readings.wiring.codes], 1), axis=0)
    named = ((readings.part.names[p], readings.wiring.names[w]) for p, w in pairs.tolist())
    return tuple((part, wiring) for part, wiring in named if part and wiring)


def nothing_found(readings: str, part: str, wiring: str, named: Sequence[tuple[str, str]]) -> str:
    """The sentence for a sheet that refers to readings in which there is nothing of this wiring."""
    there = [f"{p} {w}" for p, w in dict.fromkeys(named)]
    hint = _meant(f"{part} {wiring}", there) or f"they hold {', '.join(there) or 'no part at all'}"
    return f"readings {readings} hold nothing of {part} {wiring}: {hint}"


def _warning(part: str, wiring: str, sheets: Mapping[str, PartSheet]) -> str:
    sheet = sheets.get(sheet_of(part))
    if sheet is None:
        known = ", ".join(sorted(sheets))
        hint = _meant(sheet_of(part), list(sheets)) or f"the sheets are {known}"
        return f'no part sheet is called "{sheet_of(part)}": {hint}'
    try:
        found = wiring_named(sheet, wiring)
    except InputError:
        usable = [w.name for w in wirings(sheet) if not w.rejected]
        hint = _meant(wiring, usable) or f"it has {', '.join(usable)}"
        return f'part {sheet.id} has no wiring "{wiring}": {hint}'
    if found.both_ways or _poles(wiring) == _poles(found.name):
        return ""
    return (
        f'wiring "{wiring}" of {sheet.id} is {found.name} on its sheet: the order of the leads tells no '
        "polarity. A reverse voltage is positive where the cathode is above the anode; if it was counted "
        "the other way, turn its sign and that of the readings"
    )


def _meant(name: str, known: list[str]) -> str:
    close = get_close_matches(name, known, n=1, cutoff=0.55)
    return f'did you mean "{close[0]}"?' if close else ""


def _poles(name: str) -> tuple[frozenset[str], ...]:
    """The leads of each pole in the order written."""
    poles = name.replace("−", "-").partition("(")[0]
    return tuple(frozenset(side.strip().split("+")) for side in poles.split("/"))


__all__ = ["LOT_MARK", "name_warnings", "nothing_found", "part_names", "sheet_of"]
