"""Which zero belongs to a reading, how far it moved, and what the fixture adds.

Three zeros: leads open, fixture closed with the bias applied but no part, and part fitted at 0 V.
The fixture zero at the same voltage is subtracted, near zero bias the part-fitted one; the others are
compared with it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf, isnan, sqrt

from clampwright import uncertain
from clampwright.bench.grouping import Group

NEAR_ZERO_BIAS = 0.05  # [V] up to here a part-fitted zero is subtracted; about 2 kT/q
SIGNIFICANT = (
    3.0  # [1] standard uncertainties at which a slope or a difference between zeros is told
)


@dataclass(frozen=True)
class Zero:
    """The zero of one condition, in volts at the meter."""

    kind: str  # "fixture", "part-fitted" or "open leads"
    value: float  # [V] mean of before and after
    spread: float  # [V] pooled standard deviation of one zero reading; NaN when unknown
    degrees_of_freedom: float
    count: float  # equivalent number of readings in the mean: u = spread/√count
    drift: float | None  # [V] |after − before|; None when there is only one
    wander: Wander | None  # what that and earlier movements say about the zero at the reading
    steps: tuple[float, ...]  # [V] successive differences of all zeros of the session
    groups: tuple[Group, ...]


@dataclass(frozen=True)
class Wander:
    """Standard uncertainty (V) of a zero at the time of a reading because zeros move."""

    size: float
    degrees_of_freedom: float


class ZeroBook:
    """The zeros of one session, found by instrument."""

    def __init__(self, groups: Sequence[Group]) -> None:
        """`groups`: every group that is not a reading, in order of time."""
        self._fixture: dict[tuple[str, float], list[Group]] = defaultdict(list)
        self._open: dict[str, list[Group]] = defaultdict(list)
        self._fitted: dict[tuple[str, str, str], Group] = {}
        for g in groups:
            if g.state == "zero fixture":
                self._fixture[g.instrument, round(g.reverse_voltage, 6)].append(g)
            elif g.state == "zero open":
                self._open[g.instrument].append(g)
            else:
                self._fitted[g.instrument, g.part, g.wiring] = g

    def zero_for(self, condition: Group) -> Zero | None:
        """The zero to subtract, or None when its instrument has none that fits.

        Near zero bias the part-fitted zero is used, because there the offset voltage across the
        part's low slope resistance is not small against the reading; its drift is that of the others.
        """
        base = self._bias_zero(condition)
        fitted = self.part_fitted(condition)
        if base is None or fitted is None or abs(condition.reverse_voltage) > NEAR_ZERO_BIAS:
            return base
        return Zero(
            kind="part-fitted",
            value=fitted.mean,
            spread=fitted.spread,
            degrees_of_freedom=_freedom(fitted),
            count=fitted.effective_count,
            drift=base.drift,
            wander=base.wander,
            steps=base.steps,
            groups=(fitted,),
        )

    def _bias_zero(self, condition: Group) -> Zero | None:
        key = condition.instrument, round(condition.reverse_voltage, 6)
        if fixture := self._fixture.get(key):
            return _around(condition, fixture, "fixture")
        return self.open_leads(condition)

    def open_leads(self, condition: Group) -> Zero | None:
        """The open-lead zero around a condition, if any was taken."""
        leads = self._open.get(condition.instrument)
        return _around(condition, leads, "open leads") if leads else None

    def part_fitted(self, condition: Group) -> Group | None:
        """The last zero with this part fitted, taken with this instrument."""
        return self._fitted.get((condition.instrument, condition.part, condition.wiring))


def difference_uncertainty(one: Zero | Group, other: Zero | Group, resolution: float) -> float:
    """Standard uncertainty (V) of the difference of two zeros: scatter and resolution."""
    scatter = [(z.spread / sqrt(z.count)) ** 2 for z in (one, other) if not isnan(z.spread)]
    return sqrt(sum(scatter) + 2 * resolution**2 / 12)


def _around(condition: Group, zeros: Sequence[Group], kind: str) -> Zero:
    """Last zero before and first zero after; all of them when none lies wholly outside."""
    start = bisect_left(zeros, condition.first, key=lambda z: z.last)
    end = bisect_right(zeros, condition.last, key=lambda z: z.first)
    used = (*zeros[max(start - 1, 0) : start], *zeros[end : end + 1]) or tuple(zeros)
    freedom = sum(_freedom(z) for z in used)
    squares = sum(_freedom(z) * z.spread**2 for z in used if z.count > 1)
    means = [z.mean for z in used]
    steps = tuple(b.mean - a.mean for a, b in pairwise(zeros))
    return Zero(
        kind=kind,
        value=sum(means) / len(means),
        spread=sqrt(squares / freedom) if freedom else float("nan"),
        degrees_of_freedom=freedom,
        count=len(used) ** 2 / sum(1 / z.effective_count for z in used),
        drift=max(means) - min(means) if len(means) > 1 else None,
        wander=_wander(steps, means),
        steps=steps,
        groups=used,
    )


def _freedom(group: Group) -> float:
    """Degrees of freedom of its spread: effective readings less one, zero for a single reading."""
    return max(group.effective_count - 1, 1.0) if group.count > 1 else 0.0


def _wander(steps: Sequence[float], used: Sequence[float]) -> Wander | None:
    """From the successive differences D of all zeros of the session; None with a single zero.

    A zero that walks at random is off the mean of its neighbours by half of the root mean square of
    D (Brownian bridge at its middle), told by one degree of freedom for each difference; after the
    last zero, by a whole one. One that moves evenly is anywhere between its neighbours:
    rectangular, half-width half of their difference. The larger of the two is taken.
    """
    if not steps:
        return None
    walk = sqrt(sum(d**2 for d in steps) / len(steps))
    even = (max(used) - min(used)) / 2 / sqrt(3)
    return Wander(max(walk / 2 if len(used) > 1 else walk, even), len(steps))


def limit_uncertainty(
    scatter: tuple[float, float], systematic: float, drift: Wander
) -> tuple[float, float]:
    """u_0 (V) of a net reading of no current, and its degrees of freedom.

    scatter : of reading less zero, s·√(1/n + 1/n_0), and its degrees of freedom
    u_0² = scatter² + drift² + systematic²; degrees of freedom of the first and last by
    Welch–Satterthwaite (the systematic part unlimited), joined to those of the drift by Cochran's
    rule. Source: Currie, Anal. Chem. 40 (1968) 586, paired form; JCGM 100:2008, G.4.1.
    """
    size, freedom = scatter
    steady = size**2 + systematic**2
    own = freedom * (steady / size**2) ** 2 if size else inf
    joined = uncertain.joined_freedom((sqrt(steady), own), (drift.size, drift.degrees_of_freedom))
    return sqrt(steady + drift.size**2), joined


__all__ = [
    "SIGNIFICANT",
    "Wander",
    "Zero",
    "ZeroBook",
    "difference_uncertainty",
    "limit_uncertainty",
]
