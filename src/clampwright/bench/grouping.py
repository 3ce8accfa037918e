"""Readings taken under the same conditions, brought together: mean, scatter, autocorrelation.

Everything here is array work, so that a million readings take about a second.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import isnan, nan, sqrt

import numpy as np
from numpy.typing import NDArray

from clampwright.bench.columns import Readings

LARGEST_CODE = 2**62
SAME_TEMPERATURE = 0.5  # [K] of the first reading of a run: still that condition; common practice
CORRELATED = 1.96  # [1] lag-1 autocorrelation beyond this over √n is no accident (95 %)


@dataclass(frozen=True)
class Group:
    """Readings of one condition, or one run of zero readings not interrupted by readings.

    What does not define a zero is blank or NaN: a fixture zero has a voltage, a part-fitted zero a
    part and a wiring, an open-lead zero only its instrument.
    """

    state: str
    instrument: str
    part: str
    wiring: str
    reverse_voltage: float  # [V]
    temperature: float  # [K]
    light: float  # [lx]
    lamp: str
    count: int
    mean: float  # [V]
    spread: float  # [V] standard deviation of one reading; NaN for a single one
    autocorrelation: float  # [1] lag 1; NaN where it cannot be had
    first: int  # row of the first reading
    last: int
    rows: NDArray[np.int64] = field(compare=False, repr=False)
    values: NDArray[np.float64] = field(compare=False, repr=False)  # [V] in the order of `rows`

    @property
    def effective_count(self) -> float:
        """n, or n·(1 − ρ)/(1 + ρ) (≥ 1) when the lag-1 autocorrelation ρ is no accident.

        The estimate of ρ falls short by (1 + 4ρ)/n on average, which is added before use.
        Sources: Bayley and Hammersley (1946); Kendall, Biometrika 41 (1954) 403 for the shortfall.
        """
        n, rho = self.count, self.autocorrelation
        if n < 2 or isnan(rho) or rho <= CORRELATED / sqrt(n):
            return float(n)
        rho = min(rho + (1 + 4 * rho) / n, 1.0)
        return max(1.0, n * (1 - rho) / (1 + rho))


def grouped(readings: Readings) -> tuple[Group, ...]:
    """Groups in order of their first reading.

    Readings are one group for each (instrument, part, wiring, reverse voltage, temperature, light
    and, when lit, lamp); zeros for each run between readings of the same instrument. A thermometer
    that flickers makes no new condition: readings in a row within 0.5 K of the first have their mean.
    """
    keys, temperature = _keys(readings)
    _, firsts, codes, counts = np.unique(
        keys, return_index=True, return_inverse=True, return_counts=True
    )
    size = len(firsts)
    order = np.argsort(codes, kind="stable")
    ends = np.cumsum(counts)
    means = np.bincount(codes, readings.reading, size) / counts
    deviations = readings.reading - means[codes]
    squares = np.bincount(codes, deviations**2, size)
    with np.errstate(invalid="ignore", divide="ignore"):
        spreads = np.sqrt(squares / (counts - 1))
        correlations = _neighbour_products(codes[order], deviations[order], size) / squares
    return tuple(
        _group(
            readings,
            order[ends[k] - counts[k] : ends[k]],
            means[k],
            spreads[k],
            correlations[k],
            temperature,
        )
        for k in np.argsort(firsts)
    )


def _neighbour_products(
    codes: NDArray[np.int64], deviations: NDArray[np.float64], size: int
) -> NDArray[np.float64]:
    """Sum of deviation times next deviation within each group (codes sorted)."""
    same = codes[1:] == codes[:-1]
    products = np.where(same, deviations[1:] * deviations[:-1], 0.0)
    return np.asarray(np.bincount(codes[1:], products, size), np.float64)


def _group(
    readings: Readings,
    rows: NDArray[np.int64],
    mean: float,
    spread: float,
    rho: float,
    temperature: NDArray[np.float64],
) -> Group:
    first, last, count = int(rows[0]), int(rows[-1]), len(rows)
    state = readings.state[first]
    condition = state == "reading"
    part_known = condition or state == "zero part-fitted"
    voltage_known = condition or state == "zero fixture"
    lit = condition and readings.light[first] > 0
    return Group(
        state=state,
        instrument=readings.instrument[first],
        part=readings.part[first] if part_known else "",
        wiring=readings.wiring[first] if part_known else "",
        reverse_voltage=float(readings.reverse_voltage[first]) if voltage_known else nan,
        temperature=float(temperature[first]) if condition else nan,
        light=float(readings.light[first]) if condition else nan,
        lamp=readings.lamp[first] if lit else "",
        count=count,
        mean=float(mean),
        spread=float(spread) if count > 1 else nan,
        autocorrelation=float(rho) if count > 1 else nan,
        first=first,
        last=last,
        rows=rows,
        values=readings.reading[rows],
    )


def _keys(readings: Readings) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """One whole number for each row, equal for rows of one group; the temperature of each (K)."""
    state = readings.state
    condition = state.is_("reading")
    with_part = condition | state.is_("zero part-fitted")
    with_voltage = condition | state.is_("zero fixture")
    lit = condition & (readings.light > 0)
    parts = [
        state.codes,
        readings.instrument.codes,
        np.where(with_part, readings.part.codes + 1, 0),
        np.where(with_part, readings.wiring.codes + 1, 0),
        _numbered(np.where(with_voltage, readings.reverse_voltage.round(9), 0.0)),
        _numbered(np.where(condition, readings.light, 0.0)),
        np.where(lit, readings.lamp.codes + 1, 0),
        np.where(condition, 0, _readings_before(readings, condition)),
    ]
    key = _combined(parts)
    temperature = _steady(readings.temperature, key, condition)
    return _combined([_numbered(key), _numbered(temperature)]), temperature


def _steady(
    temperature: NDArray[np.float64], key: NDArray[np.int64], condition: NDArray[np.bool_]
) -> NDArray[np.float64]:
    """Temperatures (K) to 1 µK, readings in a row near the first at their mean; 0 for zeros."""
    steady = np.zeros(len(temperature))
    if not condition.any():
        return steady
    read, same = temperature[condition], key[condition]
    new = np.append(True, same[1:] != same[:-1])
    away = (read - read[new][np.cumsum(new) - 1]) / (2 * SAME_TEMPERATURE)
    new[1:] |= np.diff(away.round()) != 0
    run = np.cumsum(new) - 1
    steady[condition] = (np.bincount(run, read) / np.bincount(run))[run].round(6)
    return steady


def _combined(parts: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    """One whole number for each row out of several, each from 0 up."""
    key = np.zeros(len(parts[0]), np.int64)
    size = 1
    for codes in parts:
        width = int(codes.max()) + 1
        if size * width > LARGEST_CODE:
            key = _numbered(key)
            size = int(key.max()) + 1
        key = key * width + codes
        size *= width
    return key


def _numbered(values: NDArray[np.float64] | NDArray[np.int64]) -> NDArray[np.int64]:
    return np.unique(values, return_inverse=True)[1].astype(np.int64)


def _readings_before(readings: Readings, condition: NDArray[np.bool_]) -> NDArray[np.int64]:
    """A number that rises with every reading of the same instrument: tells runs of zeros apart."""
    by_instrument = np.argsort(readings.instrument.codes, kind="stable")
    before = np.empty(len(readings), np.int64)
    before[by_instrument] = np.cumsum(condition[by_instrument])
    return before


__all__ = ["Group", "grouped"]
