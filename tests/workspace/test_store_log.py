"""Recording as a user does it: real commands, the pretend instrument, both engines, pulled plugs."""

from __future__ import annotations

import json
import signal
import sqlite3
import statistics
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from clampwright import actions
from clampwright.bench.instruments.pretend_instrument import (
    HIDDEN,
    SCALE,
    SCATTER,
    ZERO,
    PretendInstrument,
)
from clampwright.bench.pretend import demo_readings, true_leakage
from clampwright.errors import InputError
from clampwright.workspace import database
from clampwright.workspace.database import FILE, open_store
from clampwright.workspace.store import (
    marks,
    monotonic_of,
    readings_of,
    session_named,
    snapshots,
)
from command_line import clampwright

COMMAND = Path(sys.executable).with_name("clampwright")
CHAIN = """# the adapter and meter of these tests
id = "P1"
scale = "1 mV/nA"
tolerance = "1 %"
resolution = "0.1 µV"

[meter]
address = "ADDRESS"
identity = "Pretend"
set_up = ["CONF:VOLT:DC", "VOLT:DC:NPLC 1"]
timeout = "0.5 s"

[thermometer]
address = "ADDRESS"
read = "MEAS:TEMP?"
"""
TYPED = {
    "part": "pretend-diode",
    "wiring": "K/A",
    "reverse_voltage": "5 V",
    "temperature": "23 °C",
    "light": "0 lx",
}
OPTIONS = ("--part", "pretend-diode", "--wiring", "K/A", "--voltage", "5 V", "--light", "0 lx")

pytest.importorskip("pyvisa_py")


@pytest.fixture
def pretend() -> Iterator[PretendInstrument]:
    """A pretend instrument that listens."""
    with PretendInstrument() as instrument:
        yield instrument


@pytest.fixture
def bench(root: Path, pretend: PretendInstrument) -> Path:
    """A workspace of each engine with one instrument, P1."""
    (root / "instruments").mkdir()
    sheet = CHAIN.replace("ADDRESS", pretend.address)
    (root / "instruments" / "P1.toml").write_text(sheet, "utf-8")
    return root


only_sqlite = pytest.mark.parametrize("root", ["sqlite"], indirect=True)


def test_a_log_becomes_a_leakage(bench: Path, pretend: PretendInstrument) -> None:
    """Zeros, readings, zeros: reduced, they give the hidden current within its uncertainty."""
    pretend.do("BENC:FITT 0")
    zero = {"state": "zero fixture", "reverse_voltage": "5 V"}
    actions.log_readings(bench / "P1", zero, session="day", count=20)
    pretend.do("BENC:FITT 1")
    sheet = bench / "instruments" / "P1.toml"
    result = actions.log_readings(sheet, TYPED, session="day", count=30)
    pretend.do("BENC:FITT 0")
    actions.log_readings(bench / "P1", zero, session="day", count=20)
    assert (result.count, result.ended, result.gaps) == (30, "complete", 0)
    (leak,) = actions.reduce_file(bench / "day").leakages
    truth = true_leakage(HIDDEN, 5.0, 296.15)
    assert leak.count == 30 and leak.outcome == "quantified"
    assert abs(leak.value - truth) < 4 * SCATTER / SCALE / 20**0.5
    assert abs(leak.zero - ZERO) < 4 * SCATTER / 40**0.5
    with open_store(bench) as store:
        session = session_named(store, "day")
        assert session.count == 70
        assert [m.kind for m in marks(store, session)] == ["start", "end"] * 3
        (taken,) = snapshots(store, session)
        assert taken.sheet == sheet.read_text("utf-8") and "Pretend Instrument" in taken.identity
        clock = monotonic_of(store, session).tolist()
        assert all(b > a for a, b in pairwise(clock))


def test_temperature_from_a_second_instrument(bench: Path, pretend: PretendInstrument) -> None:
    pretend.do("BENC:TEMP 41.5")
    typed = {key: text for key, text in TYPED.items() if key != "temperature"}
    actions.log_readings(bench / "P1", typed, session="warm", count=3)
    with open_store(bench) as store:
        found = readings_of(store, session_named(store, "warm"))
    assert found.temperature.tolist() == pytest.approx([314.65] * 3, rel=1e-9, abs=0)


def test_fifty_readings_a_second_on_the_disk(bench: Path) -> None:
    """Sustained for three seconds, every one of them acknowledged by the database."""
    told: list[int] = []
    result = actions.log_readings(
        bench / "P1", TYPED, session="fast", seconds=3.0, told=told.append
    )
    assert result.count / result.seconds >= 50, result
    assert told[-1] == result.count and len(told) >= 8
    with open_store(bench) as store:
        session = session_named(store, "fast")
        assert session.count == result.count
        steps = [b - a for a, b in pairwise(monotonic_of(store, session).tolist())]
    assert statistics.median(steps) < 20e6  # [ns]


@only_sqlite
def test_fifty_readings_a_second_with_two_more_instruments(
    bench: Path, pretend: PretendInstrument
) -> None:
    """Thermometer and light meter are asked before every reading; all three over wires of their own."""
    pretend.do("BENC:TEMP 37;BENC:LIGH 120")
    sheet = bench / "instruments" / "P1.toml"
    light = f'\n[light_meter]\naddress = "{pretend.address}"\nread = "MEAS:ILL?"\n'
    sheet.write_text(sheet.read_text("utf-8") + light, "utf-8")
    typed = {k: text for k, text in TYPED.items() if k not in ("temperature", "light")}
    result = actions.log_readings(sheet, typed, session="three", seconds=3.0)
    assert result.count / result.seconds >= 50, result
    with open_store(bench) as store:
        found = readings_of(store, session_named(store, "three"))
    assert len(found) == result.count
    assert set(found.temperature.tolist()) == {310.15} and set(found.light.tolist()) == {120.0}


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"reverse_voltage": ""}, "the reverse voltage is missing"),
        ({"light": "dark"}, "light"),
        ({"reverse_voltage": "5"}, "unit"),
        ({"state": "zero"}, "unknown state.*zero open"),
        ({"part": " "}, "the part is missing"),
    ],
)
@only_sqlite
def test_conditions_are_asked_before_anything_is_touched(
    bench: Path, change: dict[str, str], told: str
) -> None:
    typed = {key: text for key, text in {**TYPED, **change}.items() if text}
    with pytest.raises(InputError, match=told):
        actions.log_readings(bench / "P1", typed, session="day", count=1)
    assert not actions.list_sessions(bench).sessions


@only_sqlite
def test_an_imported_session_is_closed(bench: Path, tmp_path: Path) -> None:
    (tmp_path / "day.csv").write_text(demo_readings("press"), "utf-8")
    actions.import_readings(tmp_path / "day.csv", bench)
    with pytest.raises(InputError, match='"day" was imported and is closed'):
        actions.log_readings(bench / "P1", TYPED, session="day", count=1)


def logging(bench: Path) -> subprocess.Popen[str]:
    """A log without end in a process of its own, with some readings kept already."""
    words = [str(COMMAND), "log", bench / "P1", "--session", "day", *OPTIONS, "--json"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    deadline = time.monotonic() + 30
    while not kept(bench) and time.monotonic() < deadline:
        time.sleep(0.05)
    return process


def kept(bench: Path) -> int:
    """Readings in the database."""
    if not (bench / FILE).exists():
        return 0
    return sum(s.count for s in actions.list_sessions(bench).sessions)


@only_sqlite
@pytest.mark.parametrize("sign", [signal.SIGINT, signal.SIGTERM])
def test_interrupted_it_ends_tidily(bench: Path, sign: signal.Signals) -> None:
    process = logging(bench)
    process.send_signal(sign)
    out, complaints = process.communicate(timeout=20)
    assert process.returncode == 0 and not complaints
    result = json.loads(out)
    assert result["ended"] == "stopped" and result["count"] == kept(bench) > 0
    with open_store(bench) as store:
        assert marks(store, session_named(store, "day"))[-1].words == "stopped"


@only_sqlite
def test_killed_it_leaves_what_it_had(bench: Path) -> None:
    """And the next log goes on in the same session."""
    process = logging(bench)
    seen = kept(bench)
    process.kill()
    process.communicate(timeout=20)
    assert kept(bench) >= seen > 0
    connection = sqlite3.connect(bench / FILE)
    assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
    there = kept(bench)
    done = clampwright("log", bench / "P1", "--session", "day", "--count", 5, *OPTIONS)
    assert done.code == 0 and "5 readings in" in done.out, done.complaint
    assert kept(bench) == there + 5


@only_sqlite
def test_a_pulled_cable_is_marked(bench: Path, pretend: PretendInstrument) -> None:
    pace = ("--count", "100", "--interval", "0.02")
    words = [str(COMMAND), "log", bench / "P1", "--session", "day", *OPTIONS, *pace]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    while not kept(bench):
        time.sleep(0.05)
    pretend.do("TROU:AWAY 0.6")
    out, complaints = process.communicate(timeout=30)
    assert process.returncode == 0 and "1 gaps" in out, complaints
    with open_store(bench) as store:
        session = session_named(store, "day")
        (gap,) = [m for m in marks(store, session) if m.kind == "gap"]
        assert 0 < gap.after < session.count == 100
        assert float(gap.words.split()[-2]) >= 0.5, gap.words  # [s] away, and the way back


@only_sqlite
def test_a_database_held_for_a_while_loses_nothing(
    bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another program holds it longer than one attempt waits: the batch is written once, later."""
    monkeypatch.setattr(database, "PATIENCE", 0.1)
    with open_store(bench):
        pass
    other = sqlite3.connect(bench / FILE, isolation_level=None, check_same_thread=False)
    timers = [
        threading.Timer(0.5, other.execute, ["BEGIN IMMEDIATE"]),
        threading.Timer(1.2, other.execute, ["ROLLBACK"]),
    ]
    for timer in timers:
        timer.start()
    done = actions.log_readings(bench / "P1", TYPED, session="day", seconds=3.0)
    other.close()
    with open_store(bench) as store:
        session = session_named(store, "day")
        clock = monotonic_of(store, session)
    assert len(clock) == len(set(clock.tolist())) == done.count == session.count
    assert max(b - a for a, b in pairwise(clock.tolist())) > 0.3e9, "it was not held at all"


@only_sqlite
def test_a_name_cannot_mean_a_file_and_a_session(bench: Path) -> None:
    (bench / "readings").mkdir()
    (bench / "readings" / "day.csv").write_text(demo_readings("press"), "utf-8")
    for act in (
        lambda: actions.log_readings(bench / "P1", TYPED, session="day", count=1),
        lambda: actions.import_readings(bench / "readings" / "day.csv", bench),
    ):
        with pytest.raises(InputError, match="belongs to a file of readings already"):
            act()
