"""Solve a design under one direct or mains-frequency fault, for one or many series resistors.

A mains-frequency fault is slow against every time constant here, so one period is solved point by
point and averaged. Impulses (discharge, surge, burst) are not solved in this room yet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampwright.network.solve import Solution, Values, require_converged, solve
from clampwright.network.topologies import Topology, fault_circuit
from clampwright.physics.clamp import ClampLaw, at_conditions
from clampwright.physics.terminal import voltage_at_current
from clampwright.verdict.design import Design, Fault

Array = NDArray[np.float64]

PHASES = 48  # points of one mains period, its peaks among them
SMALLEST_FAULT_RESISTANCE = 1e-3  # [Ω] stands for a stiff source
PIN_JUNCTION = ClampLaw(diffusion_current=1e-14, series_resistance=10.0)
PUMPING_STEPS = 60
DECIMALS = 12  # of a volt: phases of a period that differ by rounding alone are solved once
Solved = dict[tuple[bytes, tuple[float, float], float], Solution]


@dataclass(frozen=True)
class FaultSolution:
    """Waveforms, (resistors, phases): currents in A, voltages in V.

    rail_current : mean current pushed into the pumped rail, (resistors,)
    rail_level   : where that rail settles when the load cannot take it, else its nominal value
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
    current that still flows equals the load; that level is reported in `rail_level`.
    """
    wave = _waveform(fault, sign)
    rails = _rail_voltages(design, fault.power)
    both = np.round(np.concatenate([wave, -wave]), DECIMALS)
    levels, place = np.unique(both, return_inverse=True)
    place = place[: wave.size]
    key = (levels.tobytes(), rails, fault.source_resistance)
    solved = {} if solved is None else solved
    if key not in solved:
        solved[key] = _solve(design, topology, law, fault, levels, rails, temperature, outer)
    solution, count = solved[key], outer.size * levels.size

    def laid(values: Array) -> Array:
        return np.broadcast_to(values, (count,)).reshape(outer.size, levels.size)[:, place]

    zero = np.zeros(count)
    current = solution.resistor_current
    clamp = {side: laid(i) for side, i in solution.clamp_current.items()}
    guard = laid(current.get("R_guard", zero))
    rail, pushed = _pushed(topology, clamp, guard, sign)
    pushed = pushed * fault.channels
    inner = design.network.inner_resistor is not None
    return FaultSolution(
        fault_voltage=np.tile(wave, (outer.size, 1)),
        fault_current=laid(current["R_fault"]),
        outer_drop=laid(current["R_outer"]) * outer[:, None],
        inner_current=laid(current.get("R_inner", zero)),
        guard_current=guard,
        clamp_voltage={s: laid(solution.clamp_voltage[s]) for s in topology.sides},
        clamp_current={s: clamp[s] for s in topology.sides},
        clamp_node=laid(solution.voltage("clamp node" if inner else "pin")),
        pin_voltage=laid(solution.voltage("pin")),
        pin_current=clamp["pin upper"] - clamp["pin lower"],
        rail=rail,
        rail_current=pushed,
        rail_level=_rail_level(
            design, topology, law, fault, wave, pushed, sign, temperature, outer
        ),
    )


def _waveform(fault: Fault, sign: float) -> Array:
    if fault.kind == "mains-frequency":
        phase = np.arange(PHASES) / PHASES * 2 * np.pi
        return np.asarray(sign * abs(fault.voltage) * np.sqrt(2) * np.sin(phase))
    return np.array([sign * abs(fault.voltage)])


def _rail_voltages(design: Design, power: str) -> tuple[float, float]:
    return (0.0, 0.0) if power == "off" else (design.rails.positive, design.rails.negative)


def _solve(
    design: Design,
    topology: Topology,
    law: ClampLaw,
    fault: Fault,
    wave: Array,
    rails: tuple[float, float],
    temperature: float,
    outer: Array,
) -> Solution:
    network = design.network
    resistances: dict[str, Array | float] = {
        "R_fault": max(fault.source_resistance, SMALLEST_FAULT_RESISTANCE),
        "R_outer": np.repeat(outer, wave.size),
    }
    inner = network.inner_resistor
    if inner:
        resistances["R_inner"] = inner.value * inner.count
    applied = np.tile(wave, outer.size)
    potentials: dict[str, Array | float] = {
        "fault": applied,
        "rail positive": rails[0],
        "rail negative": rails[1],
    }
    if topology.needs_guard:
        guard = network.guard_resistor
        resistances["R_guard"] = guard.value * guard.count if guard else 1.0
        potentials["guard"] = np.clip(applied, rails[1], rails[0])
    state, pin = at_conditions(law, temperature), at_conditions(PIN_JUNCTION, temperature)
    values = Values(
        potentials=potentials,
        resistances=resistances,
        laws=dict.fromkeys(topology.sides, state) | {"pin upper": pin, "pin lower": pin},
        currents={},
        driven={},
    )
    circuit = fault_circuit(topology, inner=inner is not None)
    return require_converged(solve(circuit, values), f"fault {fault.name}")


def _pushed(
    topology: Topology, clamp: dict[str, Array], guard: Array, sign: float
) -> tuple[str, Array]:
    """The rail that a fault of this sign pushes, and the mean current (A) pushed into it."""
    side, pin = ("upper", "pin upper") if sign > 0 else ("lower", "pin lower")
    current = clamp[pin] + clamp.get(side, 0.0)
    if topology.needs_guard:  # the saturated follower hands the clamp current to its own rail
        current = current + np.maximum(-sign * guard, 0.0)
    mean = np.mean(np.maximum(current, 0.0), axis=1)
    return ("positive" if sign > 0 else "negative"), mean


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
    if topology.needs_guard and design.network.guard_resistor:
        path = path + design.network.guard_resistor.value * design.network.guard_resistor.count
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
