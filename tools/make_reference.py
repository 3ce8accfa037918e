"""Write docs/sheets.md: every field of every text sheet and every column of a readings file.

The table is made from the models that read the sheets, so it cannot say anything else than they do.
What a field is for stands in field_words.toml; a field without words there is an error.
Run: python tools/make_reference.py [--check]
"""

from __future__ import annotations

import datetime
import json
import sys
import tomllib
import types
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import pydantic_core
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from clampwright.bench.columns import COLUMNS, STATES, THERMOMETERS
from clampwright.bench.instrument import Profile
from clampwright.parts.catalogue import catalogue
from clampwright.parts.sheet import FIGURE_DIMENSIONS, PartSheet
from clampwright.quantities import DIMENSIONS, write
from clampwright.quantities.fields import QuantityField, Within
from clampwright.verdict.design import Design

TARGET = Path(__file__).resolve().parents[1] / "docs" / "sheets.md"
WORDS = Path(__file__).resolve().with_name("field_words.toml")
MEANING: dict[str, dict[str, str]] = tomllib.loads(WORDS.read_text("utf-8"))

INTRODUCTION = """# Sheets and readings

A workspace is a folder with `designs/*.toml`, `parts/*.toml`, `instruments/*.toml`,
`readings/*.csv` and `records/`. Make one with `clampwright new DIR`. This page is made from the
models that read these files (`tools/make_reference.py`); a test keeps it up to date.

**Quantities** are text with their unit: `"15 V"`, `"4k7"`, `"6.2 nA"`, `"50 MΩ"`, `"23 °C"`,
`"200 lx"`, `"0.1 %"`, `"1/3"`. A bare number is refused where a unit belongs, also `accuracy` in
volts; a ratio takes one (`0.1` is 10 %), and so do counts and decibels. `M` is mega, `m` is milli. An
unknown field is an error with a "did you mean". Tables marked *list* are written as
`[[name]]` and may be repeated.
"""


def main() -> int:
    """Write the page, or with --check say whether it is up to date."""
    text = page()
    if "--check" in sys.argv[1:]:
        current = TARGET.read_text("utf-8") if TARGET.exists() else ""
        return 0 if current == text else 1
    TARGET.write_text(text, "utf-8")
    return 0


def page() -> str:
    """The whole page."""
    parts = [INTRODUCTION]
    for title, file, model in (
        ("Design sheet", "designs/NAME.toml", Design),
        ("Part sheet", "parts/NAME.toml", PartSheet),
        ("Instrument sheet", "instruments/NAME.toml", Profile),
    ):
        parts.append(f"## {title}\n\n`{file}`\n")
        parts += [section(path, table) for path, table in tables(model)]
    parts.append(figures())
    parts.append(classes())
    parts.append(columns())
    return "\n".join(parts)


def tables(model: type[BaseModel], path: str = "") -> Iterator[tuple[str, type[BaseModel]]]:
    """A model and all models inside it, with the path of each table in the file."""
    yield path, model
    for name, field in model.model_fields.items():
        for kind in flat(field.annotation):
            for inner in models(kind):
                shown = f"{path}.{name}" if path else name
                yield from tables(inner, shown + ("[]" if get_origin(kind) is tuple else ""))


def section(path: str, model: type[BaseModel]) -> str:
    """One table of fields."""
    heading = f"### `[{path.replace('[]', '')}]`" if path else "### Top of the file"
    lines = [heading + (" (list)" if path.endswith("[]") else ""), ""]
    lines += ["| field | what to write | default | meaning |", "|---|---|---|---|"]
    for name, field in model.model_fields.items():
        shown = field.alias or name
        cells = (f"`{shown}`", wanted(field), default(field), meaning(model, name))
        lines.append("| " + " | ".join(cells) + " |")
    return "\n".join(lines) + "\n"


def wanted(field: FieldInfo) -> str:
    """What a person writes: a quantity with an example, one of some words, text, a table."""
    found = [*field.metadata, *flat(field.annotation)]
    for item in found:
        if isinstance(item, QuantityField):
            kind = item.kind
            example = " or ".join(f'`"{text}"`' for text in kind.examples)
            bounds = limits([*field.metadata, *found])
            return f"{kind.words} ({kind.unit}), {example}" + bounds + choices(found)
    if words := choices(found):
        return words.removeprefix(" or ")
    for item in found:
        if any(True for _ in models(item)):
            return "list of tables" if get_origin(item) is tuple else "table"
    names = {str: "text", bool: "`true` or `false`", int: "whole number", float: "number"}
    names[datetime.date] = "date, `2026-05-04`"
    for item in found:
        if item in names:
            return names[item] + limits(field.metadata)
        if get_origin(item) is tuple:
            return 'list of texts, `["A", "K"]`'
        if get_origin(item) is dict:
            return "table of names and texts"
    raise TypeError(f"no words for {field}")


def choices(found: list[Any]) -> str:
    """The words of a closed list."""
    words = [word for item in found if get_origin(item) is Literal for word in get_args(item)]
    return " or " + ", ".join(f"`{json.dumps(word)}`" for word in words) if words else ""


def limits(metadata: list[Any]) -> str:
    """Bounds of a number as the model states them."""
    marks = {"gt": ">", "ge": "≥", "lt": "<", "le": "≤"}
    found = dict.fromkeys(
        f"{mark} {value:g}"
        for item in metadata
        for name, mark in marks.items()
        if (value := getattr(item, name, None)) is not None
    )
    ends = next((item for item in metadata if isinstance(item, Within)), None)
    found |= {f"{ends.low} … {ends.high}": None} if ends else {}
    return ", " + ", ".join(found) if found else ""


def default(field: FieldInfo) -> str:
    """The default as a person would write it."""
    value = field.default
    if value is pydantic_core.PydanticUndefined:
        return "**required**"
    if value is None:
        return "not stated"
    if isinstance(value, BaseModel):
        return "every field at its default"
    if isinstance(value, bool):
        return f"`{str(value).lower()}`"
    if isinstance(value, tuple | str | dict):
        return f"`{json.dumps(value, ensure_ascii=False)}`" if value else "none"
    quantity = next((m for m in field.metadata if isinstance(m, QuantityField)), None)
    return f"`{write(value, quantity.dimension)}`" if quantity else f"`{value:g}`"


def flat(annotation: Any) -> Iterator[Any]:
    """A type, or every member of a union, with the annotations of each."""
    if get_origin(annotation) in (Union, types.UnionType):
        for member in get_args(annotation):
            yield from flat(member)
    elif get_origin(annotation) is Annotated:
        yield from annotation.__metadata__
        yield from flat(get_args(annotation)[0])
    else:
        yield annotation


def models(kind: Any) -> Iterator[type[BaseModel]]:
    """The model a type is or holds as a list."""
    for item in (kind, *(part for arg in get_args(kind) for part in flat(arg))):
        if isinstance(item, type) and issubclass(item, BaseModel):
            yield item


def meaning(model: type[BaseModel], name: str) -> str:
    """What a field is for."""
    words = MEANING.get(model.__name__, {}).get(name)
    if not words:
        raise KeyError(f"say what {model.__name__}.{name} is for in tools/field_words.toml")
    return words


def figures() -> str:
    """What a data-sheet figure may be of."""
    rows = [
        f"| `{name}` | {DIMENSIONS[dimension].words} ({DIMENSIONS[dimension].unit}) |"
        for name, dimension in FIGURE_DIMENSIONS.items()
    ]
    return "\n".join(
        [
            "### Quantities of `[[figures]]`",
            "",
            "| `quantity` | `value` is |",
            "|---|---|",
            *rows,
            "",
        ]
    )


def classes() -> str:
    """The generic classes of the catalogue: what `class` of a junction may say."""
    rows = [f"| `{found.name}` | {found.title} |" for found in catalogue().values()]
    return "\n".join(
        ["### Classes of `[[junctions]]`", "", "| `class` | what it is |", "|---|---|", *rows, ""]
    )


def columns() -> str:
    """The columns of a file of readings."""
    states = ", ".join(f"`{state}`" for state in STATES)
    lines = [
        "## Readings",
        "",
        "`readings/NAME.csv`: one raw reading a line, never corrected. Separator comma, semicolon or",
        "tab; decimal point or comma (not both in one column); with or without byte order mark; any",
        "line ending. The header names the unit in brackets, `reading (mV)`, or every cell carries its",
        "own. Columns may stand in any order.",
        "",
        "| column | must exist | what to write | meaning |",
        "|---|---|---|---|",
    ]
    for column in (*COLUMNS, *THERMOMETERS):
        kind = DIMENSIONS[column.dimension] if column.dimension else None
        shown = f"{kind.words}, header `{column.name} ({column.unit})`" if kind else "text"
        shown = f"one of {states}" if column.name == "state" else shown
        must = "yes" if column.required else "no"
        lines.append(
            f"| `{column.name}` | {must} | {shown} | {MEANING['Readings'][column.field]} |"
        )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    sys.exit(main())
