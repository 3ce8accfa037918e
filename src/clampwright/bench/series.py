"""A run of readings in time: what it is worth, when averaging stops helping, and what disturbed it.

Readings are evenly spaced. Nothing is removed: events are marked, and the user decides.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, log, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError

Array = NDArray[np.float64]
MAINS = (50.0, 60.0)  # [Hz]
HUM_LEVEL = 0.01  # [1] chance that white noise has a line this strong (Fisher's test)
NORMAL_SPREAD = 1.4826  # [1] standard deviation over median absolute deviation, normal
EVENT_LEVEL = 1e-3  # [1] chance that a quiet run has any event
WINDOW = 5  # [1] readings each side of which medians are compared
CORNER_SHARE = 1.15  # [1] the Allan deviation must rise by this much before a corner is told


def autocorrelation(values: ArrayLike, lag: int = 1) -> float:
    """Lag-k autocorrelation Σ(x_i − x̄)(x_{i+k} − x̄)/Σ(x_i − x̄)², 1 ≤ k < n; NaN when all equal.

    Source: NIST/SEMATECH e-Handbook 1.3.5.12.
    """
    x = _run(values, lag + 1)
    d = x - x.mean()
    total = float(d @ d)
    return float(d[lag:] @ d[:-lag]) / total if total else float("nan")


def effective_count(values: ArrayLike) -> float:
    """Number of independent readings that tell the mean as well, 1…n.

    n/(1 + 2·Σ(1 − k/n)·ρ_k) over the lags before the first that is not above its own chance
    (1.96/√n), never more than n. Source: Bayley and Hammersley, J. R. Statist. Soc. 8 (1946) 184.
    """
    x = _run(values, 3)
    n = len(x)
    total = 1.0
    for lag in range(1, n // 2):
        rho = autocorrelation(x, lag)
        if not rho > 1.96 / sqrt(n):
            break
        total += 2 * (1 - lag / n) * rho
    return max(1.0, n / total)


def allan_deviation(values: ArrayLike, length: int = 1) -> float:
    """Overlapping Allan deviation of averages of `length` readings; same unit as the readings.

    √(mean of (next average − average)²/2). White noise: s/√length. Needs 2·length readings.
    Source: NIST SP 1065 (2008), 5.2.4 (frequency data).
    """
    x = _run(values, 2 * length)
    sums = np.concatenate([[0.0], np.cumsum(x - x.mean())])
    averages = (sums[length:] - sums[:-length]) / length
    steps = averages[length:] - averages[:-length]
    return sqrt(float(np.mean(steps**2)) / 2)


@dataclass(frozen=True)
class DriftCorner:
    """How many readings are worth averaging; `length` None while the run shows no corner."""

    lengths: tuple[int, ...]
    deviations: tuple[float, ...]
    length: int | None
    deviation: float  # smallest reached
    words: str


def drift_corner(values: ArrayLike, interval: float) -> DriftCorner:
    """Where the deviation of averages stops falling (drift, flicker); `interval` in seconds."""
    x = _run(values, 8)
    lengths = tuple(
        dict.fromkeys(int(v) for v in np.geomspace(1, len(x) // 3, 24).round().astype(int))
    )
    deviations = tuple(allan_deviation(x, m) for m in lengths)
    best = int(np.argmin(deviations))
    risen = max(deviations[best:]) > CORNER_SHARE * deviations[best]
    corner = lengths[best] if risen and best < len(lengths) - 1 else None
    if corner is None:
        words = (
            f"averaging still helps after {lengths[-1]} readings ({lengths[-1] * interval:.3g} s)"
        )
    elif corner == 1:
        words = "averaging does not help at all: the readings drift from one to the next"
    else:
        words = f"stop averaging at {corner} readings ({corner * interval:.3g} s): drift takes over"
    return DriftCorner(lengths, deviations, corner, deviations[best], words)


@dataclass(frozen=True)
class Line:
    """A periodic disturbance: as it appears, and which mains multiple it may be the alias of."""

    frequency: float  # [Hz] between 0 and half the sampling rate
    amplitude: float  # peak, unit of the readings
    chance: float  # that white noise shows a line this strong
    mains: float | None  # [Hz]
    words: str


def hum(values: ArrayLike, interval: float) -> Line | None:
    """The strongest periodic line, or None when white noise would show it (Fisher's g test).

    Source: R. A. Fisher, Proc. R. Soc. A 125 (1929) 54.
    """
    x = _run(values, 16)
    n = len(x)
    x = x - np.polyval(np.polyfit(np.arange(n), x, 1), np.arange(n))
    power = np.abs(np.fft.rfft(x)[1 : (n + 1) // 2]) ** 2
    if not power.sum() > 0:
        return None
    at = int(np.argmax(power))
    chance = _fisher(float(power[at] / power.sum()), len(power))
    if chance > HUM_LEVEL:
        return None
    frequency = (at + 1) / (n * interval)
    mains = _aliased_mains(frequency, interval, 1 / (n * interval))
    if at == 0:
        words = "slow wave as long as the run: drift, not hum"
    elif mains is None:
        words = f"periodic disturbance at {frequency:.3g} Hz"
    else:
        words = (
            f"periodic disturbance at {frequency:.3g} Hz, as {mains:g} Hz would appear at this "
            "rate: integrate whole mains cycles"
        )
    return Line(frequency, 2 * sqrt(float(power[at])) / n, chance, mains, words)


def alias(frequency: float, interval: float) -> float:
    """Frequency (Hz) at which a line appears when sampled every `interval` seconds."""
    rate = 1 / interval
    return abs(frequency - rate * round(frequency / rate))


@dataclass(frozen=True)
class Event:
    """One disturbance: first reading concerned, size, and what usually makes such a thing."""

    kind: Literal["spike", "step"]
    at: int
    size: float
    words: str


def events(values: ArrayLike) -> tuple[Event, ...]:
    """Spikes and steps that a quiet run of this scatter would seldom (1 in 1000) show.

    Scatter is robust (median absolute difference of neighbours), so that the events themselves do
    not hide one another. A step compares the medians of five readings on each side.
    """
    x = _run(values, 2 * WINDOW)
    spread = NORMAL_SPREAD * float(np.median(np.abs(np.diff(x)))) / sqrt(2)
    if spread == 0:
        spread = float(np.std(np.diff(x))) / sqrt(2)
    if spread == 0:
        return ()
    limit = _normal_quantile(EVENT_LEVEL / len(x) / 2) * spread
    steps = _steps(x, limit)
    return tuple(sorted((*steps, *_spikes(x, limit, steps)), key=lambda e: e.at))


def _steps(x: Array, limit: float) -> tuple[Event, ...]:
    """Places where the median changes for good, the largest of each neighbourhood."""
    places = np.arange(WINDOW, len(x) - WINDOW + 1)
    jumps = np.array([np.median(x[k : k + WINDOW]) - np.median(x[k - WINDOW : k]) for k in places])
    found: list[Event] = []
    left = np.abs(jumps) > limit
    while left.any():
        best = int(np.argmax(np.where(left, np.abs(jumps), 0)))
        words = "stays: lamp, lid, range or connection changed, or something was touched"
        found.append(Event("step", _place(x, int(places[best])), float(jumps[best]), words))
        left[max(0, best - WINDOW) : best + WINDOW + 1] = False
    return tuple(found)


def _place(x: Array, near: int) -> int:
    """Where two levels explain the neighbourhood best (least absolute deviations)."""

    def misfit(k: int) -> float:
        before, after = x[max(0, k - WINDOW) : k], x[k : k + WINDOW]
        one, other = np.median(before), np.median(after)
        around = x[max(0, near - 2 * WINDOW) : near + 2 * WINDOW]
        at = np.arange(max(0, near - 2 * WINDOW), max(0, near - 2 * WINDOW) + len(around))
        return float(np.abs(around - np.where(at < k, one, other)).sum())

    return min(range(max(1, near - WINDOW + 1), min(len(x), near + WINDOW)), key=misfit)


def _spikes(x: Array, limit: float, steps: tuple[Event, ...]) -> tuple[Event, ...]:
    """Readings far from the median of their neighbours, each run of them one event."""
    found: list[Event] = []
    for k in range(len(x)):
        first = max([0, *(s.at for s in steps if s.at <= k)])
        last = min([len(x), *(s.at for s in steps if s.at > k)])
        near = x[max(first, k - WINDOW) : min(last, k + WINDOW + 1)]
        off = float(x[k] - np.median(near))
        if abs(off) <= limit:
            continue
        if found and k - found[-1].at <= 2:
            if abs(off) > abs(found[-1].size):
                found[-1] = Event("spike", found[-1].at, off, found[-1].words)
            continue
        found.append(Event("spike", k, off, "goes away: cable moved, a hand passed, a discharge"))
    return tuple(found)


def _fisher(share: float, count: int) -> float:
    """P(largest of `count` periodogram shares ≥ share) for white noise."""
    total = 0.0
    for k in range(1, min(count, int(1 / share)) + 1):
        rest = 1 - k * share
        if rest <= 0:
            break
        size = _log_binomial(count, k) + (count - 1) * log(rest)
        total += (-1) ** (k + 1) * float(np.exp(min(size, 700.0)))
        if k > 8 and size < -30:
            break
    return float(min(max(total, 0.0), 1.0))


def _log_binomial(n: int, k: int) -> float:
    from clampwright.uncertain.special import gammaln

    return float(gammaln(n + 1) - gammaln(k + 1) - gammaln(n - k + 1))


def _aliased_mains(frequency: float, interval: float, width: float) -> float | None:
    """The mains frequency or its double that appears within one `width` of `frequency`."""
    for multiple in (1, 2):
        for mains in MAINS:
            if abs(alias(multiple * mains, interval) - frequency) <= width:
                return multiple * mains
    return None


def _normal_quantile(tail: float) -> float:
    from clampwright.uncertain.special import ndtri

    return -float(ndtri(tail))


def _run(values: ArrayLike, least: int) -> Array:
    x = np.asarray(values, float)
    if x.ndim != 1 or len(x) < least or not np.all(np.isfinite(x)):
        raise InputError(
            f"{x.size} values are too few, or not all numbers", expected=f"{ceil(least)} or more"
        )
    return x


__all__ = [
    "DriftCorner",
    "Event",
    "Line",
    "alias",
    "allan_deviation",
    "autocorrelation",
    "drift_corner",
    "effective_count",
    "events",
    "hum",
]
