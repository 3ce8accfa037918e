"""A real PyVISA client against the pretend instrument on a loopback socket, and a patient logger.

The words spoken are those of IEEE 488.2 and SCPI-1999 (both from memory): common commands, short
and long forms, error numbers −100…−199 for command errors, 9.9E+37 for infinity.
"""

from __future__ import annotations

import os
import pty
import re
import socket
import statistics
import threading
import time
import tty
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from math import isnan

import pytest
from loopback_instruments import HislipInstrument, Vxi11Instrument

from clampwright.bench.instruments.logger import Limits, Summary, log
from clampwright.bench.instruments.meter import Meter
from clampwright.bench.instruments.pretend_instrument import (
    HIDDEN,
    SCALE,
    SCATTER,
    ZERO,
    PretendInstrument,
)
from clampwright.bench.instruments.samples import Event, Sample
from clampwright.bench.instruments.scpi import (
    Disconnected,
    Instrument,
    ask,
    errors,
    number,
    set_up,
)
from clampwright.bench.instruments.visa_transport import VisaTransport, open_visa
from clampwright.bench.pretend import true_leakage
from clampwright.errors import InputError

pytest.importorskip("pyvisa_py")


class Kept:
    """A sink that remembers."""

    def __init__(self) -> None:
        self.samples: list[Sample] = []
        self.events: list[Event] = []
        self.batches: list[int] = []

    def take(self, samples: Sequence[Sample]) -> None:
        self.samples += samples
        self.batches.append(len(samples))

    def note(self, event: Event) -> None:
        self.events.append(event)

    def kinds(self) -> list[str]:
        return [event.kind for event in self.events]


@pytest.fixture
def pretend() -> Iterator[PretendInstrument]:
    """A pretend instrument that listens."""
    with PretendInstrument() as instrument:
        yield instrument


def sheet(pretend: PretendInstrument, **changes: object) -> Meter:
    return Meter.model_validate({"address": pretend.address, "timeout": "1 s", **changes})


def connect(meter: Meter) -> Callable[[], Instrument]:
    def open_it() -> Instrument:
        return set_up(meter, open_visa(meter))

    return open_it


def run(pretend: PretendInstrument, kept: Kept, limits: Limits, **changes: object) -> Summary:
    return log(connect(sheet(pretend, **changes)), kept, limits)


@pytest.fixture
def wire(pretend: PretendInstrument) -> Iterator[VisaTransport]:
    """An open wire to the pretend instrument."""
    transport = open_visa(sheet(pretend))
    yield transport
    transport.close()


def test_common_commands(wire: VisaTransport) -> None:
    assert ask(wire, "*IDN?").count(",") == 3  # maker, model, serial number, version: IEEE 488.2
    assert ask(wire, "*OPC?") == "1"
    wire.write("*RST")
    wire.write("NONSENSE 7")
    assert int(ask(wire, "*ESR?")) & 0x20  # bit 5: command error
    assert [e.split(",")[0] for e in errors(wire)] == ["-113"]  # undefined header
    assert errors(wire) == []
    wire.write("NONSENSE")
    wire.write("*CLS")
    assert errors(wire) == []


def test_short_long_and_joined_headers(wire: VisaTransport) -> None:
    for question in ("SYST:ERR?", "system:error?", "SYSTem:ERR?", ":SYST:ERR?"):
        assert ask(wire, question) == '+0,"No error"'
    assert ask(wire, "CONF:VOLT:DC;*OPC?") == "1"
    wire.write("SYS:ERR?")
    assert errors(wire)[0].startswith("-113")


def test_readings_follow_the_hidden_law(wire: VisaTransport) -> None:
    wire.write("BENC:BIAS 2.5;BENC:TEMP 35;BENC:LIGH 100")
    volts = [number(ask(wire, "READ?"), "") for _ in range(50)]
    expected = SCALE * true_leakage(HIDDEN, 2.5, 308.15, 100.0) + ZERO
    assert abs(statistics.mean(volts) - expected) < 4 * SCATTER / 50**0.5
    assert 0.5 * SCATTER < statistics.stdev(volts) < 1.5 * SCATTER
    wire.write("BENC:FITT 0")
    assert abs(number(ask(wire, "READ?"), "") - ZERO) < 5 * SCATTER
    assert number(ask(wire, "MEAS:TEMP?"), "") == 35.0


def test_set_up_lines_scale_and_identity(pretend: PretendInstrument) -> None:
    meter = sheet(
        pretend,
        set_up=["CONF:VOLT:DC", "VOLT:DC:NPLC 10"],
        identity="Pretend",
        reset=True,
        read="MEAS:TEMP?",
        scale=2.0,
        offset=1.0,
    )
    instrument = connect(meter)()
    assert instrument.value() == 47.0
    instrument.close()


def test_a_refused_line_and_a_stranger_are_told(pretend: PretendInstrument) -> None:
    with pytest.raises(InputError, match=r"refused a set-up line: -113.*manual"):
        connect(sheet(pretend, set_up=["VOLTS PLEASE"]))()
    with pytest.raises(InputError, match=r"another instrument answers.*expected.*Other"):
        connect(sheet(pretend, identity="Other"))()


def test_nobody_there_and_nonsense_addresses() -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    with pytest.raises(Disconnected, match=r"127\.0\.0\.1.*connection is lost.*check power"):
        connect(Meter(address=f"TCPIP::127.0.0.1::{port}::SOCKET"))()
    with pytest.raises(Disconnected, match=r"cannot be reached \(INSTR\).*check power"):
        open_visa(Meter(address="ASRL/dev/no-such-line::INSTR"))
    with pytest.raises(InputError, match="is no instrument address"):
        open_visa(Meter(address="somewhere"))


def test_a_late_answer_is_a_disconnection_and_the_wire_says_so(pretend: PretendInstrument) -> None:
    instrument = connect(sheet(pretend, timeout="0.2 s"))()
    pretend.do("TROU:DEL 0.6")
    with pytest.raises(Disconnected, match="no answer in time"):
        instrument.value()
    instrument.close()


def test_a_log_has_both_clocks_and_its_count(pretend: PretendInstrument) -> None:
    kept = Kept()
    before = datetime.now(UTC)
    summary = run(pretend, kept, Limits(count=40))
    after = datetime.now(UTC)
    assert summary.count == len(kept.samples) == 40 and summary.ended == "complete"
    stamps = [datetime.fromisoformat(s.time) for s in kept.samples]
    assert before <= stamps[0] and stamps[-1] <= after and stamps == sorted(stamps)
    clock = [s.monotonic for s in kept.samples]
    assert all(b > a for a, b in pairwise(clock))
    wall_span = (stamps[-1] - stamps[0]) / timedelta(seconds=1)
    assert abs(wall_span - (clock[-1] - clock[0]) / 1e9) < 0.05
    assert kept.kinds() == ["start", "end"]
    assert isnan(kept.samples[0].temperature) and isnan(kept.samples[0].light)


def test_at_least_fifty_readings_a_second(pretend: PretendInstrument) -> None:
    kept = Kept()
    summary = run(pretend, kept, Limits(seconds=2.0))
    assert summary.count / summary.seconds >= 50, summary
    assert max(kept.batches) < summary.count / 3, "readings were held back"


def test_an_interval_is_kept(pretend: PretendInstrument) -> None:
    kept = Kept()
    run(pretend, kept, Limits(count=6, interval=0.1))
    steps = [(b.monotonic - a.monotonic) / 1e9 for a, b in pairwise(kept.samples)]
    assert abs(statistics.mean(steps) - 0.1) < 0.03, steps


def test_second_instruments_give_temperature_and_light(pretend: PretendInstrument) -> None:
    pretend.do("BENC:TEMP 41;BENC:LIGH 250")
    kept = Kept()
    log(
        connect(sheet(pretend)),
        kept,
        Limits(count=3),
        thermometer=connect(sheet(pretend, read="MEAS:TEMP?")),
        light_meter=connect(sheet(pretend, read="MEAS:ILL?")),
    )
    assert {(s.temperature, s.light) for s in kept.samples} == {(314.15, 250.0)}


@pytest.mark.parametrize("trouble", ["TROU:DROP 1", "TROU:DISC 1", "TROU:AWAY 0.5", "TROU:GARB 1"])
def test_trouble_becomes_a_mark_and_readings_go_on(
    pretend: PretendInstrument, trouble: str
) -> None:
    kept = Kept()
    timer = threading.Timer(0.3, pretend.do, [trouble])
    timer.start()
    summary = run(pretend, kept, Limits(seconds=1.8), timeout="0.3 s")
    timer.join()
    kind = "garbled" if "GARB" in trouble else "gap"
    assert kept.kinds() == ["start", kind, "end"]
    told = next(event for event in kept.events if event.kind == kind)
    assert re.search(r"no readings for \d+\.\d s", told.words)
    assert (summary.gaps, summary.garbled) == ((0, 1) if kind == "garbled" else (1, 0))
    assert summary.count == len(kept.samples) > 30
    assert all(abs(s.volts - kept.samples[0].volts) < 10 * SCATTER for s in kept.samples)
    longest = max(b.monotonic - a.monotonic for a, b in pairwise(kept.samples))
    assert longest > 0.09e9, "the gap must be visible in the clock"


def test_a_late_answer_never_passes_for_the_next_reading(pretend: PretendInstrument) -> None:
    """The bench changes while an answer is late: what was asked before must not be logged after."""
    kept = Kept()

    def trouble() -> None:
        pretend.do("TROU:DEL 0.5")
        time.sleep(0.3)
        pretend.do("BENC:FITT 0;TROU:NONE")

    timer = threading.Timer(0.3, trouble)
    timer.start()
    run(pretend, kept, Limits(seconds=2.0), timeout="0.2 s")
    timer.join()
    gap = next(event for event in kept.events if event.kind == "gap")
    later = [s.volts for s in kept.samples if s.time > gap.time]
    assert later and max(later) < ZERO + 6 * SCATTER, "a late answer was taken for a new one"


def test_overload_is_told_and_never_logged(pretend: PretendInstrument) -> None:
    kept = Kept()
    timer = threading.Timer(0.2, pretend.do, ["TROU:OVER 3"])
    timer.start()
    summary = run(pretend, kept, Limits(seconds=1.0))
    timer.join()
    assert summary.overloads == kept.kinds().count("overload") == 3
    assert max(s.volts for s in kept.samples) < 1.0


def test_an_instrument_that_stays_away_ends_the_log_with_a_sentence(
    pretend: PretendInstrument,
) -> None:
    kept = Kept()
    threading.Timer(0.2, pretend.do, ["TROU:AWAY 60"]).start()
    with pytest.raises(InputError, match=r"did not come back within.*readings before are kept"):
        run(pretend, kept, Limits(patience=1.0), timeout="0.3 s")
    assert kept.samples and kept.events[-1].words.endswith("s")


def test_stop_from_another_thread(pretend: PretendInstrument) -> None:
    kept, stop = Kept(), threading.Event()
    threading.Timer(0.3, stop.set).start()
    summary = log(connect(sheet(pretend)), kept, Limits(interval=30.0), stop=stop)
    assert summary.ended == "stopped" and summary.count == len(kept.samples) == 1
    assert summary.seconds < 2.0


def test_a_sink_that_fails_is_not_asked_to_forget(pretend: PretendInstrument) -> None:
    class Full(Kept):
        def take(self, samples: Sequence[Sample]) -> None:
            if self.batches:
                raise InputError("the disk is full")
            super().take(samples)

    full = Full()
    with pytest.raises(InputError, match="the disk is full"):
        run(pretend, full, Limits(seconds=2.0))
    assert len(full.samples) == full.batches[0]


def test_a_serial_line(pretend: PretendInstrument) -> None:
    """A real serial driver on a pseudo-terminal whose other end is bridged to the instrument."""
    ours, theirs = pty.openpty()
    tty.setraw(theirs)

    def bridge() -> None:
        pending = b""
        while True:
            try:
                pending += os.read(ours, 1000)
            except OSError:
                return
            while b"\r\n" in pending:
                line, pending = pending.split(b"\r\n", 1)
                answer = pretend.do(line.decode())
                if answer is not None:
                    os.write(ours, f"{answer}\r\n".encode())

    thread = threading.Thread(target=bridge, daemon=True)
    thread.start()
    kept = Kept()
    address = f"ASRL{os.ttyname(theirs)}::INSTR"
    ends = {"read_termination": "\r\n", "write_termination": "\r\n", "baud": 115200}
    run(pretend, kept, Limits(count=5), address=address, **ends)
    assert len(kept.samples) == 5 and kept.kinds() == ["start", "end"]
    os.close(theirs)
    os.close(ours)


@pytest.mark.parametrize("kind", [HislipInstrument, Vxi11Instrument])
def test_other_protocols_of_the_network(
    pretend: PretendInstrument, kind: type[HislipInstrument | Vxi11Instrument]
) -> None:
    """A real HiSLIP or VXI-11 client: set-up, complaints, readings, a cut wire and the way back."""
    pretend.do("BENC:TEMP 31")
    with kind(pretend.do) as server:
        lines = ["CONF:VOLT:DC", "VOLT:DC:NPLC 10"]
        ends = {"address": server.address, "set_up": lines, "identity": "Pretend"}
        with pytest.raises(InputError, match="refused a set-up line: -113"):
            connect(sheet(pretend, **ends | {"set_up": ["VOLTS PLEASE"]}))()
        kept = Kept()
        timer = threading.Timer(0.4, server.hang_up)
        timer.start()
        summary = log(
            connect(sheet(pretend, **ends)),
            kept,
            Limits(seconds=2.0),
            thermometer=connect(sheet(pretend, address=server.address, read="MEAS:TEMP?")),
        )
        timer.join()
    assert kept.kinds() == ["start", "gap", "end"] and summary.gaps == 1
    assert summary.count == len(kept.samples) > 60
    assert {s.temperature for s in kept.samples} == {304.15}
    expected = SCALE * true_leakage(HIDDEN, 5.0, 304.15) + ZERO
    mean = statistics.mean(s.volts for s in kept.samples)
    assert abs(mean - expected) < 5 * SCATTER / len(kept.samples) ** 0.5


@pytest.mark.parametrize("kind", [HislipInstrument, Vxi11Instrument])
def test_an_answer_that_never_comes_is_told_by_every_protocol(
    pretend: PretendInstrument, kind: type[HislipInstrument | Vxi11Instrument]
) -> None:
    silent = False

    def do(line: str) -> str | None:
        return None if silent else pretend.do(line)

    with kind(do) as server:
        instrument = connect(sheet(pretend, address=server.address, timeout="0.3 s"))()
        assert abs(instrument.value()) < 1.0
        silent = True
        with pytest.raises(Disconnected, match="no answer in time"):
            instrument.value()
        instrument.close()
