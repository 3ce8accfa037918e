"""Names in readings: what no sheet knows is told with the nearest name, the order of poles too."""

import subprocess
import sys

import pytest
from bench_sessions import readings, rows, scattered

from clampwright.bench.names import name_warnings, nothing_found, part_names
from clampwright.bench.readings import write_readings
from clampwright.parts.sheet import read_sheet

DIODE = read_sheet(
    {
        "id": "glass-diode",
        "title": "Glass diode",
        "kind": "diode",
        "leads": ["K", "A"],
        "package": {"name": "DO-35", "light": "clear glass"},
        "junctions": [
            {"name": "K-A", "anode": "A", "cathode": "K", "junction_class": "glass switching diode"}
        ],
    },
    "glass.toml",
)
SHEETS = {"glass-diode": DIODE}


@pytest.mark.parametrize(
    ("part", "wiring", "words"),
    [
        ("glass-diod", "K/A", 'did you mean "glass-diode"?'),
        ("xyz", "K/A", "the sheets are glass-diode"),
        ("glass-diode", "K/B", 'no wiring "K/B": did you mean "K/A"?'),
        ("glass-diode", "A/K", "tells no polarity"),
        ("glass-diod#3", "K/A", 'called "glass-diod": did you mean "glass-diode"?'),
    ],
)
def test_what_no_sheet_knows_is_told(part, wiring, words):
    (told,) = name_warnings([(part, wiring), (part, wiring)], SHEETS)
    assert words in told


def test_known_names_lots_and_lone_files_pass():
    assert name_warnings([("glass-diode", "K/A"), ("glass-diode#12", "K/A")], SHEETS) == ()
    assert name_warnings([("anything", "X/Y")], {}) == ()


def test_names_of_zeros_without_a_part_are_none():
    some = readings(rows("zero open", [12.4]), rows("reading", [16.1]))
    assert part_names(some) == (("npn", "C/B+E"),)


def test_a_reference_to_readings_without_the_part_is_told():
    told = nothing_found("day", "glass-diode", "K/A", [("glass-diod", "K/A")])
    assert 'hold nothing of glass-diode K/A: did you mean "glass-diod K/A"?' in told
    assert "no part at all" in nothing_found("day", "glass-diode", "K/A", [])


def test_the_command_warns_and_reduces_all_the_same(tmp_path):
    root = tmp_path / "bench"
    subprocess.run([sys.executable, "-m", "clampwright.cli", "new", root], check=True)
    zero = rows("zero fixture", scattered(12.4, 1.1), instrument="my-adapter")
    block = rows("reading", scattered(112.4, 1.3), instrument="my-adapter", part="my-transistr")
    text = write_readings(readings(zero, block, zero))
    (root / "readings" / "typo.csv").write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "clampwright.cli", "reduce", root / "readings" / "typo.csv"]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False)
    assert done.returncode == 0, done.stderr
    assert 'did you mean "my-transistor"?' in done.stdout
    assert "100.0 ±" in done.stdout
