"""Two designs side by side: a row for each figure with its difference, schematics above, budgets below."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from clampwright.record.words import DASH, error_words, nominal, prose, quantity, ratio, times
from clampwright.web.charts import budget_svg, reach_of
from clampwright.web.judged import judged
from clampwright.web.table import Opened, Table
from clampwright.web.views import Said, budget_of, schematic


@dataclass(frozen=True)
class Side:
    """One of the two designs with everything that is set beside the other."""

    title: str
    check: Any
    faults: Any  # None where they cannot be judged
    said: Said
    judgement: Any


@dataclass(frozen=True)
class Row:
    """What is compared, what it is in both designs, and their difference in words.

    shapes : shape of the verdict in both designs, "" in a row of a figure
    """

    what: str
    this: str
    other: str
    difference: str
    shapes: tuple[str, str] = ("", "")


def beside_view(table: Table, this: Opened, other: Opened) -> dict[str, Any]:
    """What the page shows of two designs; both budgets on one scale, as shares of their allowances."""
    pair = _side(table, this), _side(table, other)
    reach = max((reach_of(s.judgement) for s in pair if s.judgement), default=30.0)
    return {
        "sides": [
            {
                "title": side.title,
                "check": side.check,
                "judgement": side.judgement,
                "schematic": schematic(side.check).replace("schematic", f"schematic-{name}"),
                "budget": budget_svg(side.judgement, name=f"budget-{name}", reach=reach)
                if side.judgement
                else "",
            }
            for name, side in zip(("this", "other"), pair, strict=True)
        ],
        "rows": rows(*pair),
    }


def _side(table: Table, opened: Opened) -> Side:
    check = table.check(opened)
    line, why = judged(table, opened)
    faults = None if why else table.faults(opened)
    return Side(check.design.title, check, faults, line, budget_of(check))


def rows(this: Side, other: Side) -> list[Row]:
    """Verdicts, error, margin, noise, speed, faults and parts, this design first."""
    pair = (this, other)
    moving = [side.check.dynamics for side in pair]
    held = [side.said.gate for side in pair]
    found = [_words("held by", [gate or "nothing" for gate in held])] if any(held) else []
    says = ", the numbers say" if any(held) else ", verdict"
    found += [_verdict(topic, says, pair) for topic in ("error", "faults")]
    if all(side.judgement for side in pair):
        judgements = [side.judgement for side in pair]
        found += [
            _error("error", [(j.error, j.volts_per_ampere) for j in judgements], signed=True),
            _error("error at most, 95 %", [(_most(j), j.volts_per_ampere) for j in judgements]),
            _error("allowance ±", [(j.allowance, j.volts_per_ampere) for j in judgements]),
            _times("margin of the error", [_margin(j) for j in judgements]),
            _words("largest term", [_largest(j) for j in judgements]),
        ]
    found += [
        _error("noise, rms in the band", [(m.integrated_noise, m.volts_per_ampere) for m in moving]),
        _figure("bandwidth", [m.bandwidth for m in moving], "frequency"),
        _figure("settling", [m.settling_time for m in moving], "time"),
        _times("fault margin, lowest", [s.faults.survivability if s.faults else None for s in pair]),
        _figure("series resistor", [_outer(s.check.design) for s in pair], "resistance", chosen=True),
        _words("topology", [s.check.topology_title for s in pair]),
        _words("clamp", [_clamp(s.check) for s in pair]),
    ]  # fmt: skip
    if all(side.check.clamp for side in pair):
        clamps = [side.check.clamp for side in pair]
        found += [
            _words("clamp sits at", [prose(c.sits_at_words) for c in clamps]),
            _figure("clamp leaks there", [c.leakage for c in clamps], "current"),
        ]
    return found


def _verdict(topic: str, says: str, pair: tuple[Side, Side]) -> Row:
    this, other = (next(one for one in side.said.lines if one.topic == topic) for side in pair)
    difference = "same" if this.word == other.word else "differs"
    return Row(f"{topic}{says}", this.word, other.word, difference, (this.shape, other.shape))


def _figure(
    what: str, values: list[Any], kind: str, *, signed: bool = False, chosen: bool = False
) -> Row:
    """A quantity in both designs; the difference as the other less this, and how many times this."""
    this, other = values
    write = nominal if chosen else quantity
    texts = (write(this, kind, signed=signed), write(other, kind, signed=signed))
    if this is None or other is None or not math.isfinite(this) or not math.isfinite(other):
        return Row(what, *texts, DASH)
    if texts[0] == texts[1]:
        return Row(what, *texts, "same")
    words = write(other - this, kind, signed=True)
    return Row(what, *texts, words + (f", {ratio(other / this)}×" if this * other > 0 else ""))


def _error(what: str, pairs: list[tuple[float, float | None]], *, signed: bool = False) -> Row:
    """An error or noise (V), as the current at the input where one is asked for."""
    units = {ohms is None for _, ohms in pairs}
    if len(units) > 1:  # volts beside amperes have no difference
        this, other = (error_words(value, ohms, signed=signed) for value, ohms in pairs)
        return Row(what, this, other, DASH)
    kind = "voltage" if True in units else "current"
    return _figure(what, [value / (ohms or 1.0) for value, ohms in pairs], kind, signed=signed)


def _times(what: str, values: list[Any]) -> Row:
    """A margin in both designs; their difference as how many times the other is this one."""
    texts = (times(values[0]), times(values[1]))
    known = all(value is not None and math.isfinite(value) and value > 0 for value in values)
    if texts[0] == texts[1]:
        return Row(what, *texts, "same" if known else DASH)
    return Row(what, *texts, f"{ratio(values[1] / values[0])}×" if known else DASH)


def _words(what: str, texts: list[str]) -> Row:
    this, other = texts
    return Row(what, this, other, "same" if this == other else "differs")


def _most(judgement: Any) -> float:
    return float(max(abs(judgement.low), abs(judgement.high)))


def _margin(judgement: Any) -> float:
    most = _most(judgement)
    return float(judgement.allowance) / most if most > 0 else math.inf


def _largest(judgement: Any) -> str:
    terms = judgement.terms
    if not terms:
        return "none"
    top = max(terms, key=lambda t: max(abs(t.low), abs(t.high)))
    return f"{top.name}, {error_words(top.value, judgement.volts_per_ampere, signed=True)}"


def _outer(design: Any) -> float:
    outer = design.network.outer_resistor
    return float(outer.value * outer.count)


def _clamp(check: Any) -> str:
    return f"{check.clamp.part} {check.clamp.wiring}" if check.clamp else "none"
