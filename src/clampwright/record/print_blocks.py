"""The record as blocks for print: headings, sentences, tables, pictures; only plain data.

The same rows as the page (`tables`, `network_text`, `fault_cases`, `shortlist`), in the same order.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from clampwright.record import fault_cases, network_text, shortlist, tables
from clampwright.record.answers import every_default
from clampwright.record.cautions import cautions_to_print
from clampwright.record.formulas import formulas_used
from clampwright.record.record_figures import record_figures
from clampwright.record.sensor_unit import sensor_unit
from clampwright.record.words import (
    RED_SENTENCE,
    SCOPE_LINE,
    corner_words,
    headline_words,
    prose,
    residual_words,
    verdict_mark,
    verdict_shape,
)
from clampwright.verdict.results import CheckResult, FaultsResult, Judgement, RankResult

Block = dict[str, Any]
CANDIDATES = 12
EQUAL = -1  # every column of a table is as wide as the others
GATE_LEVELS = ("none", "amber", "red")


def record_blocks(check: CheckResult, faults: FaultsResult, rank: RankResult) -> list[Block]:
    """Every block of the record, first what decides, then what it rests on."""
    figures = record_figures(check, faults, rank)
    gate = max((check.gate, faults.gate, rank.gate), key=lambda g: GATE_LEVELS.index(g.level))
    defaults = every_default(check, faults)
    return [
        *_verdicts(check, faults, rank),
        *_gate(gate),
        *_section("Series resistor", _picture(figures, "window")),
        *_section("Assumed in place of a measurement", [_items(defaults, "nothing")]),
        *_section("Cautions", [_items(cautions_to_print(gate.cautions), "none")]),
        *_section("Requirement", [_pairs(tables.requirement_rows(check.design))]),
        *_section("Circuit", _circuit(check, figures)),
        *_section("Allowance and budget", _budget(check, figures)),
        *_section("Leakage and its evidence", _picture(figures, "leakage")),
        *_section("Noise, bandwidth, settling", _moving(check)),
        *_section("Faults", _faults(faults, figures)),
        *_section("Shortlist", _shortlist(rank)),
        *_section("Open risks", [_items(check.open_risks, "none stated")]),
        *_section("Evidence and formulas", _evidence(check)),
        *_section(
            "Changes", [_text(check.design.note or "No change is noted in the design sheet.")]
        ),
    ]


def _section(title: str, blocks: Iterable[Block]) -> list[Block]:
    some = list(blocks)
    return [{"kind": "heading", "level": 2, "text": title}, *some] if some else []


def _verdicts(check: CheckResult, faults: FaultsResult, rank: RankResult) -> Iterator[Block]:
    yield _text(SCOPE_LINE)
    for name, result in (
        (network_text.error_place(check.design), check),
        ("fault stress", faults),
        ("best of the shortlist, not this design", rank),
    ):
        mark = f"{verdict_shape(result.verdict, result.gate)} {headline_words(result.verdict, result.gate)}"
        yield {
            "kind": "verdict",
            "of": name,
            "mark": mark,
            "text": f"{shortlist.reason_of(result)}.",
        }


def _gate(gate: Any) -> list[Block]:
    if gate.level == "none":
        return []
    if gate.level == "red":
        words = f"Red gate: {RED_SENTENCE}."
    elif gate.held:
        words = "Amber gate: the verdict is held until somebody acknowledges the caution by name."
    else:
        words = f"Amber gate: acknowledged by {gate.acknowledged}."
    return [_text(words, quiet=False), _items(gate.reasons, "no reason stated")]


def _circuit(check: CheckResult, figures: dict[str, tuple[str, str]]) -> Iterator[Block]:
    yield _text(check.topology_words, quiet=False)
    yield from _picture(figures, "schematic", check.topology_title)
    yield _pairs(network_text.network_rows(check))
    if check.clamp:
        yield {"kind": "heading", "level": 3, "text": "Clamp wiring"}
        yield _pairs(tables.clamp_rows(check.clamp))
        yield {"kind": "heading", "level": 3, "text": "Known"}
        yield _items(check.clamp.known, "nothing")
        yield {"kind": "heading", "level": 3, "text": "Assumed"}
        yield _items(check.clamp.assumed, "nothing")


def _budget(check: CheckResult, figures: dict[str, tuple[str, str]]) -> Iterator[Block]:
    yield _table(tables.allowance_heads(check.design), tables.allowance_rows(check), 0)
    yield from _picture(figures, "budget")
    for judgement in check.judgements:
        yield from _judged(check, judgement)
    if check.transfers:
        yield _text(tables.transfer_words(check.transfers), quiet=False)


def _judged(check: CheckResult, judgement: Judgement) -> Iterator[Block]:
    unit = sensor_unit(check.design, judgement.corner)
    mark = verdict_mark(judgement.verdict, check.gate)
    yield {"kind": "heading", "level": 3, "text": f"{mark} {judgement.name}"}
    yield _text(tables.judgement_words(judgement, unit))
    yield _text(tables.judged_where(judgement, check))
    rows = [tables.term_row(t, unit, judgement.room) for t in judgement.terms]
    yield _table(tables.term_heads(unit), rows, 0)


def _moving(check: CheckResult) -> Iterator[Block]:
    moving = check.dynamics
    mark = verdict_mark(moving.verdict, check.gate)
    yield _text(f"{mark} {prose(moving.reason)} ({corner_words(moving.corner)}).", quiet=False)
    yield _pairs(
        [row[:2] for row in tables.dynamics_rows(moving, sensor_unit(check.design, moving.corner))]
    )


def _faults(faults: FaultsResult, figures: dict[str, tuple[str, str]]) -> Iterator[Block]:
    yield from _picture(figures, "stress")
    for case in fault_cases.shown_cases(faults):
        mark = verdict_mark(case.verdict, faults.gate)
        yield {"kind": "heading", "level": 3, "text": f"{mark} {case.name}: {case.words}"}
        yield _text(f"{case.reason}. {case.currents}.")
        if case.lines:
            rows = [fault_cases.stress_row(line) for line in case.lowest()]
            yield _table(fault_cases.STRESS_HEADS, rows, 1)
    yield _text(fault_cases.derating_words(faults))


def _shortlist(rank: RankResult) -> Iterator[Block]:
    yield _text(f"{rank.evaluated} combinations of clamp, circuit and resistor were evaluated.")
    yield _text(shortlist.faults_judged(rank), quiet=False)
    rows = [
        (verdict_mark(s.first.verdict, rank.gate) if s.first.verdict else "", *s.row())
        for s in shortlist.shown_candidates(rank)[:CANDIDATES]
    ]
    yield _table(("verdict", *shortlist.CANDIDATE_HEADS), rows, 1)
    if rank.left_out:
        yield _text(f"Circuits left out. {'. '.join(rank.left_out)}.")
    rejected = shortlist.rejected_groups(rank.candidates, named=6)
    if rejected:
        yield {"kind": "heading", "level": 3, "text": "Rejected"}
        yield _table(("reason", "wirings"), rejected, EQUAL)


def _evidence(check: CheckResult) -> Iterator[Block]:
    yield _text(f"Hash (SHA-256) of all inputs together: {check.design_hash}")
    yield _pairs([(name, f"{digest[:16]}…") for name, digest in check.inputs.items()])
    yield _text(f"Largest residual of the solved node equations: {residual_words(check.residual)}.")
    yield _table(
        ("formula", "equation", "source"), tables.formula_rows(formulas_used(check)), EQUAL
    )


def _picture(figures: dict[str, tuple[str, str]], name: str, instead: str = "") -> list[Block]:
    if name not in figures:
        return []
    svg, sentence = figures[name]
    return [{"kind": "figure", "svg": svg, "alt": sentence or instead}]


def _text(words: str, *, quiet: bool = True) -> Block:
    return {"kind": "text", "text": words, "quiet": quiet}


def _items(items: Sequence[str], empty: str) -> Block:
    return {"kind": "list", "items": [str(i) for i in items] or [empty]}


def _pairs(rows: Iterable[Sequence[str]]) -> Block:
    return {"kind": "pairs", "rows": [[row[0], " ".join(row[1:])] for row in rows]}


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], wide: int) -> Block:
    """`wide` : the column that takes the room that is left, or `EQUAL`."""
    return {"kind": "table", "heads": list(heads), "rows": [list(r) for r in rows], "wide": wide}
