"""Log a meter into a session: every batch of samples becomes readings that are committed at once."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from threading import Event as Flag
from typing import Any, TypeVar

from clampwright.bench.columns import COLUMNS, NEEDED, STATES, THERMOMETERS, readings_from_rows
from clampwright.bench.instrument import Profile
from clampwright.bench.instruments.logger import Limits, Summary, log
from clampwright.bench.instruments.meter import Meter
from clampwright.bench.instruments.samples import Event, Sample
from clampwright.bench.instruments.scpi import Instrument, set_up
from clampwright.bench.instruments.visa_transport import open_visa
from clampwright.bench.part_temperature import typed_temperature
from clampwright.errors import InputError
from clampwright.quantities import read
from clampwright.workspace.database import Store
from clampwright.workspace.store import (
    Session,
    Snapshot,
    append,
    mark,
    now,
    sessions,
    snapshot,
    snapshots,
    start_session,
)

ATTEMPTS = 3  # to write a batch before the log ends
PAUSE = 1.0  # [s] between them
_Written = TypeVar("_Written")


_SECOND = {"temperature": "thermometer", "light": "light_meter"}  # field → who may read it


def log_session(
    store: Store,
    name: str,
    profile: Profile,
    sheet: str,
    typed: Mapping[str, str],
    limits: Limits,
    *,
    who: str = "",
    stop: Flag | None = None,
    told: Callable[[int], None] = lambda count: None,
) -> tuple[Session, Summary]:
    """Log the meter of an instrument into a session, a new one or one of ours that goes on.

    sheet : text of the instrument's sheet, kept with the session
    typed : field → text of what all these readings share, such as {"reverse_voltage": "5 V"}
    Raises InputError for a condition that is missing or cannot be read, before anything is touched.
    """
    if profile.meter is None:
        raise InputError(
            "this instrument sheet does not say how to reach its meter",
            where=profile.id,
            expected="a table [meter] with an address",
            mend="see docs/recording.md",
        )
    condition = condition_of(typed, profile)
    meter = profile.meter
    session = _session(store, name, who)

    def connect() -> Instrument:
        instrument = _connect(meter)
        _keep_snapshot(store, session, Snapshot(profile.id, sheet, instrument.identity))
        return instrument

    summary = log(
        connect,
        SessionSink(store, session, condition),
        limits,
        thermometer=_second(profile.thermometer, condition, "temperature"),
        light_meter=_second(profile.light_meter, condition, "light"),
        stop=stop,
        told=told,
    )
    return session, summary


def type_session(
    store: Store,
    name: str,
    profile: Profile,
    sheet: str,
    typed: Mapping[str, str],
    volts: Sequence[float],
    *,
    who: str = "",
) -> Session:
    """Add readings (V) that someone read off a meter to a session, new or ours: all, or none.

    typed : as of `log_session`. They are typed together, so they carry one time.
    """
    condition = {**condition_of(typed, profile, meters=False), "time": now()}
    session = _session(store, name, who)
    readings = readings_from_rows([{**condition, "reading": value} for value in volts])
    _keep_snapshot(store, session, Snapshot(profile.id, sheet))
    append(store, session, readings)
    return session


def look(
    profile: Profile, count: int, wait: float = 0.0, stop: Flag | None = None
) -> tuple[float, ...]:
    """The last `count` readings (V) of a meter after `wait` seconds; they are kept nowhere."""
    if profile.meter is None:
        raise InputError("this instrument sheet does not say how to reach its meter")
    meter, seen, stop = profile.meter, _Seen(), stop or Flag()
    begun = time.monotonic()

    def enough(taken: int) -> None:
        if taken >= count and time.monotonic() - begun >= wait:
            stop.set()

    log(
        lambda: _connect(meter), seen, Limits(interval=min(1.0, wait / 100)), stop=stop, told=enough
    )
    return tuple(seen.volts[-count:])


class _Seen:
    """A sink that only remembers."""

    def __init__(self) -> None:
        self.volts: list[float] = []

    def take(self, samples: Sequence[Sample]) -> None:
        self.volts += [sample.volts for sample in samples]

    def note(self, event: Event) -> None:
        """Nothing is written of it."""


def condition_of(
    typed: Mapping[str, str], profile: Profile, *, meters: bool = True
) -> dict[str, Any]:
    """What the readings of a log share, in SI; InputError names what is missing.

    meters : whether a thermometer and a light meter of the profile give what was not typed
    """
    known = {column.field: column for column in (*COLUMNS, *THERMOMETERS)}
    condition: dict[str, Any] = {"instrument": profile.id}
    for field, text in typed.items():
        dimension = known[field].dimension
        where = known[field].name
        condition[field] = (
            read(text, dimension, where=where) if dimension else " ".join(text.split())
        )
    typed_temperature(condition)
    state = condition.setdefault("state", "reading")
    if state not in STATES:
        raise InputError(f'unknown state "{state}"', expected=" | ".join(STATES))
    for field in NEEDED.get(state, ()):
        measured = meters and field in _SECOND and getattr(profile, _SECOND[field]) is not None
        if condition.get(field) in (None, "") and not measured:
            raise InputError(
                f"the {known[field].name} is missing", expected=f'what a row "{state}" needs'
            )
    return condition


def _connect(meter: Meter) -> Instrument:
    transport = open_visa(meter)
    try:
        return set_up(meter, transport)
    except BaseException:
        transport.close()
        raise


def _second(
    meter: Meter | None, condition: Mapping[str, Any], field: str
) -> Callable[[], Instrument] | None:
    """How to open a second instrument, unless its value was typed."""
    if meter is None or field in condition:
        return None
    found = meter
    return lambda: _connect(found)


def _keep_snapshot(store: Store, session: Session, taken: Snapshot) -> None:
    """Keep how an instrument is described and names itself, unless the session knows it so."""
    known = {(s.instrument, s.sheet, s.identity) for s in snapshots(store, session)}
    if (taken.instrument, taken.sheet, taken.identity) not in known:
        snapshot(store, session, taken)


def _session(store: Store, name: str, who: str) -> Session:
    for session in sessions(store):
        if session.name == name:
            if session.origin or session.source_hash:
                raise InputError(
                    f'the session "{name}" was imported and is closed', mend="choose another name"
                )
            return session
    return start_session(store, name, who=who)


class SessionSink:
    """Writes samples to a session; `count` is how many are acknowledged."""

    def __init__(self, store: Store, session: Session, condition: Mapping[str, Any]) -> None:
        """condition : the fields all readings of this log share (see `bench.columns.COLUMNS`), SI."""
        self._store = store
        self._session = session
        self._condition = dict(condition)
        self._last = session.count
        self.count = 0

    def take(self, samples: Sequence[Sample]) -> None:
        """Return when the samples are on the disk; InputError, and none is, after some attempts."""
        readings = readings_from_rows([self._row(sample) for sample in samples])
        clock = [sample.monotonic for sample in samples]
        self._last = _patiently(
            lambda: append(self._store, self._session, readings, monotonic=clock, after=self._last)
        )
        self.count += len(samples)

    def note(self, event: Event) -> None:
        """Keep an event as a mark after the last reading."""
        _patiently(lambda: mark(self._store, self._session, event.kind, event.words, event.time))

    def _row(self, sample: Sample) -> dict[str, Any]:
        row = {**self._condition, "reading": sample.volts, "time": sample.time}
        if sample.temperature == sample.temperature:
            row["temperature"] = sample.temperature
        if sample.light == sample.light:
            row["light"] = sample.light
        return row


def _patiently(write: Callable[[], _Written]) -> _Written:
    """Try again what the database refused: a lock passes, a connection comes back."""
    for _ in range(ATTEMPTS - 1):
        try:
            return write()
        except InputError:
            time.sleep(PAUSE)
    return write()


__all__ = ["SessionSink", "condition_of", "log_session", "look", "type_session"]
