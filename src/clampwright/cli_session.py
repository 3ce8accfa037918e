"""Command `session`: a guided session at the bench in the terminal, live or typed. Read, call, print.

A part of the command line; floor 7; may import floor 0, `actions` and `record`, only when it runs.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from clampwright.cli_answers import Folder, Json, Schema, print_json, print_schema
from clampwright.errors import InputError

if TYPE_CHECKING:
    from clampwright.actions import GuidedState

HELP = """Enter  done, or read the meter (without a meter: the voltage is on)
12.4 µV; 12.5 µV  readings of the meter, typed
n [reason]  next, with a reason when something is missing     s reason  skip
b  back     m touch|light|cable|note [words]  mark     r  result so far     q  leave, to go on later"""
END = "goes on with"

Instrument = Annotated[
    str, typer.Argument(help="Id of an instrument of the workspace.", show_default=False)
]
Part = Annotated[str, typer.Option(help="Part sheet id of what is measured.")]
Wiring = Annotated[str, typer.Option(help='Leads, such as "C/B+E".')]
Design = Annotated[
    Path | None, typer.Option(help="Takes voltages and light from this design sheet.")
]
Voltages = Annotated[
    list[str] | None, typer.Option(help='Reverse voltage, such as "5 V"; may be repeated.')
]
Light = Annotated[str, typer.Option(help='Light for the lit readings; "0 lx" for none.')]
Warm = Annotated[
    list[str] | None, typer.Option(help='Warm point, such as "45 °C"; may be repeated.')
]
NoWarm = Annotated[bool, typer.Option("--no-warm", help="No warm points.")]
Name = Annotated[str, typer.Option("--session", help="Name; an open one goes on.")]
Who = Annotated[str, typer.Option(help="Who measures.")]
Conditions = Annotated[str, typer.Option(help="Words about the sitting.")]
Waits = Annotated[float, typer.Option(min=0, max=1, help="Share of the usual waiting times.")]
Why = Annotated[str, typer.Option(help="Why less is waited than usual.")]


def add_session_command(app: typer.Typer) -> None:
    """Put the command into the command line."""
    app.command("session")(session)


def session(
    instrument: Instrument = "",
    part: Part = "",
    wiring: Wiring = "",
    design: Design = None,
    voltage: Voltages = None,
    light: Light = "",
    warm: Warm = None,
    no_warm: NoWarm = False,
    name: Name = "",
    who: Who = "",
    conditions: Conditions = "",
    waits: Waits = 1.0,
    why: Why = "",
    folder: Folder = Path(),
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Measure a part step by step: cautions, zeros, readings until they settle, zeros again."""
    from clampwright import actions

    if schema:
        return print_schema("session")
    there = {n for n, _, _ in actions.guided_sessions(folder)}
    if name and name in there:
        state = actions.guided_state(folder, name)
    else:
        if not (instrument and part and wiring):
            raise typer.BadParameter("INSTRUMENT, --part and --wiring are needed to begin")
        state = actions.open_guided(
            folder, instrument, part, wiring, design=design, voltages=tuple(voltage or ()),
            light=light, warm=() if no_warm else tuple(warm) if warm else None, session=name,
            who=who, conditions=conditions, wait_share=waits, why=why,
        )  # fmt: skip
    say: Callable[[str], None] = (lambda text: None) if as_json else print
    state = _Walk(folder, say).to_the_end(state)
    if as_json:
        print_json(state)
    return None


class _Walk:
    """One person at the terminal, going through the steps."""

    def __init__(self, folder: Path, say: Callable[[str], None]) -> None:
        self._folder, self._say = folder, say

    def to_the_end(self, state: GuidedState) -> GuidedState:
        """Until every step is done and the session is evidence, or the person leaves."""
        from clampwright import actions

        self._say(f"Session {state.session}: {state.part} {state.wiring} with {state.instrument}")
        if state.why:
            self._say(f"Waiting times are {100 * state.wait_share:g} % of usual: {state.why}")
        self._say(HELP)
        self._step(state)
        for line in _lines():
            if line == "q":
                break
            at = state.at
            try:
                if state.complete and line in ("", "n"):
                    result = actions.finish_session(self._folder, state.session)
                    self._say(f"{actions.evidence_words(result)}.")
                    return actions.guided_state(self._folder, state.session)
                state = self._do(state, line)
            except InputError as error:
                self._say(f"  {error}")
                state = actions.guided_state(self._folder, state.session)
            if state.at != at:
                self._step(state)
            else:
                self._run(state)
        self._say(
            f"Everything read is kept; the session {END}: --session {json.dumps(state.session)}"
        )
        return state

    def _do(self, state: GuidedState, line: str) -> GuidedState:
        from clampwright import actions

        root, name, at = self._folder, state.session, state.at
        word, _, rest = line.partition(" ")
        if line == "":
            if state.kind == "do":
                return actions.move(root, name, "next", at=at)
            if state.live:
                return actions.take_live(root, name, at=at, told=self._progress)
            return actions.voltage_on(root, name, at=at)
        if word in ("n", "s", "b"):
            act = {"n": "next", "s": "skip", "b": "back"}[word]
            return actions.move(root, name, act, at=at, reason=rest)
        if word == "m":
            kind, _, words = rest.partition(" ")
            actions.mark_session(name, root, kind or "note", words)
        elif word == "r":
            self._result(state)
        elif word == "?":
            self._say(HELP)
        else:
            values = "\n".join(line.split(";"))
            return actions.take_values(root, name, values, at=at, last=state.last)
        return actions.guided_state(root, name)

    def _step(self, state: GuidedState) -> None:
        number = min(state.at + 1, len(state.steps))
        self._say(f"\n{number}/{len(state.steps)}  {state.title}\n  {state.words}")
        if state.caution:
            self._say(f"  Caution: {state.caution}")
        if state.missing:
            self._say(f"  {state.missing}")

    def _run(self, state: GuidedState) -> None:
        run = state.run
        if run.figure:
            self._say(
                f"  {run.figure} ± {run.spread} {run.unit}, {run.count} readings; {run.words}"
            )
        for words in (state.check, *run.diagnosis):
            if words:
                self._say(f"  {words}")

    def _progress(self, state: GuidedState) -> None:
        if sys.stderr.isatty():
            run = state.run
            text = f"\r  {run.figure} ± {run.spread} {run.unit}  {run.count} kept; {run.words}"
            print(f"{text:<100}", end="", file=sys.stderr, flush=True)

    def _result(self, state: GuidedState) -> None:
        from clampwright import actions
        from clampwright.record.terminal import leakages_text

        found = actions.guided_result(self._folder, state.session)
        if found.leakages:
            self._say(leakages_text(found.leakages, components=False, colour=False))
        else:
            self._say("  no reading of the part counts yet")


def _lines() -> Iterator[str]:
    """What the person types, line by line; Ctrl-D and Ctrl-C leave."""
    while True:
        try:
            yield input("> " if sys.stdin.isatty() else "").strip()
        except (EOFError, KeyboardInterrupt):
            return


__all__ = ["add_session_command"]
