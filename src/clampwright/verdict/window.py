"""The allowed window of the series resistor: the first picture of every design."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from clampwright.network.topologies import topology_named
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.check import protection_reach
from clampwright.verdict.corners import corners
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.dynamics import dynamics
from clampwright.verdict.error_terms import error_terms, with_series_resistance
from clampwright.verdict.faults import IMPULSES, survivability
from clampwright.verdict.results import ResistorWall, ResistorWindow

LOWEST = 1.0  # [Ω] of the search
HIGHEST = 1e10  # [Ω]
STEPS = 40  # bisections in the logarithm: 1e10 narrowed to 2e-11 relative


def resistor_window(design: Design, clamp: Clamp | None) -> ResistorWindow:
    """Minimum from every fault, maximum from error, bandwidth, settling and noise."""
    walls = [_fault_wall(design, clamp, f) for f in design.faults if f.kind not in IMPULSES]
    walls += [
        _upper_wall(design, clamp, "error of the protection", _error_fits),
        _upper_wall(design, clamp, "bandwidth", _fast_enough),
        _upper_wall(design, clamp, "settling", _settles),
        _upper_wall(design, clamp, "noise", _quiet),
    ]
    lower = [w for w in walls if w.side == "minimum"]
    upper = [w for w in walls if w.side == "maximum"]
    impossible = [w for w in walls if w.value is None and "no value" in w.reason]
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
        reason=_sentence(walls, minimum, maximum, is_open),
    )


def _sentence(
    walls: list[ResistorWall], minimum: float, maximum: float | None, is_open: bool
) -> str:
    low = next((w.name for w in walls if w.side == "minimum" and w.value == minimum), "nothing")
    high = next((w.name for w in walls if w.side == "maximum" and w.value == maximum), "nothing")
    if is_open:
        top = f"to {write(maximum, 'resistance')} ({high})" if maximum else "upwards without limit"
        return f"open from {write(minimum, 'resistance')} ({low}) {top}."
    return (
        f"closed: {low} needs at least {write(minimum, 'resistance')}, {high} allows "
        f"{'no value at all' if maximum is None else 'at most ' + write(maximum, 'resistance')}; "
        "use two stages, a guard, a current limiter or a better clamp."
    )


def _fault_wall(design: Design, clamp: Clamp | None, fault: Fault) -> ResistorWall:
    """Smallest series resistor with which every stress of this fault stays within its rating."""
    topology = topology_named(design.network.topology)
    used = clamp if topology.has_clamp else None
    alone = design.model_copy(update={"faults": (fault,)})

    def breaks(ohms: float) -> bool:
        return bool(survivability(alone, topology, used, np.array([ohms]))[0][0] < 1.0)

    value = _threshold(breaks)
    reason = "below it a stress exceeds its derated rating"
    if value is None:
        reason = "no value of the series resistor keeps every stress within its rating"
    elif value > LOWEST:
        just_below = np.array([value * 0.999])
        reason = survivability(alone, topology, used, just_below)[1][0]
    return ResistorWall(name=f"fault {fault.name}", side="minimum", value=value, reason=reason)


def _threshold(fails: Callable[[float], bool]) -> float | None:
    """Value (Ω) where `fails` turns from true (small) to false (large); None if it always fails."""
    if not fails(LOWEST):
        return LOWEST
    if fails(HIGHEST):
        return None
    low, high = np.log(LOWEST), np.log(HIGHEST)
    for _ in range(STEPS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if fails(float(np.exp(middle))) else (low, middle)
    return float(np.exp(high))


def _upper_wall(
    design: Design,
    clamp: Clamp | None,
    name: str,
    fits: Callable[[Design, Clamp | None], bool],
) -> ResistorWall:
    """Largest series resistor at which a requirement is still met."""

    def met(ohms: float) -> bool:
        return fits(with_series_resistance(design, ohms), clamp)

    if not met(LOWEST):
        return ResistorWall(
            name=name,
            side="maximum",
            value=LOWEST,
            reason="not met by any series resistor",
        )
    if met(HIGHEST):
        return ResistorWall(name=name, side="maximum", value=None, reason="sets no limit")
    value = _threshold(met)
    return ResistorWall(
        name=name, side="maximum", value=value, reason="above it the limit is broken"
    )


def _error_fits(design: Design, clamp: Clamp | None) -> bool:
    topology = topology_named(design.network.topology)
    used = clamp if topology.has_clamp else None
    grid = corners(design)
    reach, _ = protection_reach(design, grid, error_terms(design, topology, used, grid))
    return bool(reach.max() <= 1.0)


def _dynamic(design: Design, clamp: Clamp | None) -> tuple[float, float, float]:
    topology = topology_named(design.network.topology)
    used = clamp if topology.has_clamp else None
    found = dynamics(design, topology, used, corners(design))
    return found.bandwidth, found.settling_time, found.integrated_noise


def _fast_enough(design: Design, clamp: Clamp | None) -> bool:
    return _dynamic(design, clamp)[0] >= design.requirement.bandwidth


def _settles(design: Design, clamp: Clamp | None) -> bool:
    limit = design.requirement.settle_time
    return limit is None or _dynamic(design, clamp)[1] <= limit


def _quiet(design: Design, clamp: Clamp | None) -> bool:
    limit = design.requirement.noise
    return limit is None or _dynamic(design, clamp)[2] <= limit
