"""The protection design record: one self-contained HTML page, inline style and SVG, no script.

It prints on A4 and Letter, reads without colour, and follows the reader's light or dark theme on a
screen (print is always light).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from clampwright.record import fault_cases, further_text, network_text, shortlist, tables
from clampwright.record.cautions import cautions_to_print
from clampwright.record.formulas import formulas_used
from clampwright.record.look import figure_svg, themed
from clampwright.record.margin import margin_svg
from clampwright.record.plots import (
    budget_plot,
    deciding_judgement,
    leakage_plot,
    lowest_stresses,
    stress_plot,
    window_plot,
)
from clampwright.record.schematic import schematic_svg
from clampwright.record.sensor_unit import SensorUnit, sensor_unit
from clampwright.record.words import (
    RED_SENTENCE,
    SCOPE_LINE,
    THIN_SPACE,
    corner_words,
    nominal,
    numbers_say,
    prose,
    quantity,
    ratio,
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
    ResistorWindow,
    Verdict,
)

if TYPE_CHECKING:
    from jinja2 import Environment
    from matplotlib.figure import Figure

NARROW_NO_BREAK_SPACE = "\u202f"  # keeps a number and its unit on one line
SHORTLIST_LENGTH = 12
GATE_LEVELS = ("none", "amber", "red")


def record_html(
    check: CheckResult,
    faults: FaultsResult,
    rank: RankResult,
    *,
    made_on: str,
    author: str = "",
) -> str:
    """The whole record. `made_on` is the date as it shall be printed; `author` may stay blank."""
    gate = max((check.gate, faults.gate, rank.gate), key=_gate_weight)
    judgement = deciding_judgement(check)
    page = (
        _environment()
        .get_template("record.html")
        .render(
            design=check.design,
            check=check,
            faults=faults,
            made_on=made_on,
            author=author,
            scope_line=SCOPE_LINE,
            gate=gate,
            verdicts=_verdicts(check, faults, rank),
            margin="" if judgement is None or gate.level == "red" else _margin(check, judgement),
            defaults=tuple(dict.fromkeys((*check.defaults, *faults.defaults))),
            cautions=cautions_to_print(gate.cautions),
            figures=_figures(check, faults, rank, judgement),
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
    )
    page = page.replace(THIN_SPACE, NARROW_NO_BREAK_SPACE)
    return page.replace("± ", "±\u00a0").replace("95 %", "95\u00a0%")


def _margin(check: CheckResult, judgement: Judgement) -> str:
    return margin_svg(judgement, unit=sensor_unit(check.design, judgement.corner))


def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("clampwright.record"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


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
            prose(r.reason),
        )
        for name, r in results
    ]


def _shape_name(verdict: Verdict, gate: Gate) -> str:
    """Name of the symbol in the template."""
    held = gate.level == "red" or gate.held
    return "gate" if held else verdict.value.lower().replace(" ", "-")


def _figures(
    check: CheckResult, faults: FaultsResult, rank: RankResult, judgement: Judgement | None
) -> dict[str, tuple[str, str]]:
    """Every picture that can be drawn, as SVG and one sentence that says what it shows."""
    drawn = {"schematic": (themed(schematic_svg(check)), "")}
    pictures: tuple[tuple[str, str, Figure | None, str], ...] = (
        ("budget", "Error budget", budget_plot(check, judgement), _budget_sentence(check, judgement)),
        ("leakage", "Leakage against temperature", leakage_plot(check), _leakage_sentence(check)),
        ("window", "Window of the series resistor", window_plot(rank),
         _window_sentence(rank.window)),
        ("stress", "Stress against rating", stress_plot(faults), _stress_sentence(faults)),
    )  # fmt: skip
    for name, title, figure, sentence in pictures:
        if figure is not None:
            svg = figure_svg(figure, name=name, title=title, description=sentence)
            drawn[name] = (themed(svg), sentence)
    return drawn


def _budget_sentence(check: CheckResult, judgement: Judgement | None) -> str:
    if judgement is None or not judgement.terms:
        return "No term was judged."
    largest = max(judgement.terms, key=lambda term: abs(term.value))
    unit = sensor_unit(check.design, judgement.corner)
    return (
        f"{judgement.name}: the largest term is {largest.name}, "
        f"{quantity(largest.value, 'voltage', signed=True)} ({largest.basis}), against an "
        f"allowance of ± {quantity(judgement.allowance, 'voltage')}{_equal(unit, judgement)}."
    )


def _equal(unit: SensorUnit | None, judgement: Judgement) -> str:
    return f", which is {unit.text(judgement.allowance)}" if unit else ""


def _leakage_sentence(check: CheckResult) -> str:
    clamp = check.clamp
    if clamp is None:
        return "There is no clamp."
    measured = sum(point.basis == "measured" for point in clamp.points)
    unseen = sum(point.basis == "not detected" for point in clamp.points)
    return (
        f"{clamp.title}: {measured} measured points and {unseen} not detected; the line is the "
        f"law, its band 95 %, dotted outside the measured temperatures; evidence at another voltage "
        f"is grey. In the circuit the clamp sits at {prose(clamp.sits_at_words)}."
    )


def _window_sentence(window: ResistorWindow) -> str:
    state, reason = "open" if window.open else "shut", prose(window.reason)
    said = reason if reason.startswith(state) else f"{state}: {reason}"
    return f"The window is {said}. Chosen {nominal(window.chosen, 'resistance')}."


def _stress_sentence(faults: FaultsResult) -> str:
    lines = lowest_stresses(faults)
    unrated = sum(line.ratio is None for _, line in lines)
    rated = [(name, line) for name, line in lines if line.ratio is not None]
    if not rated:
        return "No stress could be compared with a rating."
    name, line = rated[0]
    unknown = f"; {unrated} more without a stated rating" if unrated else ""
    return (
        f"The lowest margin is {ratio(line.ratio)} times: {line.part}, {line.quantity}, "
        f"under {name}{unknown}."
    )
