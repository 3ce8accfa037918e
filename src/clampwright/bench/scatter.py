"""How far one reading scatters when nothing flows, and how well that is known.

In order: repeated zeros and readings, differences of zeros read once, what the sheet of the instrument
states, and last the one difference between reading and zero itself. Fewer readings never promise more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import isnan, sqrt
from typing import Literal

from clampwright.bench.grouping import Group
from clampwright.bench.instrument import Profile
from clampwright.bench.zeros import Zero

STATED_FREEDOM = 8.0  # [1] of a stated noise: known to 25 % (JCGM 100:2008, G.4.2)
ALIKE = 0.01  # [1] chance below which readings scatter more than zeros do, by the current itself
ENOUGH = 4.0  # [1] of zeros alone to say how far a reading scatters; common practice, no source
SINGLE = 0.7666  # [1] standard uncertainty over one net reading; times t(0.95, 1) it is 4.84
# A. Abbott and J. Rosenblatt (1963): x ± 4.84·|x| holds the mean of any normal distribution with
# 90 %, x ± 9.68·|x| with 95 % (values from memory; the tests simulate them)


@dataclass(frozen=True)
class Scatter:
    """Standard deviation (V) of one reading, and the readings it rests on."""

    size: float
    degrees_of_freedom: float
    source: Literal["repeated", "zeros", "stated", "single"]


def scatter_of(condition: Group, zero: Zero, profile: Profile) -> Scatter:
    """Scatter of one reading near zero current, for this reading and its zero.

    Zeros and readings are pooled while their scatter may be the same (F test, 1 %): near zero it is.
    Readings that scatter more do so by the current itself, but a few zeros that agree do not show that
    the meter is quieter than its readings: below `ENOUGH` degrees of freedom the readings count too.
    "single" is the scatter that makes reading less zero no more than one unknown difference.
    """
    parts = [(zero.spread, zero.degrees_of_freedom)] if not isnan(zero.spread) else []
    if not isnan(condition.spread):
        own = (condition.spread, max(condition.effective_count - 1, 1.0))
        few = zero.degrees_of_freedom < ENOUGH
        if not parts or few or _alike(own, parts[0], profile.resolution / sqrt(12)):
            parts.append(own)
    if parts:
        freedom = sum(nu for _, nu in parts)
        return Scatter(sqrt(sum(nu * s**2 for s, nu in parts) / freedom), freedom, "repeated")
    if zero.steps:
        return Scatter(_of_differences(zero.steps), len(zero.steps), "zeros")
    if profile.noise is not None:
        return Scatter(profile.noise, STATED_FREEDOM, "stated")
    net = SINGLE * abs(condition.mean - zero.value)
    return Scatter(net / sqrt(1 / condition.effective_count + 1 / zero.count), 1.0, "single")


def _alike(own: tuple[float, float], zero: tuple[float, float], step: float) -> bool:
    from clampwright.uncertain.special import fdtrc

    ratio = (own[0] / max(zero[0], step)) ** 2 if max(zero[0], step) > 0 else float("inf")
    return own[0] == 0 or float(fdtrc(own[1], zero[1], ratio)) >= ALIKE


def _of_differences(steps: Sequence[float]) -> float:
    """Two single zeros differ by √2 times the scatter of one, and by what the zero has moved."""
    return sqrt(sum(d**2 for d in steps) / len(steps) / 2)


__all__ = ["Scatter", "scatter_of"]
