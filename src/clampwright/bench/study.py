"""What the leakages of a session mean, part by part: fits, diagnosis, lots; in words and numbers.

Parts named alike up to a "#" (npn-small#1, npn-small#2 …) are one lot.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from pydantic import BaseModel, ConfigDict

from clampwright.bench import fits
from clampwright.bench.diagnosis import diagnose, features_of
from clampwright.bench.leakage import Leakage, evidence_points, sentence
from clampwright.bench.lot_statement import lot_statement
from clampwright.errors import InputError
from clampwright.parts.evidence import EvidencePoint
from clampwright.quantities import write

ROOM = 296.15  # [K] to which hot readings are carried
LOT_MARK = "#"
BOUND_MEANING = (
    "A bound (≤) is one-sided 95 %, counted over all readings, detected or not. With a well-known "
    "zero, a current at the detection limit that escapes by chance lies above its bound: a bound is "
    "evidence for a limit, not an estimate of the current, and one reading proves no absence."
)


class PartStudy(BaseModel):
    """One wiring of one part: its results, what the fits say, what it probably is."""

    model_config = ConfigDict(frozen=True)

    part: str
    wiring: str
    results: tuple[str, ...]
    fits: tuple[str, ...]
    diagnosis: str


class StudyResult(BaseModel):
    """Every part of a session, its lots, and how bounds are meant."""

    model_config = ConfigDict(frozen=True)

    readings: str
    parts: tuple[PartStudy, ...]
    lots: tuple[str, ...]
    bounds: str = BOUND_MEANING

    def text(self) -> str:
        """The study as plain text."""
        blocks = []
        for p in self.parts:
            head = [f"{p.part} {p.wiring}"]
            head += [f"  {line}" for line in (*p.results, *p.fits)]
            blocks.append("\n".join([*head, f"  {p.diagnosis}"]))
        return "\n\n".join([*blocks, *self.lots, self.bounds])


def study_of(leakages: Sequence[Leakage], name: str) -> StudyResult:
    """Study of reduced leakages; `name` is that of their readings."""
    groups: dict[tuple[str, str], list[Leakage]] = {}
    for leakage in leakages:
        groups.setdefault((leakage.part, leakage.wiring), []).append(leakage)
    parts = tuple(_part(part, wiring, some) for (part, wiring), some in groups.items())
    return StudyResult(readings=name, parts=parts, lots=_lots(leakages))


def _part(part: str, wiring: str, leakages: Sequence[Leakage]) -> PartStudy:
    points = evidence_points(leakages)
    dark = [p for p in points if p.illuminance == 0]
    deep = [p for p in dark if p.reverse_voltage >= fits.DEEP and p.detected]
    said = (
        _said(lambda: _energy(_most(dark, lambda p: p.reverse_voltage))),
        _said(lambda: fits.voltage_exponent(_most(deep, lambda p: round(p.temperature))).words),
        _said(lambda: fits.zero_bias_slope(dark).words),
        _said(lambda: f"light: {fits.responsivity(_lit(points)).words}"),
    )
    try:
        diagnosis = diagnose(features_of(points)).words
    except InputError as error:
        diagnosis = f"no diagnosis: {error}"
    return PartStudy(
        part=part,
        wiring=wiring,
        results=tuple(_result(x) for x in leakages),
        fits=tuple(text for text in said if text),
        diagnosis=diagnosis,
    )


def _result(leakage: Leakage) -> str:
    return (
        f"{write(leakage.reverse_voltage, 'voltage')}, {write(leakage.temperature, 'temperature')}, "
        f"{write(leakage.illuminance, 'illuminance')}: {sentence(leakage)}"
    )


def _said(fit: Callable[[], str]) -> str:
    """What a fit says, or nothing where its readings were not taken."""
    try:
        return fit()
    except InputError:
        return ""


def _energy(points: Sequence[EvidencePoint]) -> str:
    fit = fits.energy_fit(points)
    cold = fits.infer(fit, ROOM)
    return (
        f"{fits.energy_words(fit)}; at {write(ROOM, 'temperature')} "
        f"{write(cold.value, 'current', digits=2)} "
        f"({write(cold.low, 'current', digits=2)} … {write(cold.high, 'current', digits=2)})"
    )


def _most(
    points: Sequence[EvidencePoint], key: Callable[[EvidencePoint], float]
) -> list[EvidencePoint]:
    """The points of the condition that has the most; the later one of equals."""
    groups: dict[float, list[EvidencePoint]] = {}
    for p in points:
        groups.setdefault(key(p), []).append(p)
    return max(reversed(groups.values()), key=len, default=[])


def _lit(points: Sequence[EvidencePoint]) -> list[EvidencePoint]:
    """Readings at the voltage and temperature at which the part was lit, dark ones with them."""
    lit = [p for p in points if p.illuminance > 0]
    where = {(p.reverse_voltage, round(p.temperature)) for p in lit[:1]}
    return [p for p in points if (p.reverse_voltage, round(p.temperature)) in where]


def _lots(leakages: Sequence[Leakage]) -> tuple[str, ...]:
    groups: dict[tuple[str, str, float, int], list[Leakage]] = {}
    for x in leakages:
        if LOT_MARK in x.part and not x.illuminance > 0:
            lot = x.part.split(LOT_MARK)[0]
            groups.setdefault((lot, x.wiring, x.reverse_voltage, round(x.temperature)), []).append(
                x
            )
    return tuple(
        f"lot {lot} {wiring}, {write(volts, 'voltage')}, {write(some[0].temperature, 'temperature')}: "
        f"{lot_statement(some).words}"
        for (lot, wiring, volts, _), some in groups.items()
        if len(some) > 1
    )


__all__ = ["BOUND_MEANING", "PartStudy", "StudyResult", "study_of"]
