"""Solve a design under one direct or mains-frequency fault: currents, powers, pin and rails.

A mains-frequency fault is slow against every time constant here, so one period is solved point by
point and averaged. Impulses (discharge, surge, burst) are not solved in this room yet.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampwright.network.solve import Solution, Values, require_converged, solve
from clampwright.network.topologies import Topology, fault_circuit
from clampwright.physics.clamp import ClampLaw, ClampState, at_conditions
from clampwright.verdict.design import Design, Fault

Array = NDArray[np.float64]

PHASES = 240  # points of one mains period
SMALLEST_FAULT_RESISTANCE = 1e-3  # [Ω] stands for a stiff source
PIN_JUNCTION = ClampLaw(diffusion_current=1e-14, series_resistance=10.0)
PIN_JUNCTION_WORDS = (
    "the amplifier's own pin junctions: small silicon junctions, about 0.65 V at 1 mA, 10 Ω "
    "(common practice, no source)"
)
PUMPING_STEPS = 60


@dataclass(frozen=True)
class FaultSolution:
    """Waveforms over one period (one point for a direct fault); currents in A, voltages in V.

    rail_excess: mean current pushed into the pumped rail; rail_level: where that rail settles when
    the load cannot take it (its nominal value otherwise).
    """

    fault_voltage: Array
    fault_current: Array
    inner_current: Array
    guard_current: Array
    clamp_voltage: dict[str, Array]
    clamp_current: dict[str, Array]
    clamp_node: Array
    pin_voltage: Array
    pin_current: Array
    rail: str
    rail_current: float
    rail_level: float
    residual: float


def load_current(design: Design, power: str) -> float | None:
    """The least current (A) that loads a rail in a power state; None if the sheet does not say."""
    rails = design.rails
    if power == "off":
        return 0.0
    if power == "asleep" or rails.load is None:
        return rails.minimum_load
    return rails.load


def solve_fault(
    design: Design, topology: Topology, law: ClampLaw, fault: Fault, sign: float, temperature: float
) -> FaultSolution:
    """Solve one fault with one sign at one board temperature (K).

    When the rail cannot take the current and the supply cannot sink, the rail rises until the
    current that still flows equals the load; that level is reported in `rail_level`.
    """
    voltage = _waveform(fault, sign)
    rails = _rail_voltages(design, fault.power)
    solution = _solve(design, topology, law, fault, voltage, rails, temperature)
    rail, current = _pumped(topology, solution, sign)
    level = rails[0] if rail == "positive" else rails[1]
    load = load_current(design, fault.power)
    if fault.power != "off" and not design.rails.can_sink and load is not None and current > load:
        level = _pumped_level(design, topology, law, fault, voltage, rails, temperature, sign, load)
    return FaultSolution(
        fault_voltage=voltage,
        fault_current=solution.resistor_current["R_fault"],
        inner_current=solution.resistor_current.get("R_inner", np.zeros_like(voltage)),
        guard_current=solution.resistor_current.get("R_guard", np.zeros_like(voltage)),
        clamp_voltage={s: solution.clamp_voltage[s] for s in topology.sides},
        clamp_current={s: solution.clamp_current[s] for s in topology.sides},
        clamp_node=solution.voltage("clamp node" if "R_inner" in solution.resistor_current else "pin"),
        pin_voltage=solution.voltage("pin"),
        pin_current=solution.clamp_current["pin upper"] - solution.clamp_current["pin lower"],
        rail=rail,
        rail_current=current,
        rail_level=level,
        residual=float(solution.residual.max()),
    )


def _waveform(fault: Fault, sign: float) -> Array:
    if fault.kind == "mains-frequency":
        phase = (np.arange(PHASES) + 0.5) / PHASES * 2 * np.pi
        return np.asarray(sign * abs(fault.voltage) * np.sqrt(2) * np.sin(phase))
    return np.array([sign * abs(fault.voltage)])


def _rail_voltages(design: Design, power: str) -> tuple[float, float]:
    return (0.0, 0.0) if power == "off" else (design.rails.positive, design.rails.negative)


def _solve(
    design: Design,
    topology: Topology,
    law: ClampLaw,
    fault: Fault,
    voltage: Array,
    rails: tuple[float, float],
    temperature: float,
) -> Solution:
    network = design.network
    resistances = {
        "R_fault": max(fault.source_resistance, SMALLEST_FAULT_RESISTANCE),
        "R_outer": network.outer_resistor.value * network.outer_resistor.count,
    }
    inner = network.inner_resistor
    if inner:
        resistances["R_inner"] = inner.value * inner.count
    potentials: dict[str, Array | float] = {
        "fault": voltage,
        "rail positive": rails[0],
        "rail negative": rails[1],
    }
    if topology.needs_guard:
        guard = network.guard_resistor
        resistances["R_guard"] = guard.value * guard.count if guard else 1.0
        potentials["guard"] = np.clip(voltage, rails[1], rails[0])
    state, pin = at_conditions(law, temperature), at_conditions(PIN_JUNCTION, temperature)
    laws: dict[str, ClampState] = dict.fromkeys(topology.sides, state)
    values = Values(
        potentials=potentials,
        resistances=resistances,
        laws=laws | {"pin upper": pin, "pin lower": pin},
        currents={},
        driven={},
    )
    circuit = fault_circuit(topology, inner=inner is not None)
    return require_converged(solve(circuit, values), f"fault {fault.name}")


def _pumped(topology: Topology, solution: Solution, sign: float) -> tuple[str, float]:
    """The rail that a fault of this sign pushes, and the mean current (A) pushed into it."""
    clamp = solution.clamp_current
    if sign > 0:
        current = clamp["pin upper"] + clamp.get("upper", 0.0)
    else:
        current = clamp["pin lower"] + clamp.get("lower", 0.0)
    if topology.needs_guard:  # the saturated follower hands the clamp current to its own rail
        current = current + np.maximum(-sign * solution.resistor_current["R_guard"], 0.0)
    return ("positive" if sign > 0 else "negative"), float(np.mean(np.maximum(current, 0.0)))


def _pumped_level(
    design: Design,
    topology: Topology,
    law: ClampLaw,
    fault: Fault,
    voltage: Array,
    rails: tuple[float, float],
    temperature: float,
    sign: float,
    load: float,
) -> float:
    """Rail voltage (V) at which the current still pushed into it equals the load, by bisection."""
    low, high = abs(rails[0] if sign > 0 else rails[1]), float(np.max(np.abs(voltage)))
    for _ in range(PUMPING_STEPS):
        middle = 0.5 * (low + high)
        moved = (middle, rails[1]) if sign > 0 else (rails[0], -middle)
        solution = _solve(design, topology, law, fault, voltage, moved, temperature)
        if _pumped(topology, solution, sign)[1] > load:
            low = middle
        else:
            high = middle
    return high if sign > 0 else -high
