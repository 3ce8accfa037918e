"""What pages and live answers show of a design: verdict line, steps, charts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from clampwright import actions
from clampwright.actions.ruler import law_over_heat
from clampwright.errors import ClampwrightError
from clampwright.record import part_rows
from clampwright.record.answers import every_default
from clampwright.record.look import themed
from clampwright.record.margin import margin_svg
from clampwright.record.plots import deciding_judgement
from clampwright.record.schematic import schematic_svg
from clampwright.record.words import prose, verdict_words
from clampwright.web.charts import budget_svg, noise_svg
from clampwright.web.leakage_chart import leakage_svg
from clampwright.web.table import Opened, Table

SEVERITY = ("PASS", "UNDECIDED", "NOT MEASURED", "FAIL")


@dataclass(frozen=True)
class Line:
    """One of the verdicts that stand together: what it judges, shape by name, word, sentence."""

    topic: str
    shape: str
    word: str
    sentence: str
    more: str = ""


@dataclass(frozen=True)
class Said:
    """Error and faults as they are shown, the worse first, with the margin bar of the error."""

    lines: tuple[Line, ...]
    gate: str = ""  # words of a gate that holds the verdicts
    margin: str = ""

    @property
    def shape(self) -> str:
        """Shape of the gate, else of the worse verdict."""
        return "gate" if self.gate else self.lines[0].shape

    @property
    def word(self) -> str:
        """Both verdicts in a few words."""
        said = ", ".join(f"{line.topic} {line.word}" for line in self.lines)
        judged = any(line.word.isupper() for line in self.lines)
        if not self.gate:
            return said
        return f"{self.gate}; the numbers say {said}" if judged else self.gate

    @property
    def sentence(self) -> str:
        """The reason of the worse verdict."""
        return self.lines[0].sentence


@dataclass(frozen=True)
class Step:
    """One step of the job in the list at the left."""

    key: str
    label: str
    shape: str
    state: str


def said(check: Any, faults: Any = None) -> Said:
    """The verdicts of error and faults, the worse first; behind a red gate none is shown.

    faults : None while nobody has judged them; that stands there as plainly as a verdict
    """
    red = check.gate.level == "red"
    held = red or check.gate.held
    lines = [(_severity(check), _line("error", check))]
    if faults is None:
        why = "They are judged in a moment."
        lines.append((0, Line("faults", "not-measured", "not yet judged", why)))
    else:
        lines.append((_severity(faults), _line("faults", faults)))
    lines.sort(key=lambda pair: -pair[0])
    return Said(
        lines=tuple(line for _, line in lines),
        gate=verdict_words(check.verdict, check.gate) if held else "",
        margin="" if red else _margin(check),
    )


def _severity(result: Any) -> int:
    return 1 + SEVERITY.index(result.verdict.value)


def _line(topic: str, result: Any) -> Line:
    """A red gate takes the word away; an amber one stands before both."""
    sentence, _, more = prose(result.reason).partition("; ")
    red = result.gate.level == "red"
    return Line(
        topic=topic,
        shape="gate" if red else result.verdict.value.lower().replace(" ", "-"),
        word="numbers shown" if red else result.verdict.value,
        sentence=f"{first_up(sentence)}.",
        more=f"{first_up(more)}." if more else "",
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
    return Said((Line("design", "not-measured", "NO VERDICT", str(error)),))


def _margin(result: Any) -> str:
    judged = deciding_judgement(result) if hasattr(result, "judgements") else None
    return "" if judged is None else margin_svg(judged)


def live(table: Table, opened: Opened) -> dict[str, Any]:
    """What of the network page follows every move of a slider."""
    check = table.check(opened)
    judged = budget_of(check)
    heat = check.design.board.temperature_maximum
    return {
        "check": check,
        "judgement": judged,
        "budget": budget_svg(judged) if judged else "",
        "leakage": leakage_svg(check.clamp, heat, law_where_it_sits(opened, check)),
        "noise": noise_svg(check.dynamics),
    }


def sit_voltage(check: Any) -> float | None:
    """Reverse voltage (V) at which the circuit holds its clamp; None without one, or at 0 V, forward."""
    clamp = check.clamp
    return -clamp.sits_at if clamp is not None and clamp.sits_at < 0 else None


def law_where_it_sits(opened: Opened, check: Any) -> tuple[Any, ...]:
    """The law of the clamp over heat at the voltage it sits at, () where the summary draws that one."""
    volts = sit_voltage(check)
    clamp = None if volts is None else _tried(opened.case.chosen_clamp)
    curve = check.clamp.curve if check.clamp is not None else ()
    if volts is None or clamp is None or not curve or math.isclose(curve[0].voltage, volts):
        return ()
    return law_over_heat(clamp, volts, [p.temperature for p in curve])


def budget_of(check: Any) -> Any:
    """The judgement whose budget is drawn, None where there is none or a red gate hides it."""
    judged = deciding_judgement(check)
    shown = judged is not None and judged.allowance > 0 and check.gate.level != "red"
    return judged if shown else None


def schematic(check: Any) -> str:
    """The circuit in the colours of the page."""
    return themed(schematic_svg(check))


def steps(table: Table, opened: Opened) -> tuple[Step, ...]:
    """The job as a list, each step with the state it is in."""
    check = _tried(lambda: table.check(opened))
    faults = _tried(lambda: table.faults(opened))
    ranking = table.rankings.get(opened.case.hash)
    ranked = ranking.result if ranking is not None else None
    return (
        _requirement_step(check, faults),
        _step("network", "Network", check),
        _step("faults", "Faults", faults),
        _step("shortlist", "Shortlist", ranked, "not ranked yet"),
        _evidence_step(check),
        Step("bench", "Bench", "page", "measure a part"),
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


def _requirement_step(check: Any, faults: Any) -> Step:
    if check is None:
        return Step("requirement", "Requirement", "not-measured", "cannot be used yet")
    if check.gate.level != "none" and (check.gate.held or check.gate.level == "red"):
        return Step("requirement", "Requirement", "gate", f"{check.gate.level} gate")
    defaults = every_default(check, faults) if faults is not None else check.defaults
    if defaults:
        some = f"{len(defaults)} default{'s' if len(defaults) > 1 else ''}"
        return Step("requirement", "Requirement", "page", some)
    return Step("requirement", "Requirement", "page", "stated")


def _evidence_step(check: Any) -> Step:
    if check is None:
        return Step("evidence", "Evidence", "page", "not judged")
    clamp = check.clamp
    if clamp is None:
        return Step("evidence", "Evidence", "page", "no clamp")
    shape = "not-measured" if clamp.leakage_basis == "assumed" else "page"
    state = part_rows.told_as(clamp.leakage_basis, clamp.known_by)
    return Step("evidence", "Evidence", shape, state)


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
    from clampwright.record.look import figure_svg
    from clampwright.record.part_page import ruler_sentence
    from clampwright.record.part_ruler import ruler_plot

    figure = ruler_plot(part)
    if figure is None:
        return ""
    title = "Every wiring on one ruler"
    return themed(figure_svg(figure, name="ruler", title=title, description=ruler_sentence(part)))


def leads(part: Any) -> dict[str, str]:
    """A drawing of the leads for every wiring that may serve as a clamp."""
    from clampwright.record.lead_drawing import lead_svg

    views = part_rows.usable(part)
    return {v.name: themed(lead_svg(v, part.leads, name=f"leads{n}")) for n, v in enumerate(views)}
