"""Commands for readings: log, mark, correct, import, export, bundle, sessions. Read, call, print.

A part of the command line; floor 7; may import floor 0, `cli_answers` and, only when a command
runs, `actions`.
"""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event as Flag
from typing import Annotated

import typer

from clampwright.cli_answers import (
    Bias,
    Folder,
    Heat,
    Humidity,
    Json,
    Junction,
    Lamp,
    Light,
    Name,
    Note,
    Part,
    Pt100,
    Schema,
    Session,
    State,
    TypeK,
    Who,
    Wiring,
    answer,
    given,
    named,
    print_schema,
    written,
)


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
        return print_schema("study")
    result = actions.study(given(readings, "READINGS"))
    return answer(result, as_json, result.text())


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
    part: Part = "",
    wiring: Wiring = "",
    state: State = "reading",
    voltage: Bias = "",
    temperature: Heat = "",
    pt100: Pt100 = "",
    type_k: TypeK = "",
    cold_junction: Junction = "",
    light: Light = "",
    lamp: Lamp = "",
    humidity: Humidity = "",
    note: Note = "",
    who: Who = "",
    folder: Folder = Path(),
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Log a meter into the readings database; Ctrl-C ends it, and what was read is kept."""
    from clampwright import actions

    if schema:
        return print_schema("log")
    typed = written(
        part=part, wiring=wiring, state=state, reverse_voltage=voltage, temperature=temperature,
        pt100=pt100, type_k=type_k, cold_junction=cold_junction,
        light=light, lamp=lamp, humidity=humidity, note=note,
    )  # fmt: skip
    with _until_interrupted() as stop:
        result = actions.log_readings(
            _instrument(given(instrument, "INSTRUMENT"), folder),
            typed,
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
    return answer(result, as_json, text)


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

    result = actions.mark_session(named(session), folder, kind, words)
    return answer(result, as_json, f"Marked after reading {result.count} of {result.name}")


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
        named(session), folder, rows=rows, field=field, value=value, why=why, who=who
    )
    text = f"Readings {rows} of {result.name} are corrected; as taken they are in: export --raw"
    return answer(result, as_json, text)


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
        return print_schema("import")
    result = actions.import_readings(
        given(file, "FILE"), folder, session=session, who=who, conditions=conditions
    )
    whose = f", evidence of {result.origin}" if result.origin else ""
    return answer(result, as_json, f"{result.count} readings are in session {result.name}{whose}")


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

    written = actions.export_readings(named(session), folder, output, corrected=not raw)
    return answer({"readings": str(written)}, as_json, f"The readings are in {written}")


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

    written = actions.write_bundle(named(session), folder, output, origin=origin)
    return answer({"bundle": str(written)}, as_json, f"The evidence is in {written}")


def sessions(folder: Folder = Path(), as_json: Json = False, schema: Schema = False) -> None:
    """What the readings database holds."""
    from clampwright import actions

    if schema:
        return print_schema("sessions")
    result = actions.list_sessions(folder)
    lines = [
        f"{s.name}: {s.count} readings{' of a board' * (s.kind == 'board')}, {s.started[:16]} UTC, "
        + (f"evidence of {s.origin}" if s.origin else s.who or "this bench")
        for s in result.sessions
    ]
    return answer(result, as_json, "\n".join(lines) or "No session yet.")


def _instrument(instrument: Path, folder: Path) -> Path:
    """A sheet that exists, or the sheet or id of that name in the workspace `folder`."""
    if not instrument.is_file():
        return folder / instrument
    if folder != Path() and folder.resolve() not in instrument.resolve().parents:
        raise typer.BadParameter(f"{instrument} is not in {folder}: give one of them, or the id")
    return instrument


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
