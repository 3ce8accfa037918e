"""Commands for the bench: plan, type readings, separate a board, its trend, mend. Read, call, print.

A part of the command line; floor 7; may import floor 0, `cli_answers` and, only when a command
runs, `actions`.
"""

from __future__ import annotations

import sys
from pathlib import Path
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

TO_MEND = 64  # exit code: something that was written cannot be used
Design = Annotated[
    Path | None, typer.Option("--design", help="Its clamp's law is used, its prediction compared.")
]
Instrument = Annotated[str, typer.Option("--instrument", help="Id of an instrument sheet.")]


def add_bench_commands(app: typer.Typer) -> None:
    """Put the commands into the command line."""
    app.command("plan")(plan)
    app.command("enter")(enter)
    app.command("separate")(separate)
    app.command("trend")(trend)
    app.command("mend")(mend)


def plan(
    part: Annotated[
        str, typer.Argument(help="Part sheet id, or its file.", show_default=False)
    ] = "",
    instrument: Annotated[
        list[str] | None, typer.Option(help="Id of an instrument; may be repeated. All if none.")
    ] = None,
    wiring: Wiring = "",
    voltage: Bias = "5 V",
    claim: Annotated[
        str, typer.Option("--for", help='Claim to support at 23 °C, such as "< 1 pA".')
    ] = "",
    confidence: Annotated[str, typer.Option(help="Of the claim, one-sided.")] = "95 %",
    mains: Annotated[str, typer.Option(help="Frequency of the mains.")] = "50 Hz",
    folder: Folder = Path(),
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Before measuring: which temperature, range, gate and number of readings a part needs."""
    from clampwright import actions

    if schema:
        return print_schema("plan")
    if not part:
        raise typer.BadParameter("PART is missing: the id of a part sheet")
    result = actions.plan_readings(
        folder, part, instruments=tuple(instrument or ()), wiring=wiring, voltage=voltage,
        claim=claim, confidence=confidence, mains=mains,
    )  # fmt: skip
    return answer(result, as_json, result.text())


def enter(
    session: Session = "",
    instrument: Instrument = "",
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
    unit: Annotated[str, typer.Option(help='Of lines without one, such as "µV".')] = "",
    who: Who = "",
    folder: Folder = Path(),
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Type or paste readings into the database, one a line; Ctrl-D or the end of a file ends."""
    from clampwright import actions

    if schema:
        return print_schema("enter")
    if not instrument:
        raise typer.BadParameter("--instrument is missing: the id of the one that was read")
    name = named(session)
    typed = written(
        part=part, wiring=wiring, state=state, reverse_voltage=voltage, temperature=temperature,
        pt100=pt100, type_k=type_k, cold_junction=cold_junction,
        light=light, lamp=lamp, humidity=humidity, note=note,
    )  # fmt: skip
    if sys.stdin.isatty():
        print("One reading a line; Ctrl-D ends.", file=sys.stderr)
    result = actions.add_typed(
        name, folder, sys.stdin.read(), typed, instrument=instrument, unit=unit, who=who
    )
    return answer(result, as_json, f"{result.count} readings are in session {result.name}")


def separate(
    readings: Annotated[
        Path, typer.Argument(help="Readings of a board (CSV), or a session.", show_default=False)
    ] = Path(),
    design: Design = None,
    without: Annotated[
        list[str] | None, typer.Option(help="A term that is known to be absent; may be repeated.")
    ] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Keep the file as a session.")] = False,
    session: Name = "",
    who: Who = "",
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Tell apart clamps, amplifier bias and films on an assembled board, without unsoldering."""
    from clampwright import actions

    if schema:
        return print_schema("separate")
    result = actions.separate_board(
        given(readings, "READINGS"),
        design=design,
        without=tuple(without or ()),
        keep=keep,
        session=session,
        who=who,
    )
    return answer(result, as_json, result.text())


def trend(
    board: Annotated[
        str, typer.Argument(help="Which board, when several are kept.", show_default=False)
    ] = "",
    design: Design = None,
    folder: Folder = Path(),
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Kept sittings of a board over months: what changed by more than its uncertainty."""
    from clampwright import actions

    if schema:
        return print_schema("trend")
    result = actions.board_trend(folder, board=board, design=design)
    return answer(result, as_json, result.text())


def mend(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="A workspace.")] = Path(),
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Look a workspace over: what to mend, a sentence each; removes only forgotten temporary files."""
    from clampwright import actions

    if schema:
        return print_schema("mend")
    result = actions.mend(folder)
    answer(result, as_json, result.text())
    raise typer.Exit(TO_MEND if result.wrong else 0)


__all__ = ["add_bench_commands"]
