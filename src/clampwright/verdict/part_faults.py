"""Each part of a design shorted and opened in turn: what the signal shows and what a fault then does.

A short circuit of a clamp is seen by the signal at once; an open clamp is not, and the next fault
goes into the pin. That difference is what the table is for.

What counts is how far the reading moves against the intact circuit, at the worst corner, in the dark.
Bias current and a zero taken before the part failed drop out of it. In a pair one leg fails, and its
change is that of the difference.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clampwright.network.single_faults import PartFault, single_faults
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.corners import allowed_error, corners
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.fault_solution import waveform
from clampwright.verdict.faults import IMPULSES
from clampwright.verdict.headroom import levels
from clampwright.verdict.laid_out import ABSENT, Case, Solved
from clampwright.verdict.layout import topology_of
from clampwright.verdict.part_fault_results import PartFaultLine, PartFaultsResult, Shows
from clampwright.verdict.part_fault_stress import Hit, hits
from clampwright.verdict.part_names import part_name
from clampwright.verdict.stress import PIN_CURRENT_DEFAULT, clamp_ratings

SENSOR = ("R_S", "R_fault")
UNRATED_CLAMP = 1e-6  # [A] from here on a clamp without a rating is told
SERIES = ("R_outer", "R_inner", "R_limiter", "R_fuse", "R_contact")  # open, they cut the signal off
NOTICED_SHARE = (
    0.01  # of the span: a reading that moves by less is taken for the process, not for a
)
# broken part (common practice, no source)
AT_THE_RAIL = 1e-3  # [V] before a rail; an amplifier stops there (common practice, no source)
NO_CHANGE = 1e-12  # [V] below it two solutions differ by their rounding
LOST_WORDS = {
    "fixed nodes joined": "two held voltages are joined",
    "floating": "nothing holds the pin",
    "solved": "no steady state at some corner",
}
Array = NDArray[np.float64]


def part_faults(design: Design, clamp: Clamp | None, *, design_hash: str = "") -> PartFaultsResult:
    """Every part shorted and opened, in normal use and under the worst direct fault of the design."""
    topology = topology_of(design)
    clamp = clamp if topology.has_clamp else None
    case = Case(design, topology, corners(design))
    law = clamp.fitted.law if clamp else ABSENT
    intact = case.solve(law, topology.sides if clamp else (), (), bias=True)
    used = single_faults(case.circuit, intact.values, "pin")
    fault = _worst_fault(design)
    hit = hits(design, topology, clamp, fault) if fault else {}
    return PartFaultsResult(
        design=design,
        design_hash=design_hash,
        fault=f"{fault.name}: {_volts(fault)}" if fault else "none",
        noticed_share=NOTICED_SHARE,
        noticed_from=noticed_from(design),
        lines=tuple(
            _line(case, clamp, found, intact, hit.get((found.part, found.kind)))
            for found in used
            if found.part not in SENSOR
        ),
    )


def noticed_from(design: Design) -> float:
    """The smallest change of a reading (V) that somebody notices: a share of the span of the signal.

    Where both ends of the signal are the same, of its size; where that is nothing, of the supply.
    """
    low, high = design.requirement.signal_minimum, design.requirement.signal_maximum
    supply = design.rails.positive - design.rails.negative
    return NOTICED_SHARE * ((high - low) or abs(low) or supply)


def _worst_fault(design: Design) -> Fault | None:
    """The slow fault with the largest peak voltage while the board is powered."""
    slow = [f for f in design.faults if f.kind not in IMPULSES and f.power != "off"]
    return max(slow, key=_peak, default=None)


def _peak(fault: Fault) -> float:
    """The largest voltage (V) of a slow fault; a mains-frequency one is stated as rms."""
    return float(np.max(np.abs(waveform(fault, 1.0))))


def _volts(fault: Fault) -> str:
    if fault.kind == "mains-frequency":
        rms, peak = (write(v, "voltage") for v in (abs(fault.voltage), _peak(fault)))
        return f"{rms} rms, ±{peak} peak"
    if fault.both_signs:
        return f"±{write(abs(fault.voltage), 'voltage')}"
    return write(fault.voltage, "voltage", signed=True)


def _line(
    case: Case, clamp: Clamp | None, used: PartFault, intact: Solved, hit: Hit | None
) -> PartFaultLine:
    design = case.design
    cut = used.kind == "open" and used.part in SERIES
    change = _change(case.topology, used, intact)
    limit = design.amplifier.pin_current_maximum or PIN_CURRENT_DEFAULT
    ratings = clamp_ratings(clamp)
    rated = ratings.forward_current if ratings else None
    breaks = _breaks(design, hit, limit, rated) if hit else ()
    shows: Shows = "signal lost" if cut or np.isnan(change).any() else _shows(case, change)
    said = _said(case, intact, used, change, shows, cut=cut)
    return PartFaultLine(
        part=used.part,
        name=part_name(used.part),
        kind=used.kind,
        outcome=used.outcome,
        change=float(np.max(np.abs(change))),
        shows=shows,
        noticed=shows in ("signal lost", "at once"),
        pin_current=hit.pin if hit else np.nan,
        pin_current_limit=limit,
        clamp_current=hit.clamp if hit else np.nan,
        clamp_current_limit=rated,
        rail=hit.rail if hit else "unknown",
        breaks=breaks,
        said=said,
        words=_words(said, hit, breaks),
    )


def _change(topology: Topology, used: PartFault, intact: Solved) -> Array:
    """How far the reading moves (V) at each corner; NaN where the circuit has no answer.

    The reading is what the topology answers with: the pin, or currents through a feedback resistor.
    """
    solution, answer = intact.solution, topology.answer
    if used.outcome != "solved":
        return np.full(solution.residual.shape, np.nan)
    before = {**solution.resistor_current, **solution.clamp_current}
    change = used.pin_voltage - solution.voltage("pin") if answer.node else 0.0 * used.pin_voltage
    for branch, sign in answer.currents:
        if branch in before:  # what is injected from outside does not change
            through = np.asarray(intact.values.resistances[answer.through], float)
            change = change + sign * through * (used.currents.get(branch, 0.0) - before[branch])
    return np.asarray(change)


def _shows(case: Case, change: Array) -> Shows:
    """What kind of sign a failed part gives."""
    if np.max(np.abs(change)) > noticed_from(case.design):
        return "at once"
    allowed = allowed_error(case.design, case.corners.sensor_temperature)
    return "in a leakage test" if np.any(np.abs(change) > allowed) else "not at all"


def _saturates(case: Case, intact: Solved, change: Array) -> bool:
    """Whether the reading is driven to a rail, or beyond what the amplifier could follow."""
    rails = case.design.rails
    reading = levels(case.design, case.topology, case.corners) + intact.error + change
    high, low = rails.positive - AT_THE_RAIL, rails.negative + AT_THE_RAIL
    return bool(np.any((reading >= high) | (reading <= low)))


def _breaks(design: Design, hit: Hit, limit: float, rated: float | None) -> tuple[str, ...]:
    """Each rating that a fault exceeds, in words; a clamp without a rating is told too."""
    said = []
    if rated is not None and hit.clamp > rated:
        said.append(
            f"the clamp carries {_amperes(hit.clamp)}, above its {_amperes(rated)}: it is destroyed"
        )
    if rated is None and hit.clamp > UNRATED_CLAMP:
        said.append(f"the clamp carries {_amperes(hit.clamp)} and its rating is not stated")
    if hit.rail == "exceeded":
        most = write(design.rails.absolute_maximum or 0.0, "voltage")
        said.append(f"the rail is pushed beyond the supply's maximum of {most}")
    if hit.rail == "unknown":
        said.append("the rail is pushed up and its load or its maximum is not stated")
    if hit.pin > limit:
        said.append(f"the pin carries {_amperes(hit.pin)}, above its {_amperes(limit)}")
    return tuple(said)


def _amperes(value: float) -> str:
    return write(value, "current", digits=2)


def _said(
    case: Case, intact: Solved, used: PartFault, change: Array, shows: Shows, *, cut: bool
) -> str:
    """What the signal shows, in words."""
    if shows == "signal lost":
        why = "nothing reaches the pin" if cut else LOST_WORDS.get(used.outcome, used.outcome)
        return f"the signal is lost ({why})"
    size = float(np.max(np.abs(change)))
    moved = f"the reading moves by {write(size, 'voltage', digits=2)}"
    if shows == "at once":
        return f"seen at once: {'the reading saturates' if _saturates(case, intact, change) else moved}"
    if shows == "in a leakage test":
        return f"shows only in a leakage test: {moved}"
    return f"does not show: {moved}" if size > NO_CHANGE else "does not show"


def _words(said: str, hit: Hit | None, breaks: tuple[str, ...]) -> str:
    if hit is None:
        return f"{said}."
    if breaks:
        return f"{said}; under the fault {', '.join(breaks)}."
    pin = f"the pin carries {_amperes(hit.pin)}, within its rating"
    return f"{said}; under the fault {pin}, as are clamp and rail."
