"""How commands answer: options many of them take, and results as text, JSON or schema.

A part of the command line; floor 7; may import floor 0 and `actions`, only when a command runs.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from pydantic import BaseModel

Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON on standard output.")]
Schema = Annotated[bool, typer.Option("--schema", help="Print the JSON schema of the result.")]
Explain = Annotated[
    bool, typer.Option("--explain", help="Show formulas, numbers and where each comes from.")
]
DesignPath = Annotated[
    Path | None, typer.Argument(help="A design sheet (TOML).", show_default=False)
]
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
Pt100 = Annotated[str, typer.Option("--pt100", help='Instead of it, such as "108.96 Ω".')]
TypeK = Annotated[str, typer.Option("--type-k", help='Instead of it, such as "-81 µV".')]
Junction = Annotated[
    str, typer.Option("--cold-junction", help='Of the couple at the meter, such as "23 °C".')
]
Light = Annotated[str, typer.Option("--light", help='On the part, such as "0 lx".')]
Lamp = Annotated[str, typer.Option("--lamp", help="Which lamp, when lit.")]
Humidity = Annotated[str, typer.Option("--humidity", help='Relative, such as "45 %".')]
Note = Annotated[str, typer.Option("--note", help="Anything to keep with every reading.")]


def written(**typed: str) -> dict[str, str]:
    """Those conditions of readings that were typed."""
    return {field: text for field, text in typed.items() if text}


def given(path: Path | None, name: str) -> Path:
    """The path a command was given; a complaint when it is missing."""
    if path is None or path == Path():
        raise typer.BadParameter(f"{name} is missing: give a file")
    return path


def named(session: str) -> str:
    """The session a command was given; a complaint when it is missing."""
    if not session:
        raise typer.BadParameter("SESSION is missing: clampwright sessions lists them")
    return session


def answer(result: BaseModel | dict[str, Any], as_json: bool, text: str) -> None:
    """Print a result as JSON or as text."""
    if as_json:
        print_json(result)
    else:
        print(text)


def print_json(result: BaseModel | dict[str, Any]) -> None:
    """Print a result as JSON."""
    if isinstance(result, dict):
        print(json.dumps(result, indent=2, ensure_ascii=False))
    else:
        print(result.model_dump_json(indent=2))


def print_schema(name: str) -> None:
    """Print the JSON schema of the result of an action."""
    from clampwright import actions

    print(json.dumps(actions.RESULTS[name].model_json_schema(mode="serialization"), indent=2))


@contextmanager
def progress(what: str) -> Iterator[Callable[[int, int], None]]:
    """A progress bar on a terminal, nothing when piped."""
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what)
        yield lambda done, total: bar.update(task, completed=done, total=total)


__all__ = [
    "Bias",
    "DesignPath",
    "Explain",
    "Folder",
    "Heat",
    "Humidity",
    "Json",
    "Junction",
    "Lamp",
    "Light",
    "Name",
    "Note",
    "Part",
    "Pt100",
    "Schema",
    "Session",
    "State",
    "TypeK",
    "Who",
    "Wiring",
    "answer",
    "given",
    "named",
    "print_json",
    "print_schema",
    "progress",
    "written",
]
