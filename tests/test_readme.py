"""Every command that README shows is run as it is printed, in one new folder, in order."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"^```sh\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
COMMANDS = [line.strip() for block in BLOCKS for line in block.splitlines() if line.strip()]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").glob("*.md")])


def test_there_are_commands_to_run() -> None:
    runs = {shlex.split(line, comments=True)[1] for line in COMMANDS if "clampwright" in line}
    assert {"new", "reduce", "part", "check", "faults", "rank", "next", "record"} <= runs


def test_every_command_stands_on_its_page() -> None:
    from typer.main import get_command

    from clampwright.cli import app

    page = (ROOT / "docs" / "command-line.md").read_text("utf-8")
    for name in get_command(app).commands:
        assert f"`clampwright {name}" in page, name


def test_make_words_exist() -> None:
    makefile = (ROOT / "Makefile").read_text("utf-8")
    targets = set(re.findall(r"^([a-z]+):", makefile, re.MULTILINE))
    text = "\n".join(page.read_text("utf-8") for page in PAGES)
    named = set(re.findall(r"^make (\w+)", "\n".join(COMMANDS), re.MULTILINE))
    named |= set(re.findall(r"`make (\w+)`", text))
    assert {"demo", "test"} <= named <= targets


def test_commands_end_with_the_codes_that_are_documented(tmp_path: Path) -> None:
    """A comment "exit code N" behind a command is what is expected, else 0."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    folder = tmp_path
    for line in COMMANDS:
        words = shlex.split(line, comments=True)
        if words[0] == "make":
            continue
        if words[0] == "cd":
            folder = folder / words[1]
            continue
        run = subprocess.run(
            words,
            cwd=folder,
            env={**os.environ, "PATH": path},
            capture_output=True,
            encoding="utf-8",
            check=False,
        )
        expected = re.search(r"#.*exit code (\d+)", line)
        assert run.returncode == int(expected[1] if expected else 0), (line, run.stderr)
        assert run.stdout, line
    assert (folder / "records" / "my-input.html").stat().st_size > 10_000


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.name)
def test_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text("utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_files_that_pages_name_exist() -> None:
    for page in (ROOT / "docs" / "showing.md", ROOT / "CONTRIBUTING.md", ROOT / "ARCHITECTURE.md"):
        text = page.read_text("utf-8")
        for name in re.findall(r"(?:tests|benchmarks|tools)/[\w/]+\.(?:py|toml)", text):
            assert (ROOT / name).is_file(), (page.name, name)
        if page.name == "ARCHITECTURE.md":
            for name in re.findall(r"`([a-z]+/\w+\.py)`", text):
                where = ROOT if name.startswith(("tests", "tools")) else ROOT / "src/clampwright"
                assert (where / name).is_file(), name
