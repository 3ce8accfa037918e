"""Currents, voltages and powers of a fault over time, quasi-static: the network solved phase by phase.

A mains-frequency fault is solved at `PHASES` points of one period; a direct one along a ramp to its
voltage and while it is held. No charge is stored anywhere, the rails stay at their nominal voltage and
parts at the hottest board temperature; impulses are not solved here and stay NOT MEASURED.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.network.solve import Solution, require_converged, solve
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.error_terms import ABSENT
from clampwright.verdict.fault_solution import fault_values, rail_voltages
from clampwright.verdict.faults import IMPULSES, faults_of_design, signs_of
from clampwright.verdict.layout import topology_of
from clampwright.verdict.results import FaultCase, Result, StressLine

Array = NDArray[np.float64]

PHASES = 200  # points of one period
RAMP = 50  # points of the ramp; as many again while the voltage is held


class WaveLine(Result):
    """A level that a wave is held against: the rating, the share of it that is used, a rail."""

    name: str
    value: float


class Wave(Result):
    """One quantity of one part over time, with its levels; SI unit beside."""

    part: str
    quantity: str
    unit: str
    values: tuple[float, ...]
    levels: tuple[WaveLine, ...]


class FaultWaves(Result):
    """One fault with one sign over time.

    time : s of one period, or the share of the picture where a direct voltage is ramped and held
    """

    fault: str
    words: str
    design_hash: str
    periodic: bool
    time: tuple[float, ...]
    waves: tuple[Wave, ...]
    note: str


def fault_waves(
    design: Design, clamp: Clamp | None, name: str, *, design_hash: str = ""
) -> FaultWaves:
    """The waves of one fault of a design, with the first sign it may have.

    name : of the fault on the sheet. Raises InputError for one that is not there or not solved.
    """
    fault = next((f for f in design.faults if f.name == name), None)
    if fault is None:
        known = ", ".join(f.name for f in design.faults)
        raise InputError(
            f'there is no fault "{name[:80]}"', expected=known or "a fault of the sheet"
        )
    if fault.kind in IMPULSES:
        raise InputError(
            f'fault "{fault.name}" is an impulse, and impulses are not solved in time yet',
            expected="a direct or mains-frequency fault",
        )
    topology = topology_of(design)
    clamp = clamp if topology.has_clamp else None
    time, applied = _applied(fault)
    solution = _solved(design, topology, clamp, fault, applied)
    case = next(c for c in faults_of_design(design, clamp).cases if c.name == fault.name)
    waves = [
        Wave(part="connector", quantity="voltage", unit="V", values=_plain(applied), levels=())
    ]
    waves += _voltages(design, fault, solution)
    waves += _currents(topology, solution, case)
    waves += _powers(design, solution, case)
    return FaultWaves(
        fault=fault.name,
        words=case.words,
        design_hash=design_hash,
        periodic=fault.kind == "mains-frequency",
        time=_plain(time),
        waves=tuple(waves),
        note=(
            "Quasi-static: the network is solved at each instant with nothing stored, rails at their "
            "nominal voltage, the board at its hottest. A power rating is for the mean over the time."
        ),
    )


def _applied(fault: Fault) -> tuple[Array, Array]:
    """Time (s, or share) and voltage at the connector (V)."""
    sign = signs_of(fault)[0]
    if fault.kind == "mains-frequency":
        phase = np.arange(PHASES + 1) / PHASES
        peak = abs(fault.voltage) * np.sqrt(2.0)
        return phase / fault.frequency, sign * peak * np.sin(2 * np.pi * phase)
    ramp = np.concatenate([np.linspace(0.0, 1.0, RAMP), np.ones(RAMP)])
    return np.linspace(0.0, 1.0, 2 * RAMP), sign * abs(fault.voltage) * ramp


def _solved(
    design: Design, topology: Topology, clamp: Clamp | None, fault: Fault, applied: Array
) -> Solution:
    outer = design.network.outer_resistor
    circuit, values = fault_values(
        design, topology, clamp.fitted.law if clamp else ABSENT, fault, applied,
        rail_voltages(design, fault.power), design.board.temperature_maximum,
        np.full(applied.size, outer.value * outer.count),
    )  # fmt: skip
    return require_converged(solve(circuit, values), f"fault {fault.name}")


def _voltages(design: Design, fault: Fault, solution: Solution) -> list[Wave]:
    """Clamp node and pin against the rails of this power state.

    Beyond `pin_beyond_rail` the pin's own junction takes current and holds the voltage by itself: that
    current is judged against its rating, the voltage is not (common practice, no source).
    """
    upper, lower = rail_voltages(design, fault.power)
    beyond = design.amplifier.pin_beyond_rail
    rails = (
        WaveLine(name="positive rail", value=upper),
        WaveLine(name="negative rail", value=lower),
    )
    conducts = (
        WaveLine(name="pin begins to conduct, above", value=upper + beyond),
        WaveLine(name="pin begins to conduct, below", value=lower - beyond),
    )
    found = []
    if "clamp node" in solution.deviation:
        volts = solution.voltage("clamp node")
        found.append(_wave("clamp node", "voltage", "V", volts, rails))
    found.append(_wave("amplifier pin", "voltage", "V", solution.voltage("pin"), rails + conducts))
    return found


def _currents(topology: Topology, solution: Solution, case: FaultCase) -> list[Wave]:
    """Each clamp, then the pin, against their ratings."""
    currents, found = solution.clamp_current, []
    rated = next((s for s in case.stresses if s.quantity == "forward current"), None)
    for side in topology.sides:
        found.append(_wave(f"clamp, {side}", "current", "A", currents[side], _levels(rated)))
    pin = currents.get("pin upper", 0.0) - currents.get("pin lower", np.zeros(1))
    known = next((s for s in case.stresses if s.part == "amplifier pin"), None)
    size = np.broadcast_to(np.asarray(pin, float), solution.voltage("pin").shape)
    return [*found, _wave("amplifier pin", "current", "A", size, _levels(known))]


def _powers(design: Design, solution: Solution, case: FaultCase) -> list[Wave]:
    """Power in one body of the outer and of the inner resistor."""
    found = []
    for name, role, resistor in (
        ("outer resistor", "R_outer", design.network.outer_resistor),
        ("inner resistor", "R_inner", design.network.inner_resistor),
    ):
        if resistor is None or role not in solution.resistor_current:
            continue
        current = solution.resistor_current[role]
        known = next((s for s in case.stresses if (s.part, s.quantity) == (name, "power")), None)
        found.append(_wave(name, "power", "W", current**2 * resistor.value, _levels(known)))
    return found


def _levels(line: StressLine | None) -> tuple[WaveLine, ...]:
    """The rating, and the share of it that a design may use."""
    if line is None or line.rating is None:
        return ()
    return (
        WaveLine(name="rating", value=line.rating),
        WaveLine(name=f"usable, {line.derating:.0%} of it", value=line.derating * line.rating),
    )


def _wave(part: str, quantity: str, unit: str, values: Array, levels: tuple[WaveLine, ...]) -> Wave:
    return Wave(part=part, quantity=quantity, unit=unit, values=_plain(values), levels=levels)


def _plain(values: Array) -> tuple[float, ...]:
    return tuple(float(v) for v in values)
