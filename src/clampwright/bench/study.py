"""What the leakages of a session mean, part by part: fits, diagnosis, lots, runs; in words and numbers.

Parts named alike up to a "#" (npn-small#1, npn-small#2 …) are one lot.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log
from textwrap import wrap

from pydantic import BaseModel, ConfigDict

from clampwright.bench.between import one_way, one_way_words
from clampwright.bench.censored import CensoredLot
from clampwright.bench.columns import Readings
from clampwright.bench.diagnosis import Diagnosis, diagnose, features_of
from clampwright.bench.fit_views import (
    EffectView,
    FitView,
    effect_views,
    finger_words,
    fit_views,
)
from clampwright.bench.leakage import Leakage, evidence_points, sentence
from clampwright.bench.lot_statement import compare_lots, lot_of, lot_statement
from clampwright.bench.names import LOT_MARK
from clampwright.bench.runs import Mark, Run, runs_of
from clampwright.errors import InputError
from clampwright.quantities import write

COLUMNS = 100
BOUND_MEANING = (
    "A bound (≤) is one-sided 95 %, counted over all readings, detected or not. With a well-known "
    "zero, a current at the detection limit that escapes by chance lies above its bound: a bound is "
    "evidence for a limit, not an estimate of the current, and one reading proves no absence."
)


class _View(BaseModel):
    model_config = ConfigDict(frozen=True)


class PartStudy(_View):
    """One wiring of one part: its results, what the fits say, what it probably is."""

    part: str
    wiring: str
    results: tuple[str, ...]
    fits: tuple[FitView, ...]
    finger: str  # "" without a reading at a finger's warmth
    runs: tuple[Run, ...]
    diagnosis: str
    effects: tuple[EffectView, ...]
    next_test: str

    def text(self) -> str:
        """Part, results, fits, runs and diagnosis, a line each."""
        lines = [*self.results]
        for fit in self.fits:
            lines += fit.lines()
        lines += [self.finger] if self.finger else []
        lines += [run.text() for run in self.runs]
        lines.append(self.diagnosis)
        ranked = [f"{e.effect} {e.weight:.2f}" for e in self.effects]
        lines += [f"  ranked: {', '.join(ranked)}"] if ranked else []
        return "\n".join([f"{self.part} {self.wiring}", *(f"  {line}" for line in lines)])


class StudyResult(_View):
    """Every part of a session, its lots, its zeros in time, and how bounds are meant."""

    readings: str
    parts: tuple[PartStudy, ...]
    lots: tuple[str, ...]
    zeros: tuple[Run, ...] = ()
    warnings: tuple[str, ...] = ()
    origin: str = ""
    bounds: str = BOUND_MEANING

    def text(self) -> str:
        """The study as plain text."""
        zeros = "\n".join(run.text() for run in self.zeros)
        whose = [f"evidence of {self.origin}"] if self.origin else []
        told = "\n".join([*whose, *(f"! {warning}" for warning in self.warnings)])
        blocks = [told, *(p.text() for p in self.parts), zeros, *self.lots, self.bounds]
        return "\n\n".join("\n".join(_wrapped(block)) for block in blocks if block)


def _wrapped(block: str) -> list[str]:
    """Lines of at most 100 columns, what goes on indented deeper."""
    wrapped: list[str] = []
    for line in block.splitlines():
        indent = " " * (len(line) - len(line.lstrip()))
        deeper = f"{indent}    " if indent else ""
        wrapped += wrap(line, COLUMNS, subsequent_indent=deeper, break_on_hyphens=False)
    return wrapped


def study_of(
    leakages: Sequence[Leakage],
    name: str,
    origin: str = "",
    *,
    readings: Readings | None = None,
    marks: Sequence[Mark] = (),
    warnings: Sequence[str] = (),
) -> StudyResult:
    """Study of reduced leakages; `name` is that of their readings.

    origin : whose evidence it is, "" for this bench
    readings : the raw ones; with times in them their runs are judged too
    marks : what was noted at the bench meanwhile
    """
    groups: dict[tuple[str, str], list[Leakage]] = {}
    for leakage in leakages:
        groups.setdefault((leakage.part, leakage.wiring), []).append(leakage)
    runs = runs_of(readings, marks) if readings is not None else ()
    parts = tuple(
        _part(some, origin, tuple(r for r in runs if (r.part, r.wiring) == (part, wiring)))
        for (part, wiring), some in groups.items()
    )
    return StudyResult(
        readings=name,
        parts=parts,
        lots=_lots(leakages),
        zeros=tuple(r for r in runs if (r.part, r.wiring) not in groups),
        warnings=tuple(warnings),
        origin=origin,
    )


def _part(leakages: Sequence[Leakage], origin: str, runs: tuple[Run, ...]) -> PartStudy:
    points = evidence_points(leakages, origin)
    disturbed = max((run.disturbed for run in runs), default=None)
    found: Diagnosis | None = None
    try:
        found = diagnose(features_of(points, disturbed_share=disturbed))
        words = found.words
    except InputError as error:
        words = f"no diagnosis: {error}"
    return PartStudy(
        part=leakages[0].part,
        wiring=leakages[0].wiring,
        results=tuple(_result(x) for x in leakages),
        fits=fit_views(points),
        finger=finger_words(points),
        runs=runs,
        diagnosis=words,
        effects=effect_views(found) if found else (),
        next_test=found.next_test if found else "",
    )


def _result(leakage: Leakage) -> str:
    return (
        f"{write(leakage.reverse_voltage, 'voltage')}, {write(leakage.temperature, 'temperature')}, "
        f"{write(leakage.illuminance, 'illuminance')}: {sentence(leakage)}"
    )


def _lots(leakages: Sequence[Leakage]) -> tuple[str, ...]:
    """A statement for each lot and condition, then lots read under one condition against each other."""
    groups: dict[tuple[str, float, int], dict[str, list[Leakage]]] = {}
    for x in leakages:
        if LOT_MARK in x.part and not x.illuminance > 0:
            condition = (x.wiring, x.reverse_voltage, round(x.temperature))
            lots = groups.setdefault(condition, {})
            lots.setdefault(x.part.split(LOT_MARK)[0], []).append(x)
    told: list[str] = []
    for (wiring, volts, _), lots in groups.items():
        several = {name: some for name, some in lots.items() if len(some) > 1}
        for name, some in several.items():
            at = f"{write(volts, 'voltage')}, {write(some[0].temperature, 'temperature')}"
            told.append(f"lot {name} {wiring}, {at}: {lot_statement(some).words}")
        if len(several) > 1:
            told.append(f"lots {_compared(several)}")
    return tuple(told)


def _compared(lots: dict[str, list[Leakage]]) -> str:
    """Two lots by Welch's test, which takes hidden parts too; more by analysis of variance."""
    names = list(lots)
    try:
        fitted: list[CensoredLot] = [lot_of(some) for some in lots.values()]
    except InputError as error:
        return f"{' and '.join(names)} cannot be compared: {error}"
    if len(names) == 2:
        return compare_lots(fitted[0], fitted[1], (names[0], names[1])).words
    if any(lot.hidden for lot in fitted):
        return f"{', '.join(names)}: parts not detected, so only two lots can be compared at a time"
    return one_way_words(one_way([[log(x.value) for x in some] for some in lots.values()]), names)


__all__ = ["BOUND_MEANING", "PartStudy", "StudyResult", "study_of"]
