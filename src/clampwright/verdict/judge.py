"""The four verdicts and the sentence that gives the reason.

With E the probable value and its 95 % interval: PASS if the whole interval lies within the allowance,
FAIL if the whole interval lies beyond it, else UNDECIDED (decision rule after JCGM 106:2012, guard
band equal to the expanded uncertainty; value from memory). NOT MEASURED when the answer rests on an
assumption. The worst case is shown beside it and never decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple, Protocol

import numpy as np

from clampwright.quantities import write
from clampwright.verdict.input_current import AsCurrent
from clampwright.verdict.known import known_words
from clampwright.verdict.results import Basis, Corner, Group, Judgement, Term, Verdict

SEVERITY = (Verdict.PASS, Verdict.UNDECIDED, Verdict.NOT_MEASURED, Verdict.FAIL)
SATURATES = "the amplifier saturates"
BIAS_WORDS = "the amplifier's bias current"


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """The verdict that stands for several: FAIL before NOT MEASURED before UNDECIDED before PASS."""
    return max(verdicts, key=SEVERITY.index, default=Verdict.PASS)


def deciding(judgements: Sequence[Judgement], reason: str) -> Judgement | None:
    """The judgement to see first: the one whose reason stands in that of the check.

    Else the worst verdict, then the largest share of the allowance.
    """
    named = [j for j in judgements if j.reason and j.reason in reason]
    if named:
        return named[-1]  # the clamp alone comes first and may say the same as the protection
    return max(
        judgements,
        key=lambda j: (
            SEVERITY.index(j.verdict),
            abs(j.error) / j.allowance if j.allowance else 0.0,
        ),
        default=None,
    )


def combined(terms: tuple[Term, ...]) -> tuple[float, float, float]:
    """Sum of the terms and its 95 % interval: halves of the interval add in root-sum-square."""
    value = sum(t.value for t in terms)
    up = np.sqrt(sum((t.high - t.value) ** 2 for t in terms))
    down = np.sqrt(sum((t.value - t.low) ** 2 for t in terms))
    return value, float(value - down), float(value + up)


def magnitude(low: float, high: float) -> tuple[float, float]:
    """Interval of |E| for E in [low, high]."""
    smallest = 0.0 if low <= 0.0 <= high else min(abs(low), abs(high))
    return smallest, max(abs(low), abs(high))


def compare(low: float, high: float, allowance: float) -> Verdict:
    """PASS, FAIL or UNDECIDED of an interval against ± the allowance."""
    smallest, largest = magnitude(low, high)
    if largest <= allowance:
        return Verdict.PASS
    return Verdict.FAIL if smallest > allowance else Verdict.UNDECIDED


def judge(
    name: str,
    terms: tuple[Term, ...],
    allowance: float,
    corner: Corner,
    room: float = np.inf,
    as_current: AsCurrent | None = None,
) -> Judgement:
    """Compare a sum of terms with its allowance (V) at one corner.

    room       : V that the amplifier has left for an error before it saturates; with none it fails
    as_current : how its sentence turns the volts into the current at the input that is asked for
    """
    value, low, high = combined(terms)
    verdict = verdict_of(terms, allowance) if room >= 0 else Verdict.FAIL
    worst_case = sum(max(abs(t.low), abs(t.high)) for t in terms)
    return Judgement(
        name=name,
        error=value,
        low=low,
        high=high,
        allowance=allowance,
        verdict=verdict,
        corner=corner,
        terms=tuple(sorted(terms, key=reach, reverse=True)),
        worst_case=worst_case,
        reason=_reason(
            verdict, terms, (value, low, high), allowance, corner, _Sizes(room, as_current)
        ),
        room=room,
        volts_per_ampere=as_current.ohms if as_current else None,
    )


def verdict_of(terms: tuple[Term, ...], allowance: float) -> Verdict:
    """The verdict of a sum of terms, with regard to what each rests on.

    Nothing is failed by what is only bounded or assumed: FAIL needs the other terms to fail alone.
    Nothing passes with a clamp or a bias current that is assumed; an assumed photocurrent carries the
    whole width of its class and may pass.
    """
    verdict = compare(*combined(terms)[1:], allowance)
    known = tuple(t for t in terms if not uncertain_basis(t))
    if len(known) == len(terms):
        return verdict
    if verdict == Verdict.FAIL and compare(*combined(known)[1:], allowance) == Verdict.FAIL:
        return verdict
    hindered = any(t.basis == "assumed" and t.group != "light" for t in terms)
    return verdict if verdict == Verdict.PASS and not hindered else Verdict.NOT_MEASURED


class Rested(Protocol):
    """A term, or a term at many corners: what it rests on and what causes it."""

    @property
    def basis(self) -> Basis:
        """What it rests on."""

    @property
    def group(self) -> Group:
        """What causes it."""


def uncertain_basis(term: Rested) -> bool:
    """Whether a term is assumed, or a clamp of which only a maximum is known."""
    return term.basis == "assumed" or (term.basis == "maximum" and term.group == "clamp")


def reach(term: Term) -> float:
    """How far a term may reach from zero at 95 % (V): what terms are ordered by."""
    return max(abs(term.low), abs(term.high))


def _reason(
    verdict: Verdict,
    terms: tuple[Term, ...],
    numbers: tuple[float, float, float],
    allowance: float,
    corner: Corner,
    sizes: _Sizes,
) -> str:
    place, room, size = f"at {corner.words()}", sizes.room, sizes.words
    if room < 0:
        return f"{SATURATES}: the signal lies outside the rails {place}."
    if not terms:
        return "no term contributes"
    value, low, high = numbers
    smallest, largest = magnitude(low, high)
    top = max(terms, key=reach)
    limit = sizes.of(allowance)
    dominating = f"the largest term is {top.name}"
    if top.value and abs(top.value) <= room:
        dominating += f", {sizes.of(top.value, signed=True)}"
    how = known_words(top.basis, top.known_by, short=True)
    dominating += f" (up to {size(reach(top))}, {how})"
    left = write(room, "voltage", digits=2)
    if smallest > room and verdict is Verdict.FAIL:
        return f"{SATURATES}: an error has only {left} to the rail {place}; {dominating}."
    span = f"{size(smallest)} to {size(largest)} at 95 %"
    error = f"{size(abs(value))} ({sizes.counted(abs(value))}{span})"
    said = {
        Verdict.PASS: f"{error} stays within the allowance of {limit} even at its upper limit",
        Verdict.FAIL: f"{error} exceeds the allowance of {limit} even at its lower limit",
        Verdict.UNDECIDED: f"{error} straddles the allowance of {limit}",
        Verdict.NOT_MEASURED: f"{error} rests on an assumption, against an allowance of {limit}",
    }[verdict]
    return f"{said} {place}; {dominating}{_limit_note(terms, sizes)}."


class _Sizes(NamedTuple):
    """How magnitudes are written: as the input's current where one is asked for, else as volts."""

    room: float
    as_current: AsCurrent | None

    def of(self, voltage: float, *, signed: bool = False) -> str:
        if self.as_current is None:
            return write(voltage, "voltage", digits=2, signed=signed)
        return write(voltage / self.as_current.ohms, "current", digits=2, signed=signed)

    def words(self, voltage: float) -> str:
        """A magnitude as the amplifier can show it: beyond its rails there is no number."""
        return self.of(voltage) if voltage <= self.room else "saturation"

    def counted(self, voltage: float) -> str:
        """The volts behind a current, to stand before its interval."""
        if self.as_current is None or voltage > self.room:
            return ""
        return f"{write(voltage, 'voltage', digits=2)} {self.as_current.place}, "


def _limit_note(terms: tuple[Term, ...], sizes: _Sizes) -> str:
    """Say so when the clamp is not the limiting term."""
    clamp = max((reach(t) for t in terms if t.group == "clamp"), default=0.0)
    light = max((reach(t) for t in terms if t.group == "light"), default=0.0)
    bias = max((reach(t) for t in terms if t.group == "bias"), default=0.0)
    own = max((reach(t) for t in terms if t.group == "amplifier"), default=0.0)
    if not clamp:
        return ""
    said = f"the clamp adds up to {sizes.of(clamp)}"
    if bias > clamp:
        gain = "little" if bias > light else "little before it is shaded"
        return (
            f"; of clamp and bias current, {BIAS_WORDS} is the larger term "
            f"(up to {sizes.of(bias)}), {said}: a better clamp would gain {gain}"
        )
    if own > max(clamp, light) and sizes.as_current is None:
        return f"; the clamp is not the limiting term: {said}"
    return ""
