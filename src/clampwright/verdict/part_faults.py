"""Each part of a design shorted and opened in turn: what the signal shows and what a fault then does.

A short circuit of a clamp is seen by the signal at once; an open clamp is not, and the next fault
goes into the pin. That difference is what the table is for.
"""

from __future__ import annotations

import numpy as np

from clampwright.network.single_faults import PartFault, single_faults
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.corners import allowed_error, corners
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.faults import IMPULSES
from clampwright.verdict.laid_out import ABSENT, Case
from clampwright.verdict.layout import topology_of
from clampwright.verdict.part_fault_results import PartFaultLine, PartFaultsResult
from clampwright.verdict.part_fault_stress import Hit, hits
from clampwright.verdict.stress import PIN_CURRENT_DEFAULT, clamp_ratings

SENSOR = ("R_S", "R_fault")
UNRATED_CLAMP = 1e-6  # [A] from here on a clamp without a rating is told
SERIES = ("R_outer", "R_inner")  # open, they cut the signal off


def part_faults(design: Design, clamp: Clamp | None, *, design_hash: str = "") -> PartFaultsResult:
    """Every part shorted and opened, in normal use and under the worst direct fault of the design."""
    topology = topology_of(design)
    clamp = clamp if topology.has_clamp else None
    used = _in_use(design, topology, clamp)
    fault = _worst_fault(design)
    hit = hits(design, topology, clamp, fault) if fault else {}
    lines = []
    for (part, kind), case in used.items():
        if part in SENSOR:
            continue
        lines.append(_line(design, clamp, part, kind, case, hit.get((part, kind))))
    return PartFaultsResult(
        design=design,
        design_hash=design_hash,
        fault=f"{fault.name}: {_volts(fault)}" if fault else "none",
        lines=tuple(lines),
    )


def _worst_fault(design: Design) -> Fault | None:
    """The slow fault with the largest voltage while the board is powered."""
    slow = [f for f in design.faults if f.kind not in IMPULSES and f.power != "off"]
    return max(slow, key=lambda f: abs(f.voltage), default=None)


def _volts(fault: Fault) -> str:
    if fault.both_signs:
        return f"±{write(abs(fault.voltage), 'voltage')}"
    return write(fault.voltage, "voltage", signed=True)


def _in_use(
    design: Design, topology: Topology, clamp: Clamp | None
) -> dict[tuple[str, str], PartFault]:
    """Each part fault at the first corner, in the dark."""
    case = Case(design, topology, corners(design))
    law = clamp.fitted.law if clamp else ABSENT
    solved = case.solve(law, topology.sides if clamp else (), (), bias=True)
    return {(f.part, f.kind): f for f in single_faults(case.circuit, solved.values, "pin")}


def _line(
    design: Design,
    clamp: Clamp | None,
    part: str,
    kind: str,
    used: PartFault,
    hit: Hit | None,
) -> PartFaultLine:
    grid = corners(design)
    cut = kind == "open" and part in SERIES
    shift = used.pin_voltage - grid.signal if used.outcome == "solved" else np.array([np.nan])
    error = float(np.max(np.abs(shift)))
    allowance = float(np.min(allowed_error(design, grid.sensor_temperature)))
    limit = design.amplifier.pin_current_maximum or PIN_CURRENT_DEFAULT
    ratings = clamp_ratings(clamp)
    rated = ratings.forward_current if ratings else None
    breaks = _breaks(design, hit, limit, rated) if hit else ()
    return PartFaultLine(
        part=part,
        kind=kind,
        outcome=used.outcome,
        error=error,
        noticed=cut or used.outcome != "solved" or bool(error > allowance),
        pin_current=hit.pin if hit else np.nan,
        pin_current_limit=limit,
        clamp_current=hit.clamp if hit else np.nan,
        clamp_current_limit=rated,
        rail=hit.rail if hit else "unknown",
        breaks=breaks,
        words=_words(used, error, allowance, hit, breaks, cut=cut),
    )


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


def _words(
    used: PartFault,
    error: float,
    allowance: float,
    hit: Hit | None,
    breaks: tuple[str, ...],
    *,
    cut: bool,
) -> str:
    if cut:
        said = "the signal is lost (nothing reaches the pin)"
    elif used.outcome != "solved":
        said = f"the signal is lost ({used.outcome})"
    elif error > allowance:
        said = f"seen at once: the reading is off by {write(error, 'voltage', digits=2)}"
    else:
        said = "not seen in normal use"
    if hit is None:
        return f"{said}."
    if breaks:
        return f"{said}; under the fault {', '.join(breaks)}."
    pin = f"the pin carries {_amperes(hit.pin)}, within its rating"
    return f"{said}; under the fault {pin}, as are clamp and rail."
