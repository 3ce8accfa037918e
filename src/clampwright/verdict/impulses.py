"""First-order figures of discharge and surge, to hold against the data sheet of the clamp.

They are facts beside the verdict and never change it: no waveform is solved, no rating is compared. What
counts of an impulse is what reaches the first clamp, once with the outer resistor in place and once with
it arced over, as any single chip resistor must be taken to do at some kilovolts.
"""

from __future__ import annotations

from typing import NamedTuple

from clampwright.parts.clamp_part import Clamp
from clampwright.physics.clamp import at_conditions
from clampwright.physics.terminal import voltage_at_current
from clampwright.quantities import write
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.faults import IMPULSES
from clampwright.verdict.layout import PIN_JUNCTION, topology_of
from clampwright.verdict.results import Result

FROM_MEMORY = "from memory: check the edition"
SURGE_SCALE = 1.037  # [1] of the double exponential of a 1.2/50 µs surge, IEEE C62.41
SURGE_FRONT, SURGE_TAIL = 0.4074e-6, 68.22e-6  # [s] its time constants, IEEE C62.41


class Discharge(NamedTuple):
    """A discharge network: resistance (Ω), capacitance (F), first peak (A/V) into a short, its standard."""

    resistance: float
    capacitance: float
    peak: float
    standard: str


SYSTEM = Discharge(330.0, 150e-12, 3.75e-3, "IEC 61000-4-2, 150 pF and 330 Ω")
HANDLING = Discharge(1500.0, 100e-12, 1 / 1500.0, "ANSI/ESDA/JEDEC JS-001, 100 pF and 1.5 kΩ")
DISCHARGES = {0.0: SYSTEM, 330.0: SYSTEM, 1500.0: HANDLING}
"""By the resistance of the source on the sheet (Ω); where none is stated, that of a system test."""


class ImpulseFact(Result):
    """One figure in SI; `dimension` is "current" or "energy", `source` says where it comes from."""

    name: str
    value: float
    dimension: str
    source: str


class ImpulseFacts(Result):
    """The figures of one impulse, or why there are none."""

    fault: str
    facts: tuple[ImpulseFact, ...] = ()
    note: str = ""


def impulses(design: Design, clamp: Clamp | None) -> tuple[ImpulseFacts, ...]:
    """First-order figures of every impulse of a design, in the order of the sheet."""
    clamp = clamp if topology_of(design).has_clamp else None
    return tuple(_facts(design, clamp, f) for f in design.faults if f.kind in IMPULSES)


def _facts(design: Design, clamp: Clamp | None, fault: Fault) -> ImpulseFacts:
    if fault.kind == "esd":
        network = DISCHARGES.get(fault.source_resistance)
        if network is None:
            known = " or ".join(write(r, "resistance") for r in DISCHARGES if r)
            return ImpulseFacts(fault=fault.name, note=f"no figures: a source of {known} is known")
        return ImpulseFacts(fault=fault.name, facts=_discharge(design, clamp, fault, network))
    if fault.kind == "surge":
        if not fault.source_resistance:
            return ImpulseFacts(
                fault=fault.name, note="no figures: its source_resistance is not stated"
            )
        return ImpulseFacts(fault=fault.name, facts=_surge(design, clamp, fault))
    return ImpulseFacts(fault=fault.name, note="no figures of a burst yet")


def _discharge(
    design: Design, clamp: Clamp | None, fault: Fault, network: Discharge
) -> tuple[ImpulseFact, ...]:
    volts, outer = abs(fault.voltage), _outer(design)
    held = volts / (network.resistance + outer)
    charge = network.capacitance * volts
    standard = f"{network.standard}; {FROM_MEMORY}"
    return (
        _held_peak(volts, network.resistance, outer),
        _into_clamp(design, clamp, held, charge),
        ImpulseFact(
            name="peak into the first clamp, resistor arced over",
            value=network.peak * volts,
            dimension="current",
            source=f"{write(1e3 * network.peak, 'current')}/kV, first peak; {standard}",
        ),
        ImpulseFact(
            name="energy, resistor arced over, at most",
            value=0.5 * network.capacitance * volts**2,
            dimension="energy",
            source=f"½·C·V², {standard}",
        ),
    )


def _surge(design: Design, clamp: Clamp | None, fault: Fault) -> tuple[ImpulseFact, ...]:
    volts, outer, inside = abs(fault.voltage), _outer(design), fault.source_resistance
    held = volts / (inside + outer)
    whole, squared = surge_time(), surge_time_squared()
    wave = f"1.2/50 µs as in IEEE C62.41; {FROM_MEMORY}"
    return (
        _held_peak(volts, inside, outer),
        ImpulseFact(
            name="energy in the outer resistor",
            value=held**2 * outer * squared,
            dimension="energy",
            source=f"∫I²·R of {wave}",
        ),
        _into_clamp(design, clamp, held, held * whole),
        ImpulseFact(
            name="peak into the first clamp, resistor arced over",
            value=volts / inside,
            dimension="current",
            source=f"Ohm: {write(volts, 'voltage')} over {write(inside, 'resistance')}",
        ),
    )


def surge_time() -> float:
    """∫ of a 1.2/50 µs surge of 1 V over time (V·s)."""
    slower = 1 / (1 / SURGE_FRONT + 1 / SURGE_TAIL)
    return SURGE_SCALE * (SURGE_TAIL - slower)


def surge_time_squared() -> float:
    """∫ of its square over time (V²·s)."""
    front, tail = 1 / SURGE_FRONT, 1 / SURGE_TAIL
    return SURGE_SCALE**2 * (1 / (2 * tail) - 2 / (front + 2 * tail) + 1 / (2 * front + 2 * tail))


def _outer(design: Design) -> float:
    return design.network.outer_resistor.value * design.network.outer_resistor.count


def _held_peak(volts: float, inside: float, outer: float) -> ImpulseFact:
    """The clamp's own voltage is not counted off: hundreds of volts stand against it."""
    ohms = f"{write(inside, 'resistance')} + {write(outer, 'resistance')}"
    return ImpulseFact(
        name="peak into the first clamp, resistor in place",
        value=volts / (inside + outer),
        dimension="current",
        source=f"Ohm: {write(volts, 'voltage')} over {ohms}",
    )


def _into_clamp(design: Design, clamp: Clamp | None, peak: float, charge: float) -> ImpulseFact:
    """The charge times the forward voltage at the peak, which no later current exceeds."""
    law = clamp.fitted.law if clamp else PIN_JUNCTION
    state = at_conditions(law, design.board.temperature_maximum)
    forward = float(voltage_at_current(peak, state)[0])
    whose = clamp.name if clamp else "the pin's own junction"
    return ImpulseFact(
        name="energy into the first clamp, resistor in place, at most",
        value=charge * forward,
        dimension="energy",
        source=f"charge times the {write(forward, 'voltage')} of {whose} at that peak",
    )
