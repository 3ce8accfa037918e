"""What pages and live answers show of a design: verdict line, steps, charts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from clampwright import actions
from clampwright.errors import ClampwrightError
from clampwright.record import part_rows
from clampwright.record.lead_drawing import lead_svg
from clampwright.record.look import figure_svg, themed
from clampwright.record.margin import margin_svg
from clampwright.record.part_page import ruler_sentence
from clampwright.record.part_ruler import ruler_plot
from clampwright.record.plots import deciding_judgement
from clampwright.record.schematic import schematic_svg
from clampwright.record.words import headline_words, prose, verdict_words
from clampwright.web.charts import budget_svg, leakage_svg
from clampwright.web.table import Opened, Table


@dataclass(frozen=True)
class Said:
    """A verdict as it is shown: shape by name, word, sentence, margin bar."""

    shape: str
    word: str
    sentence: str
    margin: str = ""
    more: str = ""


@dataclass(frozen=True)
class Step:
    """One step of the job in the list at the left."""

    key: str
    label: str
    shape: str
    state: str


def said(result: Any) -> Said:
    """The verdict of a result; behind a red gate no verdict is shown."""
    red = result.gate.level == "red"
    sentence, _, more = prose(result.reason).partition("; ")
    return Said(
        shape=shape_of(result.verdict, result.gate),
        word=headline_words(result.verdict, result.gate),
        sentence=sentence + ".",
        more=f"{first_up(more)}." if more else "",
        margin="" if red else _margin(result),
    )


def first_up(text: str) -> str:
    """The text with its first letter raised, to open a sentence."""
    return text[:1].upper() + text[1:]


def shape_of(verdict: Any, gate: Any) -> str:
    """Name of the shape that goes with a verdict."""
    held = gate.level == "red" or gate.held
    return "gate" if held else verdict.value.lower().replace(" ", "-")


def failed(error: ClampwrightError) -> Said:
    """What stands where a verdict would, when there is none because an input cannot be used."""
    return Said("not-measured", "NO VERDICT", str(error))


def _margin(result: Any) -> str:
    judged = deciding_judgement(result) if hasattr(result, "judgements") else None
    return "" if judged is None else margin_svg(judged)


def live(table: Table, opened: Opened) -> dict[str, Any]:
    """Everything of the network page that follows from the sheet."""
    check = table.check(opened)
    judged = deciding_judgement(check)
    shown = judged is not None and judged.allowance > 0 and check.gate.level != "red"
    return {
        "check": check,
        "said": said(check),
        "judgement": judged,
        "budget": budget_svg(judged) if shown else "",
        "schematic": themed(schematic_svg(check)),
        "leakage": leakage_svg(check.clamp) if check.clamp is not None else "",
    }


def steps(table: Table, opened: Opened) -> tuple[Step, ...]:
    """The job as a list, each step with the state it is in."""
    check = _tried(lambda: table.check(opened))
    faults = _tried(lambda: table.faults(opened))
    ranking = table.rankings.get(opened.case.hash)
    ranked = ranking.result if ranking is not None else None
    return (
        _requirement_step(check),
        _step("network", "Network", check),
        _step("faults", "Faults", faults),
        _step("shortlist", "Shortlist", ranked, "not ranked yet"),
        _evidence_step(check),
        Step("curves", "Curves", "page", "laws over each other"),
        _next_step(table.kept("next", opened)),
        Step("record", "Record", "page", "to read and print"),
    )


def _tried(ask: Any) -> Any:
    try:
        return ask()
    except ClampwrightError:
        return None


def _step(key: str, label: str, result: Any, without: str = "no verdict") -> Step:
    if result is None:
        return Step(key, label, "not-measured", without)
    return Step(key, label, shape_of(result.verdict, result.gate),
                verdict_words(result.verdict, result.gate).replace("a safety gate", "a gate"))  # fmt: skip


def _requirement_step(check: Any) -> Step:
    if check is None:
        return Step("requirement", "Requirement", "not-measured", "cannot be used yet")
    if check.gate.level != "none" and (check.gate.held or check.gate.level == "red"):
        return Step("requirement", "Requirement", "gate", f"{check.gate.level} gate")
    if check.defaults:
        some = f"{len(check.defaults)} default{'s' if len(check.defaults) > 1 else ''}"
        return Step("requirement", "Requirement", "page", some)
    return Step("requirement", "Requirement", "page", "stated")


def _evidence_step(check: Any) -> Step:
    clamp = check.clamp if check is not None else None
    if clamp is None:
        return Step("evidence", "Evidence", "page", "no clamp")
    shape = "not-measured" if clamp.leakage_basis == "assumed" else "page"
    return Step("evidence", "Evidence", shape, clamp.leakage_basis)


def _next_step(found: Any) -> Step:
    if found is None:
        return Step("next", "Next", "page", "what to measure")
    return Step("next", "Next", "page", "stop measuring" if found.stop else found.actions[0].input)


def topology_choices(now: str) -> list[tuple[str, str, str, bool]]:
    """Name, title, when to use it and whether it is the present one, of every topology."""
    return [(n, title, when, n == now) for n, (title, when) in actions.topologies().items()]


def fault_schematic(check: Any, faults: Any) -> tuple[str, Any]:
    """The network with the path of the fault that has the lowest known margin, and that fault."""
    known = [case for case in faults.cases if case.survivability is not None]
    if not known:
        return "", None
    lowest = min(known, key=lambda case: case.survivability)
    return themed(schematic_svg(check, lowest)), lowest


def ruler(part: Any) -> str:
    """Every wiring of a part on one axis of current; "" when none may serve as a clamp."""
    figure = ruler_plot(part)
    if figure is None:
        return ""
    title = "Every wiring on one ruler"
    return themed(figure_svg(figure, name="ruler", title=title, description=ruler_sentence(part)))


def leads(part: Any) -> dict[str, str]:
    """A drawing of the leads for every wiring that may serve as a clamp."""
    views = part_rows.usable(part)
    return {v.name: themed(lead_svg(v, part.leads, name=f"leads{n}")) for n, v in enumerate(views)}
