"""The demonstration: the whole job on an invented workspace, step by step, in the terminal.

A face like the command line: floor 7; may import floor 0, `actions` and `record`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from clampwright import actions

Say = Callable[[str], None]
COMPARED = {
    "orchard": ("orchard-rails-npn", "orchard-rails-jfet", "orchard-guard-glass"),
    "press": ("press-load-array", "press-load-glass"),
    "darkbox": ("dark-box-glass", "dark-box-led", "dark-box-schottky"),
}


def run(
    folder: Path, name: str, say: Say, *, colour: bool, progress: actions.Progress | None = None
) -> dict[str, Any]:
    """Make the demonstration in `folder`, run reduce, check, faults, rank and record, say each step.

    Returns the verdict of each design and where the record lies.
    """
    from clampwright.record import terminal

    say(f"1/6  Making the demonstration {name} (everything in it is invented)")
    design = actions.demo_workspace(folder, name)
    say("2/6  reduce: raw millivolts to leakage with uncertainty\n")
    reduced = actions.reduce_file(folder / actions.demo_bench(name))
    say(terminal.leakages_text(reduced.leakages, components=False, colour=colour))
    case = actions.open_case(design)
    say("3/6  check: error, noise, bandwidth and settling against the allowance\n")
    checked = actions.check(case)
    say(terminal.check_text(checked, colour=colour))
    say("     The same input with other clamps:\n")
    verdicts = {case.design.title: checked.verdict.value}
    for alternative in COMPARED[name]:
        other = actions.open_case(folder / "designs" / f"{alternative}.toml")
        result = actions.check(other)
        verdicts[other.design.title] = result.verdict.value
        say(f"     {result.verdict.value:<12} {other.design.title}\n     {result.reason}\n")
    say("4/6  faults: stress against rating\n")
    stressed = actions.faults(case)
    say(terminal.faults_text(stressed, colour=colour))
    say("5/6  rank: every clamp wiring, topology and series resistor\n")
    ranked = actions.rank(case, progress)
    say(terminal.rank_text(ranked, limit=12, colour=colour))
    say("6/6  record: one page for review and print")
    target = folder / "records" / f"{design.stem}.html"
    actions.record(case, target, ranked=ranked)
    say(f"\nThe record lies in {target}: open it in any browser.")
    say(f"Run any step again, for example: clampwright check {design}")
    say(f"Open it in the local web app: clampwright serve {folder}")
    return {
        "workspace": str(folder),
        "record": str(target),
        "verdicts": verdicts,
        "faults": stressed.verdict.value,
        "gate": stressed.gate.level,
    }
