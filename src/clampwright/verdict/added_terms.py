"""Film, solder joints and rectified hum: what the sheet states of them, as terms of the error.

Each comes from the linearised network at every corner: a current into a node or a voltage in the line
times what it makes at the pin, or at the output of a summing node.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from clampwright.network.adjoint import steady_transimpedance, transfer
from clampwright.network.circuit import Circuit, ClampBranch
from clampwright.network.hum import mean_current_shift
from clampwright.network.joints import joint_error
from clampwright.network.linearise import LinearNetwork, linearise
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.adjust import clamp_mismatch, mismatch
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import ABSENT, Case, Solved
from clampwright.verdict.layout import role_value
from clampwright.verdict.linear_case import VIRTUAL, with_capacitors
from clampwright.verdict.stated import (
    film_missing,
    film_resistance,
    joint_emf,
    joints_missing,
    ring_error,
    states_hum,
)
from clampwright.verdict.terms import AddedTerm, ErrorTerms, Interval

Array = NDArray[np.float64]

HUM_PHASES = 256  # of the average over a period: ranking takes thousands of them


@dataclass(frozen=True)
class Loaded:
    """A design solved with everything present and linearised, one array entry per corner."""

    design: Design
    topology: Topology
    clamp: Clamp | None
    grid: Corners
    circuit: Circuit
    solved: Solved
    network: LinearNetwork

    @property
    def node(self) -> str:
        """Where clamps, film and capacitor hang."""
        known = (*self.circuit.unknown, *self.circuit.fixed)
        return "clamp node" if "clamp node" in known else "pin"

    @property
    def virtual(self) -> bool:
        """Whether feedback holds the node, so that the error stands at the output."""
        return self.topology.name == VIRTUAL

    @property
    def feedback(self) -> float:
        """Feedback resistor (Ω) of a summing node."""
        return role_value(self.design, self.topology, self.topology.answer.through)

    def gain_from(self, node: str) -> Array:
        """Error (V) per ampere into a node (Ω), per corner; 0 for a node that is held."""
        if self.virtual and node == "pin":
            return np.full(self.grid.count, -self.feedback)
        if self.virtual or node not in self.network.nodes:
            return np.zeros(self.grid.count)
        z = steady_transimpedance(self.network, "pin")
        return z[:, self.network.nodes.index(node)]


def loaded(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    grid: Corners,
    outer: Array | None = None,
) -> Loaded:
    """Solve a design with its clamps and bias current, in the dark, and linearise it there."""
    case = Case(design, topology, grid, outer)
    law = clamp.fitted.law if clamp else ABSENT
    solved = case.solve(law, topology.sides if clamp else (), (), bias=True)
    circuit, farads = with_capacitors(design, topology, case.circuit, differential=True)
    network = linearise(circuit, solved.values, solved.solution, farads)
    return Loaded(design, topology, clamp, grid, circuit, solved, network)


def with_added(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    grid: Corners,
    outer: Array | None,
    sides: list[ErrorTerms],
) -> list[ErrorTerms]:
    """The terms of every side with what the sheet states of film, joints and hum."""
    case = loaded(design, topology, clamp, grid, outer)
    common: tuple[AddedTerm, ...] = ()
    if not film_missing(design):
        common += (film_term(case, ring=design.board.guard_ring),)
    if not joints_missing(design):
        common += (joint_term(case),)
    if not (states_hum(design) and clamp is not None and topology.has_clamp):
        return [replace(side, added=(*side.added, *common)) for side in sides]
    groups = topology.groups
    return [
        replace(side, added=(*side.added, *common, hum_term(case, group)))
        for side, group in zip(sides, groups, strict=True)
    ]


def film_term(case: Loaded, *, ring: bool) -> AddedTerm:
    """Film and insulation from the node to its neighbour, or to a ring about it.

    E = (V_neighbour − V_node)·z/(R_film + z_node): exact for the linear network. Without a ring a
    pair is as bad as one dirty leg beside a clean one; the sign of a ring's error is not known.
    """
    board, design = case.design.board, case.design
    ohms = film_resistance(design)
    assert ohms is not None
    held = case.solved.solution.voltage(case.node)
    across = np.asarray((board.neighbour_voltage or 0.0) - held)
    if ring:
        across = np.full(case.grid.count, ring_error(design) or 0.0)
    own = np.zeros(case.grid.count)
    if case.node in case.network.nodes:
        place = case.network.nodes.index(case.node)
        own = steady_transimpedance(case.network, case.node)[:, place]
    value = across * case.gain_from(case.node) / (ohms + own)
    reach = np.abs(value)
    either = ring or design.network.pair
    name = "board film and insulation" + (" to the guard ring" if ring else "")
    interval = Interval(value, -reach, reach) if either else Interval(value, value, value)
    return AddedTerm(name, interval, "typical", "design sheet, board")


def joint_term(case: Loaded) -> AddedTerm:
    """Thermal EMF of all joints in the line, adding up, of unknown sign."""
    emf = joint_emf(case.design)
    if case.virtual:
        values = case.solved.values.resistances
        line = np.asarray(values["R_S"], float) + np.asarray(values["R_outer"], float)
        reach = np.broadcast_to(case.feedback * emf / line, (case.grid.count,))
    else:
        found = joint_error(case.circuit, case.solved.values, case.network, {"R_outer": emf}, "pin")
        reach = np.abs(found["R_outer"])
    none = np.zeros(case.grid.count)
    name = "thermal EMF of solder joints, sign unknown"
    return AddedTerm(name, Interval(none, -reach, reach), "typical", "design sheet, network")


def hum_across(case: Loaded, side: str) -> Array:
    """Peak of the hum across one clamp (V) at each corner: as measured, or as the source makes it."""
    stated, hum = case.design.network.clamp_hum_peak, case.design.source.hum_peak
    if stated is not None:
        return np.full(case.grid.count, stated)
    if hum is None or "source" not in case.network.conductance.held:
        return np.zeros(case.grid.count)
    branch = branch_of(case, side)
    mains = case.design.requirement.mains_frequency
    ends = [
        transfer(case.network, "source", node, mains)[:, 0]
        for node in (branch.anode, branch.cathode)
    ]
    return np.asarray(np.abs(ends[0] - ends[1]) * hum)


def hum_shift(case: Loaded, side: str) -> Array:
    """Current (A) that one clamp rectifies at each corner, anode to cathode."""
    state = case.solved.values.laws[side]
    volts = case.solved.solution.clamp_voltage[side]
    return mean_current_shift(volts, hum_across(case, side), state, HUM_PHASES)


def hum_term(case: Loaded, group: tuple[str, ...]) -> AddedTerm:
    """Steady error of the hum that the clamps of one group rectify.

    An antiparallel pair cancels: its mismatch is left. So it is between two legs.
    """
    design, topology = case.design, case.topology
    errors = []
    for side in group:
        branch, shift = branch_of(case, side), hum_shift(case, side)
        errors.append(shift * (case.gain_from(branch.cathode) - case.gain_from(branch.anode)))
    error = np.sum(errors, axis=0)
    interval = Interval(error, error, error)
    antiparallel = len(group) > 1 and not topology.opposed
    if antiparallel or design.network.pair:
        largest = np.max(np.abs(errors), axis=0) if antiparallel else error
        alone = Interval(largest, largest, largest)
        interval = mismatch(alone, *clamp_mismatch(design))
        if antiparallel:  # its sign is not known
            interval = Interval(interval.value, -interval.high, interval.high)
    assert case.clamp is not None
    assumed = case.clamp.fitted.basis == "assumed"
    name = "hum rectified in the clamp" + (" pair, its mismatch" if antiparallel else "")
    return AddedTerm(name, interval, "assumed" if assumed else "typical", "design sheet, hum")


def branch_of(case: Loaded, side: str) -> ClampBranch:
    """The clamp of that name in the circuit."""
    return next(c for c in case.circuit.clamps if c.name == side)
