"""Commands that the pages on measuring show with the demonstration are run as printed, in order."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
COMMAND = Path(sys.executable).with_name("clampwright")
BLOCK = re.compile(r"^```text\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def commands(page: str) -> list[list[str]]:
    """Every command of a page that speaks of the folder demo."""
    text = (ROOT / "docs" / page).read_text("utf-8")
    lines = [line for block in BLOCK.findall(text) for line in block.splitlines()]
    words = [shlex.split(line, comments=True) for line in lines if line.startswith("clampwright ")]
    return [w for w in words if any(word == "demo" or word.startswith("demo/") for word in w)]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the demonstration in `demo`."""
    from clampwright import actions

    place = tmp_path_factory.mktemp("pages")
    actions.demo_workspace(place / "demo")
    return place


def test_there_are_commands_of_each_kind() -> None:
    assert {w[1] for w in commands("measuring.md")} >= {"plan", "separate", "trend"}


def test_commands_on_measuring_run_as_printed(folder: Path) -> None:
    for words in commands("measuring.md"):
        done = subprocess.run(
            [str(COMMAND), *words[1:]], cwd=folder, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0 and done.stdout and not done.stderr, (words, done.stderr)
