"""What a record answers, by name in words: what two records are compared by, and that comparison."""

from __future__ import annotations

from collections.abc import Mapping
from textwrap import wrap

from clampwright.record.words import (
    DASH,
    corner_words,
    error_words,
    interval,
    known_words,
    nominal,
    prose,
    quantity,
    times,
    verdict_words,
)
from clampwright.verdict.judge import SEVERITY
from clampwright.verdict.results import CheckResult, FaultsResult, RankResult

COLUMNS = 100
HEADS = ("what", "before", "after")


def every_default(check: CheckResult, faults: FaultsResult) -> tuple[str, ...]:
    """What stands in place of a measurement in either result, each once: the list of every page."""
    return tuple(dict.fromkeys((*check.defaults, *faults.defaults)))


def both_verdicts(answers: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """Of what and verdict, of the error and of the faults of a kept record, the worse first.

    A record that says nothing of one of them leaves it out. A verdict that a gate holds comes last.
    """
    pairs = (("faults", "fault stress: verdict"), ("error", "verdict"))
    found = [(of, answers[name]) for of, name in pairs if answers.get(name)]
    order = {verdict.value: n for n, verdict in enumerate(SEVERITY)}
    return tuple(sorted(found, key=lambda pair: -order.get(pair[1], -1)))


def record_answers(check: CheckResult, faults: FaultsResult, rank: RankResult) -> dict[str, str]:
    """Every answer of a record as it was printed."""
    found = {"verdict": verdict_words(check.verdict, check.gate), "reason": prose(check.reason)}
    for judged in check.judgements:
        found[f"{judged.name}: verdict"] = judged.verdict.value
        ohms = judged.volts_per_ampere
        scale, kind = (1.0, "voltage") if ohms is None else (ohms, "current")
        error, low, high = (v / scale for v in (judged.error, judged.low, judged.high))
        found[f"{judged.name}: error"] = interval(error, low, high, kind, signed=True)
        found[f"{judged.name}: allowance"] = quantity(judged.allowance / scale, kind)
        found[f"{judged.name}: decided"] = corner_words(judged.corner)
    if check.clamp:
        clamp = check.clamp
        leaks = (clamp.leakage, clamp.leakage_low, clamp.leakage_high)
        found["clamp"] = f"{clamp.part} {clamp.wiring}"
        found["clamp leakage"] = (
            f"{interval(*leaks, 'current')}, {known_words(clamp.leakage_basis, clamp.known_by)}"
        )
    moving = check.dynamics
    found["noise"] = error_words(moving.integrated_noise, moving.volts_per_ampere)
    found["bandwidth"] = quantity(moving.bandwidth, "frequency")
    found["settling"] = quantity(moving.settling_time, "time")
    found["fault stress: verdict"] = verdict_words(faults.verdict, faults.gate)
    found["fault stress: lowest margin"] = times(faults.survivability)
    for case in faults.cases:
        found[f"fault {case.name}: {case.words}"] = (
            f"{case.verdict.value}, {times(case.survivability)}"
        )
    found |= _shortlist_answers(rank)
    found["defaults"] = "; ".join(every_default(check, faults)) or "none"
    return found


def _shortlist_answers(rank: RankResult) -> dict[str, str]:
    window = rank.window
    found = {
        "window of the series resistor": (
            f"{nominal(window.minimum, 'resistance')} to {nominal(window.maximum, 'resistance')}"
        )
    }
    if rank.candidates:
        top = rank.candidates[0]
        ohms = nominal(top.series_resistance, "resistance")
        found["first of the shortlist"] = f"{top.part} {top.wiring} in {top.topology}, {ohms}"
    return found


def changed_rows(before: Mapping[str, str], after: Mapping[str, str]) -> list[tuple[str, str, str]]:
    """Name, before and after of everything that differs; a dash where it was not there."""
    names = list(dict.fromkeys((*before, *after)))
    pairs = [(n, before.get(n, DASH), after.get(n, DASH)) for n in names]
    return [row for row in pairs if row[1] != row[2]]


def difference_text(
    title: str, inputs: list[tuple[str, str, str]], answers: list[tuple[str, str, str]]
) -> str:
    """Changed inputs, then changed answers: 100 columns."""
    lines = [title]
    for head, rows in (("Changed inputs", inputs), ("Changed answers", answers)):
        lines += ["", head]
        for name, before, after in rows:
            lines += wrap(f"  {name}", COLUMNS)
            lines += _folded("before", before) + _folded("after", after)
        if not rows:
            lines.append("  none")
    return "\n".join(lines)


def _folded(head: str, words: str) -> list[str]:
    indent = " " * 12
    return wrap(words, COLUMNS, initial_indent=f"    {head}:".ljust(12), subsequent_indent=indent)
