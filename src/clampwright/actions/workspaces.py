"""Workspaces to start from and the invented demonstrations.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from pathlib import Path

from clampwright.errors import InputError
from clampwright.workspace.starter import copy_sheets

DEMOS = {"orchard": "orchard-probe", "press": "press-load", "darkbox": "dark-box"}
"""The invented demonstrations and the design each of them is about."""


def new_workspace(target: Path) -> Path:
    """Make a workspace to start from: one design, one part and one instrument to change."""
    copy_sheets("starter", target, {})
    return target


def demo_workspace(target: Path, name: str = "orchard") -> Path:
    """Make an invented demonstration workspace, its readings drawn from a hidden truth.

    Returns the design it is about. InputError lists the demonstrations.
    """
    from clampwright.bench.pretend import demo_readings
    from clampwright.bench.pretend_board import demo_boards

    if name not in DEMOS:
        raise InputError(
            f'there is no demonstration "{name}"', expected="one of " + ", ".join(DEMOS)
        )
    boards = {f"boards/{stem}.csv": text for stem, text in demo_boards(name).items()}
    made = {demo_bench(name).as_posix(): demo_readings(name), **boards}
    copy_sheets(name, target, made, again=True)
    return target / "designs" / f"{DEMOS[name]}.toml"


def demo_bench(name: str) -> Path:
    """Where a demonstration keeps its readings, inside its workspace."""
    return Path("readings") / f"{name}-bench.csv"
