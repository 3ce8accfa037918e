"""Looking a workspace over: every mistake at once, a sentence each; nothing that was written changes."""

from __future__ import annotations

import hashlib
import json
import os
import re
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from clampwright import actions
from clampwright.errors import InputError
from clampwright.workspace.mending import LEFT_OVER, OLD
from command_line import clampwright

BAD_INPUT = 64


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """The orchard demonstration with a kept board."""
    root = tmp_path / "orchard"
    actions.demo_workspace(root)
    actions.separate_board(root / "boards" / "board-7-march.csv", keep=True)
    return root


def contents(root: Path) -> dict[str, str]:
    """Hash of every file but the database's own working files."""
    return {
        p.name: hashlib.sha256(p.read_bytes()).hexdigest()
        for p in root.rglob("*")
        if p.is_file() and not p.name.startswith("readings.db")
    }


def test_a_whole_workspace_has_nothing_to_mend(bench: Path) -> None:
    before = contents(bench)
    found = actions.mend(bench)
    assert (found.wrong, found.outdated, found.removed) == ((), (), ())
    assert found.looked_at >= 20 and "nothing to mend" in found.text()
    assert contents(bench) == before


def changed(file: str, old: str, new: str) -> Callable[[Path], None]:
    def change(root: Path) -> None:
        text = (root / file).read_text("utf-8")
        assert old in text
        (root / file).write_text(text.replace(old, new), "utf-8")

    return change


def written(file: str, data: bytes) -> Callable[[Path], None]:
    return lambda root: (root / file).write_bytes(data) and None


def damaged(root: Path) -> None:
    with (root / "readings.db").open("r+b") as file:
        file.seek(5000)
        file.write(bytes(range(256)) * 30)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (written("designs/bad.toml", b"x = ["), "designs/bad.toml: .*not TOML"),
        (written("parts/bad.toml", b"\xff\xfe"), "parts/bad.toml: the sheet cannot be read"),
        (written("readings/odd.csv", b"part,wiring\n"), 'readings/odd.csv.*"state" is missing'),
        (written("boards/odd.csv", b"signal (V)\n"), "boards/odd.csv"),
        (written("workspace.toml", b"database = 7\n"), "workspace.toml"),
        (damaged, "readings.db: the database is damaged"),
        (
            changed("parts/npn-small.toml", 'readings = "orchard-bench"', 'readings = "lost"'),
            'its evidence "lost" is neither a file under readings/ nor a session',
        ),
        (
            changed("designs/orchard-probe.toml", '"npn-small C/B+E"', '"nobody C/B"'),
            'designs/orchard-probe.toml: its clamp names the part "nobody"',
        ),
        (
            changed("designs/orchard-probe.toml", '"npn-small C/B+E"', '"npn-small X/Y"'),
            "designs/orchard-probe.toml: .*X/Y",
        ),
        (
            changed("readings/orchard-bench.csv", ",A2,", ",A7,"),
            'readings/orchard-bench.csv: there is no instrument sheet "A7"',
        ),
        (
            changed("parts/jfet-small.toml", 'id = "jfet-small"', 'id = "npn-small"'),
            'the id "npn-small" is used by two sheets',
        ),
    ],
)
def test_each_mistake_is_told(bench: Path, change: Callable[[Path], None], told: str) -> None:
    change(bench)
    before = contents(bench)
    found = actions.mend(bench)
    assert any(re.search(told, text) for text in found.wrong), found.wrong
    assert contents(bench) == before


def test_mistakes_are_told_together(bench: Path) -> None:
    written("designs/bad.toml", b"x = [")(bench)
    written("readings/odd.csv", b"part,wiring\n")(bench)
    assert len(actions.mend(bench).wrong) == 2


def test_only_old_temporary_files_are_removed(bench: Path) -> None:
    old, young, other = (
        bench / "parts" / ".npn-small.toml.abcd1234",
        bench / "designs" / ".orchard-probe.toml.abcd1234",
        bench / "parts" / ".notes",
    )
    for path in (old, young, other):
        path.write_text("half", "utf-8")
    for path in (old, other):
        os.utime(path, (time.time() - 2 * OLD,) * 2)
    assert actions.mend(bench).removed == ("parts/.npn-small.toml.abcd1234",)
    assert not old.exists() and young.exists() and other.exists()


def test_the_pattern_is_that_of_our_own_writing(
    bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A program that is killed between writing and renaming leaves a file that mend knows."""
    from clampwright.workspace.folder import write_text

    left: list[str] = []
    monkeypatch.setattr(Path, "replace", lambda self, target: left.append(self.name))
    write_text(bench / "parts" / "new.toml", "x")
    assert len(left) == 1 and LEFT_OVER.fullmatch(left[0])


def test_an_old_record_is_told(bench: Path) -> None:
    record = bench / "records" / "orchard-probe.html"
    actions.record(actions.open_case(bench / "designs" / "orchard-probe.toml"), record)
    assert not actions.mend(bench).outdated
    changed("designs/orchard-probe.toml", 'revision = "A"', 'revision = "B"')(bench)
    (told,) = actions.mend(bench).outdated
    assert told.startswith("records/orchard-probe.html was made from other inputs")


def test_the_command(bench: Path) -> None:
    run = partial(clampwright, "mend")
    assert run(bench)[0] == 0
    written("designs/bad.toml", b"x = [")(bench)
    code, out, _ = run(bench, "--json")
    assert code == BAD_INPUT and len(json.loads(out)["wrong"]) == 1
    assert json.loads(run("--schema")[1])["type"] == "object"
    with pytest.raises(InputError, match="no such folder"):
        actions.mend(bench / "nowhere")
