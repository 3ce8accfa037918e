"""Every candidate of a workspace on one scale of leakage, and what its readings say of each part.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import exp
from typing import Literal

from clampwright.actions.candidates import Candidates
from clampwright.errors import InputError
from clampwright.parts.clamp_part import Clamp, sheet_figures
from clampwright.parts.law_interval import leakage_interval, leakage_intervals
from clampwright.parts.lots import tolerance_factor
from clampwright.physics.constants import ROOM_TEMPERATURE
from clampwright.quantities import write
from clampwright.quantities.fields import Current, Ratio, Temperature, Voltage
from clampwright.verdict.known import SAME_HEAT, Known, alike, known_at
from clampwright.verdict.results import LeakagePoint, Result

MOST_CURVES = 64  # laws over heat that are kept
REVERSE = (1e-6, 100.0)  # [V] down to what a bootstrapped clamp sits at


class RulerRow(Result):
    """One candidate: what its law says with the 95 % interval, and what was stated or read.

    marks  : figures and readings near the temperature and the reverse voltage
    far    : those near the temperature only, each at its own voltage
    alike  : further wirings of the part of which the very same is known
    origin : whose evidence, where it is not of this bench
    """

    clamp: str
    title: str
    alike: tuple[str, ...]
    basis: str
    known_by: Known | None
    leakage: Current
    low: Current
    high: Current
    marks: tuple[LeakagePoint, ...]
    far: tuple[LeakagePoint, ...]
    origin: str


class RulerResult(Result):
    """All candidates in the dark at one reverse voltage and temperature, quietest first."""

    voltage: Voltage
    temperature: Temperature
    rows: tuple[RulerRow, ...]
    left_out: tuple[str, ...]  # whose breakdown may lie below that voltage


class LotSpan(Result):
    """A lot as a sheet states it: median by the law, spread, and the 95/95 upper tolerance limit."""

    clamp: str
    count: int
    log_standard_deviation: Ratio
    factor: Ratio
    voltage: Voltage
    temperature: Temperature
    median: Current
    low: Current
    high: Current
    upper_limit: Current
    words: str


def ruler(
    candidates: Candidates, voltage: float = 5.0, temperature: float = ROOM_TEMPERATURE
) -> RulerResult:
    """Every candidate, dark. voltage : V reverse, 1 µV…100 V; temperature : K, 173…473."""
    if not REVERSE[0] <= voltage <= REVERSE[1]:
        raise InputError(
            f"a reverse voltage of {write(voltage, 'voltage')} is outside the ruler",
            expected=f"{write(REVERSE[0], 'voltage')} to {write(REVERSE[1], 'voltage')}",
        )
    rows: dict[tuple[object, ...], list[RulerRow]] = {}
    left_out = []
    for clamp in candidates.clamps.values():
        breakdown = clamp.wiring.breakdown_minimum
        if breakdown is not None and voltage >= breakdown:
            left_out.append(clamp.name)
        else:
            row = _row(clamp, voltage, temperature)
            same = (clamp.sheet.id, row.basis, row.leakage, row.low, row.high, row.marks, row.far)
            rows.setdefault(same, []).append(row)
    merged = [
        some[0].model_copy(update={"alike": tuple(r.clamp for r in some[1:])})
        for some in rows.values()
    ]
    return RulerResult(
        voltage=voltage,
        temperature=temperature,
        rows=tuple(sorted(merged, key=lambda row: row.leakage)),
        left_out=tuple(left_out),
    )


def _row(clamp: Clamp, voltage: float, temperature: float) -> RulerRow:
    interval = leakage_interval(clamp.fitted, voltage, temperature, lot=clamp.lot)
    warm = [p for p in _points(clamp) if abs(p.temperature - temperature) <= SAME_HEAT]
    marks = tuple(p for p in warm if alike(p.voltage, voltage))
    far = tuple(p for p in warm if p.voltage > 0 and not alike(p.voltage, voltage))
    whose = {p.source.split(",")[0] for p in clamp.points}
    origin = ", ".join(sorted(w.removeprefix("evidence of ") for w in whose - {"bench"}))
    return RulerRow(
        clamp=clamp.name, title=clamp.sheet.title, alike=(), basis=clamp.fitted.basis,
        known_by=known_at(clamp, voltage, temperature),
        leakage=interval.median, low=interval.low, high=interval.high, marks=marks,
        far=far, origin=origin,
    )  # fmt: skip


def _points(clamp: Clamp) -> list[LeakagePoint]:
    """Dark readings and data-sheet figures of a wiring, each with what kind of number it is."""
    found = []
    for p in clamp.points:
        if p.illuminance == 0:
            low, high = p.interval
            found.append(
                LeakagePoint(
                    temperature=p.temperature, voltage=p.reverse_voltage, leakage=p.leakage,
                    low=low, high=high, basis="measured" if p.detected else "not detected",
                    source=p.source,
                )
            )  # fmt: skip
    typical, maxima = sheet_figures(clamp.sheet, clamp.wiring)
    for kind, figures in (("typical", typical), ("maximum", maxima)):
        for figure in figures:
            found.append(
                LeakagePoint(
                    temperature=figure.temperature, voltage=figure.reverse_voltage,
                    leakage=figure.leakage, low=0.0 if kind == "maximum" else figure.leakage,
                    high=figure.leakage, basis=kind, source=figure.source,
                )
            )  # fmt: skip
    return found


def law_over_heat(
    clamp: Clamp, voltage: float, temperatures: Sequence[float]
) -> tuple[LeakagePoint, ...]:
    """The law of a clamp in the dark with its 95 % interval, at one reverse voltage (V), over K."""
    return _law_over_heat(clamp, voltage, tuple(temperatures))


@lru_cache(maxsize=MOST_CURVES)
def _law_over_heat(
    clamp: Clamp, voltage: float, temperatures: tuple[float, ...]
) -> tuple[LeakagePoint, ...]:
    """The same, kept while a slider leaves the voltage alone."""
    found = leakage_intervals(clamp.fitted, [voltage], temperatures, lot=clamp.lot)
    kind: Literal["assumed", "predicted"]
    kind = "assumed" if clamp.fitted.basis == "assumed" else "predicted"
    source = f"law at {write(voltage, 'voltage')}"
    return tuple(
        LeakagePoint(
            temperature=float(t), voltage=voltage, leakage=float(median), low=float(low),
            high=float(high), basis=kind, source=source,
        )
        for t, median, low, high in zip(temperatures, *found, strict=True)
    )  # fmt: skip


def lots(
    candidates: Candidates, voltage: float = 5.0, temperature: float = ROOM_TEMPERATURE
) -> tuple[LotSpan, ...]:
    """Every lot that a part sheet states, carried by its law to a voltage (V) and temperature (K)."""
    found = []
    for clamp in candidates.clamps.values():
        breakdown = clamp.wiring.breakdown_minimum
        if clamp.lot is None or (breakdown is not None and voltage >= breakdown):
            continue
        median = leakage_interval(clamp.fitted, voltage, temperature).median
        factor = tolerance_factor(clamp.lot.count)
        spread = clamp.lot.log_standard_deviation
        limit = median * clamp.lot.upper_factor()
        found.append(
            LotSpan(
                clamp=clamp.name, count=clamp.lot.count, log_standard_deviation=spread,
                factor=factor, voltage=voltage, temperature=temperature, median=median,
                low=median / clamp.lot.upper_factor(), high=limit, upper_limit=limit,
                words=(
                    f"{clamp.name}: {clamp.lot.count} parts, spread ×{exp(spread):.2f} from part to part; "
                    f"95 % of the lot below {write(limit, 'current', digits=2)} with 95 % confidence "
                    f"(K {factor:.2f}), if log-normal"
                ),
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda lot: lot.upper_limit))
