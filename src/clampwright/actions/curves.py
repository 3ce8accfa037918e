"""Clamp laws as curves over voltage, at one temperature and light, to lay over each other.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
Arrays carry their unit in their name; a place where a law says nothing is None.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampwright.actions.candidates import Candidates
from clampwright.errors import InputError
from clampwright.network.machine_code import is_made
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.law_fit import FORWARD_LIMIT
from clampwright.parts.law_interval import leakage_intervals
from clampwright.physics.clamp import ClampState, at_conditions
from clampwright.physics.constants import ROOM_TEMPERATURE
from clampwright.physics.terminal import at_junction, terminal_current_and_slope
from clampwright.quantities import write
from clampwright.quantities.fields import (
    Current,
    Illuminance,
    Resistance,
    Temperature,
    TemperatureDifference,
    Voltage,
)
from clampwright.verdict.clamp_summary import light_is_known
from clampwright.verdict.known import SAME_HEAT, Known, known_at, light_known_at
from clampwright.verdict.part_view import FORWARD_END, NEAR_ZERO
from clampwright.verdict.results import Result

Array = NDArray[np.float64]
Numbers = tuple[float | None, ...]

MOST_LAWS = 9  # in one answer; at most five are laid over each other
LONGEST_SPAN = 100.0  # [V] reverse
BRANCH_POINTS, NEAR_POINTS = 60, 31  # a point every few pixels of a wide chart
DRAWN_BEYOND_BREAKDOWN = 1.1  # [1] of the stated minimum
REACH = 2.0  # [K] past the readings a line still counts as covered, so that one reading shows
SAME_LIGHT = 0.2  # [1] relative, the same for light
HOTTER = np.arange(0.0, 82.0, 2.0)  # [K] steps in which a doubling is looked for


class CurveEvidence(Result):
    """A reading or data-sheet figure over the curve; current into the anode, negative in reverse.

    here : whether it was taken at the temperature and light that are drawn
    """

    voltage: Voltage
    temperature: Temperature
    illuminance: Illuminance
    current: Current
    low: Current
    high: Current
    basis: str
    here: bool
    source: str


class DrawnLaw(Result):
    """One law: its current over `CurvesResult.voltage_volt` and what is read off it.

    covered_from_volt, covered_to_volt : where readings reach at this temperature and light
    at_voltage : current at the voltage asked for, with its 95 % interval where one is known
    doubling   : warming that doubles that current in the dark; None beyond 80 K
    """

    clamp: str
    title: str
    basis: str
    known_by: Known | None
    current_ampere: Numbers
    low_ampere: Numbers
    high_ampere: Numbers
    covered_from_volt: float | None
    covered_to_volt: float | None
    at_voltage: Current | None
    at_voltage_low: Current | None
    at_voltage_high: Current | None
    zero_bias_resistance: Resistance
    current_at_zero: Current
    doubling: TemperatureDifference | None
    evidence: tuple[CurveEvidence, ...]


class DetectionLimit(Result):
    """The smallest current an instrument detected, the median over its results."""

    instrument: str
    current: Current


class CurvesResult(Result):
    """Laws over each other at one temperature and light; `voltage_volt` is anode minus cathode."""

    temperature: Temperature
    illuminance: Illuminance
    voltage: Voltage
    span: Voltage
    voltage_volt: tuple[float, ...]
    laws: tuple[DrawnLaw, ...]
    limits: tuple[DetectionLimit, ...]


def curves(
    candidates: Candidates,
    names: Sequence[str],
    *,
    temperature: float = ROOM_TEMPERATURE,
    illuminance: float = 0.0,
    voltage: float = -5.0,
    span: float = 20.0,
) -> CurvesResult:
    """Laws of up to nine clamps between −`span` and +1 V.

    temperature : K, 173…473 · illuminance : lx, 0…1e6 · span : V reverse, 0.1…100
    voltage     : V, anode minus cathode, at which currents are read off, −span…+1
    Raises InputError outside these ranges and for a clamp that is not there.
    """
    _within("temperature", temperature, 173.0, 473.0, "temperature")
    _within("illuminance", illuminance, 0.0, 1e6, "illuminance")
    _within("span", span, 0.1, LONGEST_SPAN, "voltage")
    _within("voltage", voltage, -span, FORWARD_END, "voltage")
    if not 1 <= len(names) <= MOST_LAWS:
        raise InputError(f"{len(names)} laws at once", expected=f"1 to {MOST_LAWS}")
    volts = _voltages(span)
    clamps = candidates.named(list(dict.fromkeys(names)))
    solved = _solved(clamps, volts, temperature, illuminance, voltage)
    where = (temperature, illuminance, voltage)
    laws = tuple(
        _drawn(clamp, volts, current, slope, warmed, where)
        for clamp, current, slope, warmed in zip(clamps, *solved, strict=True)
    )
    return CurvesResult(
        temperature=temperature, illuminance=illuminance, voltage=voltage, span=span,
        voltage_volt=tuple(volts.tolist()), laws=laws,
        limits=tuple(
            DetectionLimit(instrument=name, current=limit)
            for name, limit in candidates.detection_limits.items()
        ),
    )  # fmt: skip


def _within(name: str, value: float, low: float, high: float, kind: str) -> None:
    if not low <= value <= high:
        raise InputError(
            f"{name} {write(value, kind)} is outside what is drawn",
            expected=f"{write(low, kind)} to {write(high, kind)}",
        )


def _voltages(span: float) -> Array:
    """Evenly spaced within ±10 mV, by ratio outside."""
    near = np.linspace(-NEAR_ZERO, NEAR_ZERO, NEAR_POINTS)
    reverse = np.geomspace(span, NEAR_ZERO, BRANCH_POINTS)[:-1]
    forward = np.geomspace(NEAR_ZERO, FORWARD_END, BRANCH_POINTS)[1:]
    return np.concatenate([-reverse, near, forward])


def _solved(
    clamps: Sequence[Clamp], volts: Array, temperature: float, illuminance: float, voltage: float
) -> tuple[Array, Array, Array]:
    """Terminal currents of all laws in one solution, a row each.

    Over `volts` and then at `voltage` and 0 V; slopes (S) there; then sizes at `voltage` in the dark
    while it warms in steps of `HOTTER`: of the current, or of the slope where `voltage` is 0.
    """
    asked = np.concatenate([volts, [voltage, 0.0], np.full_like(HOTTER, voltage)])
    heat = np.full_like(asked, temperature)
    light = np.full_like(asked, illuminance)
    heat[-HOTTER.size :] += HOTTER
    light[-HOTTER.size :] = 0.0
    states = [at_conditions(clamp.fitted.law, heat, light) for clamp in clamps]
    fields = {
        name: np.stack([np.broadcast_to(getattr(s, name), asked.shape) for s in states])
        for name in vars(states[0])
    }
    rows = np.broadcast_to(asked, (len(states), asked.size))
    current, slope = _through(rows, ClampState(**fields))
    size = np.abs(current if voltage else slope)[:, -HOTTER.size :]
    end = volts.size + 2
    return current[:, :end], slope[:, :end], size


def _through(voltage: Array, state: ClampState) -> tuple[Array, Array]:
    """Terminal current (A) and slope (S), by compiled code once that is made."""
    if not is_made():
        return terminal_current_and_slope(voltage, state)
    from clampwright.network.junctions import junction_voltages

    return at_junction(voltage, junction_voltages(voltage, state), state)


def _drawn(
    clamp: Clamp, volts: Array, solved: Array, slopes: Array, warmed: Array,
    where: tuple[float, float, float],
) -> DrawnLaw:  # fmt: skip
    temperature, illuminance, voltage = where
    asked = np.append(volts, [voltage, 0.0])
    current, low, high = _with_interval(clamp, asked, solved, temperature, illuminance)
    slope = float(slopes[-1])
    start, end = _covered(clamp, temperature, illuminance)
    return DrawnLaw(
        clamp=clamp.name,
        title=clamp.sheet.title,
        basis=clamp.fitted.basis,
        known_by=_known(clamp, voltage, temperature, illuminance),
        current_ampere=_numbers(current[:-2]),
        low_ampere=_numbers(low[:-2]),
        high_ampere=_numbers(high[:-2]),
        covered_from_volt=start,
        covered_to_volt=end,
        at_voltage=_number(current[-2]),
        at_voltage_low=_number(low[-2]),
        at_voltage_high=_number(high[-2]),
        zero_bias_resistance=1 / slope if slope > 0 else float("inf"),
        current_at_zero=float(current[-1]),
        doubling=_doubling(warmed),
        evidence=_evidence(clamp, volts[0], temperature, illuminance),
    )


def _known(clamp: Clamp, voltage: float, temperature: float, illuminance: float) -> Known | None:
    """How the current at a voltage is known; in light by the readings in light."""
    dark = known_at(clamp, -voltage, temperature)
    if dark is None or illuminance == 0:
        return dark
    lit = light_known_at(clamp, illuminance, temperature) if light_is_known(clamp) else None
    return lit or dark.model_copy(update={"kind": "partly class"})


def _with_interval(
    clamp: Clamp, volts: Array, solved: Array, temperature: float, illuminance: float
) -> tuple[Array, Array, Array]:
    """Current into the anode with its 95 % interval; NaN where nothing is known of it.

    Beyond the stated breakdown no line is drawn; further forward than 0.15 V the class alone speaks
    and no interval is known.
    """
    current = np.array(solved, float)
    low, high = np.full_like(current, np.nan), np.full_like(current, np.nan)
    some = volts <= FORWARD_LIMIT
    _, least, most = leakage_intervals(
        clamp.fitted, -volts[some], temperature, illuminance, lot=clamp.lot
    )
    low[some], high[some] = -most, -least
    breakdown = clamp.wiring.breakdown_minimum
    if breakdown is not None:
        beyond = volts < -DRAWN_BEYOND_BREAKDOWN * breakdown
        current[beyond] = low[beyond] = high[beyond] = np.nan
    return current, low, high


def _covered(
    clamp: Clamp, temperature: float, illuminance: float
) -> tuple[float, float] | tuple[None, None]:
    """Voltages between which readings hold the law at this temperature and light."""
    known = clamp.fitted.temperature_range
    lit = illuminance > 0 and not any(t.startswith("photocurrent") for t in clamp.fitted.known)
    volts = [-p.reverse_voltage for p in clamp.points]
    if known is None or lit or not volts:
        return None, None
    if not known[0] - REACH <= temperature <= known[1] + REACH:
        return None, None
    return min(volts), max(0.0, *volts)


def _doubling(size: Array) -> float | None:
    """Warming (K) at which `size` over `HOTTER` has doubled; None where it does not."""
    if not size[0] > 0 or not (size >= 2 * size[0]).any():
        return None
    first = int(np.argmax(size >= 2 * size[0]))
    below, above = np.log(size[first - 1 : first + 1] / (2 * size[0]))
    return float(HOTTER[first - 1] - below / (above - below) * (HOTTER[1] - HOTTER[0]))


def _evidence(
    clamp: Clamp, furthest: float, temperature: float, illuminance: float
) -> tuple[CurveEvidence, ...]:
    """Readings within the span, those of the drawn temperature and light last, so on top."""
    found = []
    for p in clamp.points:
        if not furthest <= -p.reverse_voltage <= FORWARD_END:
            continue
        low, high = p.interval
        near = abs(p.temperature - temperature) <= SAME_HEAT
        lit = abs(p.illuminance - illuminance) <= SAME_LIGHT * illuminance
        found.append(
            CurveEvidence(
                voltage=-p.reverse_voltage, temperature=p.temperature, illuminance=p.illuminance,
                current=-p.leakage, low=-high, high=-low,
                basis="measured" if p.detected else "not detected", here=near and lit,
                source=p.source,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda p: p.here))


def _numbers(values: Array) -> Numbers:
    return tuple(
        v if v - v == 0 else None for v in values.tolist()
    )  # nan and inf stand for nothing


def _number(value: Any) -> float | None:
    return float(value) if np.isfinite(value) else None
