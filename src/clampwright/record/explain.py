"""What `--explain` prints: each formula with its source, each number with what it rests on."""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import wrap

from clampwright.quantities import write
from clampwright.record.formulas import formulas_used
from clampwright.verdict.results import CheckResult, FaultsResult

COLUMNS = 100


def explain_check(check: CheckResult) -> str:
    """Formulas, then every term of every judgement with its interval, basis and source."""
    lines = ["Formulas", *_formulas(check), "", "Numbers"]
    for judgement in check.judgements:
        limit = write(judgement.allowance, "voltage")
        lines.append(f"  {judgement.name} at {judgement.corner.words()}; allowance {limit}")
        for term in judgement.terms:
            low, high = (write(v, "voltage", signed=True) for v in (term.low, term.high))
            value = write(term.value, "voltage", signed=True)
            lines.append(f"    {term.name}: {value} ({low} to {high}), {term.basis}, {term.source}")
    if check.clamp:
        lines += ["", f"Law of {check.clamp.part} {check.clamp.wiring}"]
        lines += [f"  {name}: {value}" for name, value in check.clamp.law.items()]
        lines += [f"  measured: {text}" for text in check.clamp.known]
        lines += [f"  assumed: {text}" for text in check.clamp.assumed]
    lines += ["", "Solution"]
    lines.append(
        f"  largest residual {check.residual:.1e} of the currents into a node, beyond rounding; "
        "no artificial shunt anywhere"
    )
    lines += ["", "Inputs (SHA-256)"]
    lines += [f"  {name}: {value[:16]}…" for name, value in check.inputs.items()]
    return _folded(lines)


def explain_faults(faults: FaultsResult) -> str:
    """Every stress line of every fault, the share of each rating used, and the defaults."""
    lines = ["Stress lines (usable rating over stress)"]
    for case in faults.cases:
        lines.append(f"  fault {case.name}: {case.words}")
        for line in case.stresses:
            ratio = "no rating" if line.ratio is None else f"×{line.ratio:.3g}"
            rating = "–" if line.rating is None else f"{line.rating:.4g} {line.unit}"
            lines.append(
                f"    {line.part}, {line.quantity}: {line.stress:.4g} {line.unit} against "
                f"{line.derating:.0%} of {rating}, {ratio}, {line.basis}"
                + (f" ({line.note})" if line.note else "")
            )
    lines += ["", "Share of each rating that may be used (common practice, no source)"]
    lines += [f"  {name}: {share}" for name, share in faults.deratings.items()]
    lines += ["", "Defaults", *(f"  {text}" for text in faults.defaults)]
    return _folded(lines)


def _formulas(check: CheckResult) -> list[str]:
    return [f"  {f.name}: {f.equation} — {f.source}" for f in formulas_used(check)]


def _folded(lines: Iterable[str]) -> str:
    out = []
    for line in lines:
        indent = " " * (len(line) - len(line.lstrip()) + 4)
        out += wrap(line, COLUMNS, subsequent_indent=indent) or [""]
    return "\n".join(out)
