"""Add and remove entries of the lists in a design sheet; everything else and its comments stay."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT

from clampwright.errors import InputError
from clampwright.workspace.edit import WRITING, Changes, changed_text, design_from, sheet_text
from clampwright.workspace.folder import content_hash, write_bytes

MOST_ENTRIES = 200  # of one list
Entry = Mapping[str, str | bool]


def with_entry(text: str, section: str, entry: Entry, where: str) -> str:
    """The sheet with one more [[section]] at the end of that list.

    Raises InputError for text that is not TOML, and where `section` is something else or full.
    """
    sheet = _parsed(text, where)
    entries = sheet.get(section)
    if entries is None:
        entries = sheet[section] = tomlkit.aot()
    if not isinstance(entries, AoT | list):
        raise InputError(f"{section} is not a list", where=where, expected=f"[[{section}]]")
    if len(entries) >= MOST_ENTRIES:
        raise InputError(f"{section} is full", where=where, expected=f"at most {MOST_ENTRIES}")
    table: Any = tomlkit.table() if isinstance(entries, AoT) else tomlkit.inline_table()
    table.update(entry)
    if isinstance(entries, AoT):
        table.trivia.indent = "" if text.endswith("\n\n") or not text else "\n"  # a blank line
    entries.append(table)
    return tomlkit.dumps(sheet)


def without_entry(text: str, section: str, number: int, where: str) -> str:
    """The sheet without entry `number` (from 1) of a list.

    Raises InputError where there is no such entry.
    """
    sheet = _parsed(text, where)
    entries = sheet.get(section, [])
    if not isinstance(entries, AoT | list) or not 1 <= number <= len(entries):
        count = len(entries) if isinstance(entries, AoT | list) else 0
        raise InputError(
            f"there is no entry {number} in {section}",
            where=where,
            expected=f"1 … {count}" if count else f"a [[{section}]] of the sheet",
        )
    if len(entries) == 1:
        del sheet[section]
    else:
        del entries[number - 1]
    return tomlkit.dumps(sheet)


def add_entry(
    path: Path, section: str, entry: Entry, expected_hash: str, changes: Changes | None = None
) -> str:
    """Write one more entry, and other changed fields with it; returns the new hash of the sheet.

    Nothing is written and ConflictError is raised when the sheet is no longer the one with
    `expected_hash`, InputError when it would not be a design any more.
    """
    with WRITING:
        text = with_entry(sheet_text(path, expected_hash), section, entry, path.name)
        return _written(path, changed_text(text, changes or {}, path.name))


def remove_entry(path: Path, section: str, number: int, expected_hash: str) -> str:
    """Write the sheet without an entry; returns its new hash. Raises as `add_entry` does."""
    with WRITING:
        text = without_entry(sheet_text(path, expected_hash), section, number, path.name)
        return _written(path, text)


def _written(path: Path, text: str) -> str:
    design_from(text, path.name)
    data = text.encode()
    write_bytes(path, data)
    return content_hash(data)


def _parsed(text: str, where: str) -> Any:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise InputError(f"the sheet is not TOML: {error}", where=where) from None
