"""A bench session as data: what to do, in which order, how long to wait; and what its checks say.

`guided_session` makes the steps from part, wiring and the voltages at which the circuit holds it.
Whoever shows them keeps where the session stands; `watch` judges readings while they come in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp
from typing import Literal

from pydantic import BaseModel, ConfigDict

from clampwright.bench.fits import DEEP, FINGER_TOO_LITTLE, FINGER_TOO_MUCH, GENERATION
from clampwright.bench.settling import HANDLING, default_wait
from clampwright.errors import InputError
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE, ROOM_TEMPERATURE
from clampwright.quantities import write

WARM = (318.15, 333.15)  # [K] 45 and 60 °C
SOAK = 600.0  # [s] at each temperature; common practice
FINGER, FINGER_TIME = 305.15, 60.0  # [K], [s] a body that is held; common practice
COUNT = 10  # readings of a step
KNOWN_VOLTAGE = 1.0  # [V]
KNOWN_RESISTANCE = 1e9  # [Ω]
NEAR_ZERO = 0.01  # [V] both signs, for the slope at zero bias
KNOWN_SHARE = 0.1  # [1] a known current must come back within this
POLARITY = 0.05  # [V] both signs
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
    caution: str = ""

    @property
    def fitted(self) -> bool:
        """Whether the part is in the fixture."""
        return self.state in ("reading", "zero part-fitted") or self.kind == "polarity"


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


class Plan(BaseModel):
    """A session as it was opened: kept with it, so that it goes on as it began."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    instrument: str
    part: str
    wiring: str
    design: str = ""
    wait_share: float = 1.0  # [1] of the usual waiting times
    why: str = ""  # when they were cut short
    steps: tuple[GuidedStep, ...]


def hurried(steps: Sequence[GuidedStep], share: float) -> tuple[GuidedStep, ...]:
    """The steps with their waiting times times `share` (0…1)."""
    return tuple(replace(step, wait=step.wait * share) for step in steps)


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
        GuidedStep(
            "clean",
            "leads, fixture, board with isopropyl alcohol, then dry; tweezers from here",
            caution=CAUTIONS[1],
        ),
        GuidedStep("close the box", "cables taped down, lamp off, telephone away"),
        _known(aim),
        *zeros,
        _fit(aim),
        *_polarity(aim),
        _part_zero(aim),
        *_readings(aim, ROOM_TEMPERATURE, 0.0),
        *_lit(aim),
        *_finger(aim),
        *warm,
        GuidedStep("cool down", "take the part out, box closed", wait=HANDLING),
        *reversed(zeros),
        GuidedStep("write down", "humidity, lamp, waiting times, who; a photograph of the fixture"),
    )  # fmt: skip


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
            caution=CAUTIONS[0],
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
    return GuidedStep(
        "known current", words, "known current", count=COUNT, wait=default_wait(current),
        caution=CAUTIONS[0],
    )  # fmt: skip


def _fit(aim: Aim) -> GuidedStep:
    words = f"{aim.part} wired {aim.wiring}, with tweezers, its lead in the air; box closed"
    return GuidedStep("fit the part", words, wait=HANDLING)


def _polarity(aim: Aim) -> tuple[GuidedStep, ...]:
    """Reverse, then forward: the currents have opposite signs and the forward one is larger."""
    wait = default_wait(aim.expected)
    size = write(POLARITY, "voltage")
    forward = "turned round: the sign changes and more flows; if less does, the leads are swapped"
    return tuple(
        GuidedStep(title, words, "polarity", reverse_voltage=volts, count=COUNT, wait=wait)
        for title, words, volts in (
            (f"polarity, {size} reverse", "cathode to the positive side of the bias", POLARITY),
            (f"polarity, {size} forward", forward, -POLARITY),
        )
    )


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
            caution=CAUTIONS[3] if light else CAUTIONS[0],
        )
        for volts, step in _with_steps(aim.voltages)
    )


def _lit(aim: Aim) -> tuple[GuidedStep, ...]:
    """Dark was read; then half and full light, so that proportion can be checked."""
    if not aim.light:
        return ()
    return tuple(
        step for lux in (aim.light / 2, aim.light) for step in _readings(aim, ROOM_TEMPERATURE, lux)
    )


def _finger(aim: Aim) -> tuple[GuidedStep, ...]:
    """Body heat as a check, where a junction is read well into reverse; nothing read becomes evidence."""
    if max(aim.voltages) < DEEP:
        return ()
    step = (1 / ROOM_TEMPERATURE - 1 / FINGER) / BOLTZMANN_PER_CHARGE
    little, low, high, much = (
        f"{exp(energy * step):.1f}" for energy in (FINGER_TOO_LITTLE, *GENERATION, FINGER_TOO_MUCH)
    )
    words = (
        "optional, skip it if the box cannot stay dark: hold the body with a finger for a minute, never "
        "the leads (tweezers otherwise), and watch the meter over its zero. "
        f"×{low}…{high} is a junction; below ×{little} you are reading fixture, offset or light; "
        f"above ×{much} diffusion, or sweat on the body"
    )
    return (GuidedStep("finger self-check", words, wait=FINGER_TIME),)


def _heat(temperature: float) -> GuidedStep:
    words = (
        "metal block, bath in a thin bag, or a box with a warm resistor; thermometer on the lead"
    )
    return GuidedStep(
        f"warm to {write(temperature, 'temperature')}", words, wait=SOAK, caution=CAUTIONS[2]
    )


def _with_steps(voltages: Sequence[float]) -> list[tuple[float, float]]:
    """Each voltage with the step that leads to it, from 0 V."""
    return [(after, after - before) for before, after in pairwise((0.0, *voltages))]


# What the two checks say


@dataclass(frozen=True)
class Said:
    """What a check found, and whether the session may go on as it is."""

    right: bool
    words: str


def known_current_said(current: float) -> Said:
    """Whether the known current came back within 10 % with its sign; `current` in A."""
    expected = KNOWN_VOLTAGE / KNOWN_RESISTANCE
    if abs(current - expected) <= KNOWN_SHARE * expected:
        return Said(True, "size and sign are right")
    if abs(current + expected) <= KNOWN_SHARE * expected:
        return Said(False, "the sign is reversed: set `inverting` in the instrument sheet")
    shown = write(current, "current")
    return Said(
        False, f"{shown} where {write(expected, 'current')} flows: check scale, range, resistor"
    )


def polarity_said(reverse: float, forward: float, uncertainty: float) -> Said:
    """Whether a junction sits the right way round.

    reverse, forward : current (A, positive in the reverse direction) at the same voltage both ways
    uncertainty : standard uncertainty (A) of one of them
    """
    if max(abs(reverse), abs(forward)) < 2 * uncertainty:
        return Said(
            True, "too little flows to tell: check the lead drawing, or a diode test at 1 mA"
        )
    if reverse * forward > 0:
        return Said(False, "both currents have one sign: that is an offset or light, not the part")
    if abs(forward) + 2 * uncertainty < abs(reverse):
        return Said(False, "more flows in reverse than forward: the leads are swapped")
    return Said(True, "the junction is the right way round")


__all__ = [
    "CAUTIONS",
    "NEAR_ZERO",
    "Aim",
    "GuidedStep",
    "Plan",
    "Said",
    "guided_session",
    "hurried",
    "known_current_said",
    "polarity_said",
    "sitting_voltages",
]
