"""A bench session as data: what to do, in which order, how long to wait; and what a reading advises.

`guided_session` makes the steps from part, wiring and the voltages at which the circuit holds it.
`advance` is pure: state and what was seen in, state and advice out. Whoever shows it keeps the state.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

from clampwright.bench.settling import HANDLING, default_wait, settled
from clampwright.errors import InputError
from clampwright.quantities import write

ROOM = 296.15  # [K]
WARM = (318.15, 333.15)  # [K] 45 and 60 °C
SOAK = 600.0  # [s] at each temperature; common practice
COUNT = 10  # readings of a step
KNOWN_VOLTAGE = 1.0  # [V]
KNOWN_RESISTANCE = 1e9  # [Ω]
NEAR_ZERO = 0.01  # [V] both signs, for the slope at zero bias
KNOWN_SHARE = 0.1  # [1] a known current must come back within this
Kind = Literal["do", "zero", "known current", "polarity", "reading"]

CAUTIONS = (
    "a resistor of 10 kΩ to 1 MΩ stays in the bias lead; stacks of batteries beyond 60 V are a supply",
    "let the cleaning solvent evaporate, and its vapour go, before anything warm comes near",
    "hair dryer below 80 °C on plastics; freezer spray may be flammable and burns by cold",
    "no laser or ultraviolet into eyes; a focused lamp heats the part",
    "what is measured here protects a component, never a person",
)


@dataclass(frozen=True)
class GuidedStep:
    """One step: words for the person, and for readings the state and conditions they are logged with."""

    title: str
    words: str
    kind: Kind = "do"
    state: str = ""  # as in a readings file; "" when nothing is read
    reverse_voltage: float | None = None  # [V]
    temperature: float | None = None  # [K]
    light: float | None = None  # [lx]
    count: int = 0
    wait: float = 0.0  # [s] before reading


@dataclass(frozen=True)
class Aim:
    """What the session is for."""

    part: str
    wiring: str
    voltages: tuple[float, ...]  # [V] reverse, where the circuit holds the clamp
    expected: float = 1e-12  # [A] at 23 °C, for waiting times
    light: float | None = None  # [lx] that will reach the part; None: stays in the dark
    warm: tuple[float, ...] = WARM  # [K]
    warm_up: float = 1800.0  # [s]


def sitting_voltages(signals: Sequence[float], rails: Sequence[float]) -> tuple[float, ...]:
    """Reverse voltages (V) on clamps from each signal extreme to each rail, without repeats.

    A bootstrapped clamp has the signal for a rail: give the difference, a few millivolts, and both
    signs of 10 mV are read.
    """
    found = sorted({round(abs(rail - signal), 4) for signal in signals for rail in rails})
    small = [v for v in found if v <= NEAR_ZERO]
    return (*((NEAR_ZERO, -NEAR_ZERO) if small else ()), *(v for v in found if v > NEAR_ZERO))


def guided_session(aim: Aim) -> tuple[GuidedStep, ...]:
    """All steps in order. InputError without a voltage."""
    if not aim.voltages:
        raise InputError(
            "a session needs the voltages at which the circuit holds the part",
            mend="take them from the design: signal extremes against each rail",
        )
    zeros = _zeros(aim)
    warm = [step for t in aim.warm for step in (_heat(t), *_readings(aim, t, 0.0))]
    return (
        GuidedStep("cautions", "; ".join(CAUTIONS)),
        GuidedStep("warm up", "adapter and meter on, in the room of the measurement", wait=aim.warm_up),
        GuidedStep("clean", "leads, fixture, board with isopropyl alcohol, then dry; tweezers from here"),
        GuidedStep("close the box", "cables taped down, lamp off, telephone away"),
        _known(aim),
        *zeros,
        _fit(aim),
        _polarity(aim),
        _part_zero(aim),
        *_readings(aim, ROOM, 0.0),
        *_lit(aim),
        *warm,
        GuidedStep("cool down", "take the part out, box closed", wait=HANDLING),
        *reversed(zeros),
        GuidedStep("write down", "humidity, lamp, waiting times, who; a photograph of the fixture"),
    )  # fmt: skip


def minutes_needed(steps: Sequence[GuidedStep], gate: float = 0.2) -> float:
    """Waiting and reading time of a session, in minutes."""
    return sum(step.wait + step.count * gate for step in steps) / 60


def _zeros(aim: Aim) -> tuple[GuidedStep, ...]:
    wait = default_wait(aim.expected)
    fixture = tuple(
        GuidedStep(
            f"fixture zero at {write(volts, 'voltage')}",
            "everything connected and biased, no part",
            "zero",
            "zero fixture",
            reverse_voltage=volts,
            count=COUNT,
            wait=default_wait(aim.expected, step),
        )
        for volts, step in _with_steps(aim.voltages)
    )
    return (
        GuidedStep(
            "open-lead zero", "input open and capped, cable attached", "zero", "zero open",
            count=COUNT, wait=wait,
        ),
        *fixture,
    )  # fmt: skip


def _known(aim: Aim) -> GuidedStep:
    current = KNOWN_VOLTAGE / KNOWN_RESISTANCE
    words = (
        f"{write(KNOWN_VOLTAGE, 'voltage')} through {write(KNOWN_RESISTANCE, 'resistance')}: the "
        f"adapter must show {write(current, 'current')} with the right sign; then turn the bias round"
    )
    return GuidedStep("known current", words, "known current", count=1, wait=default_wait(current))


def _fit(aim: Aim) -> GuidedStep:
    words = f"{aim.part} wired {aim.wiring}, with tweezers, its lead in the air; box closed"
    return GuidedStep("fit the part", words, wait=HANDLING)


def _polarity(aim: Aim) -> GuidedStep:
    words = (
        "±50 mV: the currents have opposite signs and the forward one is larger; if the reverse one "
        "is, the leads are swapped"
    )
    return GuidedStep("polarity", words, "polarity", count=2, wait=default_wait(aim.expected))


def _part_zero(aim: Aim) -> GuidedStep:
    return GuidedStep(
        "part-fitted zero", "bias source connected and set to 0 V, not unplugged", "zero",
        "zero part-fitted", count=COUNT, wait=default_wait(aim.expected),
    )  # fmt: skip


def _readings(aim: Aim, temperature: float, light: float) -> tuple[GuidedStep, ...]:
    lit = f", {write(light, 'illuminance')}" if light else ""
    return tuple(
        GuidedStep(
            f"{write(volts, 'voltage')} at {write(temperature, 'temperature')}{lit}",
            "wait until it is settled, then read",
            "reading",
            "reading",
            reverse_voltage=volts,
            temperature=temperature,
            light=light,
            count=COUNT,
            wait=default_wait(aim.expected, step),
        )
        for volts, step in _with_steps(aim.voltages)
    )


def _lit(aim: Aim) -> tuple[GuidedStep, ...]:
    """Dark was read; then half and full light, so that proportion can be checked."""
    if not aim.light:
        return ()
    return tuple(step for lux in (aim.light / 2, aim.light) for step in _readings(aim, ROOM, lux))


def _heat(temperature: float) -> GuidedStep:
    words = (
        "metal block, bath in a thin bag, or a box with a warm resistor; thermometer on the lead"
    )
    return GuidedStep(f"warm to {write(temperature, 'temperature')}", words, wait=SOAK)


def _with_steps(voltages: Sequence[float]) -> list[tuple[float, float]]:
    """Each voltage with the step that leads to it, from 0 V."""
    return [(after, after - before) for before, after in pairwise((0.0, *voltages))]


# What the readings say while the session goes on


@dataclass(frozen=True)
class Seen:
    """One look at the current (A), seconds after the step began. `forward` for the polarity check:
    the current at the opposite sign of the same voltage."""

    seconds: float
    current: float
    uncertainty: float
    forward: float | None = None


@dataclass(frozen=True)
class Session:
    """Where a session stands."""

    steps: tuple[GuidedStep, ...]
    at: int = 0
    seen: tuple[Seen, ...] = ()

    @property
    def step(self) -> GuidedStep | None:
        """The step to do now; None at the end."""
        return self.steps[self.at] if self.at < len(self.steps) else None


@dataclass(frozen=True)
class Said:
    """What to do next, and whether the step is done."""

    done: bool
    words: str


def advance(session: Session, seen: Seen | None = None) -> tuple[Session, Said]:
    """The session after the user did the step (`None`) or looked at the meter; with advice.

    A step that only says what to do is done when told so. A known current must come back within
    10 %, a junction must pass more forward, a zero or reading must have waited and settled.
    """
    step = session.step
    if step is None:
        return session, Said(True, "the session is complete: reduce the readings")
    if step.kind == "do":
        return _next(session, f"{step.title}: done")
    if seen is None:
        return session, Said(False, f"{step.title}: {step.words}; waiting for a reading")
    if step.kind == "known current":
        return _known_seen(session, seen)
    if step.kind == "polarity":
        return _polarity_seen(session, seen)
    return _settling_seen(session, step, seen)


def _known_seen(session: Session, seen: Seen) -> tuple[Session, Said]:
    expected = KNOWN_VOLTAGE / KNOWN_RESISTANCE
    if abs(seen.current - expected) <= KNOWN_SHARE * expected:
        return _next(session, "size and sign are right")
    if abs(seen.current + expected) <= KNOWN_SHARE * expected:
        return session, Said(False, "the sign is reversed: set `inverting` in the instrument sheet")
    shown = write(seen.current, "current")
    return session, Said(
        False, f"{shown} where {write(expected, 'current')} flows: check scale, range, resistor"
    )


def _polarity_seen(session: Session, seen: Seen) -> tuple[Session, Said]:
    if seen.forward is None:
        return session, Said(False, "turn the bias round and give both currents")
    if max(abs(seen.current), abs(seen.forward)) < 2 * seen.uncertainty:
        return _next(
            session, "too little flows to tell: check the lead drawing, or a diode test at 1 mA"
        )
    if seen.current * seen.forward > 0:
        return session, Said(
            False, "both currents have one sign: that is an offset or light, not the part"
        )
    if abs(seen.forward) + 2 * seen.uncertainty < abs(seen.current):
        return session, Said(False, "more flows in reverse than forward: the leads are swapped")
    return _next(session, "the junction is the right way round")


def _settling_seen(session: Session, step: GuidedStep, seen: Seen) -> tuple[Session, Said]:
    looked = replace(session, seen=(*session.seen, seen))
    if seen.seconds < step.wait:
        left = step.wait - seen.seconds
        return looked, Said(False, f"wait {max(1, round(left / 60))} more minutes before judging")
    if len(looked.seen) < 2:
        return looked, Said(
            False, f"look again at {2 * seen.seconds:.0f} s: settling needs two readings"
        )
    times, currents = [s.seconds for s in looked.seen], [s.current for s in looked.seen]
    judged = settled(times, currents, seen.uncertainty)
    if not judged.settled:
        return looked, Said(False, judged.words)
    return _next(looked, f"{judged.words}: take {step.count} readings of state '{step.state}'")


def _next(session: Session, words: str) -> tuple[Session, Said]:
    moved = replace(session, at=session.at + 1, seen=())
    step = moved.step
    if step is None:
        return moved, Said(True, f"{words}; the session is complete: reduce the readings")
    return moved, Said(True, f"{words}; next: {step.title}")


__all__ = [
    "CAUTIONS",
    "Aim",
    "GuidedStep",
    "Said",
    "Seen",
    "Session",
    "advance",
    "guided_session",
    "minutes_needed",
    "sitting_voltages",
]
