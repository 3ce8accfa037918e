"""Add and remove entries of the lists in a design sheet; everything else and its comments stay."""

from __future__ import annotations

import itertools
import tomllib
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
    """The sheet with one more [[section]] at the end of that list, a blank line before it.

    `without_entry` gives back the same text. Raises InputError for text that is not TOML, and where
    `section` is something else or full.
    """
    sheet = _parsed(text, where)
    entries = sheet.get(section, [])
    if not isinstance(entries, AoT | list):
        raise InputError(f"{section} is not a list", where=where, expected=f"[[{section}]]")
    if len(entries) >= MOST_ENTRIES:
        raise InputError(f"{section} is full", where=where, expected=f"at most {MOST_ENTRIES}")
    if section in sheet and not isinstance(entries, AoT):  # written in one line
        item: Any = tomlkit.inline_table()
        item.update(entry)
        entries.append(item)
        return tomlkit.dumps(sheet)
    lines = text.split("\n")
    place = _place_for_more(lines, section)
    ending = "\r" if lines[place - 1].endswith("\r") else ""
    written = [f"[[{section}]]", *tomlkit.dumps(entry).rstrip("\n").split("\n")]
    if place:
        written.insert(0, "")
    return "\n".join([*lines[:place], *(line + ending for line in written), *lines[place:]])


def without_entry(text: str, section: str, number: int, where: str) -> str:
    """The sheet without entry `number` (from 1) of a list, nor the blank line before it.

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
    if not isinstance(entries, AoT):
        del entries[number - 1]
        return tomlkit.dumps(sheet)
    lines = text.split("\n")
    start, end = _spans(lines, section)[number - 1]
    if start and not lines[start - 1].strip():
        start -= 1
    return "\n".join([*lines[:start], *lines[end:]])


def _place_for_more(lines: list[str], section: str) -> int:
    """The line before which one more entry goes: after the last one, or at the end of the sheet.

    Comments between the last entry and the section that follows stay with the latter.
    """
    spans = _spans(lines, section)
    last = spans[-1][1] if spans else 0
    if last and any(start >= last for start in _headers(lines)):
        return last
    return 1 + max((i for i, line in enumerate(lines) if line.strip()), default=-1)


def _spans(lines: list[str], section: str) -> list[tuple[int, int]]:
    """First line, and the one after the last that says something, of every [[section]]."""
    headers = [*_headers(lines), len(lines)]
    found = []
    for start, following in itertools.pairwise(headers):
        if tomllib.loads(lines[start].strip()) == {section: [{}]}:
            said = [i for i in range(start, following) if lines[i].split("#")[0].strip()]
            found.append((start, said[-1] + 1))
    return found


def _headers(lines: list[str]) -> list[int]:
    """Lines that open a section; one that only looks so stands in the midst of a value."""
    looks = (i for i, line in enumerate(lines) if line.lstrip().startswith("["))
    return [i for i in looks if _is_toml("\n".join([*lines[:i], ""]))]


def _is_toml(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


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
