"""A run of readings while it comes in: has it settled, which of them count, what disturbs it.

Pure: all readings since the voltage was applied in, a judgement out. Nothing is removed here; what
came before it was settled is left out by a correction that says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, hypot, nan, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.bench.series import Event, drift_corner, effective_count, events, hum
from clampwright.bench.settling import Settling, settled

Array = NDArray[np.float64]
LOOKED_AT = 2000  # [1] latest readings that are searched for hum, drift and events
CHANCE = 2.0  # [1] standard uncertainties that a still difference may show; about 95 %
NEXT_LOOK = 1.05  # [1] ratio of the numbers of readings at which settling is judged
LEAST_FOR_HUM = 16
LEAST_FOR_DRIFT = 24


@dataclass(frozen=True)
class Watched:
    """What a run says so far; currents in A, times in s since the voltage was applied.

    `settled` is None where times do not allow to tell, such as values that were typed together.
    The mean and its type A uncertainty are those of the readings from `first` on.
    """

    count: int
    settled: bool | None
    words: str
    wait: float  # more, inf when waiting will not do
    first: int
    enough: bool
    mean: float
    uncertainty: float
    spread: float
    effective: float
    diagnosis: tuple[str, ...] = ()
    events: tuple[Event, ...] = ()


def watched(
    seconds: ArrayLike,
    currents: ArrayLike,
    *,
    wait: float,
    count: int,
    resolution: float,
    known: float = 0.0,
) -> Watched:
    """Judge a run.

    seconds, currents : equally long; times do not fall
    wait : s before which nothing counts; count : readings wanted; resolution : A of the meter
    known : standard uncertainty (A) of the result besides the scatter, which soakage may reach
    """
    t, x = np.asarray(seconds, float), np.asarray(currents, float)
    if not len(x):
        return Watched(0, False, "no reading yet", wait, 0, False, nan, nan, nan, nan)
    looked = _looked(t, x, wait, _Doubt(count, resolution, known))
    first = looked.first if looked.settled is not False else max(0, len(x) - count)
    kept = x[first:]
    effective = effective_count(kept) if len(kept) >= 3 else float(len(kept))
    spread = float(np.std(kept, ddof=1)) if len(kept) > 1 else nan
    scatter = 0.0 if spread != spread else spread / sqrt(effective)
    found = _events(x, first)
    return Watched(
        count=len(x),
        settled=looked.settled,
        words=looked.words,
        wait=looked.wait,
        first=first,
        enough=looked.settled is not False and len(kept) >= count,
        mean=float(np.mean(kept)),
        uncertainty=sqrt(scatter**2 + resolution**2 / 12),
        spread=spread,
        effective=effective,
        diagnosis=_diagnosis(t, x, first, effective, found),
        events=found,
    )


@dataclass(frozen=True)
class _Doubt:
    count: int
    resolution: float
    known: float

    def of(self, scatter: float) -> float:
        """What |I(2t) − I(t)| may be: chance of two means and what the result leaves open anyway."""
        chance = CHANCE * sqrt(2 * scatter**2 / self.count + self.resolution**2 / 6)
        return hypot(chance, self.known)


@dataclass(frozen=True)
class _Looked:
    settled: bool | None
    words: str
    wait: float
    first: int


def _looked(t: Array, x: Array, wait: float, doubt: _Doubt) -> _Looked:
    """The first look at which the run had settled, or what the latest look says."""
    now, count = float(t[-1]), doubt.count
    if now < wait:
        return _Looked(False, wait_words(wait - now), wait - now, 0)
    if t[-1] <= t[0]:
        return _Looked(None, "one moment only: whether it had settled cannot be told", 0.0, 0)
    if len(x) < 2 * count:
        missing = 2 * count - len(x)
        words = f"{missing} more readings until settling can be judged"
        return _Looked(None if _slow(t, wait) else False, words, 0.0, _after(t, wait))
    for end in _ends(len(x), 2 * count):
        if t[end - 1] < wait:
            continue
        judged = _judged(t[:end], x[:end], doubt)
        if judged is not None and judged.settled:
            return _Looked(True, judged.words, 0.0, end - count)
    last = _judged(t, x, doubt)
    if last is None:
        return _Looked(False, "read on to twice the time: settling needs it", now, 0)
    return _Looked(False, last.words, last.wait, 0)


def _slow(t: Array, wait: float) -> bool:
    """Whether readings come singly, as when they are typed: then the wait alone must do."""
    after = int(np.sum(t >= wait))
    return after > 1 and float(np.median(np.diff(t[-after:]))) > 1.0


def _after(t: Array, wait: float) -> int:
    return int(np.searchsorted(t, wait))


def _ends(total: int, least: int) -> Sequence[int]:
    found, end = [], least
    while end < total:
        found.append(end)
        end = max(end + 1, ceil(end * NEXT_LOOK))
    return [*found, total]


def _judged(t: Array, x: Array, doubt: _Doubt) -> Settling | None:
    """|I(2t) − I(t)| of means of `count` readings against what their scatter alone would show."""
    now = float(t[-1])
    times, means, scatters = [], [], []
    for share in (0.25, 0.5, 1.0):
        window = _window(t, share * now, doubt.count)
        if window is None:
            continue
        times.append(share * now)
        means.append(float(np.mean(x[window])))
        scatters.append(_still_scatter(x[window]))
    if len(times) < 2 or times[-2] != 0.5 * now:
        return None
    scatter = sqrt(sum(s**2 for s in scatters[-2:]) / 2)
    return settled(times, means, doubt.of(scatter) or abs(means[-1]) * 1e-9 or 1e-30)


def _window(t: Array, time: float, count: int) -> slice | None:
    """`count` readings around a time, the last ones at the end; None when they are not near it."""
    end = min(len(t), int(np.searchsorted(t, time)) + (count + 1) // 2)
    start = end - count
    near = start >= 0 and t[start] >= 0.6 * time and t[end - 1] <= 1.25 * time
    return slice(start, end) if near else None


def _still_scatter(x: Array) -> float:
    """Standard deviation from neighbours' differences: a creep hardly enters (von Neumann)."""
    return sqrt(float(np.mean(np.diff(x) ** 2)) / 2)


def _events(x: Array, first: int) -> tuple[Event, ...]:
    begin = max(first, len(x) - LOOKED_AT)
    if len(x) - begin < 10:
        return ()
    return tuple(
        Event(e.kind, e.at + begin, e.size, e.words) for e in events(x[begin:])
    )  # fmt: skip


def _diagnosis(
    t: Array, x: Array, first: int, effective: float, found: tuple[Event, ...]
) -> tuple[str, ...]:
    """Sentences about the counted readings: correlation, hum, drift, events."""
    begin = max(first, len(x) - LOOKED_AT)
    kept = x[begin:]
    said = []
    if len(x) - first > 3 and effective < 0.8 * (len(x) - first):
        said.append(
            f"{len(x) - first} readings are worth {effective:.0f}: neighbours resemble each other"
        )
    interval = float(t[-1] - t[begin]) / max(len(kept) - 1, 1)
    if interval > 0 and len(kept) >= LEAST_FOR_HUM and (line := hum(kept, interval)):
        said.append(line.words)
    if interval > 0 and len(kept) >= LEAST_FOR_DRIFT:
        corner = drift_corner(kept, interval)
        if corner.length is not None:
            said.append(corner.words)
    for kind, words in (("step", "it jumped"), ("spike", "it spiked")):
        if times := sum(e.kind == kind for e in found):
            said.append(
                f"{words} {'once' if times == 1 else f'{times} times'}: touch, light, cable?"
            )
    return tuple(said)


def wait_words(seconds: float) -> str:
    """ "wait 4 more minutes", or seconds below one and a half minutes."""
    if seconds < 90:
        return f"wait {ceil(seconds)} more second{'' if ceil(seconds) == 1 else 's'}"
    return f"wait {ceil(seconds / 60)} more minutes"


__all__ = ["Watched", "wait_words", "watched"]
