"""The protection design record: one self-contained HTML page, inline style and SVG, no script.

It prints on A4 and Letter, reads without colour, and follows the reader's light or dark theme on a
screen (print is always light).
"""

from __future__ import annotations

from clampwright.record import fault_cases, further_text, network_text, shortlist, tables
from clampwright.record.answers import every_default
from clampwright.record.cautions import cautions_to_print
from clampwright.record.formulas import formulas_used
from clampwright.record.look import themed
from clampwright.record.margin import margin_svg
from clampwright.record.plots import deciding_judgement
from clampwright.record.printing import printed
from clampwright.record.record_figures import record_figures
from clampwright.record.sensor_unit import sensor_unit
from clampwright.record.words import (
    RED_SENTENCE,
    SCOPE_LINE,
    corner_words,
    numbers_say,
    prose,
    residual_words,
    verdict_mark,
    verdict_words,
)
from clampwright.verdict.results import (
    CheckResult,
    FaultsResult,
    Gate,
    Judgement,
    RankResult,
    Verdict,
)

SHORTLIST_LENGTH = 12
GATE_LEVELS = ("none", "amber", "red")


def record_html(
    check: CheckResult,
    faults: FaultsResult,
    rank: RankResult,
    *,
    made_on: str,
    author: str = "",
    kept: str = "",
) -> str:
    """The whole record. `made_on` is the date as it shall be printed; `author` may stay blank.

    kept : number under which the record is kept, "" when it is not
    """
    gate = max((check.gate, faults.gate, rank.gate), key=_gate_weight)
    judgement = deciding_judgement(check)
    return printed(
        "record.html",
        design=check.design,
        check=check,
        faults=faults,
        made_on=made_on,
        author=author,
        kept=kept,
        scope_line=SCOPE_LINE,
        gate=gate,
        verdicts=_verdicts(check, faults, rank),
        margin="" if judgement is None or gate.level == "red" else _margin(check, judgement),
        defaults=every_default(check, faults),
        cautions=cautions_to_print(gate.cautions),
        figures={
            name: (themed(svg), words)
            for name, (svg, words) in record_figures(check, faults, rank).items()
        },
        judgement=judgement,
        candidates=shortlist.shown_candidates(rank)[:SHORTLIST_LENGTH],
        rejected=shortlist.rejected_groups(rank.candidates),
        rank=rank,
        red_sentence=RED_SENTENCE,
        residual=residual_words(check.residual),
        prose=prose,
        shortlist=shortlist,
        fault_cases=fault_cases,
        further_text=further_text,
        formulas=formulas_used(check),
        tables=tables,
        unit_of=lambda judged: sensor_unit(check.design, judged.corner),
        network=network_text,
        mark=lambda verdict: verdict_mark(verdict, gate),
        corner_words=corner_words,
    )


def _margin(check: CheckResult, judgement: Judgement) -> str:
    return margin_svg(judgement, unit=sensor_unit(check.design, judgement.corner))


def _gate_weight(gate: Gate) -> tuple[int, bool]:
    return GATE_LEVELS.index(gate.level), gate.held


def _verdicts(
    check: CheckResult, faults: FaultsResult, rank: RankResult
) -> list[tuple[str, str, str, str, str]]:
    """Name, word, what stands behind it when held, shape and reason of the three verdicts.

    The third speaks of the best alternative and says so.
    """
    results: tuple[tuple[str, CheckResult | FaultsResult | RankResult], ...] = (
        (network_text.error_place(check.design), check),
        ("fault stress", faults),
        ("best of the shortlist, not this design", rank),
    )
    return [
        (
            name,
            verdict_words(r.verdict, r.gate),
            numbers_say(r.verdict) if r.gate.level == "amber" and r.gate.held else "",
            _shape_name(r.verdict, r.gate),
            shortlist.reason_of(r),
        )
        for name, r in results
    ]


def _shape_name(verdict: Verdict, gate: Gate) -> str:
    """Name of the symbol in the template."""
    held = gate.level == "red" or gate.held
    return "gate" if held else verdict.value.lower().replace(" ", "-")
