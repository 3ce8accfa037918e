"""The shortlist as it is shown: equal rows together, rejected wirings by their reason, and its CSV."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from clampwright.record.csv_text import csv_text
from clampwright.record.words import DASH, known_words, nominal, prose, shown_error, times
from clampwright.verdict.results import Candidate, CheckResult, FaultsResult, RankResult

Row = tuple[str, ...]
CANDIDATE_HEADS = ("clamp", "in", "series R", "error", "up to", "accuracy", "fault", "known")
WIRINGS_NAMED = 2
CSV_HEADS = [
    "part", "wiring", "topology", "series_resistance_ohm", "error_V", "error_low_V",
    "error_high_V", "error_up_to_V", "accuracy_margin", "survivability", "leakage_basis",
    "verdict", "rejected", "reason",
]  # fmt: skip


@dataclass(frozen=True)
class ShownCandidate:
    """Candidates that follow each other and differ in their wiring only."""

    members: tuple[Candidate, ...]

    @property
    def first(self) -> Candidate:
        """The candidate whose figures stand for all."""
        return self.members[0]

    def row(self) -> Row:
        """Cells under `CANDIDATE_HEADS`."""
        names = [c.wiring for c in self.members if c.wiring]
        if len(names) > WIRINGS_NAMED:
            names = [f"{names[0]} and {len(names) - 1} more"]
        return (f"{self.first.part} {', '.join(names)}".strip(), *_figures(self.first))

    def note(self) -> str:
        """What decides the row, without the figures that stand in its cells."""
        _, parted, rest = prose(self.first.reason).partition("; ")
        return rest.partition("; ")[0] if parted else prose(self.first.reason)


def shown_candidates(rank: RankResult) -> list[ShownCandidate]:
    """Every candidate that was not rejected, in its order, equal rows together."""
    groups: list[list[Candidate]] = []
    for candidate in (c for c in rank.candidates if not c.rejected):
        if groups and _alike(groups[-1][0], candidate):
            groups[-1].append(candidate)
        else:
            groups.append([candidate])
    return [ShownCandidate(tuple(group)) for group in groups]


def faults_judged(rank: RankResult) -> str:
    """Which faults a verdict of the shortlist speaks of, and which it does not: one sentence."""
    from clampwright.verdict.faults import IMPULSES

    faults = rank.design.faults
    judged = list(dict.fromkeys(f.name for f in faults if f.kind not in IMPULSES))
    impulses = list(dict.fromkeys(f.name for f in faults if f.kind in IMPULSES))
    if not faults:
        return "PASS here is of the error alone: no fault is listed."
    of = f"of the error and of {_named(judged)}" if judged else "of the error alone"
    unjudged = f" Not judged, because an impulse: {', '.join(impulses)}." if impulses else ""
    return f"PASS here is {of}.{unjudged}"


def _named(names: Sequence[str]) -> str:
    """ "fault F1", "faults F1 and F2", "faults F1, F2 and F3"."""
    if len(names) == 1:
        return f"fault {names[0]}"
    return f"faults {', '.join(names[:-1])} and {names[-1]}"


def reason_of(result: CheckResult | FaultsResult | RankResult) -> str:
    """The reason of a verdict, without its full stop; of a shortlist also which faults it speaks of."""
    reason = prose(result.reason)
    if isinstance(result, RankResult):
        return f"{reason}. {faults_judged(result).removesuffix('.')}"
    return reason


def filter_example(rank: RankResult) -> str:
    """Words for the filter that hold in this very shortlist: the part and circuit of its first row."""
    first = next((c for c in rank.candidates if not c.rejected), None)
    if first is None:
        return ""
    circuit = first.topology if first.topology.startswith("T") else ""
    verdict = first.verdict.value if first.verdict else ""
    return ", ".join(filter(None, (first.part, circuit, verdict)))


def error_up_to(candidate: Candidate) -> float | None:
    """Largest magnitude of the 95 % interval of the error (V)."""
    ends = [abs(v) for v in (candidate.error_low, candidate.error_high) if v is not None]
    return max(ends, default=None)


def rejected_groups(
    candidates: Iterable[Candidate], *, named: int | None = None
) -> list[tuple[str, str]]:
    """Each reason with the wirings it rejects, most frequent first; `named` bounds how many."""
    reasons: dict[str, dict[str, list[str]]] = {}
    for candidate in (c for c in candidates if c.rejected):
        wirings = reasons.setdefault(prose(candidate.reason), {})
        wirings.setdefault(f"{candidate.part} {candidate.wiring}", []).append(candidate.topology)
    by_count = sorted(reasons.items(), key=lambda item: -len(item[1]))
    return [(reason, _wirings_words(wirings, named)) for reason, wirings in by_count]


def shortlist_csv(rank: RankResult) -> str:
    """Every candidate in its order, rejected ones with their reason; SI floats."""
    rows = [
        (c.part, c.wiring, c.topology, c.series_resistance, c.error, c.error_low, c.error_high,
         error_up_to(c), c.accuracy_margin, c.survivability, c.leakage_basis,
         c.verdict.value if c.verdict else "", "yes" if c.rejected else "no", c.reason)
        for c in rank.candidates
    ]  # fmt: skip
    return csv_text(CSV_HEADS, rows)


def _figures(candidate: Candidate) -> Row:
    error, most, ohms = candidate.error, error_up_to(candidate), candidate.volts_per_ampere
    return (
        candidate.topology,
        nominal(candidate.series_resistance, "resistance"),
        DASH if error is None else shown_error(error, candidate.room, ohms=ohms),
        DASH if most is None else shown_error(most, candidate.room, signed=False, ohms=ohms),
        times(candidate.accuracy_margin),
        times(candidate.survivability),
        known_words(candidate.leakage_basis, candidate.known_by, short=True) or DASH,
    )


def _alike(one: Candidate, other: Candidate) -> bool:
    return (one.part, one.verdict) == (other.part, other.verdict) and _figures(one) == _figures(
        other
    )


def _wirings_words(wirings: dict[str, list[str]], named: int | None) -> str:
    texts = [f"{name} ({', '.join(where)})" for name, where in wirings.items()]
    shown: Sequence[str] = texts if named is None else texts[:named]
    more = len(texts) - len(shown)
    return ", ".join(shown) + (f", and {more} more" if more else "")
