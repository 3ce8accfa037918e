"""Commands that say what to do with a judged design: the next reading, the record, its revisions.

Floor 7; may import floor 0, `cli_answers`, `actions` and `record`, the rooms only when a command runs.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from clampwright.cli_answers import (
    DesignPath,
    Explain,
    Json,
    Schema,
    given,
    print_json,
    print_schema,
    progress,
)

if TYPE_CHECKING:
    from clampwright.actions import Case


def add_record_commands(app: typer.Typer) -> None:
    """Register the commands of this module."""
    app.command(name="next")(next_reading)
    app.command()(record)


def next_reading(
    design: DesignPath = None,
    as_json: Json = False,
    schema: Schema = False,
    explain: Explain = False,
) -> None:
    """Which reading is worth its minutes, or that it is time to stop measuring."""
    from clampwright import actions

    if schema:
        return print_schema("next")
    result = actions.next_readings(actions.open_case(given(design, "DESIGN")))
    if as_json:
        return print_json(result)
    from clampwright.record.next_text import next_text

    return print(next_text(result, explain=explain))


def record(
    design: DesignPath = None,
    output: Annotated[
        Path, typer.Option("--output", "-o", help="File to write; ends in .html or .pdf.")
    ] = Path("record.html"),
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter, for PDF.")] = "a4",
    keep: Annotated[
        bool,
        typer.Option("--keep/--no-keep", help="Keep it with its inputs, under the next number."),
    ] = True,
    kept: Annotated[bool, typer.Option("--kept", help="List the records that are kept.")] = False,
    difference: Annotated[
        tuple[int, int] | None,
        typer.Option("--difference", help="Compare two kept records by their numbers."),
    ] = None,
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Write the design record for review and print, keep it, or compare two that are kept."""
    from clampwright import actions

    if schema:
        return print_schema("difference")
    path = given(design, "DESIGN")
    case = actions.open_case(path)
    if kept:
        return _list_kept(case, path, as_json=as_json)
    if difference is not None:
        return _compare(case, path, difference, as_json=as_json)
    actions.check_target(output)
    with progress("ranking") as step:
        ranked = actions.rank(case, step)
    number = str(actions.keep_record(case, path, ranked).number) if keep else ""
    written = actions.record(case, output, ranked=ranked, paper=paper, kept=number)
    if as_json:
        return print_json({"record": str(written), "inputs_hash": case.hash, "kept": number})
    told = f", kept as record {number}" if number else ""
    return print(f"The record is in {written}{told}")


def _list_kept(case: Case, path: Path, *, as_json: bool) -> None:
    from clampwright import actions

    rows = [actions.kept_record(case, path, n) for n in actions.kept_records(case, path)]
    if as_json:
        fields = {"number", "made_on", "design_hash"}
        return print_json(
            {"design": path.stem, "records": [r.model_dump(include=fields) for r in rows]}
        )
    if not rows:
        return print(f"No record of {path.stem} is kept yet: clampwright record makes one.")
    for row in rows:
        print(f"  {row.number:>4}  {row.made_on}  {row.design_hash[:16]}  {row.answers['verdict']}")
    return None


def _compare(case: Case, path: Path, numbers: tuple[int, int], *, as_json: bool) -> None:
    from clampwright import actions

    found = actions.record_difference(case, path, *numbers)
    if as_json:
        return print_json(found)
    from clampwright.record.answers import difference_text

    title = (
        f"{found.design}: record {found.before} of {found.made_before} against record "
        f"{found.after} of {found.made_after}"
    )
    return print(difference_text(title, list(found.inputs), list(found.answers)))
