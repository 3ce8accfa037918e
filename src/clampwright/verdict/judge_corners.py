"""The worst corner of a sum of terms: the rule of `judge.verdict_of` at every corner at once.

No sentence is made and no term is built for a corner that is not told.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clampwright.verdict.judge import SEVERITY, uncertain_basis
from clampwright.verdict.results import Verdict
from clampwright.verdict.terms_at import SideTerm

Array = NDArray[np.float64]
PASS, UNDECIDED, NOT_MEASURED, FAIL = (
    SEVERITY.index(v) for v in (Verdict.PASS, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.FAIL)
)
TIE = 1e-9  # of |E|: what differs by less is equal, as far as cases are solved


class Judged(NamedTuple):
    """Place in `SEVERITY` of the verdict at every corner, and the farthest |E| over the allowance."""

    severity: NDArray[np.int64]
    ratio: Array


class Rows:
    """Terms of one side with their numbers laid out, to be summed in several selections."""

    def __init__(self, terms: Sequence[SideTerm], count: int) -> None:
        """count : of corners"""
        self.terms, every = terms, [t.interval for t in terms]
        shape = len(terms), count
        self.there = np.array([t.there for t in terms], np.bool_).reshape(shape)
        value = np.array([i.value for i in every], float).reshape(shape)
        low = np.array([i.low for i in every], float).reshape(shape)
        high = np.array([i.high for i in every], float).reshape(shape)
        up, down = high - value, value - low
        numbers = np.array([value, up * up, down * down])
        self.numbers = np.where(self.there, numbers, 0.0)

    def judge(self, groups: Collection[str], allowance: Array) -> Judged:
        """Judge the sum of the terms of some groups against its allowance (V)."""
        asked = [k for k, c in enumerate(self.terms) if c.group in groups]
        doubtful = [k for k in asked if uncertain_basis(self.terms[k])]
        smallest, largest = self._size(asked)
        passed, failed = largest <= allowance, smallest > allowance
        severity = np.where(passed, PASS, np.where(failed, FAIL, UNDECIDED))
        if doubtful:
            known = [k for k in asked if k not in doubtful]
            failed = failed & (self._size(known)[0] > allowance)
            passed = passed & ~self.there[self._hindering(doubtful)].any(axis=0)
            rested = np.where(passed, PASS, np.where(failed, FAIL, NOT_MEASURED))
            severity = np.where(self.there[doubtful].any(axis=0), rested, severity)
        return Judged(severity, largest / allowance)

    def _hindering(self, doubtful: Sequence[int]) -> list[int]:
        """What is assumed and so keeps a sum from passing; light carries the width of its class."""
        some = self.terms
        return [k for k in doubtful if some[k].basis == "assumed" and some[k].group != "light"]

    def _size(self, asked: Sequence[int]) -> tuple[Array, Array]:
        """Smallest and largest |E| at 95 %, halves of the intervals added in root-sum-square."""
        value, up, down = self.numbers[:, asked].sum(axis=1)
        low, high = value - np.sqrt(down), value + np.sqrt(up)
        one, other = np.abs(low), np.abs(high)
        crosses = (low <= 0) & (high >= 0)
        return np.where(crosses, 0.0, np.minimum(one, other)), np.maximum(one, other)


def worst_corner(sides: Sequence[Judged]) -> tuple[int, int]:
    """Side and corner of the worst verdict; among those of one verdict where |E| reaches farthest.

    Of corners that tie the first is told, so that rounding chooses none.
    """
    severity = np.concatenate([side.severity for side in sides])
    ratio = np.concatenate([side.ratio for side in sides])
    asked = np.where(severity == severity.max(), ratio, -np.inf)
    place = int((asked >= asked.max() * (1 - TIE)).argmax())
    side, corner = divmod(place, sides[0].severity.size)
    return side, corner
