"""Where the clamps of a design sit in normal use."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from clampwright.network.topologies import Topology, sits_at
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.law_fit import KNOWN_SHARE, Basis, FittedLaw
from clampwright.parts.law_interval import leakages_at
from clampwright.physics.ranges import flags
from clampwright.verdict.corners import OFFSET_TEMPERATURE, Corners, largest_offset
from clampwright.verdict.design import Design, guard_offset
from clampwright.verdict.layout import role_value, topology_of

Array = NDArray[np.float64]


def sits(
    design: Design,
    topology: Topology,
    side: str,
    signal: float,
    board_temperature: float = OFFSET_TEMPERATURE,
) -> float:
    """Anode minus cathode (V) of one clamp at a signal (V), before leakage shifts anything.

    board_temperature : K, to which the offset that a summing node is held at drifts
    """
    if topology.name == "own":
        return _solved(design, topology, side, signal)
    roles = {r.name for r in topology.roles}

    def held(name: str) -> float:
        return role_value(design, topology, name) if name in roles else 0.0

    return float(
        sits_at(
            topology,
            side,
            signal,
            (design.rails.positive, design.rails.negative),
            guard_offset(design),
            clamp_rails=(held("clamp rail positive"), held("clamp rail negative")),
            middle=held("middle bias"),
            amplifier_offset=_held_offset(design, topology, board_temperature),
        )
    )


def sits_over(design: Design, topology: Topology, side: str, grid: Corners) -> Array:
    """The same (V) at every corner; what does not depend on heat is found once for each signal."""
    heat = grid.board_temperature
    if topology.name != "T13":
        heat = np.full_like(heat, OFFSET_TEMPERATURE)
    every = list(zip(grid.signal.tolist(), heat.tolist(), strict=True))
    found = {place: sits(design, topology, side, *place) for place in dict.fromkeys(every)}
    return np.array([found[place] for place in every])


def _held_offset(design: Design, topology: Topology, board_temperature: float) -> float:
    """The amplifier's offset (V) as the solver holds it: with its drift at a summing node only."""
    if topology.name == "T13":
        return float(largest_offset(design.amplifier, board_temperature))
    return abs(design.amplifier.offset_voltage)


def _solved(design: Design, topology: Topology, side: str, signal: float) -> float:
    """The same from the solved network without clamps, where no list says it."""
    from clampwright.verdict.corners import resistance_at
    from clampwright.verdict.laid_out import ABSENT, Case

    cold = np.array([design.source.temperature_minimum])
    board = np.array([design.board.temperature_maximum])
    place = Corners(
        sensor_temperature=cold,
        board_temperature=board,
        illuminance=np.zeros(1),
        signal=np.array([signal]),
        source_resistance=resistance_at(design.source, cold),
    )
    found = Case(design, topology, place).solve(ABSENT, (), (), bias=False)
    return float(found.solution.clamp_voltage[side][0])


NEAR_ZERO = 0.1  # [V] below it the slope at zero bias counts, not the reverse leakage
MOST_CLAMPS = 200  # kept with the basis of their use
MOST_PLACES = 1000  # of any clamp, kept
NEAREST_ZERO = 0.01  # [V] reverse; where a clamp at zero volts is asked how well it is known


def in_use(
    design: Design, topology: Topology, clamp: Clamp, sides: tuple[str, ...] | None = None
) -> Clamp:
    """The clamp with its basis judged where this design uses it, not where its class states it.

    Measured: the readings leave less than half of the class's spread in ln leakage at the reverse
    voltage and the board temperature of use. sides : where it sits, if not all those of the topology
    """
    if not clamp.points:
        return clamp
    return in_use_at(clamp, *place_of_use(design, topology, sides))


def place_of_use(
    design: Design, topology: Topology, sides: tuple[str, ...] | None = None
) -> tuple[float, float]:
    """Largest reverse voltage (V) of a clamp in normal use, 10 mV at least, and warmest board (K)."""
    signals = (design.requirement.signal_minimum, design.requirement.signal_maximum)
    volts = max(-sits(design, topology, s, v) for s in sides or topology.sides for v in signals)
    return max(volts, NEAREST_ZERO), design.board.temperature_maximum


def in_use_at(clamp: Clamp, *place: float) -> Clamp:
    """The clamp with its basis judged at a reverse voltage (V) and temperature (K)."""
    fitted = clamp.fitted
    known, before = _deviations(fitted, *place)
    if known < KNOWN_SHARE * before:
        return _resting_on(clamp, "measured")
    if fitted.basis == "measured":
        return _resting_on(clamp, "maximum" if fitted.maxima else "assumed")
    return clamp


@lru_cache(maxsize=MOST_CLAMPS)
def _resting_on(clamp: Clamp, basis: Basis) -> Clamp:
    """The clamp with another basis: one and the same at every place, so that what follows is kept."""
    return replace(clamp, fitted=replace(clamp.fitted, basis=basis))


def beyond_evidence(
    design: Design, clamp: Clamp, grid: Corners, sides: tuple[str, ...] | None = None
) -> tuple[str, ...]:
    """How the conditions of use leave the range of the clamp's evidence or of its formulas."""
    topology = topology_of(design)
    sides = sides or topology.sides
    signals = sorted({float(s) for s in grid.signal})
    volts = np.array([sits(design, topology, s, v) for s in sides for v in signals])
    found = flags(
        clamp.fitted.law, volts[:, None], grid.board_temperature[None, :], grid.illuminance[None, :]
    )
    said = [f"{clamp.name} is used {phrase}" for phrase in found]
    nearest = min((abs(p.reverse_voltage) for p in clamp.points), default=0.0)
    if float(np.max(np.abs(volts))) < NEAR_ZERO < nearest:
        said.append(f"{clamp.name} sits nearer zero than its evidence: measure it at ±10 mV")
    return tuple(said)


@lru_cache(maxsize=MOST_PLACES)
def _deviations(fitted: FittedLaw, voltage: float, temperature: float) -> tuple[float, float]:
    """Standard deviation of ln leakage at a reverse voltage (V) and temperature (K), in the dark.

    With the readings, and by the class alone.
    """
    value, gradient = leakages_at(fitted, ((voltage, temperature),))
    slope = gradient[0] / value[0]
    both = (fitted.covariance, fitted.prior.covariance)
    known, before = (float(np.sqrt(slope @ covariance @ slope)) for covariance in both)
    return known, before


def side_words(topology: Topology, side: str) -> str:
    """What to call the clamps that act together."""
    if side in ("upper", "lower"):
        return f"clamp to the {'positive' if side == 'upper' else 'negative'} rail"
    if not side:
        return "no clamp"
    if topology.name == "own":
        return f"clamp {side}" if side != "pair" else "clamps together"
    return {
        "T4": "clamp pair across the amplifier inputs",
        "T5": "clamp pair on the guard",
        "T9": "clamp pair to the middle node",
        "T13": "clamp pair at the virtual ground",
        "T17": "stack of clamps to ground",
    }.get(topology.name, "clamp pair")
