"""What pin, clamps and rails suffer with one part shorted or opened, under a slow fault.

The network is solved over the waveform of the fault with each sign it may have, the board at its hottest.
A rail that its load cannot hold is tried once more at its maximum: what still flows then lifts it beyond.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampwright.network.circuit import Circuit
from clampwright.network.compose import PIN_JUNCTIONS
from clampwright.network.single_faults import PartFault, single_faults
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.fault_solution import (
    fault_values,
    load_current,
    outer_resistance,
    rail_voltages,
    takes_any_current,
    waveform,
)
from clampwright.verdict.faults import signs_of
from clampwright.verdict.laid_out import ABSENT
from clampwright.verdict.part_fault_results import RailState

Array = NDArray[np.float64]
Key = tuple[str, str]

RAIL_STATES: tuple[RailState, ...] = ("held", "unknown", "rises", "exceeded")  # the worst last


@dataclass(frozen=True)
class Hit:
    """Largest currents (A) of pin and of any clamp, and the worst that happens to a rail."""

    pin: float
    clamp: float
    rail: RailState


def hits(design: Design, topology: Topology, clamp: Clamp | None, fault: Fault) -> dict[Key, Hit]:
    """Every part shorted and opened under a fault; a part fault that is not solved is left out."""
    found: dict[Key, Hit] = {}
    for sign in signs_of(fault):
        rails = rail_voltages(design, fault.power)
        circuit, studies = _studied(design, topology, clamp, fault, sign, rails)
        lifted = _lifted_rails(design, sign, rails)
        loaded = {k: _pushed(circuit, s, sign) * fault.channels for k, s in studies.items()}
        beyond: dict[Key, float] = {}
        if lifted and any(_too_much(design, fault, sign, p) for p in loaded.values()):
            raised, again = _studied(design, topology, clamp, fault, sign, lifted)
            beyond = {k: _pushed(raised, s, sign) * fault.channels for k, s in again.items()}
        for key, study in studies.items():
            state = _rail_state(design, fault, sign, loaded[key], beyond.get(key))
            before = found.get(key, Hit(0.0, 0.0, "held"))
            found[key] = Hit(
                pin=max(before.pin, _peak(study, PIN_JUNCTIONS)),
                clamp=max(before.clamp, _peak(study, topology.sides)),
                rail=max(before.rail, state, key=RAIL_STATES.index),
            )
    return found


def _studied(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    fault: Fault,
    sign: float,
    rails: tuple[float, float],
) -> tuple[Circuit, dict[Key, PartFault]]:
    wave = waveform(fault, sign)
    outer = np.repeat(outer_resistance(design), wave.size)
    law, hot = clamp.fitted.law if clamp else ABSENT, design.board.temperature_maximum
    circuit, values = fault_values(design, topology, law, fault, wave, rails, hot, outer)
    every = single_faults(circuit, values, "pin")
    return circuit, {(f.part, f.kind): f for f in every if f.outcome == "solved"}


def _lifted_rails(
    design: Design, sign: float, rails: tuple[float, float]
) -> tuple[float, float] | None:
    """Rails (V) with the one that is pushed at the largest span allowed, if one is stated."""
    span = design.rails.absolute_maximum
    if span is None:
        return None
    return (rails[1] + span, rails[1]) if sign > 0 else (rails[0], rails[0] - span)


def _pushed(circuit: Circuit, study: PartFault, sign: float) -> float:
    """Mean current (A) pushed into the rail of this sign, by what is left and by the shorted part."""
    rail = "rail positive" if sign > 0 else "rail negative"
    nodes = {rail, "guard", "output"} & {*circuit.fixed, *(d.name for d in circuit.driven)}
    branches = [(c.name, c.anode, c.cathode) for c in circuit.clamps]
    branches += [(r.name, r.a, r.b) for r in circuit.resistors]
    currents = {**study.currents, study.part: np.nan_to_num(study.part_current)}
    into: Array = np.zeros_like(study.pin_voltage)
    for name, a, b in branches:
        into = into + currents.get(name, 0.0) * (float(b in nodes) - float(a in nodes))
    return float(np.nanmean(np.maximum(sign * into, 0.0)))


def _too_much(design: Design, fault: Fault, sign: float, pushed: float) -> bool:
    rail = "positive" if sign > 0 else "negative"
    if fault.power == "off" or takes_any_current(design, rail):
        return False
    load = load_current(design, fault.power)
    return pushed > (load or 0.0)


def _rail_state(
    design: Design, fault: Fault, sign: float, pushed: float, at_limit: float | None
) -> RailState:
    if not _too_much(design, fault, sign, pushed):
        return "held"
    if load_current(design, fault.power) is None or at_limit is None:
        return "unknown"
    shunt, span = design.rails.shunt_voltage, design.rails.absolute_maximum
    if shunt is not None and span is not None:
        other = design.rails.negative if sign > 0 else design.rails.positive
        return "rises" if abs(sign * shunt - other) <= span else "exceeded"
    return "exceeded" if _too_much(design, fault, sign, at_limit) else "rises"


def _peak(study: PartFault, names: tuple[str, ...]) -> float:
    """Largest current (A) of those branches that are left."""
    flows = [np.nanmax(np.abs(study.currents[n])) for n in names if n in study.currents]
    return float(max(flows, default=0.0))
