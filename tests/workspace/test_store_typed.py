"""Readings typed or pasted: the same reduction as the same numbers from a file, all or nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from clampwright import actions
from clampwright.errors import InputError
from clampwright.workspace.database import open_store
from clampwright.workspace.store import readings_of, session_named, snapshots
from command_line import Said, clampwright

BAD_INPUT = 64
FIXTURE = {"state": "zero fixture", "reverse_voltage": "5 V"}
FITTED = {
    "part": "npn-small",
    "wiring": "C/B+E",
    "reverse_voltage": "5 V",
    "temperature": "45 °C",
    "light": "0 lx",
}
BEFORE, READ, AFTER = ("12.3 µV\n12.5 µV\n", "reading (µV)\n34,2\n34,5\n34,1\n", "13,0\n13,2")
FILE = """part,wiring,state,reverse voltage (V),temperature (°C),light (lx),instrument,reading (µV)
,,zero fixture,5,,,A1,12.3
,,zero fixture,5,,,A1,12.5
npn-small,C/B+E,reading,5,45,0,A1,34.2
npn-small,C/B+E,reading,5,45,0,A1,34.5
npn-small,C/B+E,reading,5,45,0,A1,34.1
,,zero fixture,5,,,A1,13.0
,,zero fixture,5,,,A1,13.2
"""


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """The orchard demonstration."""
    actions.demo_workspace(tmp_path / "bench")
    return tmp_path / "bench"


def enter(bench: Path, text: str, *words: str) -> Said:
    """`clampwright enter` with `text` on standard input."""
    return clampwright("enter", *words, "--in", bench, typed=text)


def test_typed_readings_reduce_like_a_file(bench: Path) -> None:
    actions.add_typed("typed", bench, BEFORE, FIXTURE, instrument="A1")
    actions.add_typed("typed", bench, READ, FITTED, instrument="A1")
    made = actions.add_typed("typed", bench, AFTER, FIXTURE, instrument="A1", unit="µV", who="me")
    assert made.count == 7
    (bench / "readings" / "same.csv").write_text(FILE, "utf-8")
    (typed,) = actions.reduce_file(bench / "typed").leakages
    (file,) = actions.reduce_file(bench / "readings" / "same.csv").leakages
    assert typed.value == pytest.approx(file.value, rel=1e-12, abs=0)
    assert typed.standard_uncertainty == pytest.approx(file.standard_uncertainty, rel=1e-12, abs=0)
    with open_store(bench) as store:
        session = session_named(store, "typed")
        assert len(snapshots(store, session)) == 1
        assert len(readings_of(store, session)) == 7


def test_a_wrong_line_keeps_nothing(bench: Path) -> None:
    for text, told in (
        ("12.4 µV\n12.x µV\n", "line 2"),
        ("12.4\n", "unit"),
        ("\n", "no value"),
    ):
        with pytest.raises(InputError, match=told):
            actions.add_typed("typed", bench, text, FIXTURE, instrument="A1")
    with pytest.raises(InputError, match="the temperature is missing"):
        few = {k: v for k, v in FITTED.items() if k != "temperature"}
        actions.add_typed("typed", bench, READ, few, instrument="A1")
    with pytest.raises(InputError, match='no instrument "A9"'):
        actions.add_typed("typed", bench, READ, FITTED, instrument="A9")
    with pytest.raises(InputError, match="belongs to a file"):
        actions.add_typed("orchard-bench", bench, READ, FITTED, instrument="A1")


def test_the_command_pastes_a_column(bench: Path) -> None:
    fixture = ("--instrument", "A1", "--state", "zero fixture", "--voltage", "5 V")
    assert enter(bench, "12,3\r\n12,4\r\n", "day", *fixture, "--unit", "µV") == (
        0,
        "2 readings are in session day\n",
        "",
    )
    code, out, complaint = enter(bench, "12 µV\n12 pA\n", "day", *fixture)
    assert code == BAD_INPUT and not out and "line 2" in complaint
    assert enter(bench, "1 µV", "day")[0] == BAD_INPUT
    assert actions.list_sessions(bench).sessions[0].count == 2


def test_the_thermometer_itself_may_be_typed(bench: Path) -> None:
    """108.96 Ω of a Pt100 are 23 °C (IEC 60751); equal ends of a couple give no voltage."""
    fitted = ("--instrument", "A1", "--part", "npn-small", "--wiring", "C/B+E", "--voltage", "5 V")
    dark = (*fitted, "--light", "0 lx")
    assert enter(bench, "12 µV", "heat", *dark, "--pt100", "108.96 Ω")[0] == 0
    assert (
        enter(bench, "12 µV", "heat", *dark, "--type-k", "0 V", "--cold-junction", "45 °C")[0] == 0
    )
    with open_store(bench) as store:
        kept = readings_of(store, session_named(store, "heat")).temperature
    assert kept.tolist() == pytest.approx([296.15, 318.15], abs=0.013)  # 5 mΩ
    for words, told in (
        (("--type-k", "1 mV"), "cold junction is missing"),
        (("--cold-junction", "23 °C"), "without type k"),
        (("--temperature", "23 °C", "--pt100", "108.96 Ω"), "written twice"),
        (("--pt100", "1 MΩ"), "broken or shorted lead"),
        ((), "the temperature is missing"),
    ):
        code, out, complaint = enter(bench, "12 µV", "heat", *dark, *words)
        assert code == BAD_INPUT and not out and told in complaint
