"""What is known of a part: its wirings, ratings, laws, evidence and curves, for people to look at."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from clampwright.parts.clamp_part import Clamp
from clampwright.parts.law_fit import FORWARD_LIMIT
from clampwright.parts.law_interval import leakage_interval, leakage_intervals
from clampwright.parts.sheet import PartSheet
from clampwright.parts.wirings import Wiring
from clampwright.physics.clamp import at_conditions
from clampwright.physics.constants import ROOM_TEMPERATURE
from clampwright.physics.ranges import flags
from clampwright.physics.temperature import doubling_interval
from clampwright.physics.terminal import terminal_current_and_slope
from clampwright.quantities import write
from clampwright.quantities.fields import (
    Capacitance,
    Current,
    Illuminance,
    Resistance,
    Temperature,
    TemperatureDifference,
    Voltage,
)
from clampwright.verdict.clamp_summary import evidence_points_drawn, law_words
from clampwright.verdict.known import Known, known_at
from clampwright.verdict.results import Basis, LeakagePoint, Result

Array = NDArray[np.float64]

ROOM = ROOM_TEMPERATURE  # at which wirings are compared
COMPARED_VOLTAGE = 5.0  # [V] reverse
SPAN_DEFAULT = 20.0  # [V] of the reverse branch drawn where no breakdown is stated
FORWARD_END = 1.0  # [V]
VOLTAGE_POINTS = 240
NEAR_ZERO = 0.01  # [V] the region in which the slope at zero is read
NEAR_POINTS = 21
TEMPERATURES = (253.15, 398.15)  # [K] −20…125 °C
ILLUMINANCES = (1.0, 1e5)  # [lx]
OTHER_POINTS = 61
LIT_HEAT = 5.0  # [K] a lit reading this near 23 °C stands on the curve against light

Kind = Literal["voltage", "temperature", "light"]


class CurvePoint(Result):
    """One point of a drawn law: where, and the current with its 95 % interval.

    Against voltage the current is that into the anode (positive forward); else the reverse leakage.
    """

    voltage: Voltage
    temperature: Temperature
    illuminance: Illuminance
    current: Current
    low: Current
    high: Current


class LitPoint(Result):
    """A reading of the reverse leakage in light."""

    voltage: Voltage
    temperature: Temperature
    illuminance: Illuminance
    leakage: Current
    low: Current
    high: Current
    basis: Literal["measured", "not detected"]
    source: str


class Curve(Result):
    """One law drawn against voltage, temperature or light."""

    against: Kind
    words: str
    points: tuple[CurvePoint, ...]


class WiringView(Result):
    """One wiring of the part: what it is, what it may carry, what it leaks and how that is known."""

    name: str
    words: str
    anode: str
    clamp_class: str
    composition: str
    open_leads: tuple[str, ...]
    breakdown_minimum: Voltage | None
    forward_current_maximum: Current | None
    capacitance: Capacitance | None
    rejected: bool
    reason: str
    cautions: tuple[str, ...]
    basis: Basis | None
    known_by: Known | None
    leakage: Current | None
    leakage_low: Current | None
    leakage_high: Current | None
    zero_bias_resistance: Resistance | None
    doubling: TemperatureDifference | None
    law: dict[str, str]
    known: tuple[str, ...]
    assumed: tuple[str, ...]
    lack_of_fit: float | None
    flags: tuple[str, ...]
    evidence: tuple[LeakagePoint, ...]
    lit: tuple[LitPoint, ...]
    curves: tuple[Curve, ...]


class PartResult(Result):
    """Everything `part` finds."""

    id: str
    title: str
    kind: str
    leads: tuple[str, ...]
    package: str
    light: str
    note: str
    sheet_hash: str
    wirings: tuple[WiringView, ...]


def part_view(
    sheet: PartSheet,
    wirings: tuple[Wiring, ...],
    clamp_of: Callable[[Wiring], Clamp],
    sheet_hash: str,
) -> PartResult:
    """Views of every wiring; rejected ones keep their reason and have no law."""
    return PartResult(
        id=sheet.id,
        title=sheet.title,
        kind=sheet.kind,
        leads=sheet.leads,
        package=sheet.package.name,
        light=sheet.package.light,
        note=sheet.note,
        sheet_hash=sheet_hash,
        wirings=tuple(
            _view(w, None if w.rejected or w.clamp_class is None else clamp_of(w)) for w in wirings
        ),
    )


def _view(wiring: Wiring, clamp: Clamp | None) -> WiringView:
    anode = {"first": wiring.first, "second": wiring.second}.get(wiring.anode, ())
    base = {
        "name": wiring.name,
        "words": wiring.words,
        "anode": "+".join(anode) if anode else wiring.anode,
        "clamp_class": wiring.clamp_class or "",
        "composition": wiring.composition,
        "open_leads": wiring.open,
        "breakdown_minimum": wiring.breakdown_minimum,
        "forward_current_maximum": wiring.forward_current_maximum,
        "capacitance": wiring.capacitance,
        "rejected": wiring.rejected,
        "reason": wiring.reason,
        "cautions": wiring.cautions,
    }
    if clamp is None:
        blank = dict.fromkeys(
            ("basis", "known_by", "leakage", "leakage_low", "leakage_high", "zero_bias_resistance")
        )
        rest: dict[str, object] = {
            "doubling": None,
            "law": {},
            "known": (),
            "assumed": (),
            "lack_of_fit": None,
        }
        return WiringView(**base, **blank, **rest, flags=(), evidence=(), lit=(), curves=())
    fitted = clamp.fitted
    interval = leakage_interval(fitted, COMPARED_VOLTAGE, ROOM, lot=clamp.lot)
    slope = float(terminal_current_and_slope(0.0, at_conditions(fitted.law, ROOM))[1])
    warm = float(doubling_interval(ROOM, fitted.law.generation_activation_energy))
    said = flags(fitted.law, -COMPARED_VOLTAGE, ROOM, 0.0)
    return WiringView(
        **base,
        basis=fitted.basis,
        known_by=known_at(clamp, COMPARED_VOLTAGE, ROOM),
        leakage=interval.median,
        leakage_low=interval.low,
        leakage_high=interval.high,
        zero_bias_resistance=1 / slope if slope > 0 else float("inf"),
        doubling=warm,
        law=law_words(clamp),
        known=fitted.known,
        assumed=fitted.assumed,
        lack_of_fit=fitted.lack_of_fit,
        flags=(*fitted.flags, *clamp.notes, *said),
        evidence=evidence_points_drawn(clamp),
        lit=_lit_points(clamp),
        curves=(_against_voltage(clamp), _against_temperature(clamp), _against_light(clamp)),
    )


def _lit_points(clamp: Clamp) -> tuple[LitPoint, ...]:
    """Readings in light near 23 °C and 5 V, where the curve against light is drawn."""
    return tuple(
        LitPoint(
            voltage=p.reverse_voltage, temperature=p.temperature, illuminance=p.illuminance,
            leakage=p.leakage, low=p.interval[0], high=p.interval[1],
            basis="measured" if p.detected else "not detected", source=p.source,
        )
        for p in clamp.points
        if p.illuminance > 0 and abs(p.temperature - ROOM) <= LIT_HEAT and p.reverse_voltage > 0
    )  # fmt: skip


def _against_voltage(clamp: Clamp) -> Curve:
    """Signed current from the reverse span through zero to +1 V, in the dark at 23 °C.

    Evenly spaced within ±10 mV, where the slope at zero is read, and by ratio outside.
    """
    breakdown = clamp.wiring.breakdown_minimum
    span = SPAN_DEFAULT if breakdown is None else min(SPAN_DEFAULT, 1.1 * breakdown)
    near = np.linspace(-NEAR_ZERO, NEAR_ZERO, NEAR_POINTS)
    reverse = np.geomspace(span, NEAR_ZERO, VOLTAGE_POINTS // 2)[:-1]
    forward = np.geomspace(NEAR_ZERO, FORWARD_END, VOLTAGE_POINTS // 2)[1:]
    volts = np.concatenate([-reverse, near, forward])
    state = at_conditions(clamp.fitted.law, ROOM)
    current = np.asarray(terminal_current_and_slope(volts, state)[0], float)
    low, high = current.copy(), current.copy()
    some = volts <= FORWARD_LIMIT  # further forward the class alone speaks and no interval is known
    _, least, most = leakage_intervals(clamp.fitted, -volts[some], ROOM, lot=clamp.lot)
    low[some], high[some] = -most, -least
    points = [
        _point(v, ROOM, 0.0, *ends)
        for v, *ends in np.column_stack([volts, current, low, high]).tolist()
    ]
    words = f"current into the anode at {write(ROOM, 'temperature')}, dark"
    return Curve(against="voltage", words=words, points=tuple(points))


def _against_temperature(clamp: Clamp) -> Curve:
    """Reverse leakage at 5 V, dark, against temperature."""
    heat = np.linspace(*TEMPERATURES, OTHER_POINTS)
    found = leakage_intervals(clamp.fitted, [COMPARED_VOLTAGE], heat, lot=clamp.lot)
    points = [
        _point(-COMPARED_VOLTAGE, t, 0.0, *ends)
        for t, *ends in np.column_stack([heat, *found]).tolist()
    ]
    words = f"reverse leakage at {write(COMPARED_VOLTAGE, 'voltage')}, dark"
    return Curve(against="temperature", words=words, points=tuple(points))


def _against_light(clamp: Clamp) -> Curve:
    """Reverse leakage at 5 V, 23 °C, against illuminance."""
    points = [
        _leak(clamp, COMPARED_VOLTAGE, ROOM, float(e))
        for e in np.geomspace(*ILLUMINANCES, OTHER_POINTS)
    ]
    words = f"reverse leakage at {write(COMPARED_VOLTAGE, 'voltage')}, {write(ROOM, 'temperature')}"
    return Curve(against="light", words=words, points=tuple(points))


def _leak(clamp: Clamp, voltage: float, temperature: float, light: float) -> CurvePoint:
    interval = leakage_interval(clamp.fitted, voltage, temperature, light, lot=clamp.lot)
    return _point(-voltage, temperature, light, interval.median, interval.low, interval.high)


def _point(
    voltage: float, temperature: float, light: float, current: float, low: float, high: float
) -> CurvePoint:
    return CurvePoint(
        voltage=voltage,
        temperature=temperature,
        illuminance=light,
        current=current,
        low=low,
        high=high,
    )
