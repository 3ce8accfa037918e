"""The command line: read, call, print. Every command takes --json; results decide the exit code.

Floor 7; may import floor 0, `actions` and `record`, and imports them only when a command runs.
Exit codes: 0 PASS, 1 FAIL, 2 UNDECIDED, NOT MEASURED or held by a safety gate, 64 bad usage or
input, 70 our fault.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.exceptions import TyperException

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
from clampwright.cli_bench import add_bench_commands
from clampwright.cli_readings import add_commands
from clampwright.cli_records import add_record_commands
from clampwright.cli_session import add_session_command
from clampwright.errors import ClampwrightError

EXIT_CODES = {"PASS": 0, "FAIL": 1, "UNDECIDED": 2, "NOT MEASURED": 2}
HELD = 2
BAD_INPUT = 64
OUR_FAULT = 70

app = typer.Typer(
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help=(
        "Protect a precision analog input without spoiling it: bench readings with honest "
        "uncertainty, clamp laws, in-circuit error, fault stress, verdict, printed record. "
        "An aid to engineering judgement, not a safety certification."
    ),
)


def main() -> None:
    """Run the command line; every failure is one sentence and an exit code, never a traceback."""
    if len(sys.argv) == 1:
        sys.argv.append("--help")
    try:
        code = app(standalone_mode=False)
    except typer.Exit as leaving:
        code = leaving.exit_code
    except TyperException as error:
        _complain(f"{error.format_message().rstrip('.')}; see --help.")
        code = BAD_INPUT
    except (typer.Abort, KeyboardInterrupt):
        _complain("stopped.")
        code = BAD_INPUT
    except ClampwrightError as error:
        _complain(str(error))
        code = error.exit_code
    except BrokenPipeError:
        code = 0
    except Exception as error:
        _complain(
            f"an error of ours, not of your files: {type(error).__name__}: {error}; "
            "please report it with the command you gave."
        )
        code = OUR_FAULT
    sys.exit(code or 0)


@app.command()
def demo(
    folder: Annotated[Path, typer.Argument(help="Where to make it.")] = Path("demo"),
    name: Annotated[
        str, typer.Option("--name", help="Which one: orchard, press or darkbox.")
    ] = "orchard",
    as_json: Json = False,
) -> None:
    """Make an invented demonstration and run the whole job on it."""
    from clampwright import demo as show

    with progress("ranking") as step:
        say = _silent if as_json else _say
        result = show.run(folder, name, say, colour=_colour(), progress=step)
    if as_json:
        print_json(result)


@app.command()
def new(
    folder: Annotated[Path, typer.Argument(help="A new folder.", show_default=False)],
    as_json: Json = False,
) -> None:
    """Make a workspace to start from: a design, a part and an instrument to change."""
    from clampwright import actions

    made = actions.new_workspace(folder)
    if as_json:
        print_json({"workspace": str(made)})
        return
    _say(
        f"A workspace is in {made}: change parts/, instruments/ and designs/, put readings in readings/."
    )


@app.command()
def reduce(
    readings: Annotated[
        Path | None, typer.Argument(help="Raw readings (CSV).", show_default=False)
    ] = None,
    as_json: Json = False,
    schema: Schema = False,
    explain: Explain = False,
) -> None:
    """Raw readings and zeros to leakage with uncertainty and limits."""
    from clampwright import actions

    if schema:
        return print_schema("reduce")
    result = actions.reduce_file(given(readings, "READINGS"))
    if as_json:
        return print_json(result)
    from clampwright.record.terminal import leakages_text

    if result.origin:
        _say(f"Evidence of {result.origin}\n")
    for warning in result.warnings:
        _say(f"! {warning}")
    _say(leakages_text(result.leakages, components=explain, colour=_colour()))
    return None


@app.command()
def check(
    design: DesignPath = None,
    as_json: Json = False,
    schema: Schema = False,
    explain: Explain = False,
) -> None:
    """Error, noise, bandwidth and settling against the allowance, with a verdict and its reason."""
    from clampwright import actions

    if schema:
        return print_schema("check")
    result = actions.check(actions.open_case(given(design, "DESIGN")))
    if as_json:
        print_json(result)
    else:
        from clampwright.record.explain import explain_check
        from clampwright.record.terminal import check_text

        _say(check_text(result, colour=_colour()))
        if explain:
            _say(explain_check(result))
    raise typer.Exit(_code(result))


@app.command()
def faults(
    design: DesignPath = None,
    as_json: Json = False,
    schema: Schema = False,
    explain: Explain = False,
    parts: Annotated[
        bool, typer.Option("--parts", help="Short and open each part in turn instead.")
    ] = False,
) -> None:
    """Stress against rating under every fault, lowest margin first."""
    from clampwright import actions

    if schema:
        return print_schema("part faults" if parts else "faults")
    if parts:
        from clampwright.record.part_faults_text import part_faults_text

        found = actions.part_faults(actions.open_case(given(design, "DESIGN")))
        if as_json:
            return print_json(found)
        _say(part_faults_text(found))
        return None
    result = actions.faults(actions.open_case(given(design, "DESIGN")))
    if as_json:
        print_json(result)
    else:
        from clampwright.record.explain import explain_faults
        from clampwright.record.terminal import faults_text

        _say(faults_text(result, colour=_colour()))
        if explain:
            _say(explain_faults(result))
    raise typer.Exit(_code(result))


@app.command()
def rank(
    design: DesignPath = None,
    as_json: Json = False,
    schema: Schema = False,
    limit: Annotated[int, typer.Option("--limit", min=1, help="How many lines to print.")] = 20,
) -> None:
    """Every clamp wiring, topology and series resistor: the window first, then the shortlist."""
    from clampwright import actions

    if schema:
        return print_schema("rank")
    case = actions.open_case(given(design, "DESIGN"))
    with progress("ranking") as step:
        result = actions.rank(case, step)
    if as_json:
        print_json(result)
    else:
        from clampwright.record.terminal import rank_text

        _say(rank_text(result, limit=limit, colour=_colour()))
    raise typer.Exit(_code(result))


@app.command()
def part(
    sheet: Annotated[
        Path | None, typer.Argument(help="A part sheet (TOML).", show_default=False)
    ] = None,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Draw the curves into this .html file.")
    ] = None,
    as_json: Json = False,
    schema: Schema = False,
) -> None:
    """Wirings of a part, ratings, law, what is known and what is assumed; draws its curves."""
    from clampwright import actions

    if schema:
        return print_schema("part")
    result = actions.part(given(sheet, "FILE"))
    if output:
        actions.part_page(result, output)
    if as_json:
        return print_json(result)
    from clampwright.record.part_text import part_text

    _say(part_text(result, colour=_colour()))
    if output:
        _say(f"The curves are in {output}")
    return None


@app.command()
def serve(
    folder: Annotated[
        Path, typer.Argument(metavar="[DIR]", help="A workspace, or a folder of workspaces.")
    ] = Path("."),
    host: Annotated[str, typer.Option("--host", help="Address to listen on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option("--port", min=1, max=65535)] = 8440,
    wide: Annotated[
        bool,
        typer.Option("--wide", help="Allow an address that other machines reach; a token is made."),
    ] = False,
) -> None:
    """Open the app in a browser: requirement, network, faults, shortlist, evidence, record."""
    from clampwright.web.server import serve as serve_folder

    serve_folder(folder, host=host, port=port, wide=wide, say=lambda text: print(text, flush=True))


add_commands(app)
add_bench_commands(app)
add_record_commands(app)
add_session_command(app)


def _code(result: Any) -> int:
    code = EXIT_CODES[result.verdict.value]
    return HELD if code == 0 and result.gate.level != "none" and result.gate.held else code


def _say(text: str) -> None:
    print(text)


def _silent(text: str) -> None:
    """Say nothing: JSON goes to standard output alone."""


def _complain(text: str) -> None:
    spaces = "\n\t\u00a0\u2009\u202f"  # the thin ones stand between number and unit
    shown = "".join(c if c.isprintable() or c in spaces else "\ufffd" for c in text)
    print(f"clampwright: {shown}", file=sys.stderr)


def _colour() -> bool:
    return sys.stdout.isatty()


if __name__ == "__main__":
    main()
