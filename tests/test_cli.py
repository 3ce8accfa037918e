"""The command line as a user meets it: real processes, real files, exit codes, one-sentence errors."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from schema_check import problems

COMMAND = Path(sys.executable).with_name("clampwright")
DESIGN, READINGS = Path("designs/my-input.toml"), Path("readings/my-readings.csv")
SUBJECT = {"reduce": READINGS, "part": Path("parts/my-transistor.toml")}  # else the design
HEAVY = ("matplotlib", "GTC", "numba", "scipy", "numpy", "pydantic", "rich.progress", "jinja2")
PASS, FAIL, UNDECIDED, BAD_INPUT = 0, 1, 2, 64

Run = subprocess.CompletedProcess[str]
Workspace = Callable[..., Path]


def clampwright(*arguments: object, folder: Path | None = None) -> Run:
    """Run the installed command."""
    words = [str(COMMAND), *map(str, arguments)]
    return subprocess.run(
        words, capture_output=True, cwd=folder, encoding="utf-8", timeout=120, check=False
    )


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The workspace that `new` makes; read only."""
    folder = tmp_path_factory.mktemp("starter") / "my-workspace"
    made = clampwright("new", folder)
    assert made.returncode == PASS and str(folder) in made.stdout and not made.stderr
    return folder


@pytest.fixture
def changed(starter: Path, tmp_path: Path) -> Workspace:
    """A copy of the starter workspace with texts replaced in one of its files."""

    def change(file: Path | str, *pairs: tuple[str, str]) -> Path:
        folder = tmp_path / "changed"
        if not folder.exists():
            shutil.copytree(starter, folder)
        text = (folder / file).read_text("utf-8")
        for old, new in pairs:
            assert old in text
            text = text.replace(old, new)
        (folder / file).write_text(text, "utf-8")
        return folder

    return change


def complaint(run: Run) -> str:
    """The one-sentence error of a run that was refused."""
    assert run.returncode == BAD_INPUT, (run.returncode, run.stdout, run.stderr)
    assert run.stdout == ""
    assert "Traceback" not in run.stderr and run.stderr.startswith("clampwright: ")
    assert run.stderr.endswith(".\n") and len(run.stderr.splitlines()) == 1
    assert re.fullmatch(r"[^\x00-\x09\x0b-\x1f\x7f-\x9f]*", run.stderr), "control characters"
    return run.stderr


# Help


def test_help_names_every_command_and_loads_nothing_heavy() -> None:
    listing = clampwright("--help")
    assert listing.returncode == 0
    for name in ("demo", "new", "reduce", "part", "check", "faults", "rank", "record"):
        assert re.search(rf"^  {name} +\S", listing.stdout, re.MULTILINE), name
    words = [sys.executable, "-X", "importtime", str(COMMAND), "--help"]
    timed = subprocess.run(words, capture_output=True, text=True, check=True)
    loaded = {line.rsplit("|", 1)[-1].strip() for line in timed.stderr.splitlines()}
    assert "clampwright.cli" in loaded
    heavy = {n for n in loaded for h in HEAVY if n == h or n.startswith(h + ".")}
    assert not heavy


def test_no_argument_shows_the_help() -> None:
    bare = clampwright()
    assert bare.returncode == 0 and bare.stdout == clampwright("--help").stdout


@pytest.mark.parametrize(
    "name", ["demo", "new", "reduce", "part", "check", "faults", "rank", "record"]
)
def test_help_of_each_command(name: str) -> None:
    shown = clampwright(name, "--help")
    assert shown.returncode == 0 and shown.stdout.startswith("Usage: clampwright ")


# Results as text and as JSON


COUNTS = {"count", "rows", "evaluated", "channels"}  # numbers of things
RATIOS = {
    "derating",
    "ratio",
    "survivability",
    "accuracy_margin",
    "residual",
    "lack_of_fit",
}  # of equal units


@pytest.mark.parametrize("name", ["reduce", "part", "check", "faults", "rank"])
def test_json_follows_the_schema_and_carries_units(
    starter: Path, name: str, request: pytest.FixtureRequest
) -> None:
    run = clampwright(name, starter / SUBJECT.get(name, DESIGN), "--json")
    assert run.returncode == PASS and run.stderr == "", run.stderr
    printed = clampwright(name, "--schema")
    assert printed.returncode == 0 and not printed.stderr
    result, schema = json.loads(run.stdout), json.loads(printed.stdout)
    assert not problems(result, schema, schema)
    first = schema["required"][0]
    assert problems({k: v for k, v in result.items() if k != first}, schema, schema)
    assert problems({**result, first: ...}, schema, schema)
    assert not without_unit(result)


def without_unit(result: Any) -> set[str]:
    """Keys of numbers that have no unit, neither in a pair nor beside them."""
    return {
        key
        for key, beside in numbers(result)
        if key not in COUNTS | RATIOS
        and not (key in ("value", "stress", "rating") and "unit" in beside)
        and f"{key}_unit" not in beside
    }


def numbers(node: Any, key: str = "", beside: Any = None) -> Iterator[tuple[str, Any]]:
    """Every number of a document: its key and the object it stands in."""
    if isinstance(node, dict):
        for name, value in node.items():
            yield from numbers(value, name, node)
    elif isinstance(node, list):
        for value in node:
            yield from numbers(value, key, beside)
    elif isinstance(node, int | float) and not isinstance(node, bool):
        yield key, beside


def test_text_and_json_say_the_same(starter: Path) -> None:
    text = clampwright("check", starter / DESIGN)
    result = json.loads(clampwright("check", starter / DESIGN, "--json").stdout)
    assert text.returncode == PASS and result["verdict"] == "PASS"
    assert text.stdout.startswith(f"● {result['verdict']}\n")
    assert "\x1b" not in text.stdout, "no colour into a pipe"
    shown = one_line(text.stdout)
    for said in (result["reason"], *result["open_risks"], *result["defaults"]):
        assert one_line(said) in shown


def one_line(text: str) -> str:
    """Text without line breaks and with one kind of minus sign."""
    return " ".join(text.replace("−", "-").split())


def test_explain_adds_formulas_numbers_and_sources(starter: Path) -> None:
    plain = clampwright("check", starter / DESIGN).stdout
    explained = clampwright("check", starter / DESIGN, "--explain").stdout
    assert explained.startswith(plain)
    added = explained.removeprefix(plain)
    for wanted in ("Ohm's law", "JCGM 100:2008", "SHA-256", "residual"):
        assert wanted in added, wanted


def test_reduce_shows_uncertainty_and_limits(starter: Path) -> None:
    plain = clampwright("reduce", starter / READINGS)
    explained = clampwright("reduce", starter / READINGS, "--explain")
    assert plain.returncode == explained.returncode == PASS
    assert "my-transistor C/B+E" in plain.stdout and " ± " in plain.stdout
    assert "scale of the adapter" in explained.stdout and "scale of" not in plain.stdout


def test_record_in_json_and_on_disk(changed: Workspace, tmp_path: Path) -> None:
    folder = without_clamp(changed)
    (tmp_path / "r").mkdir()
    run = clampwright("record", folder / DESIGN, "-o", tmp_path / "r" / "page.html", "--json")
    assert run.returncode == PASS and run.stderr == ""
    written = Path(json.loads(run.stdout)["record"])
    page = written.read_text("utf-8")
    assert page.lower().startswith("<!doctype html>") and "My input" in page
    assert "Not a safety certification" in page
    assert [p.name for p in written.parent.iterdir()] == ["page.html"], "nothing else is left"


def test_new_says_where_in_json(tmp_path: Path) -> None:
    run = clampwright("new", tmp_path / "w", "--json")
    assert json.loads(run.stdout) == {"workspace": str(tmp_path / "w")}


# Exit codes


def without_clamp(changed: Workspace) -> Path:
    """The starter design in T1, its part sheet gone, so that there is little to compute."""
    folder = changed(DESIGN, ('"T6"', '"T1"'), ('clamp = "my-transistor C/B+E"', ""))
    (folder / "parts" / "my-transistor.toml").unlink()
    return folder


@pytest.mark.parametrize(
    ("pairs", "verdict", "code"),
    [
        ((('resistance = "1 MΩ"', 'resistance = "1 GΩ"'), ("2 pA", "2 fA")), "FAIL", FAIL),
        ((('accuracy = "1 mV"', 'accuracy = "200 µV"'),), "UNDECIDED", UNDECIDED),
        ((('bias_current = "2 pA"', ""),), "NOT MEASURED", UNDECIDED),
        ((("wet = false", "wet = true"), ('"30 V"', '"36 V"')), "PASS", UNDECIDED),
        (
            (("wet = false", 'wet = true\nacknowledged = "me"'), ('"30 V"', '"36 V"')),
            "PASS",
            PASS,
        ),
        ((("wet = false", 'patient = true\nacknowledged = "me"'),), "PASS", UNDECIDED),
    ],
    ids=["fail", "undecided", "not measured", "amber held", "amber taken", "red"],
)
def test_the_verdict_and_the_gate_decide_the_exit_code(
    changed: Workspace, pairs: tuple[tuple[str, str], ...], verdict: str, code: int
) -> None:
    run = clampwright("check", changed(DESIGN, *pairs) / DESIGN, "--json")
    assert (json.loads(run.stdout)["verdict"], run.returncode) == (verdict, code)


def test_faults_fail_where_a_rating_is_passed(changed: Workspace) -> None:
    folder = changed(DESIGN, ('"100 kΩ"', '"100 Ω"'))
    run = clampwright("faults", folder / DESIGN, "--json")
    assert json.loads(run.stdout)["verdict"] == "FAIL" and run.returncode == FAIL


# Errors of the user: one sentence on standard error, nothing on standard output


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["check", "nowhere.toml"], "nowhere.toml: there is no such file"),
        (["check", ".."], "is a directory"),
        (["check"], "DESIGN is missing"),
        (["reduce", "nowhere.csv"], "nowhere.csv: there is no such file"),
        (["reduce"], "READINGS is missing"),
        (["melt"], "No such command 'melt'"),
        (["check", "--loud", "x"], "No such option: --loud"),
        (["rank", "x", "--limit", "0"], "--limit"),
    ],
)
def test_what_cannot_be_run(tmp_path: Path, words: list[str], expected: str) -> None:
    assert expected in complaint(clampwright(*words, folder=tmp_path))


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ('revision = "A"', 'revision = "A', "not TOML"),
        ("cable_capacitance", "cable_capacitence", 'did you mean "cable_capacitance"'),
        ('resistance = "1 MΩ"', 'resistance = "1 V"', "a voltage, not a resistance"),
        ('resistance = "1 MΩ"', 'resistance = "10 meg"', 'write "10 MΩ"'),
        ('resistance = "1 MΩ"', "resistance = 1e6", "has no unit"),
        ('resistance = "1 MΩ"', "", "source.resistance: the field is missing"),
        ('"my-transistor C/B+E"', '"other C/B+E"', 'no part sheet "other"'),
        ('"my-transistor C/B+E"', '"my-transistor C/X"', 'no wiring "C/X"'),
        ('"my-transistor C/B+E"', '"my-transistor"', "not a part and a wiring"),
        ('clamp = "my-transistor C/B+E"', "", "the clamp is missing"),
        ('topology = "T6"', 'topology = "T99"', "network.topology"),
        ('signal_minimum = "-1 V"', 'signal_minimum = "2 V"', "must lie below signal_maximum"),
    ],
)
def test_a_design_that_cannot_be_used(
    changed: Workspace, old: str, new: str, expected: str
) -> None:
    assert expected in complaint(clampwright("check", changed(DESIGN, (old, new)) / DESIGN))


@pytest.mark.parametrize("missing", ['temperature = "25 °C"', 'voltage = "30 V"'])
def test_a_leakage_figure_without_its_conditions(changed: Workspace, missing: str) -> None:
    folder = changed("parts/my-transistor.toml", (missing, ""))
    said = complaint(clampwright("check", folder / DESIGN))
    assert "parts/my-transistor.toml, figures.1" in said and "no voltage or no temperature" in said


def test_evidence_that_is_not_there(changed: Workspace) -> None:
    folder = changed("parts/my-transistor.toml", ('"my-readings"', '"lost"'))
    said = complaint(clampwright("check", folder / DESIGN))
    assert '"lost"' in said and "expected my-readings" in said


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("0,012", "zwölf", 'line 2, column "reading": "zwölf" does not begin with a number'),
        ("my-adapter", "other", 'instrument "other" that has no profile'),
        ("reading (mV)", "reading (mA)", "mA"),
        ("temperature (°C)", "temprature (°C)", 'did you mean "temperature"'),
    ],
)
def test_readings_that_cannot_be_used(
    changed: Workspace, old: str, new: str, expected: str
) -> None:
    folder = changed(READINGS, (old, new))
    assert expected in complaint(clampwright("reduce", folder / READINGS))


def test_readings_without_any_zero(changed: Workspace) -> None:
    made_up = "my-transistor;C/B+E;reading;5;23;0"
    pairs = (";;zero open;;;0", made_up), (";;zero fixture;5;23;0", made_up)
    folder = changed(READINGS, *pairs)
    said = complaint(clampwright("reduce", folder / READINGS))
    assert "no zero" in said and "an offset read as leakage is fiction" in said


@pytest.mark.parametrize(
    "data",
    [
        bytes(range(256)),
        b"\xff\xfe\xff",
        b"",
        pytest.param(b"\x81\x8d\x8f\n1;2"),
        pytest.param(b"\x1b[31m;a\n1;2"),
    ],
    ids=["every byte", "half a mark", "empty", "another code page", "terminal commands"],
)
def test_bytes_that_are_no_readings(starter: Path, tmp_path: Path, data: bytes) -> None:
    (tmp_path / "readings").mkdir()
    (tmp_path / "readings" / "noise.csv").write_bytes(data)
    assert "noise.csv" in complaint(clampwright("reduce", tmp_path / "readings" / "noise.csv"))


def test_a_sheet_that_is_not_text(changed: Workspace) -> None:
    folder = changed(DESIGN)
    (folder / DESIGN).write_bytes(b"title = \xff")
    assert "not UTF-8" in complaint(clampwright("check", folder / DESIGN))


def test_a_record_that_cannot_be_written(changed: Workspace) -> None:
    folder = without_clamp(changed)
    blocked = folder / DESIGN / "page.html"  # below a file: refused to every user, even root
    said = complaint(clampwright("record", folder / DESIGN, "-o", blocked))
    assert "cannot be written" in said and "page.html" in said


def test_a_record_of_another_kind(starter: Path, tmp_path: Path) -> None:
    said = complaint(clampwright("record", starter / DESIGN, "-o", tmp_path / "page.docx"))
    assert "ends in .html" in said and not list(tmp_path.iterdir())


def test_a_folder_in_use_is_not_filled(tmp_path: Path) -> None:
    (tmp_path / "thesis.txt").write_text("mine")
    assert "not empty" in complaint(clampwright("new", tmp_path))
    assert "not empty" in complaint(clampwright("demo", tmp_path, "--json"))
    assert [p.name for p in tmp_path.iterdir()] == ["thesis.txt"]


def test_new_never_overwrites_what_the_user_changed(changed: Workspace) -> None:
    folder = changed(DESIGN, ("My input", "Changed by hand"))
    complaint(clampwright("new", folder))
    assert "Changed by hand" in (folder / DESIGN).read_text("utf-8")


# The demonstration


@pytest.mark.long
def test_the_demonstration_runs_twice_and_says_its_verdicts(tmp_path: Path) -> None:
    for _ in range(2):
        run = clampwright("demo", tmp_path / "d", "--json")
        assert run.returncode == 0 and run.stderr == ""
    result = json.loads(run.stdout)
    assert list(result["verdicts"].values()) == ["PASS", "FAIL", "UNDECIDED", "FAIL"]
    assert Path(result["record"]).read_text("utf-8").lower().startswith("<!doctype html>")
