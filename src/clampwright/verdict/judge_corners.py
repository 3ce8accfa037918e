"""The worst corner of a sum of contributions: the rule of `judge.verdict_of` at every corner at once.

No sentence is made and no term is built for a corner that is not told.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clampwright.verdict.judge import SEVERITY, uncertain_basis
from clampwright.verdict.results import Verdict
from clampwright.verdict.terms_at import Contribution

Array = NDArray[np.float64]
PASS, UNDECIDED, NOT_MEASURED, FAIL = (
    SEVERITY.index(v) for v in (Verdict.PASS, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.FAIL)
)


class Judged(NamedTuple):
    """Place in `SEVERITY` of the verdict at every corner, and the farthest |E| over the allowance."""

    severity: NDArray[np.int64]
    ratio: Array


def judge_corners(rows: Sequence[Contribution], allowance: Array) -> Judged:
    """Judge a sum of contributions against its allowance (V) at every corner."""
    smallest, largest = _size(rows, allowance.size)
    passed, failed = largest <= allowance, smallest > allowance
    severity = np.where(passed, PASS, np.where(failed, FAIL, UNDECIDED))
    doubtful = [row for row in rows if uncertain_basis(row)]
    if doubtful:
        known = [row for row in rows if not uncertain_basis(row)]
        failed = failed & (_size(known, allowance.size)[0] > allowance)
        hindered = [r.there for r in doubtful if r.basis == "assumed" and r.group != "light"]
        passed = passed & ~_any(hindered, allowance.size)
        rested = np.where(passed, PASS, np.where(failed, FAIL, NOT_MEASURED))
        severity = np.where(_any([r.there for r in doubtful], allowance.size), rested, severity)
    return Judged(severity, largest / allowance)


def worst_corner(sides: Sequence[Judged]) -> tuple[int, int]:
    """Side and corner of the worst verdict; among those of one verdict where |E| reaches farthest."""
    severity = np.concatenate([side.severity for side in sides])
    ratio = np.concatenate([side.ratio for side in sides])
    place = int(np.where(severity == severity.max(), ratio, -np.inf).argmax())
    side, corner = divmod(place, sides[0].severity.size)
    return side, corner


def _size(rows: Sequence[Contribution], count: int) -> tuple[Array, Array]:
    """Smallest and largest |E| at 95 %, halves of the intervals added in root-sum-square."""
    value, up, down = np.zeros(count), np.zeros(count), np.zeros(count)
    for row in rows:
        middle, low, high = row.interval.value, row.interval.low, row.interval.high
        above, below = high - middle, middle - low
        whole = row.there.all()
        value += middle if whole else np.where(row.there, middle, 0.0)
        up += above * above if whole else np.where(row.there, above * above, 0.0)
        down += below * below if whole else np.where(row.there, below * below, 0.0)
    low, high = value - np.sqrt(down), value + np.sqrt(up)
    one, other = np.abs(low), np.abs(high)
    crosses = (low <= 0) & (high >= 0)
    return np.where(crosses, 0.0, np.minimum(one, other)), np.maximum(one, other)


def _any(masks: Sequence[NDArray[np.bool_]], count: int) -> NDArray[np.bool_]:
    found = np.zeros(count, np.bool_)
    for mask in masks:
        found |= mask
    return found
