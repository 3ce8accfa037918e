"""How far the amplifier can go before it saturates: its rails bound what it can show of an error."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clampwright.network.topologies import Topology
from clampwright.quantities import write
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import ABSENT, Case

Array = NDArray[np.float64]
DIVIDING = ("T16", "own")  # circuits whose pin may see less than the signal


def levels(design: Design, topology: Topology, grid: Corners) -> Array:
    """Voltage (V) of the pin, or of the output of a summing node, without any error, per corner."""
    if topology.name not in DIVIDING:
        return grid.signal
    found = Case(design, topology, grid).solve(ABSENT, (), (), bias=False)
    return np.broadcast_to(found.solution.reference["pin"], (grid.count,))


def room(design: Design, level: float, error: float) -> float:
    """Largest magnitude of an error of this sign (V) before the amplifier meets a rail.

    Below 0 where the signal itself lies outside the rails.
    """
    above, below = design.rails.positive - level, level - design.rails.negative
    if min(above, below) < 0:
        return min(above, below)
    return above if error >= 0 else below


def outside(design: Design, level: float) -> bool:
    """Whether a voltage lies outside the rails."""
    return not design.rails.negative <= level <= design.rails.positive


def outside_rails(design: Design, found: Array) -> list[str]:
    """Say so when the signal leaves the rails: the amplifier cannot follow it there."""
    beyond = [float(v) for v in found if outside(design, float(v))]
    if not beyond:
        return []
    worst_signal = write(max(beyond, key=abs), "voltage", signed=True)
    return [f"the signal of {worst_signal} lies outside the rails: no error there means anything"]
