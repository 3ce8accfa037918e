"""The allowed window of the series resistor: the first picture of every design."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.check import protection_reach
from clampwright.verdict.corners import corners
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.dynamics import (
    REJECTION,
    REQUIREMENTS,
    asks_rejection,
    rejection_met,
    slowest_corner,
)
from clampwright.verdict.error_terms import error_terms
from clampwright.verdict.fault_solution import Solved
from clampwright.verdict.faults import IMPULSES, lowest_margin, survivability
from clampwright.verdict.layout import topology_of
from clampwright.verdict.linear_case import LinearCase, linear_case
from clampwright.verdict.places import in_use
from clampwright.verdict.results import NEVER_MET, NEVER_SURVIVES, ResistorWall, ResistorWindow

Array = NDArray[np.float64]
Found = TypeVar("Found")

LOWEST = 1.0  # [Ω] of the search
HIGHEST = 1e10  # [Ω]
WAYS_OUT = "use two stages, a guard, a current limiter or a better clamp"
GRIDS = (48, 24, 24, 24)  # points of each round of a search: 4e-5 relative at the end


def resistor_window(design: Design, clamp: Clamp | None) -> ResistorWindow:
    """Minimum from every fault, maximum from error, bandwidth, settling and noise."""
    topology = topology_of(design)
    clamp = in_use(design, topology, clamp) if clamp and topology.has_clamp else None
    search = _Search(design, topology, clamp)
    walls = [search.fault_wall(f) for f in design.faults if f.kind not in IMPULSES]
    walls.append(search.upper_wall("error of the protection", search.error_fits))
    walls += [search.upper_wall(what, search.meets(one)) for what, one in REQUIREMENTS.items()]
    if asks_rejection(design):
        walls.append(search.upper_wall(REJECTION, search.rejects))
    lower = [w for w in walls if w.side == "minimum"]
    upper = [w for w in walls if w.side == "maximum"]
    impossible = [w for w in walls if w.reason in (NEVER_SURVIVES, NEVER_MET)]
    minimum = max((w.value or 0.0 for w in lower), default=0.0)
    finite = [w.value for w in upper if w.value is not None]
    maximum = min(finite) if finite else None
    outer = design.network.outer_resistor
    is_open = not impossible and (maximum is None or minimum <= maximum)
    return ResistorWindow(
        walls=tuple(walls),
        minimum=minimum,
        maximum=maximum,
        chosen=outer.value * outer.count,
        open=is_open,
        reason=_sentence(walls, impossible, minimum, maximum, is_open),
    )


def _sentence(
    walls: list[ResistorWall],
    impossible: list[ResistorWall],
    minimum: float,
    maximum: float | None,
    is_open: bool,
) -> str:
    low = next((w.name for w in walls if w.side == "minimum" and w.value == minimum), "nothing")
    high = next((w.name for w in walls if w.side == "maximum" and w.value == maximum), "nothing")
    if is_open:
        top = f"to {write(maximum, 'resistance')} ({high})" if maximum else "upwards without limit"
        return f"open from {write(minimum, 'resistance')} ({low}) {top}."
    said = [f"{w.name}, {w.reason}" for w in impossible]
    met = {w.name for w in walls} - {w.name for w in impossible}
    if low in met and minimum:
        said.append(f"at least {write(minimum, 'resistance')} for {low}")
    if high in met and maximum:
        said.append(f"at most {write(maximum, 'resistance')} for {high}")
    return f"no resistor serves: {', '.join(said)}; {WAYS_OUT}."


class _Search:
    """Looks for the walls of one design; what the first round of every search needs is kept."""

    def __init__(self, design: Design, topology: Topology, clamp: Clamp | None) -> None:
        self.design, self.topology, self.clamp = design, topology, clamp
        self.corners = corners(design)
        self._linear: dict[bytes, LinearCase] = {}
        self._solved: dict[bytes, Solved] = {}

    def fault_wall(self, fault: Fault) -> ResistorWall:
        """Smallest series resistor with which every stress of this fault stays within its rating."""
        design, topology, clamp = self.design, self.topology, self.clamp

        def breaks(ohms: Array) -> NDArray[np.bool_]:
            solved = _kept(self._solved, ohms, Solved)
            return lowest_margin(design, fault, topology, clamp, ohms, solved) < 1.0

        value, name = _threshold(breaks), f"fault {fault.name}"
        if value is None:
            return ResistorWall(name=name, side="minimum", value=None, reason=NEVER_SURVIVES)
        if value == LOWEST:
            return ResistorWall(name=name, side="minimum", value=None, reason="sets no limit")
        alone = design.model_copy(update={"faults": (fault,)})
        just_below = np.array([value * 0.999])
        reason = survivability(alone, topology, clamp, just_below).breaks[0]
        return ResistorWall(name=name, side="minimum", value=value, reason=reason)

    def upper_wall(self, name: str, met: Callable[[Array], NDArray[np.bool_]]) -> ResistorWall:
        """Largest series resistor at which a requirement is still met."""
        value = _threshold(met, from_lowest=True)
        if value == LOWEST:
            return ResistorWall(name=name, side="maximum", value=LOWEST, reason=NEVER_MET)
        if value is None:
            return ResistorWall(name=name, side="maximum", value=None, reason="sets no limit")
        return ResistorWall(
            name=name, side="maximum", value=value, reason="above it the limit is broken"
        )

    def error_fits(self, ohms: Array) -> NDArray[np.bool_]:
        """Whether the error of the protection stays within its allowance at every corner."""
        design, grid = self.design, self.corners
        many = grid.repeated(ohms.size)
        outer = np.repeat(ohms, grid.count)
        sides = error_terms(design, self.topology, self.clamp, many, outer)
        reach, _ = protection_reach(design, many, sides)
        return np.asarray(reach.reshape(ohms.size, grid.count).max(axis=1) <= 1.0)

    def rejects(self, ohms: Array) -> NDArray[np.bool_]:
        """Whether the common-mode rejection is met for each series resistor (Ω)."""
        return rejection_met(self.design, self.topology, self.clamp, self.corners, ohms)

    def meets(
        self, requirement: Callable[[LinearCase], NDArray[np.bool_]]
    ) -> Callable[[Array], NDArray[np.bool_]]:
        """Whether one dynamic requirement is met for each series resistor (Ω)."""
        index = slowest_corner(self.topology, self.corners)

        def linearised(ohms: Array) -> LinearCase:
            return linear_case(self.design, self.topology, self.clamp, self.corners, index, ohms)

        def met(ohms: Array) -> NDArray[np.bool_]:
            return requirement(_kept(self._linear, ohms, lambda: linearised(ohms)))

        return met


def fault_wall(design: Design, clamp: Clamp | None, fault: Fault) -> ResistorWall:
    """Smallest series resistor with which every stress of this fault stays within its rating."""
    topology = topology_of(design)
    return _Search(design, topology, clamp if topology.has_clamp else None).fault_wall(fault)


def _kept(kept: dict[bytes, Found], ohms: Array, make: Callable[[], Found]) -> Found:
    """What was made for these resistors before, else made now."""
    key = ohms.tobytes()
    if key not in kept:
        kept[key] = make()
    return kept[key]


def _threshold(
    fails: Callable[[Array], NDArray[np.bool_]], *, from_lowest: bool = False
) -> float | None:
    """Value (Ω) where `fails` turns from true (small) to false (large); None if it always fails.

    A grid in the logarithm of the resistance, refined where it turns last. `from_lowest`: the search
    ends at once where the smallest resistor does not fail.
    """
    low, high = LOWEST, HIGHEST
    for points in GRIDS:
        grid = np.geomspace(low, high, points)
        failing = fails(grid)
        if not failing.any() or (from_lowest and not failing[0]):
            return low
        if failing[-1]:
            return None
        last = int(np.flatnonzero(failing)[-1])
        low, high = float(grid[last]), float(grid[last + 1])
    return high
