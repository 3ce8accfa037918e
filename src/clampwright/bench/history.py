"""When readings were taken: age of a calibration, warming up, time since a voltage was applied.

Times are ISO 8601 text in the column `time`, without a zone taken as UTC. Where there are none,
nothing is said that needs them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from math import isnan, nan

import numpy as np
from numpy.typing import NDArray

from clampwright.bench.columns import Readings, Text
from clampwright.bench.grouping import Group
from clampwright.bench.instrument import Profile
from clampwright.bench.zeros import SIGNIFICANT

SWITCHED_ON = "switched on"  # in the note of the first row after switching an instrument on
DAY = 86400.0  # [s]
YEAR = 365.25 * DAY
FEWEST_ROWS = 6  # [1] readings of a run from which creeping can be told

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Creep:
    """A run that falls like soakage, reading = a + b/t."""

    left: float  # [V] b·mean(1/t), what of the mean reading may still be soakage
    slope: float  # [V·s] b
    last: float  # [s] since the voltage was applied


@dataclass(frozen=True)
class History:
    """Seconds since 1970 of each row (NaN without a time) and what follows from them."""

    seconds: Array
    switched_on: Mapping[str, float]  # instrument → seconds

    def age(self, profile: Profile, rows: NDArray[np.int64]) -> float | None:
        """Seconds from the calibration to the last of some rows; None without either date."""
        last = self.seconds[rows[-1]]
        if profile.calibrated is None or isnan(last):
            return None
        return float(last - _midnight(profile.calibrated))

    def too_early(self, group: Group, profile: Profile) -> float | None:
        """Seconds since switching on, where they are fewer than the warm-up; else None."""
        on = self.switched_on.get(group.instrument, nan)
        since = float(self.seconds[group.first] - on)
        return since if 0 <= since < profile.warm_up else None

    def creep(self, group: Group, applied: float) -> Creep | None:
        """Whether a run of readings (V) falls as 1/t since `applied` (s); None where it does not.

        Needs six readings or more over a factor of two in time. Source: Curie–von Schweidler law
        with exponent 1; slope and its standard uncertainty by least squares (GUM H.3).
        """
        t = self.seconds[group.rows] - applied
        if len(t) < FEWEST_ROWS or not np.all(t > 0) or t.max() < 2 * t.min():
            return None
        x = 1 / t
        x = x - x.mean()
        slope = float(x @ group.values / (x @ x))
        off = group.values - group.values.mean() - slope * x
        spread = float(np.sqrt(off @ off / (len(t) - 2) / (x @ x)))
        if abs(slope) <= SIGNIFICANT * spread:
            return None
        return Creep(slope * float(np.mean(1 / t)), slope, float(t.max()))


def history_of(readings: Readings) -> History:
    """Times of every row, and when instruments were switched on."""
    seconds = _seconds(readings.time)
    on: dict[str, float] = {}
    if any(SWITCHED_ON in name.lower() for name in readings.note.names):
        told = [SWITCHED_ON in name.lower() for name in readings.note.names]
        for row in np.flatnonzero(np.array(told)[readings.note.codes]):
            on.setdefault(readings.instrument[int(row)], float(seconds[row]))
    return History(seconds, on)


def moment(text: str) -> datetime | None:
    """A time as the column holds it; None for what is no ISO 8601 time."""
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    return found if found.tzinfo else found.replace(tzinfo=UTC)


def _seconds(column: Text) -> Array:
    moments = (moment(name) if name else None for name in column.names)
    table = np.array([m.timestamp() if m else nan for m in moments], float)
    return table[column.codes]


def _midnight(day: date) -> float:
    return datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()


__all__ = ["DAY", "SWITCHED_ON", "YEAR", "Creep", "History", "history_of", "moment"]
