"""Each part of a design shorted and opened in turn: what the signal shows and what a fault then does.

A short circuit of a clamp is seen by the signal at once; an open clamp is not, and the next fault
goes into the pin. That difference is what the table is for.
"""

from __future__ import annotations

import numpy as np

from clampwright.network.compose import PIN_JUNCTIONS
from clampwright.network.single_faults import PartFault, single_faults
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.corners import allowed_error, corners
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.fault_solution import fault_values, outer_resistance, rail_voltages
from clampwright.verdict.faults import IMPULSES
from clampwright.verdict.laid_out import ABSENT, Case
from clampwright.verdict.layout import topology_of
from clampwright.verdict.results import PartFaultLine, PartFaultsResult
from clampwright.verdict.stress import PIN_CURRENT_DEFAULT

SENSOR = ("R_S", "R_fault")
SERIES = ("R_outer", "R_inner")  # open, they cut the signal off


def part_faults(design: Design, clamp: Clamp | None, *, design_hash: str = "") -> PartFaultsResult:
    """Every part shorted and opened, in normal use and under the worst direct fault of the design."""
    topology = topology_of(design)
    clamp = clamp if topology.has_clamp else None
    used = _in_use(design, topology, clamp)
    fault = _worst_fault(design)
    hit = _under_fault(design, topology, clamp, fault) if fault else {}
    lines = []
    for (part, kind), case in used.items():
        if part in SENSOR:
            continue
        lines.append(_line(design, part, kind, case, hit.get((part, kind))))
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


def _under_fault(
    design: Design, topology: Topology, clamp: Clamp | None, fault: Fault
) -> dict[tuple[str, str], PartFault]:
    """Each part fault while the design's worst slow fault is applied, with each sign it may have."""
    peak = abs(fault.voltage) * (np.sqrt(2) if fault.kind == "mains-frequency" else 1.0)
    law = clamp.fitted.law if clamp else ABSENT
    outer = np.repeat(outer_resistance(design), 2 if fault.both_signs else 1)
    circuit, values = fault_values(
        design,
        topology,
        law,
        fault,
        np.array([peak, -peak]) if fault.both_signs else np.array([peak * np.sign(fault.voltage)]),
        rail_voltages(design, fault.power),
        design.board.temperature_maximum,
        outer,
    )
    return {(f.part, f.kind): f for f in single_faults(circuit, values, "pin")}


def _line(
    design: Design, part: str, kind: str, used: PartFault, hit: PartFault | None
) -> PartFaultLine:
    grid = corners(design)
    cut = kind == "open" and part in SERIES
    shift = used.pin_voltage - grid.signal if used.outcome == "solved" else np.array([np.nan])
    error = float(np.max(np.abs(shift)))
    allowance = float(np.min(allowed_error(design, grid.sensor_temperature)))
    pin = float("nan")
    if hit is not None and hit.outcome == "solved":
        flows = [np.abs(hit.currents[j]) for j in PIN_JUNCTIONS if j in hit.currents]
        pin = float(np.max(flows)) if flows else 0.0
    limit = design.amplifier.pin_current_maximum or PIN_CURRENT_DEFAULT
    return PartFaultLine(
        part=part,
        kind=kind,
        outcome=used.outcome,
        error=error,
        noticed=cut or used.outcome != "solved" or bool(error > allowance),
        pin_current=pin,
        pin_current_limit=limit,
        words=_words(used, error, allowance, pin, limit, cut=cut),
    )


def _words(
    used: PartFault, error: float, allowance: float, pin: float, limit: float, *, cut: bool
) -> str:
    if cut:
        said = "the signal is lost (nothing reaches the pin)"
    elif used.outcome != "solved":
        said = f"the signal is lost ({used.outcome})"
    elif error > allowance:
        said = f"seen at once: the reading is off by {write(error, 'voltage', digits=2)}"
    else:
        said = "not seen in normal use"
    if np.isnan(pin):
        return f"{said}."
    over = "above" if pin > limit else "within"
    return f"{said}; under the fault the pin carries {write(pin, 'current', digits=2)}, {over} its rating."
