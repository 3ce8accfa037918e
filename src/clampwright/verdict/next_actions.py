"""What one bench action would add: a reading of the clamp, of its lot, of the amplifier.

Each action is told by what design and clamp would be after it, as if it found what is expected now; the
law is fitted again with the reading in it, so that shared scale and temperature errors count.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from clampwright.bench.methods import Method, meter_alone, timed_charge
from clampwright.bench.planner import Expectation, Plan, plan_at
from clampwright.parts.amplifiers import amplifier_class
from clampwright.parts.clamp_part import Clamp, clamp_part
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.law_model import reverse_leakage
from clampwright.parts.lots import LotSpread
from clampwright.quantities import write
from clampwright.verdict.adjust import MATCH_PROBABLE
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import bias_current
from clampwright.verdict.layout import topology_of
from clampwright.verdict.places import NEAR_ZERO, NEAREST_ZERO, in_use, sits

ROOM = 296.15  # [K] 23 °C
WARM = 5.0  # [K] above which a board counts as hot
WARM_LEVELS = (318.15, 333.15)  # [K] 45 and 60 °C, reached with any hair dryer and box
HOTTEST = 353.15  # [K] plastic packages and hot-air guns, common practice
GATE = 0.2  # [s] ten cycles of 50 Hz
READINGS, MANY = 10, 100
COMPARED_VOLTAGE = 5.0  # [V] a clamp near zero volts is read here for its leakage
BRIGHT = 1000.0  # [lx] of a lamp at the bench
LIGHT_UNCERTAINTY = 0.1  # [1] standard, of a pocket light meter; common practice
HANDLING_MINUTES = 5.0  # to fit another part; common practice
AMPLIFIER_MINUTES = 20.0  # to free the input, close the box and let it settle; common practice
INPUT_CAPACITANCE = 10e-12  # [F] that the bias current charges where no adapter sees it
INPUT_SECONDS = 600.0
OFFSET_MINUTES = 10.0
METER_STEP = 1e-6  # [V] of a bench meter that reads the amplifier's output


@dataclass(frozen=True)
class Reading:
    """One action: what to do, for which input, how long, and what is known after it.

    relative : half of the 95 % interval over the value (1) that a group of terms keeps, where design
        and clamp cannot say it; seen : whether the method can read what is expected
    """

    action: str
    input: str
    how: str
    minutes: float
    seen: bool
    design: Design
    clamp: Clamp | None
    relative: dict[str, float] = field(default_factory=dict)


def readings(design: Design, clamp: Clamp | None, methods: Sequence[Method]) -> list[Reading]:
    """Everything that one sitting at the bench could add to a design."""
    usable = list(methods) or [meter_alone()]
    found = list(_amplifier(design, clamp, usable))
    if clamp is not None:
        found += list(_law(design, clamp, usable))
        found += list(_lot(design, clamp, usable))
        found += list(_match(design, clamp, usable))
    return found


def place_of_use(design: Design) -> float:
    """Largest reverse voltage (V) at which a clamp sits in normal use; at least 10 mV."""
    topology = topology_of(design)
    ends = (design.requirement.signal_minimum, design.requirement.signal_maximum)
    volts = max(-sits(design, topology, side, v) for side in topology.sides for v in ends)
    return max(volts, NEAREST_ZERO)


def _law(design: Design, clamp: Clamp, methods: Sequence[Method]) -> Iterator[Reading]:
    """Hot point, slope near zero, second voltage, more readings, dark and lit."""
    volts = place_of_use(design)
    near = volts < NEAR_ZERO
    for heat in hot_levels(design):
        at = write(heat, "temperature")
        if near:
            name = f"read the slope at ±10 mV, {at}"
            yield _point(design, clamp, methods, name, "slope near 0 V", (NEAREST_ZERO, heat, 0.0))
        where = COMPARED_VOLTAGE if near else volts
        name = f"read the part at {write(where, 'voltage', digits=2)}, {at}"
        yield _point(design, clamp, methods, name, "hot point", (where, heat, 0.0))
    if near:
        name = "read the slope at ±10 mV, 23 °C"
        yield _point(design, clamp, methods, name, "slope near 0 V", (NEAREST_ZERO, ROOM, 0.0))
    second = (COMPARED_VOLTAGE if near else volts) / 2
    name = f"read at a second voltage, {write(second, 'voltage', digits=2)}, 23 °C"
    yield _point(design, clamp, methods, name, "second voltage", (second, ROOM, 0.0))
    where = COMPARED_VOLTAGE if near else volts
    name = f"wait longer: {MANY} readings at {write(where, 'voltage', digits=2)}, 23 °C"
    yield _point(design, clamp, methods, name, "longer wait", (where, ROOM, 0.0), count=MANY)
    if design.board.illuminance_maximum > 0:
        name = f"read dark and lit ({BRIGHT:.0f} lx), 23 °C"
        yield _point(design, clamp, methods, name, "light", (where, ROOM, BRIGHT), times=2)


def _point(
    design: Design,
    clamp: Clamp,
    methods: Sequence[Method],
    action: str,
    about: str,
    place: tuple[float, float, float],
    *,
    count: int = READINGS,
    times: int = 1,
) -> Reading:
    plan, method = _planned(clamp, methods, place, count)
    point = expected_point(clamp, method, place, count)
    return Reading(
        action=action,
        input=about,
        how=_how(plan, times),
        minutes=plan.minutes + (times - 1) * _again(plan),
        seen=plan.expected >= plan.detection_limit,
        design=design,
        clamp=with_points(design, clamp, [point]),
    )


def _lot(design: Design, clamp: Clamp, methods: Sequence[Method]) -> Iterator[Reading]:
    """More parts of the lot, and the very part that will be fitted."""
    if clamp.lot is None:
        return
    heat = max(hot_levels(design)[0], ROOM)
    place = (_read_at(design), heat, 0.0)
    plan, method = _planned(clamp, methods, place, READINGS)
    seen, at = plan.expected >= plan.detection_limit, write(heat, "temperature")
    for more in (1, 5):
        lot = LotSpread(clamp.lot.count + more, clamp.lot.log_standard_deviation)
        yield Reading(
            action=f"read {more} more part{'s' if more > 1 else ''} of the lot, {at}",
            input="lot",
            how=_how(plan, more),
            minutes=plan.minutes + (more - 1) * _again(plan),
            seen=seen,
            design=design,
            clamp=replace(clamp, lot=lot),
        )
    point = expected_point(clamp, method, place, READINGS)
    sure = replace(with_points(design, clamp, [point]), lot=None)
    twice = design.network.pair
    what = "both clamps of the very package" if twice else "the very part"
    learns = ": their level and their match" if twice else ""
    yield Reading(
        action=f"read {what} that will be fitted, {at}{learns}",
        input="the part itself",
        how=f"{_how(plan, 2 if twice else 1)}; holds for what was read, so mark and fit it",
        minutes=plan.minutes + (_again(plan) if twice else 0.0),
        seen=seen,
        design=_matched(design) if twice else design,
        clamp=sure,
    )


def _match(design: Design, clamp: Clamp, methods: Sequence[Method]) -> Iterator[Reading]:
    """The match of the two clamps that oppose each other in a differential input."""
    if not design.network.pair or design.network.clamp_match is not None:
        return
    heat = max(hot_levels(design)[0], ROOM)
    plan, _ = _planned(clamp, methods, (_read_at(design), heat, 0.0), READINGS)
    yield Reading(
        action=f"read the match of the two clamps in one package, {write(heat, 'temperature')}",
        input="match",
        how=_how(plan, 2),
        minutes=plan.minutes + _again(plan),
        seen=plan.expected >= plan.detection_limit,
        design=_matched(design),
        clamp=clamp,
    )


def _matched(design: Design) -> Design:
    network = design.network.model_copy(update={"clamp_match": MATCH_PROBABLE})
    return design.model_copy(update={"network": network})


def _amplifier(design: Design, clamp: Clamp | None, methods: Sequence[Method]) -> Iterator[Reading]:
    """Bias current where it is not measured yet; offset where no zero takes it away."""
    import numpy as np

    amplifier = design.amplifier
    if amplifier.bias_kind != "measured" or amplifier.bias_current is None:
        stated = amplifier.bias_current
        if stated is None:
            low, high = amplifier_class(amplifier.family).bias_current
            stated = float(np.sqrt(low * high))
        read = amplifier.model_copy(update={"bias_current": stated, "bias_kind": "measured"})
        hot = np.array([design.board.temperature_maximum])
        current = abs(float(bias_current(read, hot)[0]))
        own = timed_charge(INPUT_CAPACITANCE, INPUT_SECONDS, bias=1.0)
        best = min((*methods, own), key=lambda m: m.errors(current, GATE, READINGS).total)
        error = best.errors(current, GATE, READINGS).total
        yield Reading(
            action=f"read the amplifier's bias current, {write(float(hot[0]), 'temperature')}",
            input="bias current",
            how=f"{best.name}, input free and shielded; expect {write(current, 'current', digits=2)}",
            minutes=AMPLIFIER_MINUTES + best.settling / 60,
            seen=current >= best.smallest_seen(GATE, READINGS),
            design=design.model_copy(update={"amplifier": read}),
            clamp=clamp,
            relative={"bias": 1.96 * error / current if current else 0.0},
        )
    offset = abs(amplifier.offset_voltage)
    if offset > 0 and design.requirement.calibration_temperature is None:
        yield Reading(
            action="read the amplifier's offset with its input shorted, and subtract it",
            input="offset",
            how=f"meter at the output, steps of {write(METER_STEP, 'voltage')}; drift stays",
            minutes=OFFSET_MINUTES,
            seen=offset > METER_STEP,
            design=_zeroed(design),
            clamp=clamp,
        )


def _zeroed(design: Design) -> Design:
    requirement = design.requirement.model_copy(update={"calibration_temperature": ROOM})
    return design.model_copy(update={"requirement": requirement})


def hot_levels(design: Design) -> list[float]:
    """Temperatures (K) worth a warm reading, the hottest board first where it is warm."""
    board = min(design.board.temperature_maximum, HOTTEST)
    others = [t for t in WARM_LEVELS if abs(t - board) > WARM]
    return [board, *others] if board > ROOM + WARM else others


def expected_point(
    clamp: Clamp, method: Method, place: tuple[float, float, float], count: int
) -> EvidencePoint:
    """The reading (V, K, lx) as it is expected, with the uncertainty that this bench achieves.

    The bench is no better than the sharpest reading it has given of this part.
    """
    volts, heat, light = place
    leak = float(reverse_leakage(clamp.fitted.law, volts, heat, light))
    errors = method.errors(leak, GATE, count)
    achieved = min((p.standard_uncertainty for p in clamp.points), default=0.0)
    return EvidencePoint(
        reverse_voltage=volts,
        temperature=heat,
        illuminance=light,
        leakage=leak,
        standard_uncertainty=max(errors.zero, achieved * (READINGS / count) ** 0.5),
        scale_uncertainty=method.scale,
        session=clamp.points[0].session if clamp.points else "next",
        temperature_uncertainty=1.0,
        illuminance_uncertainty=LIGHT_UNCERTAINTY if light else 0.0,
        source="expected",
    )


def with_points(design: Design, clamp: Clamp, points: Sequence[EvidencePoint]) -> Clamp:
    """The clamp fitted again with more readings, its basis judged where the design uses it."""
    known = [p for p in clamp.points if p.source != "expected"]
    found = clamp_part(clamp.sheet, clamp.wiring, [*known, *points])
    return in_use(design, topology_of(design), replace(found, lot=clamp.lot))


def _read_at(design: Design) -> float:
    volts = place_of_use(design)
    return COMPARED_VOLTAGE if volts < NEAR_ZERO else volts


def _planned(
    clamp: Clamp, methods: Sequence[Method], place: tuple[float, float, float], count: int
) -> tuple[Plan, Method]:
    """The sharpest of the methods that do not overflow, and its plan."""
    volts, heat, light = place
    law: Any = clamp.fitted.law
    cold = float(reverse_leakage(law, volts, ROOM, light))
    part = Expectation(leakage=abs(cold), energy=float(law.generation_activation_energy))
    hot = abs(float(reverse_leakage(law, volts, heat, light)))
    fitting = [m for m in methods if m.largest >= hot] or list(methods)
    best = min(fitting, key=lambda m: m.errors(hot, GATE, count).total)
    return plan_at(best, part, heat, GATE, count), best


def _again(plan: Plan) -> float:
    """Minutes for the same reading of another part in the same warm box."""
    return HANDLING_MINUTES + 3 * plan.gate * plan.count / 60


def _how(plan: Plan, times: int) -> str:
    several = f"{times} times, " if times > 1 else ""
    return (
        f"{several}{plan.method}: wait {plan.wait / 60:.0f} min, {plan.count} readings, expect "
        f"{write(plan.expected, 'current', digits=2)}"
    )


__all__ = ["Reading", "expected_point", "hot_levels", "place_of_use", "readings", "with_points"]
