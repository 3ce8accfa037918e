"""What a run of readings shows in time: what it is worth, hum, drift, and events with their moments.

For every run of 16 readings or more that carries times. Nothing is removed; a disturbance is told with
the mark that someone set near it, if any.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict

from clampwright.bench import series
from clampwright.bench.columns import Readings
from clampwright.bench.grouping import Group, grouped
from clampwright.bench.history import history_of, moment
from clampwright.quantities import write
from clampwright.quantities.fields import Time, Voltage

FEWEST = 16  # [1] readings of a run
MOST = 20_000  # [1] readings of a run looked at; the rest is told
EVEN = 0.2  # [1] of the interval, how far a distance may be off it …
EVEN_SHARE = 0.9  # [1] … in this share of distances, for hum and drift to be judged
NEAR_MARK = 10.0  # [s] or three intervals: an event this near to a mark is the marked one

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Mark:
    """What someone noted at the bench."""

    time: str
    kind: str
    words: str = ""


class RunEvent(BaseModel):
    """One disturbance in a run; `size` in volts at the meter."""

    model_config = ConfigDict(frozen=True)

    kind: str
    time: str
    size: Voltage
    words: str
    marked: str  # "" without a mark near it

    def text(self) -> str:
        """One phrase."""
        told = f'marked "{self.marked}"' if self.marked else self.words
        return f"{self.kind} of {write(self.size, 'voltage', signed=True)} at {self.time} ({told})"


class Run(BaseModel):
    """One run of readings judged in time."""

    model_config = ConfigDict(frozen=True)

    part: str
    wiring: str
    where: str
    count: int
    interval: Time
    effective_count: float
    autocorrelation: float
    allan_lengths: tuple[int, ...]
    allan_deviations: tuple[Voltage, ...]
    findings: tuple[str, ...]  # hum, drift, uneven times
    events: tuple[RunEvent, ...]

    def text(self) -> str:
        """One sentence or two."""
        worth = (
            f"count as {self.effective_count:.3g}"
            if self.effective_count < self.count
            else ("count in full")
        )
        text = (
            f"{self.where}: {self.count} readings, {write(self.interval, 'time')} apart, {worth} "
            f"(lag-1 {self.autocorrelation:.2f})"
        )
        told = [
            *self.findings,
            *(["events: " + "; ".join(e.text() for e in self.events)] * bool(self.events)),
        ]
        return "; ".join([text, *(told or ["no hum, no drift, no events"])])

    @property
    def disturbed(self) -> float:
        """Share of readings that begin a disturbance."""
        return len(self.events) / self.count


def runs_of(readings: Readings, marks: Sequence[Mark] = ()) -> tuple[Run, ...]:
    """Every run of readings of one condition, or of a zero, that is long enough and has times."""
    if not any(readings.time.names):
        return ()
    seconds = history_of(readings).seconds
    moments = [(m.timestamp(), mark) for mark in marks if (m := moment(mark.time))]
    return tuple(
        _run(group, readings, seconds[group.rows], moments)
        for group in grouped(readings)
        if group.count >= FEWEST and not np.isnan(seconds[group.rows]).any()
    )


def _run(
    group: Group, readings: Readings, seconds: Array, moments: Sequence[tuple[float, Mark]]
) -> Run:
    values, t = group.values[:MOST], seconds[:MOST]
    steps = np.diff(t)
    interval = float(np.median(steps))
    even = interval > 0 and np.mean(np.abs(steps - interval) <= EVEN * interval) >= EVEN_SHARE
    findings = [] if len(seconds) <= MOST else [f"only the first {MOST} readings are judged here"]
    corner = None
    if even:
        corner = series.drift_corner(values, interval)
        line = series.hum(values, interval)
        findings += [_named(line)] if line else []
        findings += [f"drift: {corner.words}"] if corner.length else []
    else:
        findings.append("not evenly spaced in time: hum and drift cannot be judged")
    reach = max(NEAR_MARK, 3 * interval)
    events = tuple(
        _event(e, readings.time[int(group.rows[e.at])], float(t[e.at]), moments, reach)
        for e in series.events(values)
    )
    return Run(
        part=group.part,
        wiring=group.wiring,
        where=_where(group),
        count=group.count,
        interval=interval,
        effective_count=series.effective_count(values) * group.count / len(values),
        autocorrelation=series.autocorrelation(values),
        allan_lengths=corner.lengths if corner else (),
        allan_deviations=corner.deviations if corner else (),
        findings=tuple(findings),
        events=events,
    )


def _named(line: series.Line) -> str:
    size = f"{write(line.amplitude, 'voltage', digits=2)} peak"
    if line.words.startswith("slow wave"):
        return f"drift: {line.words} ({size})"
    return f"{'hum' if line.mains else 'line'}: {line.words} ({size})"


def _event(
    event: series.Event,
    time: str,
    at: float,
    moments: Sequence[tuple[float, Mark]],
    reach: float,
) -> RunEvent:
    near = min(moments, key=lambda m: abs(m[0] - at), default=None)
    marked = ""
    if near is not None and abs(near[0] - at) <= reach:
        marked = ": ".join(filter(None, (near[1].kind, near[1].words)))
    return RunEvent(kind=event.kind, time=time, size=event.size, words=event.words, marked=marked)


def _where(group: Group) -> str:
    """State and conditions in one phrase."""
    parts = ["" if group.state == "reading" else group.state]
    if group.reverse_voltage == group.reverse_voltage:
        parts.append(write(group.reverse_voltage, "voltage"))
    if group.state == "reading":
        parts += [write(group.temperature, "temperature"), write(group.light, "illuminance")]
    return ", ".join([*filter(None, parts), group.instrument])


__all__ = ["Mark", "Run", "RunEvent", "runs_of"]
