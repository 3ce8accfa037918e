"""Results as text for the terminal: 100 columns, decimal points aligned, colour as a second sign.

Every function returns a str. `colour` adds ANSI to the verdict words; leave it off when piped.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from textwrap import wrap
from unicodedata import category

from clampwright.bench.leakage import Component, Leakage
from clampwright.record.tables import (
    ALLOWANCE_HEADS,
    CANDIDATE_HEADS,
    STRESS_HEADS,
    TERM_HEADS,
    Row,
    allowance_rows,
    candidate_row,
    cases_by_margin,
    clamp_rows,
    dynamics_rows,
    fault_words_of,
    judgement_words,
    network_rows,
    stress_row,
    stresses_by_margin,
    term_row,
)
from clampwright.record.words import (
    GATE_SHAPE,
    GATE_WORDS,
    SCOPE_LINE,
    THIN_SPACE,
    VERDICT_SHAPE,
    corner_words,
    nominal,
    quantity,
    temperature,
    uncertain,
    verdict_mark,
    verdict_shape,
    verdict_words,
)
from clampwright.verdict.results import (
    Candidate,
    CheckResult,
    FaultsResult,
    Gate,
    RankResult,
    ResistorWindow,
    Verdict,
)

COLUMNS = 100
STYLES = {
    VERDICT_SHAPE[Verdict.PASS]: "bold blue",
    VERDICT_SHAPE[Verdict.FAIL]: "bold red",
    VERDICT_SHAPE[Verdict.UNDECIDED]: "bold yellow",
    VERDICT_SHAPE[Verdict.NOT_MEASURED]: "bold magenta",
    GATE_SHAPE: "bold yellow",
}
MARK = re.compile(f"[{''.join(STYLES)}] [A-Z]+( MEASURED| GATE| SHOWN)?")


def check_text(check: CheckResult, *, colour: bool = False) -> str:
    """The verdict, what it rests on and the budget of every judgement."""
    blocks = [
        _headline(check.verdict, check.gate, check.reason, check.design.title),
        gate_text(check.gate),
        _listed("Assumed in place of a measurement", check.defaults),
        _listed("To look at", check.flags),
        _pairs("Circuit", network_rows(check)),
    ]
    if check.clamp is not None:
        blocks.append(_pairs("Clamp", clamp_rows(check.clamp)))
    blocks.append(_table("Allowed leakage", ALLOWANCE_HEADS, allowance_rows(check.allowances)))
    for judgement in check.judgements:
        rows = [term_row(term) for term in judgement.terms]
        blocks.append(
            _marked(judgement.verdict, check.gate, judgement.name)
            + _wrapped(judgement_words(judgement))
            + _wrapped(f"{judgement.reason}; {corner_words(judgement.corner)}")
            + _table("", TERM_HEADS, rows)
        )
    blocks.append(
        _marked(check.dynamics.verdict, check.gate, "noise, bandwidth, settling")
        + _wrapped(check.dynamics.reason)
        + _pairs("", dynamics_rows(check.dynamics))
    )
    blocks.append(_listed("Open risks", check.open_risks))
    return _finished(blocks, colour)


def faults_text(faults: FaultsResult, *, colour: bool = False) -> str:
    """Every fault, lowest margin first, with stress against rating."""
    blocks = [
        _headline(faults.verdict, faults.gate, faults.reason, faults.design.title),
        gate_text(faults.gate),
        _listed("Assumed in place of a measurement", faults.defaults),
    ]
    for case in cases_by_margin(faults.cases):
        rows = [
            (verdict_mark(line.verdict, faults.gate), *stress_row(line))
            for line in stresses_by_margin(case)
        ]
        blocks.append(
            _marked(case.verdict, faults.gate, case.words)
            + _wrapped(case.reason)
            + _wrapped(fault_words_of(case))
            + _table("", ("", *STRESS_HEADS), rows)
        )
    deratings = [f"{name}: {rule}" for name, rule in faults.deratings.items()]
    blocks.append(_listed("Deratings", deratings))
    return _finished(blocks, colour)


def rank_text(rank: RankResult, limit: int = 20, *, colour: bool = False) -> str:
    """The resistor window first, then the shortlist, then what was rejected and why."""
    kept = [c for c in rank.candidates if not c.rejected]
    rejected = [c for c in rank.candidates if c.rejected]
    blocks = [
        _headline(rank.verdict, rank.gate, rank.reason, rank.design.title),
        gate_text(rank.gate),
        _window_text(rank.window),
        _shortlist(kept[:limit], rank.gate),
    ]
    if len(kept) > limit:
        blocks.append(f"  … and {len(kept) - limit} more")
    blocks.append(_listed(
        "Rejected", [f"{c.part} {c.wiring} in {c.topology}: {c.reason}" for c in rejected[:limit]]
    ))  # fmt: skip
    blocks.append(f"{rank.evaluated} combinations evaluated.")
    return _finished(blocks, colour)


def gate_text(gate: Gate, *, colour: bool = False) -> str:
    """The safety gate with its reasons and cautions; empty when there is none."""
    if gate.level == "none":
        return ""
    words = f"{GATE_SHAPE} {GATE_WORDS[gate.level]}"
    if gate.level == "red":
        words += ": numbers only; certified design and independent test are required"
    elif gate.held:
        words += ": the verdict is held until the caution is acknowledged"
    else:
        words += f": acknowledged by {gate.acknowledged}"
    lines = "".join(f"{line}\n" for line in wrap(words, COLUMNS, subsequent_indent="  "))
    blocks = (lines, _listed("Because", gate.reasons), _listed("Cautions", gate.cautions))
    return _finished(blocks, colour)


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
        text = _table(f"{part} {wiring}", heads, rows)
        for item in members:
            where = ", ".join(_condition(item))
            if components:
                text += _components(where, item.components)
            for flag in item.flags:
                text += _wrapped(f"{where}: {flag}", mark="! ")
        blocks.append(text)
    return _finished(blocks, colour)


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
    return _table(f"  {where}", ("component", "kind", "standard u.", "ν", ""), rows)


def _headline(verdict: Verdict, gate: Gate, reason: str, title: str) -> str:
    mark = f"{verdict_shape(verdict, gate)} {verdict_words(verdict, gate)}\n"
    return mark + _wrapped(reason) + _wrapped(title) + _wrapped(SCOPE_LINE)


def _marked(verdict: Verdict, gate: Gate, words: str) -> str:
    lines = wrap(f"{verdict_mark(verdict, gate)}  {words}", COLUMNS, subsequent_indent="  ")
    return "".join(f"{line}\n" for line in lines)


def _window_text(window: ResistorWindow) -> str:
    state = "open" if window.open else "NO OPEN WINDOW"
    high = nominal(window.maximum, "resistance") if window.maximum is not None else "no upper wall"
    head = (
        f"Series resistor: {state}, {nominal(window.minimum, 'resistance')} to {high}, "
        f"chosen {nominal(window.chosen, 'resistance')}"
    )
    rows = [
        ("at least" if wall.side == "minimum" else "at most",
         nominal(wall.value, "resistance") if wall.value is not None else "no wall",
         wall.name, wall.reason)
        for wall in window.walls
    ]  # fmt: skip
    return _table(head, ("", "resistance", "built by", "why"), rows)


def _shortlist(candidates: Sequence[Candidate], gate: Gate) -> str:
    rows = [
        (str(place), verdict_mark(c.verdict, gate) if c.verdict else "", *candidate_row(c))
        for place, c in enumerate(candidates, start=1)
    ]
    return _table("Shortlist", ("", "verdict", *CANDIDATE_HEADS), rows)


def _finished(blocks: Iterable[str], colour: bool) -> str:
    """Blocks an empty line apart, without control characters, marks coloured at the very end."""
    text = "\n\n".join(block.rstrip() for block in blocks if block.strip())
    plain = "".join(c for c in text if c == "\n" or category(c) not in ("Cc", "Cf")) + "\n"
    return MARK.sub(_painted, plain) if colour else plain


def _painted(found: re.Match[str]) -> str:
    from rich.color import ColorSystem
    from rich.style import Style

    style = Style.parse(STYLES[found[0][0]])
    return style.render(found[0], color_system=ColorSystem.STANDARD)


def _wrapped(words: str, *, mark: str = "") -> str:
    lines = wrap(
        words, COLUMNS - 2, initial_indent="  " + mark, subsequent_indent="  " + " " * len(mark)
    )
    return "".join(f"{line}\n" for line in lines)


def _listed(title: str, items: Iterable[str]) -> str:
    text = "".join(_wrapped(item, mark="· ") for item in items)
    return f"{title}\n{text}" if text else ""


def _pairs(title: str, rows: Iterable[Row]) -> str:
    rows = [(name, value) for name, value in rows]
    wide = min(max((len(name) for name, _ in rows), default=0), 34)
    text = f"{title}\n" if title else ""
    for name, value in rows:
        lead = f"  {name:<{wide}}  "
        lines = wrap(lead + value, COLUMNS, subsequent_indent=" " * (wide + 4),
                     drop_whitespace=True, replace_whitespace=False) or [lead]  # fmt: skip
        text += "".join(f"{line}\n" for line in lines)
    return text


def _table(title: str, heads: Row, rows: Sequence[Row]) -> str:
    """Columns two spaces apart, numbers aligned at decimal points, the widest column wrapped."""
    if not rows:
        return ""
    columns = [aligned([row[i] for row in rows]) for i in range(len(heads))]
    widths = [max(len(heads[i]), *map(len, columns[i])) for i in range(len(heads))]
    while sum(widths) + 2 * len(widths) > COLUMNS:
        widest = widths.index(max(widths))
        widths[widest] -= 1
    text = f"{title}\n" if title else ""
    lines = [heads, *zip(*columns, strict=True)]
    return text + "".join(_table_line(line, widths) for line in lines)


def _table_line(cells: Sequence[str], widths: Sequence[int]) -> str:
    folded = [
        [cell] if len(cell) <= width else wrap(cell, width) or [""]
        for cell, width in zip(cells, widths, strict=True)
    ]
    text = ""
    for row in range(max(map(len, folded))):
        parts = [part[row] if row < len(part) else "" for part in folded]
        line = "".join(f"  {part:<{width}}" for part, width in zip(parts, widths, strict=True))
        text += line.rstrip() + "\n"
    return text


def aligned(cells: Sequence[str]) -> list[str]:
    """Pad texts that begin with a number so that their decimal points stand in one column."""
    points = [_point(cell) for cell in cells]
    furthest = max((p for p in points if p is not None), default=0)
    return [
        cell if point is None else " " * (furthest - point) + cell
        for cell, point in zip(cells, points, strict=True)
    ]


def _point(cell: str) -> int | None:
    """Where the decimal point of the leading number stands or would stand, if there is one."""
    start = len(cell) - len(cell.lstrip("+−-≤± "))
    end = start
    while end < len(cell) and (cell[end].isdigit() or _groups_digits(cell, end)):
        end += 1
    return end if end > start else None


def _groups_digits(cell: str, place: int) -> bool:
    """Whether a thin space stands between two groups of thousands."""
    return cell[place] == THIN_SPACE and cell[place + 1 : place + 2].isdigit()


__all__ = [
    "aligned",
    "check_text",
    "faults_text",
    "gate_text",
    "leakage_words",
    "leakages_text",
    "rank_text",
]
