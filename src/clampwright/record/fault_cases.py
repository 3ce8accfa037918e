"""Fault cases as they are shown: those that agree merged, lowest margins first, in words."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from clampwright.record.words import amount, prose, quantity, ratio, times
from clampwright.verdict.results import FaultCase, FaultsResult, StressLine, Verdict

Row = tuple[str, ...]
STRESS_HEADS = ("part", "what", "stress", "rating", "derating", "margin", "known")
LINES_SHOWN = 3
AGREEMENT = 0.005  # relative; figures are printed to three digits
SIGNED_RAIL = re.compile(r"\b(positive|negative) rail\b")


@dataclass(frozen=True)
class ShownCase:
    """One fault, or both signs and supply states of it where all figures agree.

    lines : its stresses, lowest margin first
    """

    name: str
    words: str
    verdict: Verdict
    reason: str
    currents: str
    survivability: float | None
    lines: tuple[StressLine, ...]

    def lowest(self, count: int = LINES_SHOWN) -> tuple[StressLine, ...]:
        """The lines with the lowest margins."""
        return self.lines[:count]


def shown_cases(faults: FaultsResult) -> list[ShownCase]:
    """Every fault, lowest margin first; before all what has no known rating, last what is not judged."""
    groups: list[list[FaultCase]] = []
    for case in faults.cases:
        twin = next((g for g in groups if len(g) == 1 and _differ_in_sign_only(g[0], case)), None)
        if twin is None:
            groups.append([case])
        else:
            twin.append(case)
    shown = _same_in_other_states([_shown(group) for group in groups])
    return sorted(
        shown, key=lambda c: (not c.lines, c.survivability is not None, c.survivability or 0.0)
    )


def _same_in_other_states(cases: list[ShownCase]) -> list[ShownCase]:
    """Cases merged that differ in name and supply state only, as "…, powered on or asleep"."""
    merged: dict[tuple[object, ...], ShownCase] = {}
    for case in cases:
        words, _, state = case.words.rpartition(", ")
        key = (words, case.verdict, case.reason, case.currents, case.lines)
        first = merged.get(key) if case.lines and words else None
        if first is None:
            merged[key if case.lines and words else (case.name, case.words)] = case
        else:
            merged[key] = replace(
                first, name=f"{first.name}, {case.name}", words=f"{first.words} or {state}"
            )
    return list(merged.values())


def lowest_stresses(faults: FaultsResult) -> list[tuple[str, StressLine]]:
    """Every stress with the fault that makes it, lowest margin first, unrated ones before all."""
    lines = [(case.name, line) for case in shown_cases(faults) for line in case.lines]
    return sorted(lines, key=lambda pair: _margin(pair[1]))


def stress_row(line: StressLine) -> Row:
    """One rating under one fault."""
    return (
        line.part,
        line.quantity,
        amount(line.stress, line.unit),
        amount(line.rating, line.unit) if line.rating is not None else "not stated",
        ratio(line.derating),
        times(line.ratio),
        line.basis,
    )


def decided_by(case: ShownCase) -> str:
    """The stress with the lowest margin in one phrase; "" where nothing is judged."""
    if not case.lines:
        return ""
    line = case.lines[0]
    held = "no rating stated" if line.rating is None else f"of {amount(line.rating, line.unit)}"
    return f"{line.part}, {line.quantity} {amount(line.stress, line.unit)} {held}"


def derating_words(faults: FaultsResult) -> str:
    """The share of every rating that counts as usable, in one sentence."""
    shares = "; ".join(
        f"{name} {share}".replace(".0\u2009%", "\u2009%")
        for name, share in faults.deratings.items()
    )
    return f"Share of each rating that is used (derating): {shares}." if shares else ""


def _differ_in_sign_only(one: FaultCase, other: FaultCase) -> bool:
    same = (one.name, one.power, one.verdict) == (other.name, other.power, other.verdict)
    if not same or not _agree(one.voltage, -other.voltage):
        return False
    pairs = list(zip(_lines(one), _lines(other), strict=False))
    return len(one.stresses) == len(other.stresses) and all(
        (_either(a.part), a.quantity, a.rating) == (_either(b.part), b.quantity, b.rating)
        and _agree(a.stress, b.stress)
        for a, b in pairs
    )


def _agree(one: float, other: float) -> bool:
    return math.isclose(one, other, rel_tol=AGREEMENT)


def _shown(group: list[FaultCase]) -> ShownCase:
    case, both = max(group, key=lambda c: c.voltage), len(group) > 1
    words, reason, lines = prose(case.words), prose(case.reason), _lines(case)
    if both:
        words, reason = re.sub(r"^\+(?=\d)", "±", words), _either(reason)
        lines = [line.model_copy(update={"part": _either(line.part)}) for line in lines]
    known = [c.survivability for c in group if c.survivability is not None]
    return ShownCase(
        name=case.name,
        words=words,
        verdict=case.verdict,
        reason=reason,
        currents=_currents(case, both),
        survivability=min(known) if known else None,
        lines=tuple(lines),
    )


def _lines(case: FaultCase) -> list[StressLine]:
    return sorted(case.stresses, key=lambda line: (*_margin(line), line.part, line.quantity))


def _margin(line: StressLine) -> tuple[bool, float]:
    return line.ratio is not None, line.ratio or 0.0


def _either(words: str) -> str:
    return SIGNED_RAIL.sub("either rail", words)


def _currents(case: FaultCase, both: bool) -> str:
    """The currents and voltages of one fault in one line."""
    if math.isnan(case.fault_current):
        return "Currents and voltages not solved"
    currents = [
        f"{quantity(case.fault_current, 'current')} through the outer resistor",
        f"pin {quantity(case.pin_current, 'current')}",
        f"clamp {quantity(case.clamp_current, 'current')}",
        f"{'either' if both else case.rail} rail takes {quantity(case.rail_current, 'current')}",
    ]
    if case.rail_load is not None:
        currents.append(f"its load {quantity(case.rail_load, 'current')}")
    if case.rail_rate:
        currents.append(f"rail moves {quantity(case.rail_rate, 'voltage_rate')}")
    voltages = [
        f"clamp node {_voltage(case.clamp_node_voltage, both)}",
        f"pin {_voltage(case.pin_voltage, both)}",
    ]
    if case.rail_settles_at is None:
        return ", ".join([*currents, *voltages])
    level = _voltage(case.rail_settles_at, both)
    return (
        f"Before the rail rises: {', '.join(currents)}. With the rail at {level}: "
        f"{', '.join(voltages)}. Each stress is at the worse of both"
    )


def _voltage(value: float, both: bool) -> str:
    if both:
        return f"±{quantity(abs(value), 'voltage')}"
    return quantity(value, "voltage", signed=True)
