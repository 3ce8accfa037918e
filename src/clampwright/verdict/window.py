"""The allowed window of the series resistor: the first picture of every design."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.check import protection_reach
from clampwright.verdict.corners import corners
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.dynamics import dynamics_met
from clampwright.verdict.error_terms import error_terms
from clampwright.verdict.faults import IMPULSES, survivability
from clampwright.verdict.layout import topology_of
from clampwright.verdict.places import in_use
from clampwright.verdict.results import ResistorWall, ResistorWindow

Array = NDArray[np.float64]

LOWEST = 1.0  # [Ω] of the search
HIGHEST = 1e10  # [Ω]
NEVER_SURVIVES = "no value of the series resistor keeps every stress within its rating"
NEVER_MET = "not met by any series resistor"
WAYS_OUT = "use two stages, a guard, a current limiter or a better clamp"
GRID = 60  # points of each search
ROUNDS = 4  # each narrows the bracket 59-fold in the logarithm: 2e-6 relative at the end


def resistor_window(design: Design, clamp: Clamp | None) -> ResistorWindow:
    """Minimum from every fault, maximum from error, bandwidth, settling and noise."""
    topology = topology_of(design)
    clamp = in_use(design, topology, clamp) if clamp and topology.has_clamp else None
    walls = [fault_wall(design, clamp, f) for f in design.faults if f.kind not in IMPULSES]
    walls += [
        _upper_wall(design, clamp, "error of the protection", _error_fits),
        _upper_wall(design, clamp, "bandwidth", _meets("bandwidth")),
        _upper_wall(design, clamp, "settling", _meets("settling")),
        _upper_wall(design, clamp, "noise", _meets("noise")),
    ]
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
    if impossible:
        return f"closed: {impossible[0].name}, {impossible[0].reason}; {WAYS_OUT}."
    low = next((w.name for w in walls if w.side == "minimum" and w.value == minimum), "nothing")
    high = next((w.name for w in walls if w.side == "maximum" and w.value == maximum), "nothing")
    if is_open:
        top = f"to {write(maximum, 'resistance')} ({high})" if maximum else "upwards without limit"
        return f"open from {write(minimum, 'resistance')} ({low}) {top}."
    assert maximum is not None
    return (
        f"closed: {low} needs at least {write(minimum, 'resistance')}, {high} allows at most "
        f"{write(maximum, 'resistance')}; {WAYS_OUT}."
    )


def fault_wall(design: Design, clamp: Clamp | None, fault: Fault) -> ResistorWall:
    """Smallest series resistor with which every stress of this fault stays within its rating."""
    topology = topology_of(design)
    used = clamp if topology.has_clamp else None
    alone = design.model_copy(update={"faults": (fault,)})

    def breaks(ohms: Array) -> NDArray[np.bool_]:
        return np.asarray(survivability(alone, topology, used, ohms)[0] < 1.0)

    value = _threshold(breaks)
    reason = "below it a stress exceeds its derated rating"
    if value is None:
        reason = NEVER_SURVIVES
    elif value > LOWEST:
        just_below = np.array([value * 0.999])
        reason = survivability(alone, topology, used, just_below).decides[0].split(", ×")[0]
    if value == LOWEST:
        name = f"fault {fault.name}"
        return ResistorWall(name=name, side="minimum", value=None, reason="sets no limit")
    return ResistorWall(name=f"fault {fault.name}", side="minimum", value=value, reason=reason)


def _threshold(fails: Callable[[Array], NDArray[np.bool_]]) -> float | None:
    """Value (Ω) where `fails` turns from true (small) to false (large); None if it always fails.

    A grid in the logarithm of the resistance, refined twice where it turns last.
    """
    low, high = LOWEST, HIGHEST
    for _ in range(ROUNDS):
        grid = np.geomspace(low, high, GRID)
        failing = fails(grid)
        if not failing.any():
            return low
        if failing[-1]:
            return None
        last = int(np.flatnonzero(failing)[-1])
        low, high = float(grid[last]), float(grid[last + 1])
    return high


def _upper_wall(
    design: Design,
    clamp: Clamp | None,
    name: str,
    fits: Callable[[Design, Clamp | None, Array], NDArray[np.bool_]],
) -> ResistorWall:
    """Largest series resistor at which a requirement is still met."""

    def met(ohms: Array) -> NDArray[np.bool_]:
        return fits(design, clamp, ohms)

    ends = met(np.array([LOWEST, HIGHEST]))
    if not ends[0]:
        return ResistorWall(name=name, side="maximum", value=LOWEST, reason=NEVER_MET)
    if ends[1]:
        return ResistorWall(name=name, side="maximum", value=None, reason="sets no limit")
    value = _threshold(met)
    return ResistorWall(
        name=name, side="maximum", value=value, reason="above it the limit is broken"
    )


def _error_fits(design: Design, clamp: Clamp | None, ohms: Array) -> NDArray[np.bool_]:
    topology = topology_of(design)
    used = clamp if topology.has_clamp else None
    grid = corners(design)
    many = grid.repeated(ohms.size)
    sides = error_terms(design, topology, used, many, np.repeat(ohms, grid.count))
    reach, _ = protection_reach(design, many, sides)
    return np.asarray(reach.reshape(ohms.size, grid.count).max(axis=1) <= 1.0)


def _meets(what: str) -> Callable[[Design, Clamp | None, Array], NDArray[np.bool_]]:
    """Whether one dynamic requirement is met for each series resistor (Ω)."""

    def met(design: Design, clamp: Clamp | None, ohms: Array) -> NDArray[np.bool_]:
        topology = topology_of(design)
        used = clamp if topology.has_clamp else None
        return dynamics_met(design, topology, used, corners(design), ohms)[what]

    return met
