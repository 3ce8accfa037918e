"""What some measured parts say about their lot, in numbers and words.

Parts of one kind, read under one condition. Parts that were not detected count as hidden below their
decision limit; scatter of the measurement is taken out of the spread between parts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from clampwright.bench.censored import (
    FEWEST_DETECTED,
    CensoredLot,
    fit_lot,
    upper_tolerance_limit,
)
from clampwright.bench.leakage import Leakage
from clampwright.bench.lots import distribution_free_confidence, distribution_free_count
from clampwright.errors import InputError
from clampwright.quantities import write
from clampwright.uncertain import coverage_factor

MORE = (2, 5, 10)  # parts added in "what more parts would buy"
CONTENT = 0.95  # [1] share of the lot
SMALLEST_LOT = 4  # [1] parts, for a limit


@dataclass(frozen=True)
class LotStatement:
    """A lot at one condition. Currents in A; `upper_limit` None where the parts cannot give one."""

    count: int
    hidden: int
    median: float | None
    spread: float | None  # standard deviation of ln I between parts, measurement removed
    measurement: float  # standard uncertainty of ln I of one part, scale left out
    upper_limit: float | None  # 95 % of the lot below, 95 % confidence
    largest: float  # largest value or bound among the parts
    largest_confidence: float  # that 95 % of the lot lie below `largest`, no shape assumed
    more: tuple[tuple[int, float], ...]  # parts added, upper limit expected then
    words: str


def lot_statement(leakages: Sequence[Leakage]) -> LotStatement:
    """Statement over one leakage of each part, all read at one voltage, temperature and light."""
    if len({x.part for x in leakages}) != len(leakages):
        raise InputError("a part counts twice in this lot", expected="one leakage of each part")
    if len(leakages) < 2:
        raise InputError("a lot needs two parts or more")
    conditions = {(round(x.reverse_voltage, 3), round(x.temperature)) for x in leakages}
    if len(conditions) > 1:
        raise InputError("the parts were not read at one voltage and temperature")
    hidden = np.array([x.outcome in ("not detected", "negative") for x in leakages])
    largest = max(x.value if x.upper_bound is None else x.upper_bound for x in leakages)
    sure = distribution_free_confidence(len(leakages), CONTENT)
    measurement = _measurement(leakages)
    if (~hidden).sum() < FEWEST_DETECTED or len(leakages) < SMALLEST_LOT:
        return _without_shape(len(leakages), int(hidden.sum()), measurement, largest, sure)
    lot = lot_of(leakages)
    limit = upper_tolerance_limit(lot, measurement)
    part = sqrt(max(lot.spread**2 * lot.count / (lot.count - 1) - measurement**2, 0.0))
    more = tuple((n, _limit_with_more(lot, measurement, n)) for n in MORE)
    return LotStatement(
        len(leakages), lot.hidden, exp(lot.mean), part, measurement, limit, largest, sure, more,
        _words(lot, part, limit, largest, sure, more),
    )  # fmt: skip


def lot_of(leakages: Sequence[Leakage]) -> CensoredLot:
    """Mean and spread of ln I; parts not detected (or negative) lie below their decision limit."""
    hidden = [x.outcome in ("not detected", "negative") for x in leakages]
    values = [x.decision_limit if h else x.value for x, h in zip(leakages, hidden, strict=True)]
    return fit_lot([log(v) for v in values], hidden)


@dataclass(frozen=True)
class Comparison:
    """Two lots: ratio of their medians with its 95 % interval, and the chance of it by accident."""

    ratio: float
    low: float
    high: float
    degrees_of_freedom: float
    chance: float
    words: str


def compare_lots(one: CensoredLot, other: CensoredLot, names: tuple[str, str]) -> Comparison:
    """Welch's test on the means of ln I; hidden parts enter by the uncertainty of each mean.

    A scale error common to both lots cancels. Source: B. L. Welch, Biometrika 34 (1947) 28.
    """
    variances = [_mean_variance(lot) for lot in (one, other)]
    total = sum(variances)
    freedom = total**2 / sum(
        v**2 / max(lot.count - lot.hidden - 1, 1)
        for v, lot in zip(variances, (one, other), strict=True)
    )
    difference, width = one.mean - other.mean, coverage_factor(freedom) * sqrt(total)
    chance = _two_sided(abs(difference) / sqrt(total), freedom)
    ratio = exp(difference)
    text = f"{names[0]} leaks ×{ratio:.2f} of {names[1]} (×{exp(difference - width):.2f}"
    text += f"…{exp(difference + width):.2f}): "
    text += "different lots" if chance < 1 - CONTENT else "no difference shown"
    if hidden := one.hidden + other.hidden:
        text += f"; {hidden} parts not detected, counted as below their limits"
    return Comparison(
        ratio, exp(difference - width), exp(difference + width), freedom, chance, text
    )


def _mean_variance(lot: CensoredLot) -> float:
    """Variance of the mean, the maximum-likelihood spread corrected for its degrees of freedom."""
    return lot.mean_uncertainty**2 * lot.count / (lot.count - 1)


def _two_sided(ratio: float, freedom: float) -> float:
    from clampwright.uncertain.special import stdtr

    return 2 * float(stdtr(freedom, -ratio))


def _measurement(leakages: Sequence[Leakage]) -> float:
    """Root mean square of the relative doubt of the detected parts, common scale left out."""
    seen = [x for x in leakages if x.outcome in ("detected", "quantified")]
    if not seen:
        return 0.0
    return sqrt(sum((x.independent_uncertainty / x.value) ** 2 for x in seen) / len(seen))


def _limit_with_more(lot: CensoredLot, measurement: float, added: int) -> float:
    """The limit if the lot keeps its mean and spread with `added` parts, same share hidden."""
    count = lot.count + added
    hidden = min(round(lot.hidden * count / lot.count), count - FEWEST_DETECTED)
    larger = CensoredLot(
        count, hidden, lot.mean, lot.spread, lot.mean_uncertainty * sqrt(lot.count / count)
    )
    return upper_tolerance_limit(larger, measurement)


def _without_shape(
    count: int, hidden: int, measurement: float, largest: float, sure: float
) -> LotStatement:
    needed = distribution_free_count(CONTENT, 0.95)
    words = (
        f"{count} parts, {hidden} not detected: no spread can be told. The largest value or bound, "
        f"{write(largest, 'current')}, covers 95 % of the lot with {100 * sure:.0f} % confidence; "
        f"{needed} parts would give 95 %. {SMALLEST_LOT} parts with {FEWEST_DETECTED} detected "
        "(measure warmer) give a limit"
    )
    return LotStatement(count, hidden, None, None, measurement, None, largest, sure, (), words)


def _words(
    lot: CensoredLot,
    part: float,
    limit: float,
    largest: float,
    sure: float,
    more: tuple[tuple[int, float], ...],
) -> str:
    hidden = f", {lot.hidden} not detected" if lot.hidden else ""
    buys = ", ".join(f"{n} more ≈ {write(value, 'current', digits=2)}" for n, value in more)
    return (
        f"{lot.count} parts{hidden}: median {write(exp(lot.mean), 'current')}, spread ×{exp(part):.2f}; "
        f"95 % of the lot below {write(limit, 'current', digits=2)} with 95 % confidence if "
        f"log-normal; without that, the largest ({write(largest, 'current', digits=2)}) covers it "
        f"with {100 * sure:.0f} % confidence. Limit with {buys}"
    )


__all__ = ["Comparison", "LotStatement", "compare_lots", "lot_of", "lot_statement"]
