"""What `--explain` prints: each formula with its source, each number with what it rests on."""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import wrap

from clampwright.record.fault_cases import derating_words, shown_cases, stress_row
from clampwright.record.formulas import formulas_used
from clampwright.record.further_text import explained
from clampwright.record.sensor_unit import sensor_unit
from clampwright.record.tables import term_row
from clampwright.record.words import COLUMNS, corner_words, error_words, residual_words
from clampwright.verdict.results import CheckResult, FaultsResult


def explain_check(check: CheckResult) -> str:
    """Formulas, then every term of every judgement with its interval, basis and source."""
    lines = ["Formulas", *_formulas(check), "", "Numbers"]
    for judgement in check.judgements:
        limit = error_words(judgement.allowance, judgement.volts_per_ampere)
        unit = sensor_unit(check.design, judgement.corner)
        lines.append(f"  {judgement.name} at {corner_words(judgement.corner)}; allowance ± {limit}")
        for term in judgement.terms:
            name, value, *_, ends, basis, source = term_row(term, unit, judgement.room)
            lines.append(f"    {name}: {value} ({ends}), {basis}, {source}")
    if check.clamp:
        lines += ["", f"Law of {check.clamp.part} {check.clamp.wiring}"]
        lines += [f"  {name}: {value}" for name, value in check.clamp.law.items()]
        lines += [f"  from readings: {text}" for text in check.clamp.known]
        lines += [f"  assumed: {text}" for text in check.clamp.assumed]
    if check.further:
        lines += ["", "Further answers", *(f"  {line}" for line in explained(check))]
    lines += ["", "Solution"]
    lines.append(
        f"  largest residual: {residual_words(check.residual)}; no artificial shunt anywhere"
    )
    lines += ["", "Inputs (SHA-256)"]
    lines += [f"  {name}: {value[:16]}…" for name, value in check.inputs.items()]
    return _folded(lines)


def explain_faults(faults: FaultsResult) -> str:
    """Every stress line of every fault, the share of each rating used, and the defaults."""
    lines = ["Stress lines (margin: usable rating over stress)"]
    for case in shown_cases(faults):
        lines.append(f"  fault {case.name}: {case.words}")
        lines.append(f"    {case.currents}")
        for line in case.lines:
            part, what, stress, rating, derating, margin, basis = stress_row(line)
            lines.append(
                f"    {part}, {what}: {stress} against {derating} of {rating}, margin {margin}, "
                f"{basis}" + (f" ({line.note})" if line.note else "")
            )
    lines += ["", derating_words(faults), "(common practice, no source)"]
    lines += ["", "Defaults", *(f"  {text}" for text in faults.defaults)]
    return _folded(lines)


def _formulas(check: CheckResult) -> list[str]:
    return [f"  {f.name}: {f.equation} — {f.source}" for f in formulas_used(check)]


def _folded(lines: Iterable[str]) -> str:
    out = []
    for line in lines:
        indent = " " * (len(line) - len(line.lstrip()) + 4)
        out += wrap(line, COLUMNS, subsequent_indent=indent, break_on_hyphens=False) or [""]
    return "\n".join(out)
