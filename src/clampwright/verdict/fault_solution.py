"""Solve a design under one direct or mains-frequency fault, for one or many series resistors.

A mains-frequency fault is slow against every time constant here, so one period is solved point by
point and averaged. Impulses (discharge, surge, burst) are not solved in this room yet.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from clampwright.network.circuit import Circuit
from clampwright.network.solve import Solution, Values, solve
from clampwright.network.topologies import Topology, fault_circuit
from clampwright.physics.clamp import ClampLaw, at_conditions
from clampwright.physics.terminal import voltage_at_current
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.held import require_held
from clampwright.verdict.layout import (
    PIN_JUNCTION,
    other_laws,
    potentials,
    present_roles,
    resistances,
    role_value,
)

Array = NDArray[np.float64]
Places = NDArray[np.intp]

PHASES = 48  # points of one mains period, its peaks among them
SMALLEST_FAULT_RESISTANCE = 1e-3  # [Ω] stands for a stiff source
PUMPING_STEPS = 60
ALSO_IN_THE_PATH = ("R_guard", "R_fuse", "R_limiter", "R_contact")
DECIMALS = 12  # of a volt: phases of a period that differ by rounding alone are solved once
Solved = dict[tuple[bytes, tuple[float, float], float], Solution]


@dataclass(frozen=True)
class FaultSolution:
    """Waveforms, (resistors, phases): currents in A, voltages in V.

    rail_current : mean current pushed into the pumped rail, (resistors,)
    rail_level   : where that rail settles when the load cannot take it, else its nominal value
    other_level  : where the other rail is then; only a mains period lifts both
    settled      : the same with the rails where they settle; None where no rail rises. All else is
                   before a rail rises.
    """

    fault_voltage: Array
    fault_current: Array
    outer_drop: Array  # across the outer resistor alone, without the fault's own resistance
    inner_current: Array
    guard_current: Array
    clamp_voltage: dict[str, Array]
    clamp_current: dict[str, Array]
    clamp_node: Array
    pin_voltage: Array
    pin_current: Array
    rail: str
    rail_current: Array
    rail_level: Array
    other_level: Array
    settled: FaultSolution | None = None


def outer_resistance(design: Design) -> Array:
    """The design's own outer series resistance as an array of one."""
    outer = design.network.outer_resistor
    return np.array([outer.value * outer.count])


def load_current(design: Design, power: str) -> float | None:
    """The least current (A) that loads a rail in a power state; None if the sheet does not say."""
    rails = design.rails
    if power == "off":
        return 0.0
    if power == "asleep" or rails.load is None:
        return rails.minimum_load
    return rails.load


def takes_any_current(design: Design, rail: str) -> bool:
    """Whether a rail cannot be pumped: its supply sinks, or it is the circuit's ground (0 V)."""
    level = design.rails.positive if rail == "positive" else design.rails.negative
    return design.rails.can_sink or level == 0.0


def solve_fault(
    design: Design,
    topology: Topology,
    law: ClampLaw,
    fault: Fault,
    sign: float,
    temperature: float,
    outer: Array,
    solved: Solved | None = None,
) -> FaultSolution:
    """Solve one fault with one sign at one board temperature (K) for outer resistors (Ω, (n,)).

    solved : circuits already solved for this design, law, temperature and outer resistors; both signs
    of a fault are solved at once and several faults of a design load the circuit alike

    When the rail cannot take the current and the supply cannot sink, the rail rises until the
    current that still flows equals the load; that level is reported in `rail_level`, and the circuit
    at that level in `settled`. A mains period lifts each rail that cannot take its current.
    """
    wave = waveform(fault, sign)
    upper, lower = rail_voltages(design, fault.power)
    both = np.round(np.concatenate([wave, -wave]), DECIMALS)
    levels, place = np.unique(both, return_inverse=True)
    place = place[: wave.size]
    solved = {} if solved is None else solved
    key = (levels.tobytes(), (upper, lower), fault.source_resistance)
    if key not in solved:
        rails = np.full(outer.size, upper), np.full(outer.size, lower)
        solved[key] = _solve(design, topology, law, fault, levels, rails, temperature, outer)

    def settles(towards: float) -> Array:
        pushed = _pushed_current(design, topology, fault, solved[key], place, outer.size, towards)
        return _rail_level(design, topology, law, fault, wave, pushed, towards, temperature, outer)

    ends = settles(sign), np.full(outer.size, lower if sign > 0 else upper)
    if fault.kind == "mains-frequency":
        ends = ends[0], settles(-sign)
    before = _laid(design, topology, fault, solved[key], wave, place, outer, sign, ends)
    rails = ends if sign > 0 else ends[::-1]
    if fault.power == "off" or (np.all(rails[0] == upper) and np.all(rails[1] == lower)):
        return before
    key = (key[0] + rails[0].tobytes() + rails[1].tobytes(), *key[1:])
    if key not in solved:
        solved[key] = _solve(design, topology, law, fault, levels, rails, temperature, outer)
    after = _laid(design, topology, fault, solved[key], wave, place, outer, sign, ends)
    return replace(before, settled=after)


def _laid(
    design: Design,
    topology: Topology,
    fault: Fault,
    solution: Solution,
    wave: Array,
    place: Places,
    outer: Array,
    sign: float,
    ends: tuple[Array, Array],
) -> FaultSolution:
    """The waveforms of one solved circuit, each phase from its place among the solved levels.

    ends : V at which the pushed rail and the other one end
    """

    def laid(values: Array) -> Array:
        return _by_phase(values, solution, place, outer.size)

    zero = np.zeros(solution.residual.shape)
    current = solution.resistor_current
    clamp = {side: laid(i) for side, i in solution.clamp_current.items()}
    node = "clamp node" if "clamp node" in solution.deviation else "pin"
    nothing = np.zeros((outer.size, wave.size))
    return FaultSolution(
        fault_voltage=np.tile(wave, (outer.size, 1)),
        fault_current=laid(current["R_fault"]),
        outer_drop=laid(current["R_outer"]) * outer[:, None],
        inner_current=laid(current.get("R_inner", zero)),
        guard_current=laid(current.get("R_guard", zero)),
        clamp_voltage={s: laid(solution.clamp_voltage[s]) for s in topology.sides},
        clamp_current={s: clamp[s] for s in topology.sides},
        clamp_node=laid(solution.voltage(node)),
        pin_voltage=laid(solution.voltage("pin")),
        pin_current=clamp.get("pin upper", nothing) - clamp.get("pin lower", nothing),
        rail="positive" if sign > 0 else "negative",
        rail_current=_pushed_current(design, topology, fault, solution, place, outer.size, sign),
        rail_level=ends[0],
        other_level=ends[1],
    )


def _by_phase(values: Array, solution: Solution, place: Places, resistors: int) -> Array:
    """Values of the solved levels as (resistors, phases)."""
    every = np.broadcast_to(values, solution.residual.shape)
    return np.asarray(every.reshape(resistors, -1)[:, place])


def waveform(fault: Fault, sign: float) -> Array:
    """Voltage of a fault at the connector (V): one period of the mains, or its one level."""
    if fault.kind == "mains-frequency":
        phase = np.arange(PHASES) / PHASES * 2 * np.pi
        return np.asarray(sign * abs(fault.voltage) * np.sqrt(2) * np.sin(phase))
    return np.array([sign * abs(fault.voltage)])


def rail_voltages(design: Design, power: str) -> tuple[float, float]:
    """Positive and negative rail (V) in a power state: nothing when off."""
    return (0.0, 0.0) if power == "off" else (design.rails.positive, design.rails.negative)


def _solve(
    design: Design,
    topology: Topology,
    law: ClampLaw,
    fault: Fault,
    wave: Array,
    rails: tuple[Array, Array],
    temperature: float,
    outer: Array,
) -> Solution:
    """Every level of `wave` for every outer resistor, each of which has its own rails (V)."""
    upper, lower = (np.repeat(rail, wave.size) for rail in rails)
    circuit, values = fault_values(
        design, topology, law, fault, np.tile(wave, outer.size), (upper, lower), temperature,
        np.repeat(outer, wave.size),
    )  # fmt: skip
    return require_held(circuit, values, solve(circuit, values), f"fault {fault.name}")


def fault_values(
    design: Design,
    topology: Topology,
    law: ClampLaw,
    fault: Fault,
    applied: Array,
    rails: tuple[Array | float, Array | float],
    temperature: float,
    outer: Array,
) -> tuple[Circuit, Values]:
    """The circuit under a fault and what its elements are worth.

    applied, outer : V at the connector and Ω of the outer resistor, one entry per case
    rails          : V, positive and negative, alike in every case or one entry each; temperature : K
    """
    circuit = _circuit(design, topology)
    saturated = np.clip(applied, rails[1], rails[0])
    given: dict[str, Array | float] = {
        "fault": applied,
        "rail positive": rails[0],
        "rail negative": rails[1],
        "guard": saturated,
        "output": saturated,
    }
    source = max(fault.source_resistance, SMALLEST_FAULT_RESISTANCE)
    state = at_conditions(law, temperature)
    others = other_laws(design, topology, circuit, topology.sides, temperature)
    values = Values(
        potentials=potentials(design, topology, circuit, given),
        resistances=resistances(design, topology, circuit, {"R_fault": source, "R_outer": outer}),
        laws={
            **dict.fromkeys(topology.sides, state),
            **{name: at_conditions(other, temperature) for name, other in others.items()},
        },
        currents={},
        driven={},
    )
    return circuit, values


def _circuit(design: Design, topology: Topology) -> Circuit:
    """The circuit of the first stage of a fault, before anything trips, opens or fires."""
    return fault_circuit(
        topology,
        inner=design.network.inner_resistor is not None,
        present=present_roles(design, topology),
    )


def _pushed_current(
    design: Design,
    topology: Topology,
    fault: Fault,
    solution: Solution,
    place: Places,
    resistors: int,
    sign: float,
) -> Array:
    """The mean current (A) that all channels push into the rail of this sign.

    A saturated follower or output hands what it takes to the rail it is stuck at.
    """
    rail = "positive" if sign > 0 else "negative"
    into = into_rail(_circuit(design, topology), solution, rail)
    pushed = np.mean(np.maximum(sign * _by_phase(into, solution, place, resistors), 0.0), axis=1)
    return np.asarray(pushed * fault.channels)


def into_rail(circuit: Circuit, solution: Solution, rail: str) -> Array:
    """Current (A) into the rail "positive" or "negative" in each case, with what is stuck at it."""
    nodes = {f"rail {rail}", "guard", "output"} & set(circuit.fixed)
    into = np.zeros_like(next(iter(solution.resistor_current.values())))
    branches = [(c.anode, c.cathode, solution.clamp_current[c.name]) for c in circuit.clamps]
    branches += [(r.a, r.b, solution.resistor_current[r.name]) for r in circuit.resistors]
    for a, b, current in branches:
        if b in nodes and a not in nodes:
            into = into + current
        if a in nodes and b not in nodes:
            into = into - current
    return into


def _rail_level(
    design: Design,
    topology: Topology,
    law: ClampLaw,
    fault: Fault,
    wave: Array,
    pushed: Array,
    sign: float,
    temperature: float,
    outer: Array,
) -> Array:
    """Rail voltage (V) at which the mean current still pushed into it equals the load.

    The clamp counts with its forward drop at the load current; the current through the path is then
    (fault − rail − drop)/resistance. Bisection on the rail, all resistors at once.
    """
    rails, load = design.rails, load_current(design, fault.power)
    nominal = rails.positive if sign > 0 else rails.negative
    level = np.full(outer.size, nominal)
    rail = "positive" if sign > 0 else "negative"
    if fault.power == "off" or takes_any_current(design, rail) or load is None:
        return level
    lifted = pushed > load
    if not lifted.any():
        return level
    carrying = law if topology.has_clamp else PIN_JUNCTION
    drop = float(voltage_at_current(max(load, 1e-9), at_conditions(carrying, temperature))[0])
    path = max(fault.source_resistance, SMALLEST_FAULT_RESISTANCE) + outer[lifted]
    for name in ALSO_IN_THE_PATH:
        if any(r.name == name for r in topology.fault[topology.stages[0]].resistors):
            path = path + role_value(design, topology, name)
    low = np.full(path.size, abs(nominal))
    high = np.full(path.size, float(np.max(np.abs(wave))))
    for _ in range(PUMPING_STEPS):
        middle = 0.5 * (low + high)
        flow = (sign * wave[None, :] - middle[:, None] - drop) / path[:, None]
        above = fault.channels * np.mean(np.maximum(flow, 0.0), axis=1) > load
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    held = np.maximum(high, abs(nominal))
    if rails.shunt_voltage is not None:  # a shunt on the rail sinks the rest
        held = np.minimum(held, max(rails.shunt_voltage, abs(nominal)))
    level[lifted] = sign * held
    return level
