"""Stress against rating for every part under a fault, for one or many series resistors at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.design import Design, Fault, Resistor
from clampwright.verdict.fault_solution import FaultSolution, load_current, takes_any_current
from clampwright.verdict.resistor import resistor_rating
from clampwright.verdict.results import Basis, StressLine, Verdict

Array = NDArray[np.float64]

# Share of a rating that a design may use; common practice, no source.
DERATINGS = {
    "voltage": 0.8,
    "power": 0.5,
    "forward current": 0.5,
    "pin current": 0.5,
    "pin current, continuous": 0.2,
    "breakdown": 0.7,
    "supply voltage": 1.0,
    "rail load": 1.0,
    "junction temperature": 1.0,
}
JUNCTION_LIMIT = 398.15  # [K] 125 °C; common practice
PIN_CURRENT_DEFAULT = 5e-3  # [A] when the amplifier's sheet states none; common practice
STATES_AGREE = 1e-3  # relative; below it a stress is the same before a rail rises and after
BEFORE_IT_RISES = "before the rail rises"
UNSTRESSED = 1e9  # ratio shown where there is no stress at all
DIMENSIONS = {"V": "voltage", "A": "current", "W": "power", "K": "temperature_difference"}


@dataclass(frozen=True)
class ClampRatings:
    """Ratings of a clamp as wired; None means not stated (then NOT MEASURED)."""

    name: str
    forward_current: float | None
    breakdown_minimum: float | None
    thermal_resistance: float | None


@dataclass(frozen=True)
class Stress:
    """One stress for every series resistor, with its rating and the share that may be used."""

    part: str
    quantity: str
    stress: Array
    unit: str
    rating: float | None
    derating: str
    basis: Basis = "maximum"
    note: str = ""

    def ratio(self) -> Array | None:
        """Usable rating over stress; None without a rating."""
        if self.rating is None:
            return None
        usable = DERATINGS[self.derating] * self.rating
        with np.errstate(divide="ignore"):
            return np.minimum(np.where(self.stress > 0, usable / self.stress, np.inf), UNSTRESSED)

    def line(self, index: int) -> StressLine:
        """The frozen line for one series resistor."""
        ratio = self.ratio()
        here = None if ratio is None else float(ratio[index])
        verdict = Verdict.NOT_MEASURED
        if here is not None:
            verdict = Verdict.PASS if here >= 1 else Verdict.FAIL
        return StressLine(
            part=self.part,
            quantity=self.quantity,
            stress=float(self.stress[index]),
            unit=self.unit,
            rating=self.rating,
            derating=DERATINGS[self.derating],
            ratio=here,
            verdict=verdict,
            basis=self.basis,
            note=self.note or ("no rating on the sheet" if here is None else ""),
        )


def clamp_ratings(clamp: Clamp | None) -> ClampRatings | None:
    """The ratings of a clamp as wired."""
    if clamp is None:
        return None
    wiring, package = clamp.wiring, clamp.sheet.package
    own = wiring.thermal_resistance
    return ClampRatings(
        name=clamp.name,
        forward_current=wiring.forward_current_maximum,
        breakdown_minimum=wiring.breakdown_minimum,
        thermal_resistance=own if own is not None else package.thermal_resistance,
    )


def stresses(
    design: Design,
    topology: Topology,
    ratings: ClampRatings | None,
    fault: Fault,
    solution: FaultSolution,
) -> list[Stress]:
    """Every stress of one solved fault, at the worse of both states where a rail rises."""
    found = _parts(design, topology, ratings, fault, solution)
    if solution.settled is not None:
        after = _parts(design, topology, ratings, fault, solution.settled)
        level = write(float(solution.rail_level[0]), "voltage")
        found = [_worse(a, b, level) for a, b in zip(found, after, strict=True)]
    return found + list(_rail(design, fault, solution))


def _worse(before: Stress, after: Stress, level: str) -> Stress:
    """The larger of one stress before a rail rises and after, named where there is one resistor."""
    stress = np.maximum(before.stress, after.stress)
    if stress.size > 1 or np.allclose(before.stress, after.stress, rtol=STATES_AGREE, atol=0.0):
        return replace(before, stress=stress)
    rises = after.stress[0] > before.stress[0]
    state = f"with the rail at {level}" if rises else BEFORE_IT_RISES
    missing = "" if before.rating is not None or before.note else "no rating on the sheet"
    note = "; ".join(words for words in (before.note, missing, state) if words)
    return replace(before, stress=stress, note=note)


def _parts(
    design: Design,
    topology: Topology,
    ratings: ClampRatings | None,
    fault: Fault,
    solution: FaultSolution,
) -> list[Stress]:
    """Every stress of a part in one state of the rails."""
    network = design.network
    found = list(
        _resistor(
            design,
            "outer resistor",
            network.outer_resistor,
            solution.outer_drop,
            solution.fault_current,
        )
    )
    if network.inner_resistor:
        drop = solution.clamp_node - solution.pin_voltage
        current = solution.inner_current
        found += _resistor(design, "inner resistor", network.inner_resistor, drop, current)
    if network.guard_resistor and topology.needs_guard:
        guard = network.guard_resistor
        drop = solution.guard_current * guard.value * guard.count
        found += _resistor(design, "guard resistor", guard, drop, solution.guard_current)
    found.append(_pin(design, topology, fault, solution))
    if topology.has_clamp:
        found += _clamp(design, ratings, solution)
    return found


def _resistor(
    design: Design, name: str, resistor: Resistor, drop: Array, current: Array
) -> Iterator[Stress]:
    rating = resistor_rating(resistor, design.board.temperature_maximum)
    basis: Basis = "assumed" if rating.assumed else "maximum"
    note = rating.words + (f", each of {resistor.count}" if resistor.count > 1 else "")
    peak = np.max(np.abs(drop), axis=1) / resistor.count
    power = np.mean(np.abs(drop * current), axis=1) / resistor.count
    yield Stress(name, "voltage", peak, "V", rating.working_voltage, "voltage", basis, note)
    yield Stress(name, "power", power, "W", rating.power, "power", basis, note)


def _pin(design: Design, topology: Topology, fault: Fault, solution: FaultSolution) -> Stress:
    stated = design.amplifier.pin_current_maximum
    note = "" if stated is not None else "no rating stated: 5 mA taken"
    if halves(topology, solution):
        note = f"{note}; half the fault current taken".removeprefix("; ")
    return Stress(
        part="amplifier pin",
        quantity="current",
        stress=pin_current(topology, solution),
        unit="A",
        rating=stated if stated is not None else PIN_CURRENT_DEFAULT,
        derating="pin current, continuous" if fault.duration == "continuous" else "pin current",
        basis="maximum" if stated is not None else "assumed",
        note=note,
    )


def pin_current(topology: Topology, solution: FaultSolution) -> Array:
    """Largest pin current (A): the solved one, but at least half the fault where nothing separates.

    A clamp to a rail and the pin's junction to the same rail turn on alike; without an inner resistor
    half each is taken (common practice, no source).
    """
    solved = np.max(np.abs(solution.pin_current), axis=1)
    if halves(topology, solution):
        return np.asarray(np.maximum(solved, 0.5 * np.max(np.abs(solution.fault_current), axis=1)))
    return np.asarray(solved)


def halves(topology: Topology, solution: FaultSolution) -> bool:
    """Whether nothing separates a rail clamp from the pin's own junction to that rail."""
    to_rails = bool(topology.sides) and topology.sides[0] in ("upper", "lower")
    return to_rails and not np.any(solution.inner_current)


def _clamp(
    design: Design, ratings: ClampRatings | None, solution: FaultSolution
) -> Iterator[Stress]:
    known = ratings or ClampRatings("clamp", None, None, None)
    volts, amperes = solution.clamp_voltage, solution.clamp_current
    reverse = np.max([np.max(np.maximum(-v, 0.0), axis=1) for v in volts.values()], axis=0)
    power = np.max([np.mean(np.abs(v * amperes[s]), axis=1) for s, v in volts.items()], axis=0)
    forward = clamp_peak(solution)
    yield Stress(
        known.name, "forward current", forward, "A", known.forward_current, "forward current"
    )
    yield Stress(known.name, "reverse voltage", reverse, "V", known.breakdown_minimum, "breakdown")
    thermal = known.thermal_resistance
    room = JUNCTION_LIMIT - design.board.temperature_maximum
    if thermal is None:
        note = "no thermal resistance on the sheet, so what its power heats is unknown"
        what = "power, no thermal resistance"
        yield Stress(known.name, what, power, "W", None, "junction temperature", note=note)
        return
    yield Stress(
        part=known.name,
        quantity="temperature rise",
        stress=power * thermal,
        unit="K",
        rating=room,
        derating="junction temperature",
        note="junction to 125 °C",
    )


def clamp_peak(solution: FaultSolution) -> Array:
    """Largest current (A) of any clamp, for each series resistor."""
    if not solution.clamp_current:
        return np.zeros(solution.rail_current.size)
    peaks = [np.max(np.abs(c), axis=1) for c in solution.clamp_current.values()]
    return np.asarray(np.max(peaks, axis=0))


def _rail(design: Design, fault: Fault, solution: FaultSolution) -> Iterator[Stress]:
    """Rail pumping: taken by the load, or the supply span that it ends at."""
    if fault.power == "off" or takes_any_current(design, solution.rail):
        return
    load, name = load_current(design, fault.power), f"{solution.rail} rail"
    pushed = solution.rail_current
    if load is None:
        note = "minimum load not stated: measure it asleep"
        yield Stress(name, "pushed-in current", pushed, "A", None, "rail load", note=note)
        return
    lifted = pushed > load
    if not lifted.all():
        taken = np.where(lifted, 0.0, pushed)
        yield Stress(
            name, "pushed-in current", taken, "A", load, "rail load", "defined", "taken by the load"
        )
    if lifted.any():
        span = np.where(lifted, np.abs(solution.rail_level - solution.other_level), 0.0)
        rate = float(np.max(pushed - load)) / design.rails.capacitance
        note = f"the load cannot take it: rises at up to {write(rate, 'voltage_rate')}"
        shunt = design.rails.shunt_voltage
        if shunt is not None:
            excess = write(float(np.max(pushed - load)), "current")
            note += f", until the shunt of {write(shunt, 'voltage')} sinks {excess}"
        yield Stress(
            name,
            "supply span after pumping",
            span,
            "V",
            design.rails.absolute_maximum,
            "supply voltage",
            note=note,
        )


def figure(value: float, unit: str) -> str:
    """A stress or rating with its unit."""
    return write(value, DIMENSIONS[unit])
