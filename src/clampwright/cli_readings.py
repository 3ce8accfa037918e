"""Commands for readings: log, mark, correct, import, export, bundle, sessions. Read, call, print.

A part of the command line; floor 7; may import floor 0 and `actions`, only when a command runs.
"""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event as Flag
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


def add_commands(app: typer.Typer) -> None:
    """Put the commands into the command line."""
    app.command("study")(study)
    app.command("log")(log)
    app.command("mark")(mark)
    app.command("correct")(correct)
    app.command("import")(import_)
    app.command("export")(export)
    app.command("bundle")(bundle)
    app.command("sessions")(sessions)


def study(
    readings: Annotated[
        Path, typer.Argument(help="Raw readings (CSV), or a session.", show_default=False)
    ] = Path(),
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """What readings mean: activation energy, voltage, light, likely effect, lots."""
    from clampwright import actions

    if schema:
        return _print_schema("study")
    result = actions.study(_given(readings, "READINGS"))
    return _answer(result, as_json, result.text())


def log(
    instrument: Annotated[
        Path, typer.Argument(help="An instrument sheet, or its id here.", show_default=False)
    ] = Path(),
    session: Name = "",
    count: Annotated[int | None, typer.Option(min=1, help="Readings after which to end.")] = None,
    seconds: Annotated[float | None, typer.Option(min=0.001, max=1e8, help="Or time.")] = None,
    interval: Annotated[
        float, typer.Option(min=0, max=1e6, help="Seconds between readings.")
    ] = 0.0,
    part: Annotated[str, typer.Option(help="Part sheet id of what is fitted.")] = "",
    wiring: Annotated[str, typer.Option(help='Leads, such as "C/B+E".')] = "",
    state: Annotated[
        str, typer.Option(help="reading | zero open | zero fixture | zero part-fitted.")
    ] = "reading",
    voltage: Annotated[str, typer.Option(help='Reverse voltage, such as "5 V".')] = "",
    temperature: Annotated[str, typer.Option(help='Of the part, such as "23 °C".')] = "",
    light: Annotated[str, typer.Option(help='On the part, such as "0 lx".')] = "",
    lamp: Annotated[str, typer.Option(help="Which lamp, when lit.")] = "",
    humidity: Annotated[str, typer.Option(help='Relative, such as "45 %".')] = "",
    note: Annotated[str, typer.Option(help="Anything to keep with every reading.")] = "",
    who: Who = "",
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Log a meter into the readings database; Ctrl-C ends it, and what was read is kept."""
    from clampwright import actions

    if schema:
        return _print_schema("log")
    typed = {
        "part": part,
        "wiring": wiring,
        "state": state,
        "reverse_voltage": voltage,
        "temperature": temperature,
        "light": light,
        "lamp": lamp,
        "humidity": humidity,
        "note": note,
    }
    with _until_interrupted() as stop:
        result = actions.log_readings(
            _given(instrument, "INSTRUMENT"),
            {field: text for field, text in typed.items() if text},
            session=session,
            count=count,
            seconds=seconds,
            interval=interval,
            who=who,
            stop=stop,
            told=_counter(),
        )
    marks = f"{result.gaps} gaps, {result.garbled} garbled answers, {result.overloads} overloads"
    text = f"{result.count} readings in {result.seconds:.1f} s are in session {result.session}; {marks}"
    return _answer(result, as_json, text)


def mark(
    session: Session = "",
    kind: Annotated[
        str, typer.Argument(help="touch | light | cable | note.", show_default=False)
    ] = "note",
    words: Annotated[str, typer.Argument(help="What happened.", show_default=False)] = "",
    folder: Folder = Path(),
    as_json: Json = False,
) -> None:
    """Say what just happened at the bench, also while a log runs."""
    from clampwright import actions

    result = actions.mark_session(_named(session), folder, kind, words)
    return _answer(result, as_json, f"Marked after reading {result.count} of {result.name}")


def correct(
    session: Session = "",
    rows: Annotated[str, typer.Option("--rows", help='Such as "3" or "3-7".')] = "",
    field: Annotated[str, typer.Option("--field", help="Column, or excluded.")] = "",
    value: Annotated[str, typer.Option("--value", help='Such as "24 °C", or true.')] = "",
    why: Annotated[str, typer.Option("--why", help="The reason; it is kept.")] = "",
    who: Annotated[str, typer.Option("--who", help="Who corrects.")] = "",
    folder: Folder = Path(),
    as_json: Json = False,
) -> None:
    """Write a correction beside readings, with its reason; what the meter showed is never changed."""
    from clampwright import actions

    result = actions.correct_readings(
        _named(session), folder, rows=rows, field=field, value=value, why=why, who=who
    )
    text = f"Readings {rows} of {result.name} are corrected; as taken they are in: export --raw"
    return _answer(result, as_json, text)


def import_(
    file: Annotated[
        Path, typer.Argument(help="Readings (CSV) or an evidence bundle.", show_default=False)
    ] = Path(),
    folder: Folder = Path(),
    session: Name = "",
    who: Who = "",
    conditions: Annotated[str, typer.Option(help="Words about the sitting.")] = "",
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Take a CSV file or an evidence bundle into the readings database, all of it or nothing."""
    from clampwright import actions

    if schema:
        return _print_schema("import")
    result = actions.import_readings(
        _given(file, "FILE"), folder, session=session, who=who, conditions=conditions
    )
    whose = f", evidence of {result.origin}" if result.origin else ""
    return _answer(result, as_json, f"{result.count} readings are in session {result.name}{whose}")


def export(
    session: Session = "",
    output: Annotated[
        Path, typer.Option("--output", "-o", help="File to write: .csv or .parquet.")
    ] = Path("readings.csv"),
    folder: Folder = Path(),
    raw: Annotated[bool, typer.Option("--raw", help="As taken, without corrections.")] = False,
    as_json: Json = False,
) -> None:
    """Write a session of the readings database as CSV or Parquet."""
    from clampwright import actions

    written = actions.export_readings(_named(session), folder, output, corrected=not raw)
    return _answer({"readings": str(written)}, as_json, f"The readings are in {written}")


def bundle(
    session: Session = "",
    output: Annotated[Path, typer.Option("--output", "-o", help="File to write.")] = Path(
        "evidence.zip"
    ),
    folder: Folder = Path(),
    origin: Annotated[str, typer.Option("--of", help="Whose evidence it is.")] = "",
    as_json: Json = False,
) -> None:
    """Write one file that hands a session to somebody else and shows any change."""
    from clampwright import actions

    written = actions.write_bundle(_named(session), folder, output, origin=origin)
    return _answer({"bundle": str(written)}, as_json, f"The evidence is in {written}")


def sessions(folder: Folder = Path(), as_json: Json = False, schema: Schema = False) -> None:
    """What the readings database holds."""
    from clampwright import actions

    if schema:
        return _print_schema("sessions")
    result = actions.list_sessions(folder)
    lines = [
        f"{s.name}: {s.count} readings, {s.started[:16]} UTC, "
        + (f"evidence of {s.origin}" if s.origin else s.who or "this bench")
        for s in result.sessions
    ]
    return _answer(result, as_json, "\n".join(lines) or "No session yet.")


def _given(path: Path, name: str) -> Path:
    if path == Path():
        raise typer.BadParameter(f"{name} is missing: give a file")
    return path


def _named(session: str) -> str:
    if not session:
        raise typer.BadParameter("SESSION is missing: clampwright sessions lists them")
    return session


def _answer(result: BaseModel | dict[str, Any], as_json: bool, text: str) -> None:
    if not as_json:
        print(text)
    elif isinstance(result, dict):
        print(json.dumps(result, indent=2, ensure_ascii=False))
    else:
        print(result.model_dump_json(indent=2))


def _print_schema(name: str) -> None:
    from clampwright import actions

    print(json.dumps(actions.RESULTS[name].model_json_schema(mode="serialization"), indent=2))


@contextmanager
def _until_interrupted() -> Iterator[Flag]:
    """Set by the first Ctrl-C or termination signal; a second one ends the program at once."""
    stop = Flag()
    before = {number: signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)}

    def end(number: int, _frame: object) -> None:
        stop.set()
        signal.signal(number, signal.SIG_DFL)

    for number in before:
        signal.signal(number, end)
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _counter() -> Callable[[int], None]:
    """Tell on a terminal how many readings are kept."""
    if not sys.stderr.isatty():
        return lambda count: None
    return lambda count: print(f"\r{count} readings kept", end="", file=sys.stderr, flush=True)


__all__ = ["add_commands"]
