"""Change single fields of a text sheet: comments and order stay, nothing is overwritten unseen."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from threading import Lock
from types import NoneType
from typing import Any, get_args, get_origin

import tomlkit
from pydantic import BaseModel
from tomlkit.exceptions import TOMLKitError

from clampwright.errors import ConflictError, InputError
from clampwright.parts.sheet import read_sheet
from clampwright.quantities.sheets import validated
from clampwright.verdict.design import Design
from clampwright.workspace.folder import content_hash, read_bytes, write_bytes

LONGEST_TEXT = 500  # characters of one field
MOST_CHANGES = 60  # fields changed at once
YES = {"yes": True, "true": True, "no": False, "false": False}
ROLE = re.compile(
    r"[A-Za-z][A-Za-z0-9_ -]{0,59}"
)  # name of a part of a circuit: "clamp rail positive"
WRITING = Lock()  # two browser windows of one server write one after the other

Changes = Mapping[str, str]
"""Field by dotted name ("board.illuminance_maximum", "faults.1.voltage") → text; "" removes it.

A value of a circuit is named by its part ("network.values.clamp rail positive"); an inner or guard
resistor goes with its value.
"""


def changed_text(text: str, changes: Changes, where: str) -> str:
    """The sheet with some fields changed, comments and order kept.

    List items are counted from 1, as in our messages. Raises InputError for a field that a design
    does not have, a list item that is not there, and text that is too long.
    """
    _not_too_many(changes)
    try:
        sheet = tomlkit.parse(text)
    except TOMLKitError as error:
        raise InputError(f"the sheet is not TOML: {error}", where=where) from None
    for field, written in changes.items():
        _change(sheet, field, written.strip(), where)
    return tomlkit.dumps(sheet)


def design_with(text: str, changes: Changes, where: str) -> Design:
    """The design that a sheet would hold with some fields changed; errors as of `changed_text`.

    Comments play no part, so that a slider need not wait for them.
    """
    _not_too_many(changes)
    sheet = _copied(_parsed(text))
    for field, written in changes.items():
        _change(sheet, field, written.strip(), where)
    return validated(Design, sheet, where)


@lru_cache(maxsize=8)
def _parsed(text: str) -> dict[str, Any]:
    """The sheet as TOML has it, read once while a slider moves; not to be changed."""
    return tomllib.loads(text)


def _copied(value: Any) -> Any:
    """Sections and lists anew; what TOML holds in them cannot change."""
    if isinstance(value, dict):
        return {name: _copied(inner) for name, inner in value.items()}
    return [_copied(inner) for inner in value] if isinstance(value, list) else value


def design_from(text: str, where: str) -> Design:
    """A design from the text of its sheet; raises InputError as reading the file would."""
    return validated(Design, tomllib.loads(text), where)


def sheet_text(path: Path, expected_hash: str) -> str:
    """The text of a sheet that must still be the one with `expected_hash`.

    Raises ConflictError when somebody has changed it since.
    """
    data = read_bytes(path)
    if content_hash(data) != expected_hash:
        raise ConflictError(
            "the sheet was changed elsewhere since it was read; nothing was written",
            where=path.name,
            mend="load it again and repeat the change",
        )
    return data.decode("utf-8-sig")


def change_design(path: Path, changes: Changes, expected_hash: str) -> str:
    """Write changed fields of a design sheet, comments kept; returns its new hash.

    Nothing is written and ConflictError is raised when the sheet is no longer the one with
    `expected_hash`, InputError when it would not be a design any more.
    """
    with WRITING:
        text = changed_text(sheet_text(path, expected_hash), changes, path.name)
        design_from(text, path.name)
        data = text.encode()
        write_bytes(path, data)
    return content_hash(data)


def add_evidence(path: Path, readings: str, wiring: str, note: str = "") -> bool:
    """Let a part sheet refer to readings; everything else in it stays. False when it did already.

    Nothing is written and InputError is raised when it would not be a part sheet any more.
    """
    with WRITING:
        text = read_bytes(path).decode("utf-8-sig")
        sheet = tomlkit.parse(text)
        entries = sheet.setdefault("evidence", tomlkit.aot())
        wanted = {"readings": readings, "wiring": wiring}
        if any(wanted.items() <= dict(entry).items() for entry in entries):
            return False
        entry = tomlkit.table()
        entry.update(wanted | ({"note": note} if note else {}))
        entry.trivia.indent = "" if text.endswith("\n\n") else "\n"  # a blank line before
        entries.append(entry)
        changed = tomlkit.dumps(sheet)
        read_sheet(tomllib.loads(changed), path.name)
        write_bytes(path, changed.encode())
    return True


def written_fields(path: Path, expected_hash: str) -> dict[str, str]:
    """Every field that a design sheet states, by dotted name, as text that `Changes` takes back."""
    found: dict[str, str] = {}
    _flatten(tomllib.loads(sheet_text(path, expected_hash)), "", found)
    return found


def _flatten(value: Any, name: str, found: dict[str, str]) -> None:
    if isinstance(value, dict):
        for key, inner in value.items():
            _flatten(inner, f"{name}.{key}" if name else key, found)
    elif isinstance(value, list):
        for place, inner in enumerate(value, 1):
            _flatten(inner, f"{name}.{place}", found)
    elif isinstance(value, bool):
        found[name] = "yes" if value else "no"
    else:
        found[name] = str(value)


def _not_too_many(changes: Changes) -> None:
    if len(changes) > MOST_CHANGES:
        raise InputError(
            f"{len(changes)} fields are too many at once", expected=f"at most {MOST_CHANGES}"
        )


def _change(sheet: Any, field: str, written: str, where: str) -> None:
    kind = _kind_of(field, where)
    if len(written) > LONGEST_TEXT or not written.isprintable():
        raise InputError(
            "the text is too long or holds signs that cannot be printed",
            where=f"{where}, {field}",
            expected=f"one line of at most {LONGEST_TEXT} characters",
        )
    *path, last = field.split(".")
    place = sheet
    for name in path:
        if isinstance(place, list):
            place = _item(place, name, f"{where}, {field}")
        else:
            if name not in place:
                if written == "":
                    return
                place[name] = {} if type(place) is dict else tomlkit.table()
            place = place[name]
    if written == "":
        place.pop(last, None)
        if _stands_and_falls(path, last):
            section = sheet
            for name in path[:-1]:
                section = section[name]
            section.pop(path[-1], None)
    else:
        value = _value(written, kind, f"{where}, {field}")
        old = place.get(last)
        if old is not None and hasattr(old, "trivia"):
            item = tomlkit.item(value)
            item.trivia.comment_ws, item.trivia.comment = old.trivia.comment_ws, old.trivia.comment
            value = item
        place[last] = value


def _stands_and_falls(path: list[str], last: str) -> bool:
    """Whether a part of a design is not there without this field: the value of an inner resistor."""
    if len(path) != 2:
        return False
    section = _model_in(Design.model_fields[path[0]].annotation)
    kind = (
        section.model_fields[path[1]].annotation
        if section and path[1] in section.model_fields
        else None
    )
    model = _model_in(kind)
    return (
        model is not None and NoneType in get_args(kind) and model.model_fields[last].is_required()
    )


def _item(items: list[Any], name: str, where: str) -> Any:
    place = int(name) if name.isdecimal() and len(name) < 4 else 0
    if not 1 <= place <= len(items):
        raise InputError("there is no such item", where=where, expected=f"1 … {len(items)}")
    return items[place - 1]


def _kind_of(field: str, where: str) -> Any:
    """The annotation of a design's field by its dotted name."""
    kind: Any = Design
    for name in field.split("."):
        model = _model_in(kind)
        if model is not None and name in model.model_fields:
            kind = model.model_fields[name].annotation
        elif name.isdecimal() and Ellipsis in get_args(kind):
            kind = get_args(kind)[0]
        elif get_origin(kind) is dict and ROLE.fullmatch(name):
            kind = get_args(kind)[1]
        else:
            raise InputError("a design has no such field", where=f"{where}, {field[:80]}")
    if _model_in(kind) is not None or Ellipsis in get_args(kind) or get_origin(kind) is dict:
        raise InputError("this is a section, not a field", where=f"{where}, {field[:80]}")
    return kind


def _model_in(kind: Any) -> type[BaseModel] | None:
    for some in (kind, *get_args(kind)):
        if isinstance(some, type) and issubclass(some, BaseModel):
            return some
    return None


def _value(written: str, kind: Any, where: str) -> Any:
    """Text as the sheet holds it: true or false, a plain number, or text with its unit."""
    kinds = {k for k in (kind, *get_args(kind)) if k is not NoneType}
    if bool in kinds and written.lower() in YES:
        return YES[written.lower()]
    if int in kinds and written.lstrip("+-").isdecimal():
        return int(written)
    if float in kinds:
        try:
            number = float(written)
        except ValueError:
            return written
        if not math.isfinite(number):
            raise InputError(f'"{written}" is not a finite number', where=where)
        return number
    return written


__all__ = [
    "Changes",
    "add_evidence",
    "change_design",
    "changed_text",
    "design_from",
    "design_with",
    "sheet_text",
    "written_fields",
]
