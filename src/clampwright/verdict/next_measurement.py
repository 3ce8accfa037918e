"""`next`: which reading is worth its minutes, and when to stop measuring.

Every action of `next_actions` is judged by the probability of `next_probability` at the corners that
decide now; it is assumed that no other corner takes over. Ranked by gain per minute: the chance of a
decision added, over the minutes it takes. Ties, as where no single action can decide, go to the larger
share of the width. A verdict that is PASS or FAIL already needs no reading: stop measuring.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from clampwright.bench.methods import Method
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.check import CLAMP_ALONE, WHOLE_INPUT
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import error_terms
from clampwright.verdict.judge import combined, magnitude, reach
from clampwright.verdict.layout import topology_of
from clampwright.verdict.next_actions import Reading, readings
from clampwright.verdict.next_probability import (
    FAILED,
    PASSED,
    Moved,
    chance_beyond,
    moved,
    outcomes,
    together,
    unmoved,
    verdicts,
)
from clampwright.verdict.next_results import Contribution, NextAction, NextResult
from clampwright.verdict.places import in_use
from clampwright.verdict.results import CheckResult, Judgement, Term, Verdict
from clampwright.verdict.terms_at import side_terms, terms_at

WORTH = 0.01  # [1] a smaller chance of a decision is told as none
SETTLED = (Verdict.PASS, Verdict.FAIL)


def next_measurement(
    check: CheckResult, clamp: Clamp | None, methods: Sequence[Method]
) -> NextResult:
    """Rank the bench actions for a judged design.

    check : what `check_design` found; clamp : the part as wired, None where there is none
    methods : ways to measure at this bench; without any a bare multimeter is taken
    """
    design = check.design
    topology = topology_of(design)
    used = in_use(design, topology, clamp) if clamp and topology.has_clamp else None
    deciding = [j for j in check.judgements if j.name != CLAMP_ALONE]
    lead = next((j for j in deciding if j.verdict == check.verdict), deciding[0])
    settled = check.verdict in SETTLED
    found = [_judged(r, design, used, deciding, lead) for r in readings(design, used, methods)]
    ranked = tuple(_best_of_each(found))
    contributions = tuple(_contributions(lead.terms))
    stop = settled or not any(a.decided >= WORTH for a in ranked)
    return NextResult(
        design=design,
        design_hash=check.design_hash,
        judged=lead.name,
        error=lead.error,
        low=lead.low,
        high=lead.high,
        allowance=lead.allowance,
        volts_per_ampere=lead.volts_per_ampere,
        contributions=contributions,
        actions=ranked,
        beyond=chance_beyond(lead.error, lead.low, lead.high, lead.allowance),
        stop=stop,
        gate=check.gate,
        verdict=check.verdict,
        reason=_reason(check, lead, contributions, ranked, stop=stop),
    )


def _judged(
    reading: Reading,
    design: Design,
    clamp: Clamp | None,
    deciding: Sequence[Judgement],
    lead: Judgement,
) -> NextAction:
    """What one action makes of every judgement, on the same outcomes."""
    z = outcomes()
    judged, ends = [], (lead.low, lead.high)
    for judgement in deciding:
        now = judgement.terms
        old = _terms(design, clamp, judgement)
        new = _terms(reading.design, reading.clamp, judgement)
        terms = [_after(term, old, new, reading, z) for term in now]
        judged.append(verdicts(terms, judgement.allowance))
        if judgement is lead:
            ends = _middle(terms)
    outcome = together(judged)
    passed, failed = float(np.mean(outcome == PASSED)), float(np.mean(outcome == FAILED))
    settled = all(j.verdict == Verdict.PASS for j in deciding) or any(
        j.verdict == Verdict.FAIL for j in deciding
    )
    gain = 0.0 if settled else passed + failed
    return NextAction(
        action=reading.action,
        input=reading.input,
        how=reading.how,
        minutes=reading.minutes,
        passed=passed,
        failed=failed,
        decided=min(passed + failed, 1.0),
        gain=gain,
        per_minute=gain / reading.minutes,
        low=ends[0],
        high=ends[1],
        seen=reading.seen,
    )


def _terms(design: Design, clamp: Clamp | None, judgement: Judgement) -> list[Term]:
    """The terms of one judgement's corner and side for another state of knowledge."""
    corner = judgement.corner
    grid = Corners(
        **{name: np.array([getattr(corner, name)]) for name in type(corner).model_fields}
    )
    sides = error_terms(design, topology_of(design), clamp, grid)
    names = {t.name for t in judgement.terms}
    some = [list(terms_at(side_terms(design, clamp, grid, side), 0)) for side in sides]
    return next((t for t in some if any(x.name in names for x in t if x.group == "clamp")), some[0])


def _after(
    term: Term, old: Sequence[Term], new: Sequence[Term], reading: Reading, z: np.ndarray
) -> Moved:
    """One term of the judgement after a reading; what the reading leaves alone stays as it is."""
    before, after = _same(term, old), _same(term, new)
    if after is None and term.group == "amplifier":
        after = term.model_copy(update={"value": 0.0, "low": 0.0, "high": 0.0})
    if before is None or after is None:
        return unmoved(term)
    if term.group in reading.relative:
        half = abs(after.value) * reading.relative[term.group]
        after = after.model_copy(update={"low": after.value - half, "high": after.value + half})
        return moved(term, after, z)
    if (before.low, before.high, before.basis) == (after.low, after.high, after.basis):
        return unmoved(term)
    return moved(term, after, z)


def _same(term: Term, others: Iterable[Term]) -> Term | None:
    """The term of the same name, else the only one of the same group."""
    some = [t for t in others if t.group == term.group]
    named = [t for t in some if t.name == term.name]
    usable = named if term.group == "amplifier" else named or some
    return next(iter(usable), None)


def _middle(terms: Sequence[Moved]) -> tuple[float, float]:
    """Ends of the summed interval at the outcome that is expected now."""
    half = len(terms[0].value) // 2
    shown = tuple(
        t.term.model_copy(
            update={"value": float(t.value[half]), "low": float(t.low[half]), "high": float(t.high[half])}
        )
        for t in terms
    )  # fmt: skip
    return combined(shown)[1:]


def _best_of_each(found: Sequence[NextAction]) -> list[NextAction]:
    """The best action for every input, then most gain a minute first."""
    best: dict[str, NextAction] = {}
    for action in sorted(found, key=_merit):
        best.setdefault(action.input, action)
    return list(best.values())


def _merit(action: NextAction) -> tuple[float, float]:
    """Sorts best first: gain a minute, then the narrower interval that is left for each minute."""
    return -action.per_minute, (action.high - action.low) * action.minutes


def _contributions(terms: Sequence[Term]) -> list[Contribution]:
    """c_i = h_i²/Σh² with h_i half of the 95 % interval of term i, largest first."""
    squares = [((t.high - t.low) / 2) ** 2 for t in terms]
    total = sum(squares) or 1.0
    rows = [
        Contribution(input=t.name, share=s / total, basis=t.basis, known_by=t.known_by)
        for t, s in zip(terms, squares, strict=True)
    ]
    return sorted(rows, key=lambda c: c.share, reverse=True)


def _reason(
    check: CheckResult,
    lead: Judgement,
    contributions: Sequence[Contribution],
    ranked: Sequence[NextAction],
    *,
    stop: bool,
) -> str:
    limit = _limiting(check)
    if check.verdict == Verdict.PASS:
        return (
            "stop measuring: the error keeps its allowance even at the unfavourable end of its "
            f"interval{limit}."
        )
    if check.verdict == Verdict.FAIL:
        return f"stop measuring: {_failing(check, lead, limit)}."
    if stop:
        return (
            "stop measuring: no single reading at this bench is likely to decide it; change the "
            f"network, the clamp or the requirement{limit}."
        )
    first = ranked[0]
    widest = contributions[0]
    return (
        f"next: {first.action} (about {first.minutes:.0f} min): the verdict is then decided with "
        f"probability {first.decided:.0%}; {widest.share:.0%} of the squared width of "
        f"{lead.name} comes from {widest.input}."
    )


def _failing(check: CheckResult, lead: Judgement, limit: str) -> str:
    """What fails, and that no reading mends it; `lead` is the judgement that fails, if one does.

    limit : what `_limiting` says of the error
    """
    if lead.verdict == Verdict.FAIL and magnitude(lead.low, lead.high)[0] > lead.allowance:
        return (
            f"the error that is judged ({lead.name}) exceeds its allowance even at the favourable end "
            f"of its interval{limit}"
        )
    fails = lead.reason if lead.verdict == Verdict.FAIL else check.reason
    return f"{fails.removesuffix('.')}; no reading changes that"


def _limiting(check: CheckResult) -> str:
    """Say so when the clamp is not the limiting term of the whole input."""
    whole = next((j for j in check.judgements if j.name == WHOLE_INPUT), None)
    if whole is None:
        return ""
    clamp = max((reach(t) for t in whole.terms if t.group == "clamp"), default=0.0)
    other = max((t for t in whole.terms if t.group != "clamp"), key=reach, default=None)
    if not clamp or other is None or reach(other) <= clamp:
        return ""
    return (
        f"; the clamp is not the limiting term: it adds up to {_size(clamp, whole)}, "
        f"{other.name} up to {_size(reach(other), whole)}"
    )


def _size(voltage: float, judged: Judgement) -> str:
    """A magnitude as the judgement is told: the current at the input where one is asked for."""
    if judged.volts_per_ampere is None:
        return write(voltage, "voltage", digits=2)
    return write(voltage / judged.volts_per_ampere, "current", digits=2)
