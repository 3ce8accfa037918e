"""Which candidates of a shortlist are beaten in accuracy and survivability at once.

A candidate is dominated when another one, judged at least as well, has no smaller margin in either and
a larger one in at least one of them (Pareto dominance). What only rests on an assumption therefore
never pushes out what was measured and passes.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import inf

from clampwright.verdict.judge import SEVERITY
from clampwright.verdict.results import Candidate

ALIKE = 1e-6  # [1] relative; margins nearer than this are the same


def with_dominance(candidates: Sequence[Candidate]) -> tuple[Candidate, ...]:
    """The candidates in their order, each dominated one with who dominates it."""
    judged = [c for c in candidates if not c.rejected and c.verdict is not None]
    found = []
    for candidate in candidates:
        better = next((c for c in judged if dominates(c, candidate)), None)
        words = "" if better is None else _name(better)
        found.append(candidate.model_copy(update={"dominated_by": words}))
    return tuple(found)


def dominates(one: Candidate, other: Candidate) -> bool:
    """Whether `one` is no worse in verdict and both margins and better in a margin."""
    if other.rejected or other.verdict is None or one.verdict is None:
        return False
    if SEVERITY.index(one.verdict) > SEVERITY.index(other.verdict):
        return False
    pairs = [(_margin(a), _margin(b)) for a, b in zip(_margins(one), _margins(other), strict=True)]
    return all(a >= b * (1 - ALIKE) for a, b in pairs) and any(
        a > b * (1 + ALIKE) for a, b in pairs
    )


def _margins(candidate: Candidate) -> tuple[float | None, float | None]:
    return candidate.accuracy_margin, candidate.survivability


def _margin(value: float | None) -> float:
    """A survivability that is not bounded is told as None."""
    return inf if value is None else value


def _name(candidate: Candidate) -> str:
    return f"{candidate.part} {candidate.wiring} in {candidate.topology}".replace("  ", " ")
