"""docs/own-network.md: its commands run as printed, its sheets are judged, its mistakes are said."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from clampwright import actions
from clampwright.errors import InputError

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "own-network.md").read_text("utf-8")
COMMANDS = re.findall(r"^```sh\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)[0].splitlines()
SHEETS = re.findall(r"^```toml\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)


def test_the_commands_end_as_documented(tmp_path: Path) -> None:
    folder = tmp_path
    for line in COMMANDS:
        words = shlex.split(line, comments=True)
        if words[0] == "cd":
            folder = folder / words[1]
            continue
        program = Path(sys.executable).with_name(words[0])
        run = subprocess.run([program, *words[1:]], cwd=folder, capture_output=True, check=False)
        expected = re.search(r"# exit code (\d+)", line)
        assert run.returncode == int(expected[1] if expected else 0), (line, run.stderr)


def put_in(workspace: Path, network: str) -> Path:
    """The starter's design with the network of the page in place of its own."""
    path = workspace / "designs" / "my-input.toml"
    head, rest = path.read_text("utf-8").split("[network]\n")
    path.write_text(head + network + "\n" + rest[rest.index("[[faults]]") :], "utf-8")
    return path


@pytest.mark.parametrize("sheet", SHEETS, ids=("smallest", "two stages"))
def test_the_sheets_are_judged(tmp_path: Path, sheet: str) -> None:
    case = actions.open_case(put_in(actions.new_workspace(tmp_path / "mine"), sheet))
    found = actions.check(case)
    stress = actions.faults(case)
    assert found.judgements and stress.cases
    assert stress.verdict != "PASS" or "R_pin" not in sheet  # what is not judged does not pass
    terms = {t.name for j in found.judgements for t in j.terms}
    assert any(t.startswith("clamp") for t in terms)


def test_the_starter_holds_the_two_stages(tmp_path: Path) -> None:
    path = actions.new_workspace(tmp_path / "mine") / "designs" / "my-network.toml"
    there = tomllib.loads(path.read_text("utf-8"))["network"]
    shown = tomllib.loads(SHEETS[1])["network"]
    assert {k: v for k, v in there.items() if k != "elements"} == {
        "topology": "own",
        "clamp": shown["clamp"],
    }
    assert all(element in there["elements"] for element in shown["elements"])


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('cathode = "ground"', 'cathode = "grund"'),
        ('kind = "clamp"', 'kind = "klamp"'),
        ('part = "gas tube"', 'part = "glas switching diode"'),
        ('name = "R_pin"', 'name = "R_first"'),
        (
            'kind = "resistor"\nname = "R_pin"',
            'kind = "follower"\nname = "drive"\nnode = "clamped"\nfollows = "pin"\noffset = "0 V"\n'
            '[[network.elements]]\nkind = "resistor"\nname = "R_pin"',
        ),
    ],
)
def test_mistakes_are_said_as_on_the_page(tmp_path: Path, old: str, new: str) -> None:
    """The words behind the first quoted name stand on the page, as in the table of mistakes."""
    assert old in SHEETS[1]
    path = put_in(actions.new_workspace(tmp_path / "mine"), SHEETS[1].replace(old, new, 1))
    with pytest.raises(InputError) as complaint:
        actions.check(actions.open_case(path))
    said = str(complaint.value)
    table = PAGE[PAGE.index("## Mistakes") :]
    phrase = next(p for p in re.split(r'"[^"]*"', said)[1:] if len(p) > 10).split(";")[0].strip()
    assert phrase in table, said
