"""Safety gates: amber holds the verdict until someone takes the caution, red shows numbers only.

Thresholds: IEC 61010-1, accessible parts in normal condition (values from memory: check the current
edition). The tool never says that anything is free of danger.
"""

from __future__ import annotations

from math import sqrt

from clampwright.quantities import write
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.results import Gate

LIMITS = {  # volts: rms, peak, direct
    "dry": (30.0, 42.4, 60.0),
    "wet": (16.0, 22.6, 35.0),
}
SCOPE = (
    "Aid to engineering judgement. Not a safety certification. "
    "Component protection is not protection of persons."
)
LOCAL_CODES = "Local codes and licensed practice come before anything printed here."
AMBER = (
    "Clearances, overvoltage category, protective earth, enclosure and components with "
    "independent approval are handled elsewhere; these are functional numbers only.",
    "Bench faults: current-limited supply, a series resistor for the supply's output capacitor, "
    "shrouded leads, eye protection, discharge capacitors, never unattended.",
)
MAINS = (
    "Never test mains faults on an open bench: isolation transformer, residual-current device, fuse, "
    "one hand, a second person; never float an oscilloscope's earth.",
)
RED = "Requires a design by the applicable standard and an independent test; numbers are for learning."
STANDING = (
    "Resistors can exceed 200 °C in a sustained fault while within their rating.",
    "An input that survived may have a raised bias current: repeat the leakage test after each fault.",
)


def gate(design: Design) -> Gate:
    """The gate a design raises, with reasons and the cautions to print."""
    answers = design.surroundings
    reasons, cautions = [], list(STANDING)
    if answers.patient:
        reasons.append("connected to a patient or proof against a defibrillator")
    if answers.explosive_atmosphere:
        reasons.append("used in an explosive atmosphere")
    if reasons:
        return _gate("red", reasons, [RED, *AMBER, *cautions], answers.acknowledged, held=True)
    reasons = [r for f in design.faults if (r := _fault_reason(f, wet=answers.wet))]
    limit = LIMITS["wet" if answers.wet else "dry"][2]
    signal = max(abs(design.requirement.signal_minimum), abs(design.requirement.signal_maximum))
    if signal > limit:
        reasons.append(f"signal of {write(signal, 'voltage')} above {write(limit, 'voltage')}")
    if answers.mains_nearby:
        reasons.append("mains nearby")
        cautions = [*MAINS, *cautions]
    if not reasons:
        return _gate("none", [], cautions, answers.acknowledged, held=False)
    held = not answers.acknowledged.strip()
    return _gate("amber", reasons, [*AMBER, *cautions], answers.acknowledged, held=held)


def _gate(
    level: str, reasons: list[str], cautions: list[str], acknowledged: str, *, held: bool
) -> Gate:
    return Gate(
        level=level,
        reasons=tuple(reasons),
        cautions=(SCOPE, LOCAL_CODES, *cautions),
        acknowledged=acknowledged,
        held=held,
    )


def _fault_reason(fault: Fault, *, wet: bool) -> str | None:
    """Why a fault voltage counts as hazardous, or None; impulses are judged by their own caution."""
    if fault.kind in ("esd", "surge", "burst"):
        return None
    rms, peak, direct = LIMITS["wet" if wet else "dry"]
    place = "where skin may be wet" if wet else "for dry skin"
    if fault.kind == "dc":
        if abs(fault.voltage) <= direct:
            return None
        limit, kind = direct, "direct voltage"
    else:
        if abs(fault.voltage) <= rms and abs(fault.voltage) * sqrt(2) <= peak:
            return None
        limit, kind = rms, "rms alternating voltage"
    return (
        f"fault {fault.name}: {write(abs(fault.voltage), 'voltage')} is above the accessible limit of "
        f"{write(limit, 'voltage')} {kind} {place} (IEC 61010-1, from memory: check the edition)"
    )
