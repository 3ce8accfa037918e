"""How likely a reading decides a verdict: probability plainly defined.

Belief now: a term x with value v and stated 95 % interval [v − d, v + u] is taken as normal about v with
standard deviation u/1.96 above and d/1.96 below; where both ends have the sign of v, as log-normal
(the same in ln x). Bench action: the interval shrinks to d', u'. What the reading will say is not known
yet, so the value moves by s·z with z normal and s = √(u² − u'²)/1.96: width is not lost, it turns into
movement (law of total variance, as in preposterior analysis: Raiffa and Schlaifer 1961, from memory).
For each of `OUTCOMES` equally likely z the terms are added and judged by the very rule of `judge`;

    P(decided) = P(PASS) + P(FAIL) = share of outcomes that end PASS or FAIL.

An open verdict has P = 0 now. Where one input is uncertain, a sharper reading never lowers P.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampwright.verdict.judge import uncertain_basis
from clampwright.verdict.results import Term

Array = NDArray[np.float64]

COVERAGE = 1.959963984540054  # two-sided 95 % of a normal distribution
OUTCOMES = 401  # equally likely results of a reading that are tried
PASSED, OPEN, FAILED = 0, 1, 2


def outcomes(count: int = OUTCOMES) -> Array:
    """Standard normal values in the middle of `count` equally likely cells, shape (count,)."""
    from clampwright.uncertain.special import ndtri

    return np.asarray(ndtri((np.arange(count) + 0.5) / count), float)


@dataclass(frozen=True)
class Moved:
    """A term for each outcome of a reading: value and ends (V), and what it then rests on."""

    value: Array
    low: Array
    high: Array
    term: Term


def unmoved(term: Term, count: int = OUTCOMES) -> Moved:
    """A term that the reading does not touch."""
    one = np.ones(count)
    return Moved(one * term.value, one * term.low, one * term.high, term)


def moved(before: Term, after: Term, z: Array) -> Moved:
    """The term after a reading of which only its sharpness is known; its value moves with `z`.

    The place of the value now is that of `before`; basis and width are those of `after`.
    """
    if _one_sign(before) and _one_sign(after):
        sign = np.sign(before.value)
        place = np.log(abs(before.value))
        old, new = _log_halves(before), _log_halves(after)
        at = _shifted(place, old, new, z)
        inner, outer = sign * np.exp(at - new[0]), sign * np.exp(at + new[1])
        ends = np.array([inner, outer])
        return Moved(sign * np.exp(at), ends.min(axis=0), ends.max(axis=0), after)
    old = before.value - before.low, before.high - before.value
    new = after.value - after.low, after.high - after.value
    at = _shifted(before.value, old, new, z)
    return Moved(at, at - new[0], at + new[1], after)


def verdicts(terms: Sequence[Moved], allowance: float) -> Array:
    """PASSED, OPEN or FAILED for each outcome: the rule of `judge.verdict_of` on arrays."""
    whole = _compared(terms, allowance)
    known = [t for t in terms if not uncertain_basis(t.term)]
    if len(known) == len(terms):
        return whole
    hindered = any(t.term.basis == "assumed" and t.term.group != "light" for t in terms)
    passed = (whole == PASSED) & (not hindered)
    failed = (whole == FAILED) & (_compared(known, allowance) == FAILED)
    return np.where(passed, PASSED, np.where(failed, FAILED, OPEN))


def together(judged: Sequence[Array]) -> Array:
    """One verdict of several judgements: FAILED if one fails, PASSED if all pass, else OPEN."""
    stacked = np.array(judged)
    failed, passed = (stacked == FAILED).any(axis=0), (stacked == PASSED).all(axis=0)
    return np.where(failed, FAILED, np.where(passed, PASSED, OPEN))


def chance_beyond(value: float, low: float, high: float, allowance: float) -> float:
    """P(|E| > allowance) for E with 95 % interval [low, high]: two half normals about `value`."""
    from clampwright.uncertain.special import ndtr

    def above(limit: float) -> float:
        half = high - value if limit > value else value - low
        if half == 0:
            return float(value > limit)
        return float(ndtr((value - limit) * COVERAGE / half))

    return float(np.clip(above(allowance) + 1 - above(-allowance), 0.0, 1.0))


def _shifted(place: float, old: tuple[float, float], new: tuple[float, float], z: Array) -> Array:
    """Value plus what the lost width becomes: below for z < 0, above for z > 0."""
    down, up = (np.sqrt(max(o**2 - n**2, 0.0)) / COVERAGE for o, n in zip(old, new, strict=True))
    return np.asarray(place + np.where(z < 0, down, up) * z)


def _one_sign(term: Term) -> bool:
    return term.value * term.low > 0 and term.value * term.high > 0


def _log_halves(term: Term) -> tuple[float, float]:
    """ln of value over the inner end, and of the outer end over the value."""
    sizes = sorted((abs(term.low), abs(term.high)))
    value = abs(term.value)
    return float(np.log(value / sizes[0])), float(np.log(sizes[1] / value))


def _compared(terms: Sequence[Moved], allowance: float) -> Array:
    """The same comparison as `judge.compare`, halves of the intervals added in root-sum-square."""
    if not terms:
        return np.zeros(OUTCOMES)
    value = np.sum([t.value for t in terms], axis=0)
    up = np.sqrt(np.sum([(t.high - t.value) ** 2 for t in terms], axis=0))
    down = np.sqrt(np.sum([(t.value - t.low) ** 2 for t in terms], axis=0))
    low, high = value - down, value + up
    largest = np.maximum(np.abs(low), np.abs(high))
    smallest = np.where(low * high <= 0, 0.0, np.minimum(np.abs(low), np.abs(high)))
    failed = np.where(smallest > allowance, FAILED, OPEN)
    return np.where(largest <= allowance, PASSED, failed)
