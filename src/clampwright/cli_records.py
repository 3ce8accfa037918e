"""Commands that say what to do with a judged design: the next reading, the record, its revisions.

Floor 7; may import floor 0, `actions` and `record`, and imports them only when a command runs.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated

import typer

Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON on standard output.")]
Schema = Annotated[bool, typer.Option("--schema", help="Print the JSON schema of the result.")]
Explain = Annotated[
    bool, typer.Option("--explain", help="Show formulas, numbers and where each comes from.")
]
DesignPath = Annotated[
    Path | None, typer.Argument(help="A design sheet (TOML).", show_default=False)
]


def add_record_commands(app: typer.Typer) -> None:
    """Register the commands of this module."""
    app.command(name="next")(next_reading)


def next_reading(
    design: DesignPath = None,
    as_json: Json = False,
    schema: Schema = False,
    explain: Explain = False,
) -> None:
    """Which reading is worth its minutes, or that it is time to stop measuring."""
    from clampwright import actions

    if schema:
        return _schema("next")
    result = actions.next_readings(actions.open_case(_given(design)))
    if as_json:
        return print(result.model_dump_json(indent=2))
    from clampwright.record.next_text import next_text

    return print(next_text(result, explain=explain))


def _given(path: Path | None) -> Path:
    if path is None:
        raise typer.BadParameter("DESIGN is missing: give a file")
    return path


def _schema(name: str) -> None:
    from clampwright import actions

    print(json.dumps(actions.RESULTS[name].model_json_schema(mode="serialization"), indent=2))
