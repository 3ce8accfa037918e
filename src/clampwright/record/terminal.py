"""Results as text for the terminal: 100 columns, decimal points aligned, colour as a second sign.

Every function returns a str. `colour` adds ANSI to the verdict words; leave it off when piped.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from textwrap import wrap

from clampwright.bench.leakage import Component, Leakage
from clampwright.record.fault_cases import (
    STRESS_HEADS,
    ShownCase,
    derating_words,
    shown_cases,
    stress_row,
)
from clampwright.record.further_text import further_pairs
from clampwright.record.network_text import network_rows
from clampwright.record.plain_text import finished, listed, pairs, table, wrapped
from clampwright.record.sensor_unit import sensor_unit
from clampwright.record.shortlist import (
    CANDIDATE_HEADS,
    ShownCandidate,
    faults_judged,
    rejected_groups,
    shown_candidates,
)
from clampwright.record.tables import (
    Row,
    allowance_heads,
    allowance_rows,
    clamp_rows,
    dynamics_rows,
    judged_where,
    judgement_words,
    term_heads,
    term_row,
)
from clampwright.record.wall_words import leaves_none
from clampwright.record.words import (
    COLUMNS,
    GATE_SHAPE,
    GATE_WORDS,
    RED_SENTENCE,
    SCOPE_LINE,
    headline_words,
    nominal,
    prose,
    quantity,
    temperature,
    uncertain,
    verdict_mark,
    verdict_shape,
)
from clampwright.verdict.results import (
    CheckResult,
    FaultsResult,
    Gate,
    Judgement,
    RankResult,
    ResistorWall,
    ResistorWindow,
    Verdict,
)

REJECTED_NAMED = 6
EXPANDED = (
    "± is the expanded uncertainty, 95 %, of the current at the temperature and light the part really "
    "had; ≤ is a one-sided bound, 95 %. `part` shows the same for each reading, and beside it the fitted "
    "law, which also carries the doubt of the temperature and the spread of the lot."
)


def check_text(check: CheckResult, *, colour: bool = False) -> str:
    """The verdict, what it rests on and the budget of every judgement."""
    blocks = [
        _headline(check.verdict, check.gate, check.reason, check.design.title),
        gate_text(check.gate),
        listed("Assumed in place of a measurement", check.defaults),
        listed("To look at", check.flags),
        pairs("Circuit", network_rows(check)),
    ]
    if check.clamp is not None:
        blocks.append(pairs("Clamp", clamp_rows(check.clamp)))
    blocks.append(table("Allowed leakage", allowance_heads(check.design), allowance_rows(check)))
    blocks += [_judgement_text(judgement, check) for judgement in check.judgements]
    blocks.append(
        _marked(check.dynamics.verdict, check.gate, "noise, bandwidth, settling")
        + wrapped(prose(check.dynamics.reason))
        + pairs("", dynamics_rows(check.dynamics, sensor_unit(check.design, check.dynamics.corner)))
    )
    if check.further:
        blocks.append(pairs("Further answers", further_pairs(check)))
    blocks.append(listed("Open risks", check.open_risks))
    return finished(blocks, colour)


def _judgement_text(judgement: Judgement, check: CheckResult) -> str:
    """One judgement with its terms."""
    unit = sensor_unit(check.design, judgement.corner)
    return (
        _marked(judgement.verdict, check.gate, judgement.name)
        + wrapped(judgement_words(judgement, unit))
        + wrapped(judged_where(judgement, check))
        + table(
            "", term_heads(unit), [term_row(term, unit, judgement.room) for term in judgement.terms]
        )
    )


def faults_text(faults: FaultsResult, *, everything: bool = False, colour: bool = False) -> str:
    """Every fault, lowest margin first, with stress against rating.

    everything : every stress of each fault; without it the three of lowest margin.
    """
    cases = shown_cases(faults)
    blocks = [
        _headline(faults.verdict, faults.gate, faults.reason, faults.design.title),
        gate_text(faults.gate),
        listed("Assumed in place of a measurement", faults.defaults),
        *(_case_text(case, faults.gate, everything) for case in cases),
        wrapped(derating_words(faults)),
    ]
    return finished(blocks, colour)


def _case_text(case: ShownCase, gate: Gate, everything: bool) -> str:
    lines = case.lines if everything else case.lowest()
    rows = [(verdict_mark(line.verdict, gate), *stress_row(line)) for line in lines]
    more = len(case.lines) - len(lines)
    return (
        _marked(case.verdict, gate, f"{case.name}: {case.words}")
        + wrapped(case.reason)
        + wrapped(case.currents)
        + table("", ("", *STRESS_HEADS), rows)
        + (f"  … and {more} more with larger margins\n" if more else "")
    )


def rank_text(rank: RankResult, limit: int = 20, *, colour: bool = False) -> str:
    """The resistor window first, then the shortlist, then what was rejected and why."""
    shown = shown_candidates(rank)
    left = sum(len(item.members) for item in shown[limit:])
    more = f"  … and {left} more" if left else ""
    rejected = [
        f"{reason}: {names}"
        for reason, names in rejected_groups(rank.candidates, named=REJECTED_NAMED)
    ]
    blocks = [
        _headline(rank.verdict, rank.gate, rank.reason, rank.design.title),
        gate_text(rank.gate),
        _window_text(rank.window),
        wrapped(faults_judged(rank)),
        _shortlist(shown[:limit], rank.gate) + more,
        listed("Rejected", rejected),
        listed("Circuits left out", rank.left_out),
        f"{rank.evaluated} combinations evaluated.",
    ]
    return finished(blocks, colour)


def gate_text(gate: Gate, *, colour: bool = False) -> str:
    """The safety gate with its reasons, and the cautions that hold with or without a gate."""
    words = f"{GATE_SHAPE} {GATE_WORDS[gate.level]}" if gate.level != "none" else ""
    if gate.level == "red":
        words += f": {RED_SENTENCE}"
    elif gate.level == "amber" and gate.held:
        words += ": the verdict is held until the caution is acknowledged"
    elif gate.level == "amber":
        words += f": acknowledged by {gate.acknowledged}"
    lines = "".join(f"{line}\n" for line in wrap(words, COLUMNS, subsequent_indent="  "))
    cautions = [text for text in gate.cautions if text != SCOPE_LINE]  # it stands in the headline
    if not (words or cautions):
        return ""
    blocks = (lines, listed("Because", gate.reasons), listed("Cautions", cautions))
    return finished(blocks, colour)


def leakages_text(
    leakages: Sequence[Leakage], *, components: bool = False, colour: bool = False
) -> str:
    """Reduced bench readings, one table a part: condition, result, limits, flags beneath."""
    blocks = []
    wirings = dict.fromkeys((item.part, item.wiring) for item in leakages)
    for part, wiring in wirings:
        members = [item for item in leakages if (item.part, item.wiring) == (part, wiring)]
        rows = [_leakage_row(item) for item in members]
        heads = (
            "reverse",
            "at",
            "light",
            "leakage",
            "outcome",
            "decision / detection / quantific.",
        )
        text = table(f"{part} {wiring}", heads, rows)
        for item in members:
            where = ", ".join(_condition(item))
            if components:
                text += _components(where, item.components)
            for flag in item.flags:
                text += wrapped(f"{where}: {flag}", mark="! ")
        blocks.append(text)
    return finished([*blocks, wrapped(EXPANDED)], colour)


def _leakage_row(item: Leakage) -> Row:
    limits = (item.decision_limit, item.detection_limit, item.quantification_limit)
    written = " / ".join(quantity(limit, "current") for limit in limits)
    return (*_condition(item), leakage_words(item), item.outcome, written)


def leakage_words(item: Leakage) -> str:
    """A result as it may be reported: never 0, a non-detect is its upper bound."""
    if item.outcome == "not detected":
        return f"not detected, ≤ {quantity(item.upper_bound, 'current')}"
    return uncertain(item.value, item.expanded_uncertainty, "current")


def _condition(item: Leakage) -> tuple[str, str, str]:
    light = "dark" if item.illuminance == 0 else nominal(item.illuminance, "illuminance")
    return nominal(item.reverse_voltage, "voltage"), temperature(item.temperature), light


def _components(where: str, components: Iterable[Component]) -> str:
    rows = [
        (c.name, f"type {c.evaluation}", quantity(c.value, "current"),
         "∞" if c.degrees_of_freedom > 1e6 else f"{c.degrees_of_freedom:.3g}",
         "shared by all parts" if c.shared else "this reading only")
        for c in components
    ]  # fmt: skip
    return table(f"  {where}", ("component", "kind", "standard u.", "ν", ""), rows)


def _headline(verdict: Verdict, gate: Gate, reason: str, title: str) -> str:
    mark = f"{verdict_shape(verdict, gate)} {headline_words(verdict, gate)}\n"
    return mark + wrapped(prose(reason) + ".") + wrapped(title) + wrapped(SCOPE_LINE)


def _marked(verdict: Verdict, gate: Gate, words: str) -> str:
    lines = wrap(f"{verdict_mark(verdict, gate)}  {words}", COLUMNS, subsequent_indent="  ")
    return "".join(f"{line}\n" for line in lines)


def _window_text(window: ResistorWindow) -> str:
    high = nominal(window.maximum, "resistance") if window.maximum is not None else "no upper wall"
    chosen = f"chosen {nominal(window.chosen, 'resistance')}"
    head = f"Series resistor: open, {nominal(window.minimum, 'resistance')} to {high}, {chosen}"
    if not window.open:
        said = f"Series resistor: NO OPEN WINDOW, {chosen}; {prose(window.reason)}."
        head = wrapped(said).rstrip()
    rows = [
        ("never", "", wall.name, wall.reason) if leaves_none(wall) else
        ("at least" if wall.side == "minimum" else "at most",
         nominal(wall.value, "resistance"), wall.name, _wall_reason(wall))
        for wall in window.walls if wall.value is not None
    ]  # fmt: skip
    text = table(head, ("", "resistance", "built by", "why"), rows) or f"{head}\n"
    free = [f"{wall.name} ({_wall_reason(wall)})" for wall in window.walls if wall.value is None]
    return text + (wrapped("no wall: " + ", ".join(free)) if free else "")


def _wall_reason(wall: ResistorWall) -> str:
    """Why a wall stands where it does, without its own name before it."""
    return prose(wall.reason).removeprefix(f"{wall.name}: ")


def _shortlist(candidates: Sequence[ShownCandidate], gate: Gate) -> str:
    rows = []
    for place, item in enumerate(candidates, start=1):
        verdict = item.first.verdict
        mark = verdict_mark(verdict, gate) if verdict else ""
        rows.append((f"{place:>2} {mark}", *item.row()))
    return table("Shortlist", ("   verdict", *CANDIDATE_HEADS), rows, whole=1)


__all__ = [
    "check_text",
    "faults_text",
    "gate_text",
    "leakage_words",
    "leakages_text",
    "rank_text",
]
