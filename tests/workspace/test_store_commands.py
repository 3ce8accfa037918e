"""The readings database by its commands: from import to bundle, and one sentence for wrong words."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from clampwright.bench.pretend import demo_readings
from command_line import clampwright

BAD_INPUT = 64
SHEET = """id = "P1"
scale = "1 mV/nA"
tolerance = "1 %"
resolution = "0.1 µV"
"""
OPTIONS = ("--part", "pretend-diode", "--wiring", "K/A", "--voltage", "5 V", "--light", "0 lx")


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A workspace with one instrument, P1."""
    folder = tmp_path / "bench"
    (folder / "instruments").mkdir(parents=True)
    (folder / "instruments" / "P1.toml").write_text(SHEET, "utf-8")
    return folder


def test_commands_from_import_to_bundle(bench: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    assert clampwright("new", elsewhere).code == 0
    readings = tmp_path / "tuesday.csv"
    readings.write_text(demo_readings("orchard"), "utf-8")
    for name in ("A1", "A2"):
        text = SHEET.replace('"P1"', f'"{name}"')
        (bench / "instruments" / f"{name}.toml").write_text(text, "utf-8")
    done = clampwright("import", readings, "--in", bench, "--who", "me", "--json")
    assert json.loads(done.out)["who"] == "me", done.complaint
    listed = clampwright("sessions", "--in", bench)
    assert "tuesday: 770 readings" in listed.out and "me" in listed.out
    words = ("correct", "tuesday", "--rows", "1-770", "--field", "note", "--value", "seen")
    corrected = clampwright(*words, "--why", "for the test", "--in", bench)
    assert "Readings 1-770 of tuesday are corrected" in corrected.out, corrected.complaint
    marked = clampwright("mark", "tuesday", "touch", "lid opened", "--in", bench)
    assert marked.out == "Marked after reading 770 of tuesday\n"
    written = tmp_path / "out.csv"
    assert clampwright("export", "tuesday", "--in", bench, "-o", written).code == 0
    lines = written.read_text("utf-8").splitlines()
    assert len(lines) == 771 and all(line.endswith(",seen") for line in lines[1:])
    assert clampwright("export", "tuesday", "--raw", "--in", bench, "-o", written).code == 0
    assert written.read_text("utf-8").count(",invented\n") == 770
    handed = tmp_path / "evidence.zip"
    refused = clampwright("bundle", "tuesday", "--in", bench, "-o", handed)
    assert refused.code == BAD_INPUT and "whose evidence" in refused.complaint
    words = ("bundle", "tuesday", "--in", bench, "-o", handed, "--of", "Lab of Nobody")
    assert clampwright(*words).code == 0
    taken = clampwright("import", handed, "--in", elsewhere)
    assert "770 readings are in session tuesday, evidence of Lab of Nobody" in taken.out
    reduced = clampwright("reduce", elsewhere / "tuesday")
    assert reduced.out.startswith("Evidence of Lab of Nobody\n") and not reduced.complaint
    for command in ("log", "import", "sessions"):
        assert json.loads(clampwright(command, "--schema").out)["type"] == "object"


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("export", "x", "--in", "BENCH", "-o", "x.csv"), "no readings database yet"),
        (("export", "x", "--in", "BENCH", "-o", "x.xls"), "ends in .csv or .parquet"),
        (("export", "--in", "BENCH"), "SESSION is missing"),
        (("sessions", "--in", "BENCH/none"), "no readings database yet"),
        (("import", "BENCH/none.csv", "--in", "BENCH"), "there is no such file"),
        (("correct", "x", "--rows", "a-b", "--in", "BENCH"), '"a-b" is no row'),
        (("log", "BENCH/P7", *OPTIONS), 'no instrument "P7"; expected P1'),
        (("log", "BENCH/P1", "--seconds", "-1"), "--seconds"),
        (("log", "BENCH/P1", "--count", "0"), "--count"),
    ],
)
def test_wrong_words_get_one_sentence(bench: Path, words: tuple[str, ...], told: str) -> None:
    done = clampwright(*(word.replace("BENCH", str(bench)) for word in words))
    assert done.code == BAD_INPUT and told in done.complaint
    assert done.complaint.count("\n") == 1 and not done.out and "Traceback" not in done.complaint


def test_plain_commands_do_not_load_the_database() -> None:
    code = "import sys; from clampwright import cli, actions; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not {"sqlalchemy", "pyvisa", "psycopg", "pyarrow", "sqlite3"} & set(done.stdout.split())
