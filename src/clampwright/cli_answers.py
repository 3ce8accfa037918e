"""How commands answer: options many of them take, and results as text, JSON or schema.

A part of the command line; floor 7; may import floor 0 and `actions`, only when a command runs.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from pydantic import BaseModel

Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON on standard output.")]
Schema = Annotated[bool, typer.Option("--schema", help="Print the JSON schema of the result.")]
Folder = Annotated[
    Path, typer.Option("--in", help="The workspace; the current folder if not given.")
]
Name = Annotated[str, typer.Option("--session", help="Name of the session.")]
Who = Annotated[str, typer.Option("--who", help="Who took the readings.")]
Session = Annotated[str, typer.Argument(help="Name of a session.", show_default=False)]

Part = Annotated[str, typer.Option("--part", help="Part sheet id of what is fitted.")]
Wiring = Annotated[str, typer.Option("--wiring", help='Leads, such as "C/B+E".')]
State = Annotated[
    str, typer.Option("--state", help="reading | zero open | zero fixture | zero part-fitted.")
]
Bias = Annotated[str, typer.Option("--voltage", help='Reverse voltage, such as "5 V".')]
Heat = Annotated[str, typer.Option("--temperature", help='Of the part, such as "23 °C".')]
Light = Annotated[str, typer.Option("--light", help='On the part, such as "0 lx".')]
Lamp = Annotated[str, typer.Option("--lamp", help="Which lamp, when lit.")]
Humidity = Annotated[str, typer.Option("--humidity", help='Relative, such as "45 %".')]
Note = Annotated[str, typer.Option("--note", help="Anything to keep with every reading.")]


def written(**typed: str) -> dict[str, str]:
    """Those conditions of readings that were typed."""
    return {field: text for field, text in typed.items() if text}


def given(path: Path, name: str) -> Path:
    """The path a command was given; a complaint when it is missing."""
    if path == Path():
        raise typer.BadParameter(f"{name} is missing: give a file")
    return path


def named(session: str) -> str:
    """The session a command was given; a complaint when it is missing."""
    if not session:
        raise typer.BadParameter("SESSION is missing: clampwright sessions lists them")
    return session


def answer(result: BaseModel | dict[str, Any], as_json: bool, text: str) -> None:
    """Print a result as JSON or as text."""
    if not as_json:
        print(text)
    elif isinstance(result, dict):
        print(json.dumps(result, indent=2, ensure_ascii=False))
    else:
        print(result.model_dump_json(indent=2))


def print_schema(name: str) -> None:
    """Print the JSON schema of the result of an action."""
    from clampwright import actions

    print(json.dumps(actions.RESULTS[name].model_json_schema(mode="serialization"), indent=2))


__all__ = [
    "Bias",
    "Folder",
    "Heat",
    "Humidity",
    "Json",
    "Lamp",
    "Light",
    "Name",
    "Note",
    "Part",
    "Schema",
    "Session",
    "State",
    "Who",
    "Wiring",
    "answer",
    "given",
    "named",
    "print_schema",
    "written",
]
