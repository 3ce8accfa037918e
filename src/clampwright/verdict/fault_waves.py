"""Currents, voltages and powers of a fault over time, quasi-static: the network solved instant by instant.

A mains-frequency fault is solved at `PHASES` points of one period, with the rails where they settle; a
direct one while it rises and is held, with a rail that nothing holds moving as its capacitance lets it.
No other charge is stored; parts are as on the hottest board; impulses are not solved here and stay NOT
MEASURED.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.network.circuit import Circuit
from clampwright.network.solve import Solution, require_converged, solve
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.fault_solution import fault_values, into_rail, rail_voltages
from clampwright.verdict.faults import IMPULSES, faults_of_design, signs_of
from clampwright.verdict.laid_out import ABSENT
from clampwright.verdict.layout import topology_of
from clampwright.verdict.part_names import part_name
from clampwright.verdict.results import FaultCase, Result, StressLine

Array = NDArray[np.float64]

PHASES = 200  # points of one period
POINTS = 161  # of a direct fault
RISE_SHARE = (
    0.1  # of the time drawn: a direct voltage rises that long, so that one sees what takes over
)
HELD_TIME = 10e-3  # [s] drawn of a direct fault under which nothing moves any more
SETTLED = 4.0  # time constants of the rail that are drawn, or times the time to its shunt
ROUNDS = 60  # of rail and network after each other; the error falls as SETTLED^n/n!
RAIL_AGREES = 1e-6  # [V]


class WaveLine(Result):
    """A level that a wave is held against: the rating, the share of it that is used."""

    name: str
    value: float


class Wave(Result):
    """One quantity of one part over time, with its levels; SI unit beside.

    mean : whether its rating is for the mean over the period
    """

    part: str
    quantity: str
    unit: str
    values: tuple[float, ...]
    levels: tuple[WaveLine, ...]
    mean: bool = False


class FaultWaves(Result):
    """One fault with one sign over time.

    time : s, of one period or from the moment at which a direct voltage begins to rise
    span : what the time is, in words; moved : the rail that is pumped, "" where none is
    """

    fault: str
    words: str
    design_hash: str
    periodic: bool
    time: tuple[float, ...]
    waves: tuple[Wave, ...]
    span: str
    moved: str
    note: str


class _Studied(NamedTuple):
    """The network over time; rails in V, one entry per instant."""

    circuit: Circuit
    solution: Solution
    positive: Array
    negative: Array


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
    cases = [c for c in faults_of_design(design, clamp).cases if c.name == fault.name]
    case = next((c for c in cases if c.voltage * signs_of(fault)[0] > 0), cases[0])
    time, applied = _applied(design, fault, case)
    studied = _studied(design, topology, clamp, fault, cases, time, applied)
    lifted = [c.rail for c in cases if c.rail_settles_at is not None]
    moved = ", ".join(sorted(lifted)) if fault.kind == "mains-frequency" else ""
    if fault.kind != "mains-frequency" and case.rail_settles_at is not None:
        moved = case.rail
    waves = [
        Wave(part="connector", quantity="voltage", unit="V", values=_plain(applied), levels=()),
        *_voltages(design, studied, moved),
        *_currents(topology, studied.solution, case),
        *_powers(design, studied.solution, case),
        *_into_the_rail(studied, fault, case),
    ]
    return FaultWaves(
        fault=fault.name,
        words=case.words,
        design_hash=design_hash,
        periodic=fault.kind == "mains-frequency",
        time=_plain(time),
        waves=tuple(waves),
        span=_span(fault, time),
        moved=moved,
        note=_note(design, fault, case, moved),
    )


def _applied(design: Design, fault: Fault, case: FaultCase) -> tuple[Array, Array]:
    """Time (s) and voltage at the connector (V); a period begins and ends at its peak."""
    sign = signs_of(fault)[0]
    if fault.kind == "mains-frequency":
        phase = np.arange(PHASES + 1) / PHASES
        peak = abs(fault.voltage) * np.sqrt(2.0)
        return phase / fault.frequency, sign * peak * np.cos(2 * np.pi * phase)
    share = np.linspace(0.0, 1.0, POINTS)
    rise = np.minimum(share / RISE_SHARE, 1.0)
    return share * _drawn_time(design, fault, case), sign * abs(fault.voltage) * rise


def _drawn_time(design: Design, fault: Fault, case: FaultCase) -> float:
    """How long (s) a direct fault is drawn: until a rail that it pumps has settled."""
    time = HELD_TIME
    if case.rail_settles_at is not None:
        nominal = design.rails.positive if case.rail == "positive" else design.rails.negative
        time = SETTLED * abs(case.rail_settles_at - nominal) / case.rail_rate
    return time if isinstance(fault.duration, str) else min(time, fault.duration)


def _studied(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    fault: Fault,
    cases: list[FaultCase],
    time: Array,
    applied: Array,
) -> _Studied:
    """The network at every instant, with each rail where it is then."""
    upper, lower = rail_voltages(design, fault.power)
    rails = {"positive": np.full(time.size, upper), "negative": np.full(time.size, lower)}
    pumped = {c.rail: c for c in cases if c.rail_settles_at is not None}
    if fault.kind == "mains-frequency":
        for rail, case in pumped.items():
            rails[rail] = np.full(time.size, case.rail_settles_at)
        return _solved(design, topology, clamp, fault, applied, rails)
    sign = signs_of(fault)[0]
    rail = "positive" if sign > 0 else "negative"
    studied = _solved(design, topology, clamp, fault, applied, rails)
    for _ in range(ROUNDS if rail in pumped else 0):
        before = rails[rail]
        rails = {**rails, rail: _rail_over_time(design, fault, pumped[rail], studied, time)}
        studied = _solved(design, topology, clamp, fault, applied, rails)
        if np.max(np.abs(rails[rail] - before)) < RAIL_AGREES:
            break
    return studied


def _rail_over_time(
    design: Design, fault: Fault, case: FaultCase, studied: _Studied, time: Array
) -> Array:
    """Rail (V): C·dV/dt is what is pushed in less what the load takes; it stays between start and end."""
    sign = 1.0 if case.rail == "positive" else -1.0
    nominal = design.rails.positive if sign > 0 else design.rails.negative
    pushed = sign * into_rail(studied.circuit, studied.solution, case.rail) * fault.channels
    slope = (pushed - (case.rail_load or 0.0)) / design.rails.capacitance
    highest = sign * (case.rail_settles_at or nominal)
    level = np.empty(time.size)
    level[0] = sign * nominal
    for i in range(1, time.size):
        step = 0.5 * (slope[i - 1] + slope[i]) * (time[i] - time[i - 1])
        level[i] = min(max(level[i - 1] + step, sign * nominal), highest)
    return sign * level


def _solved(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    fault: Fault,
    applied: Array,
    rails: dict[str, Array],
) -> _Studied:
    outer = design.network.outer_resistor
    circuit, values = fault_values(
        design, topology, clamp.fitted.law if clamp else ABSENT, fault, applied,
        (rails["positive"], rails["negative"]), design.board.temperature_maximum,
        np.full(applied.size, outer.value * outer.count),
    )  # fmt: skip
    solution = require_converged(solve(circuit, values), f"fault {fault.name}")
    return _Studied(circuit, solution, rails["positive"], rails["negative"])


def _voltages(design: Design, studied: _Studied, moved: str) -> list[Wave]:
    """Clamp node, pin and rails.

    Beyond `pin_beyond_rail` the pin's own junction takes current and holds the voltage by itself: that
    current is judged against its rating, the voltage is not (common practice, no source).
    """
    beyond, span = design.amplifier.pin_beyond_rail, design.rails.absolute_maximum
    solution, found = studied.solution, []
    if "clamp node" in solution.deviation:
        found.append(_wave("clamp node", "voltage", "V", solution.voltage("clamp node")))
    conducts = (
        WaveLine(name="the pin conducts above", value=float(studied.positive[-1]) + beyond),
        WaveLine(name="the pin conducts below", value=float(studied.negative[-1]) - beyond),
    )
    found.append(_wave("amplifier pin", "voltage", "V", solution.voltage("pin"), conducts))
    for rail, level, other, sign in (
        ("positive", studied.positive, studied.negative, 1.0),
        ("negative", studied.negative, studied.positive, -1.0),
    ):
        most: tuple[WaveLine, ...] = ()
        if rail in moved and span is not None:
            most = (WaveLine(name="rating", value=float(other[-1]) + sign * span),)
        found.append(_wave(f"{rail} rail", "voltage", "V", level, most))
    return found


def _currents(topology: Topology, solution: Solution, case: FaultCase) -> list[Wave]:
    """Each clamp, then the pin, against their ratings."""
    currents, found = solution.clamp_current, []
    rated = next((s for s in case.stresses if s.quantity == "forward current"), None)
    for side in topology.sides:
        found.append(_wave(part_name(side), "current", "A", currents[side], _levels(rated)))
    pin = currents.get("pin upper", 0.0) - currents.get("pin lower", np.zeros(1))
    known = next((s for s in case.stresses if s.part == "amplifier pin"), None)
    size = np.broadcast_to(np.asarray(pin, float), solution.voltage("pin").shape)
    return [*found, _wave("amplifier pin", "current", "A", size, _levels(known))]


def _powers(design: Design, solution: Solution, case: FaultCase) -> list[Wave]:
    """Power in one body of each series resistor."""
    found = []
    network = design.network
    for role, resistor in (
        ("R_outer", network.outer_resistor),
        ("R_inner", network.inner_resistor),
        ("R_guard", network.guard_resistor),
    ):
        if resistor is None or role not in solution.resistor_current:
            continue
        current, name = solution.resistor_current[role], part_name(role)
        known = next((s for s in case.stresses if (s.part, s.quantity) == (name, "power")), None)
        power = current**2 * resistor.value
        found.append(_wave(name, "power", "W", power, _levels(known), mean=True))
    return found


def _into_the_rail(studied: _Studied, fault: Fault, case: FaultCase) -> list[Wave]:
    """What is pushed into the rail of this sign, against the load that takes it; nothing unpowered.

    A rail that moves takes what the load leaves: there the rail is held against its maximum instead.
    """
    if fault.power == "off" or case.rail_load is None:
        return []
    sign = 1.0 if case.rail == "positive" else -1.0
    pushed = sign * into_rail(studied.circuit, studied.solution, case.rail) * fault.channels
    taken = case.rail_load > 0 and case.rail_settles_at is None
    load = (WaveLine(name="usable, the load", value=case.rail_load),) if taken else ()
    name = f"into the {case.rail} rail"
    return [_wave(name, "current", "A", np.maximum(pushed, 0.0), load, mean=True)]


def _span(fault: Fault, time: Array) -> str:
    """What the time is that is drawn."""
    length = write(float(time[-1]), "time")
    if fault.kind == "mains-frequency":
        return f"one period, {length}"
    if isinstance(fault.duration, str):
        return f"continuous; its first {length} are drawn"
    held = write(fault.duration, "time")
    return f"held for {held}" + (
        "" if time[-1] >= fault.duration else f"; its first {length} are drawn"
    )


def _note(design: Design, fault: Fault, case: FaultCase, moved: str) -> str:
    """What the picture takes as given."""
    said = ["Quasi-static: the network is solved at each instant, the board at its hottest."]
    if moved and fault.kind == "mains-frequency":
        said.append(f"The {moved} rail is drawn where it settles after many periods.")
    elif moved:
        capacitance = write(design.rails.capacitance, "capacitance")
        said.append(
            f"The {moved} rail moves with its {capacitance} and what the load leaves; nothing else "
            "stores charge."
        )
    elif fault.power != "off" and case.rail_load is None:
        said.append("The load of the rails is not stated, so that they are drawn at nominal.")
    if fault.kind == "mains-frequency":
        said.append("Powers and the current into a rail are means over the period.")
    else:
        meanwhile = ", in which the rail has moved already" if moved else ""
        said.append(f"The voltage is drawn as rising over a tenth of the time{meanwhile}.")
    return " ".join(said)


def _levels(line: StressLine | None) -> tuple[WaveLine, ...]:
    """The rating, and the share of it that a design may use."""
    if line is None or line.rating is None:
        return ()
    return (
        WaveLine(name="rating", value=line.rating),
        WaveLine(name=f"usable, {line.derating:.0%} of it", value=line.derating * line.rating),
    )


def _wave(
    part: str,
    quantity: str,
    unit: str,
    values: Array,
    levels: tuple[WaveLine, ...] = (),
    *,
    mean: bool = False,
) -> Wave:
    return Wave(
        part=part, quantity=quantity, unit=unit, values=_plain(values), levels=levels, mean=mean
    )


def _plain(values: Array) -> tuple[float, ...]:
    return tuple(float(v) for v in values)
