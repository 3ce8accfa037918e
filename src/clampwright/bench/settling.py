"""Has it settled, and if not, how long still?

Soakage falls as a power of time, not as an exponential: waiting "five time constants" means nothing,
and a reading that looks still may creep on for hours. The test compares a reading with one taken at
twice the time since the voltage was applied.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

from clampwright.errors import InputError

WAITS = ((1e-9, 10.0), (10e-12, 60.0), (0.1e-12, 300.0), (0.0, 1800.0))  # [A] above, [s]
LARGE_STEP = 50.0  # [V] from which waits are three times as long
LARGE_STEP_FACTOR = 3.0
HANDLING = 600.0  # [s] after fingers, soldering or a hair dryer; these four: common practice
USUAL_EXPONENT = 0.9  # [1] of t^(−m); 0.7…1.1 (Curie–von Schweidler)
EXPONENTS = (0.7, 1.1)
LONGEST = 4 * 3600.0  # [s] beyond it, ask for another capacitor, cable or cleaning


def default_wait(current: float, voltage_step: float = 0.0, handled: bool = False) -> float:
    """Seconds to wait before reading `current` (A) after a step (V), or after handling the part."""
    wait = next(seconds for limit, seconds in WAITS if abs(current) > limit or limit == 0.0)
    if abs(voltage_step) > LARGE_STEP:
        wait *= LARGE_STEP_FACTOR
    return max(wait, HANDLING) if handled else wait


@dataclass(frozen=True)
class Settling:
    """Whether readings stand still, what soakage is left (A), and how long still to wait (s)."""

    settled: bool
    left: float  # |I(2t) − I(t)|, enters the budget as a one-sided rectangular doubt
    wait: float  # more; 0 when settled, inf when waiting will not do
    exponent: float
    words: str


def settled(times: Sequence[float], currents: Sequence[float], uncertainty: float) -> Settling:
    """Judge readings (A) at times (s) since the voltage was applied; two or more, a factor 2 apart.

    Settled when |I(2t) − I(t)| < u, with t and 2t the last pair a factor of two apart. With three
    such times the exponent is taken from the readings (kept within 0.7…1.1), else 0.9.
    """
    if len(times) != len(currents) or len(times) < 2 or min(times) <= 0 or not uncertainty > 0:
        raise InputError(
            "a settling test needs two readings or more with their times, and an uncertainty"
        )
    now = max(times)
    half = _at(times, currents, now / 2)
    last = _at(times, currents, now)
    if half is None or last is None:
        return Settling(
            False,
            float("inf"),
            now,
            USUAL_EXPONENT,
            _wait_words(now, "read again at twice the time"),
        )
    left = abs(last - half)
    exponent = _exponent(times, currents, now, left)
    if left < uncertainty:
        return Settling(
            True, left, 0.0, exponent, "settled: |I(2t) − I(t)| is within the uncertainty"
        )
    needed = now * (left / uncertainty) ** (1 / exponent)
    wait = needed - now
    if needed > LONGEST:
        words = "does not settle in hours: look for soakage of cable or capacitor, dirt, warming"
        return Settling(False, left, float("inf"), exponent, words)
    return Settling(False, left, wait, exponent, _wait_words(wait, "still creeping"))


def _at(times: Sequence[float], currents: Sequence[float], time: float) -> float | None:
    """The reading nearest to a time, within a fifth of it."""
    nearest = min(range(len(times)), key=lambda k: abs(log(times[k] / time)))
    return currents[nearest] if abs(times[nearest] - time) <= 0.2 * time else None


def _exponent(times: Sequence[float], currents: Sequence[float], now: float, left: float) -> float:
    quarter, half = _at(times, currents, now / 4), _at(times, currents, now / 2)
    if quarter is None or half is None or left == 0 or abs(half - quarter) == 0:
        return USUAL_EXPONENT
    found = log(abs(half - quarter) / left) / log(2)
    return min(max(found, EXPONENTS[0]), EXPONENTS[1])


def _wait_words(seconds: float, why: str) -> str:
    minutes = max(1, -(-int(seconds + 0.999) // 60))
    return f"{why}: wait {minutes} more {'minute' if minutes == 1 else 'minutes'}"


__all__ = ["Settling", "default_wait", "settled"]
