"""Keep reading a meter, through pulled cables and late answers, and lose nothing once acknowledged.

Readings are handed to the sink in small batches; it returns when they are on the disk. A time-out, a
lost wire or an answer that is no number never becomes a reading: it becomes an event, and the wire is
opened anew, so that a late or broken answer is never taken for the next one.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from math import inf, nan
from threading import Event as Flag

from clampwright.bench.instruments.samples import Event, MarkKind, Sample, Sink
from clampwright.bench.instruments.scpi import Disconnected, Garbled, Instrument, Overloaded
from clampwright.errors import InputError

FIRST_WAIT = 0.1  # [s] before the first attempt to reconnect; doubled after each
LONGEST_WAIT = 5.0  # [s]
PATIENCE = 600.0  # [s] of attempts after which a log ends
HELD_BACK = 0.2  # [s] readings wait at most this long before they are handed on
CLOCK_JUMP = 0.5  # [s] between the two clocks that is told

Connect = Callable[[], Instrument]


@dataclass(frozen=True)
class Limits:
    """When a log ends, and how fast it reads (s between readings; 0: as fast as the meter answers)."""

    count: int | None = None
    seconds: float = inf
    interval: float = 0.0
    patience: float = PATIENCE


@dataclass(frozen=True)
class Summary:
    """What a log did."""

    count: int
    seconds: float
    gaps: int
    garbled: int
    overloads: int
    ended: str  # "complete" or "stopped"


def log(
    connect: Connect,
    sink: Sink,
    limits: Limits,
    *,
    thermometer: Connect | None = None,
    light_meter: Connect | None = None,
    stop: Flag | None = None,
    told: Callable[[int], None] = lambda count: None,
) -> Summary:
    """Read until the limits are reached, or until somebody sets `stop`.

    connect, thermometer, light_meter : open and set up an instrument; raise Disconnected when it is
        not there. The second instruments are read before every reading of the first.
    told : called with the number of readings after each acknowledged batch
    Raises Disconnected when the meter stays away longer than `limits.patience`; what the sink raises.
    """
    run = _Run(sink, limits, told, stop or Flag())
    wires = _Wires((connect, thermometer, light_meter), run)
    try:
        while not run.done():
            if run.wait():
                wires.read_once()
    finally:
        wires.close()
    run.flush()
    ended = "stopped" if run.stop.is_set() else "complete"
    run.event("end", ended)
    return Summary(run.count, run.elapsed(), run.gaps, run.garbled, run.overloads, ended)


@dataclass
class _Run:
    """Readings on their way to the sink, and the two clocks."""

    sink: Sink
    limits: Limits
    told: Callable[[int], None]
    stop: Flag
    count: int = 0
    gaps: int = 0
    garbled: int = 0
    overloads: int = 0
    begun: int = field(default_factory=time.monotonic_ns)
    due: float = 0.0
    latest: int = field(default_factory=time.monotonic_ns)
    waiting: list[Sample] = field(default_factory=list)
    clocks_differ_by: int = field(default_factory=lambda: time.time_ns() - time.monotonic_ns())

    def done(self) -> bool:
        enough = self.limits.count is not None and self.count >= self.limits.count
        return enough or self.stop.is_set() or self.elapsed() >= self.limits.seconds

    def elapsed(self) -> float:
        return (time.monotonic_ns() - self.begun) / 1e9

    def silence(self) -> float:
        """Seconds since the last reading, or since the beginning."""
        return (time.monotonic_ns() - self.latest) / 1e9

    def wait(self) -> bool:
        """Until the next reading is due; False when the log ends before.

        A late reading does not make the following ones hurry.
        """
        pause = self.due - self.elapsed()
        if pause > HELD_BACK:
            self.flush()
        self.sleep(pause)
        self.due = max(self.due, self.elapsed() - self.limits.interval) + self.limits.interval
        return not self.done()

    def sleep(self, pause: float) -> None:
        """Wait, at most until the log ends."""
        self.stop.wait(max(0.0, min(pause, self.limits.seconds - self.elapsed())))

    def take(self, volts: float, temperature: float, light: float) -> None:
        stamp, monotonic = self._clocks()
        self.waiting.append(Sample(volts, stamp, monotonic, temperature, light))
        self.latest = monotonic
        self.count += 1
        if self.done() or monotonic - self.waiting[0].monotonic >= HELD_BACK * 1e9:
            self.flush()

    def flush(self) -> None:
        if self.waiting:
            self.sink.take(self.waiting)
            self.waiting = []
            self.told(self.count)

    def event(self, kind: MarkKind, words: str) -> None:
        self.flush()
        self.sink.note(Event(kind, words, _text(time.time_ns())))

    def _clocks(self) -> tuple[str, int]:
        wall, monotonic = time.time_ns(), time.monotonic_ns()
        jump = wall - monotonic - self.clocks_differ_by
        if abs(jump) > CLOCK_JUMP * 1e9:
            self.clocks_differ_by += jump
            self.event("clock", f"the clock of the computer was set by {jump / 1e9:+.1f} s")
        return _text(wall), monotonic


class _Wires:
    """The meter and its two companions, opened anew together when one of them is lost."""

    def __init__(self, connects: tuple[Connect | None, ...], run: _Run) -> None:
        self._connects = connects
        self._run = run
        self._open: list[Instrument | None] = []
        self._connect()
        names = ", ".join(one.identity for one in self._open if one)
        run.event("start", names)

    def read_once(self) -> None:
        """One reading, or one event and a way back to readings."""
        try:
            meter, thermometer, light_meter = self._open
            assert meter is not None
            temperature = thermometer.value() + 273.15 if thermometer else nan
            light = light_meter.value() if light_meter else nan
            self._run.take(meter.value(), temperature, light)
        except Overloaded as error:
            self._run.overloads += 1
            self._run.event("overload", error.wrong)
        except Garbled as error:
            self._run.garbled += 1
            self._reconnect("garbled", error.wrong)
        except Disconnected as error:
            self._run.gaps += 1
            self._reconnect("gap", error.wrong)

    def close(self) -> None:
        for one in self._open:
            if one:
                one.close()
        self._open = []

    def _connect(self) -> None:
        with self._closing_on_failure():
            for connect in self._connects:
                self._open.append(connect() if connect else None)

    @contextmanager
    def _closing_on_failure(self) -> Iterator[None]:
        try:
            yield
        except BaseException:
            self.close()
            raise

    def _reconnect(self, kind: MarkKind, why: str) -> None:
        """Try again with growing pauses, then write down how long nothing was read."""
        self._run.flush()
        self.close()
        pause = FIRST_WAIT
        while not self._run.done():
            self._run.sleep(pause)
            try:
                self._connect()
                break
            except (Disconnected, Garbled) as error:
                self._give_up_after(self._run.silence(), why, error)
            pause = min(2 * pause, LONGEST_WAIT)
        self._run.event(kind, f"{why}: no readings for {self._run.silence():.1f} s")

    def _give_up_after(self, away: float, why: str, error: Exception) -> None:
        if away < self._run.limits.patience:
            return
        self._run.event("gap", f"{why}: given up after {away:.1f} s")
        raise InputError(
            f"the instrument did not come back within {away:.0f} s "
            f"({str(error).rstrip('.')}); the {self._run.count} readings before are kept"
        ) from None


def _text(wall: int) -> str:
    seconds, rest = divmod(wall, 1_000_000_000)
    moment = datetime.fromtimestamp(seconds, UTC) + timedelta(microseconds=rest // 1000)
    return moment.isoformat(timespec="microseconds").replace("+00:00", "Z")


__all__ = ["Limits", "Summary", "log"]
