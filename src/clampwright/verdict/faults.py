"""`faults`: every fault of a design, with every sign, solved and judged; lowest margin first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import floor, log10
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.design import Design, Fault
from clampwright.verdict.fault_solution import (
    FaultSolution,
    Solved,
    load_current,
    outer_resistance,
    solve_fault,
)
from clampwright.verdict.gates import gate
from clampwright.verdict.judge import worst
from clampwright.verdict.laid_out import ABSENT
from clampwright.verdict.layout import topology_of
from clampwright.verdict.notes import defaults_used
from clampwright.verdict.own_parts import not_judged
from clampwright.verdict.results import FaultCase, FaultsResult, StressLine, Verdict
from clampwright.verdict.stress import (
    DERATINGS,
    Stress,
    clamp_peak,
    clamp_ratings,
    figure,
    pin_current,
    stresses,
)

Array = NDArray[np.float64]

LARGEST_MARGIN, SMALLEST_MARGIN = 1000.0, 0.001  # beyond these a margin is only bounded
ROUNDING = 1e-12  # of binary fractions: 2.30 must not be cut to 2.29
IMPULSES = ("esd", "surge", "burst")
PIN_JUNCTION_WORDS = (
    "the amplifier's own pin junctions: small silicon junctions, about 0.65 V at 1 mA, 10 Ω "
    "(common practice, no source)"
)


def faults_of_design(design: Design, clamp: Clamp | None, *, design_hash: str = "") -> FaultsResult:
    """Everything `faults` says about a design with its clamp."""
    topology = topology_of(design)
    clamp = clamp if topology.has_clamp else None
    cases = []
    for fault in design.faults:
        if fault.kind in IMPULSES:
            cases.append(_impulse(fault))
        else:
            cases += [_case(design, topology, clamp, fault, sign) for sign in signs_of(fault)]
    cases.sort(key=lambda c: (c.survivability is not None, _rounded(c.survivability)))
    known = [c.survivability for c in cases if c.survivability is not None]
    verdict = worst(c.verdict for c in cases) if cases else Verdict.NOT_MEASURED
    reason = _why(verdict, cases)
    unjudged = not_judged(design)
    if unjudged and verdict == Verdict.PASS:
        verdict, reason = Verdict.NOT_MEASURED, f"{unjudged[0]}."
    return FaultsResult(
        design=design,
        design_hash=design_hash,
        cases=tuple(cases),
        deratings={name: write(share, "ratio") for name, share in DERATINGS.items()},
        defaults=(PIN_JUNCTION_WORDS, *unjudged, *defaults_used(design, clamp)),
        gate=gate(design),
        survivability=min(known) if known else None,
        verdict=verdict,
        reason=reason,
    )


def _why(verdict: Verdict, cases: list[FaultCase]) -> str:
    """The reason of the verdict: of the first fault that has it, or in short which are impulses."""
    if not cases:
        return "no fault is listed: the design says nothing about what it must survive."
    having = [c for c in cases if c.verdict == verdict]
    deciding = next((c for c in having if c.stresses), None)
    if deciding is None:
        return f"{', '.join(dict.fromkeys(c.name for c in having))}: impulse, not judged yet."
    return f"fault {deciding.name}: {deciding.reason}"


def _rounded(margin: float | None) -> float:
    """A margin to sort by: equal ones keep the order of the sheet, whatever rounding did to them."""
    return float(f"{margin or 0.0:.9g}")


def signs_of(fault: Fault) -> tuple[float, ...]:
    """The signs to solve: both where asked for, else that of the voltage as written.

    A mains period pushes both rails anyway.
    """
    if fault.both_signs or fault.kind == "mains-frequency":
        return (1.0, -1.0)
    return (-1.0,) if fault.voltage < 0 else (1.0,)


class Survivability(NamedTuple):
    """For each outer resistor: the lowest usable rating over stress, and in words what makes it.

    decides : the stress with its margin; breaks : the same without
    unrated : a stress that has no rating to compare with ("" where there is none)
    """

    ratio: Array
    decides: list[str]
    unrated: list[str]
    breaks: list[str]


def survivability(
    design: Design, topology: Topology, clamp: Clamp | None, outer: Array
) -> Survivability:
    """Survivability under every fault that is solved, for each outer resistor (Ω)."""
    lowest, decides = np.full(outer.size, np.inf), ["" for _ in outer]
    breaks = ["" for _ in outer]
    unrated = ["" for _ in outer]
    for fault, stress in _every_stress(design, design.faults, topology, clamp, outer, Solved()):
        ratio = stress.ratio()
        if ratio is None:
            for i in np.flatnonzero(stress.stress > 0):
                unrated[i] = unrated[i] or f"{stress.part}, {stress.quantity}"
            continue
        for i in np.flatnonzero(ratio < lowest):
            breaks[i] = (
                f"fault {fault.name}: {stress.part}, {stress.quantity} "
                f"{figure(float(stress.stress[i]), stress.unit)}"
            )
            decides[i] = f"{breaks[i]}, {margin_words(ratio[i])} of what is usable"
        lowest = np.minimum(lowest, ratio)
    return Survivability(lowest, decides, unrated, breaks)


def lowest_margin(
    design: Design,
    fault: Fault,
    topology: Topology,
    clamp: Clamp | None,
    outer: Array,
    solved: Solved,
) -> Array:
    """The lowest usable rating over stress under one fault, for each outer resistor (Ω).

    solved : circuits already solved for this design and these outer resistors
    """
    lowest = np.full(outer.size, np.inf)
    for _, stress in _every_stress(design, (fault,), topology, clamp, outer, solved):
        ratio = stress.ratio()
        if ratio is not None:
            lowest = np.minimum(lowest, ratio)
    return lowest


def _every_stress(
    design: Design,
    faults: Iterable[Fault],
    topology: Topology,
    clamp: Clamp | None,
    outer: Array,
    solved: Solved,
) -> Iterator[tuple[Fault, Stress]]:
    """Every stress under every fault that is solved, with every sign, at the hottest board."""
    law, ratings = clamp.fitted.law if clamp else ABSENT, clamp_ratings(clamp)
    hot = design.board.temperature_maximum
    for fault in faults:
        if fault.kind in IMPULSES:
            continue
        for sign in signs_of(fault):
            solution = solve_fault(design, topology, law, fault, sign, hot, outer, solved)
            for stress in stresses(design, topology, ratings, fault, solution):
                yield fault, stress


def _case(
    design: Design, topology: Topology, clamp: Clamp | None, fault: Fault, sign: float
) -> FaultCase:
    """One fault with one sign, solved at the hottest board and judged."""
    law = clamp.fitted.law if clamp else ABSENT
    hot, outer = design.board.temperature_maximum, design.network.outer_resistor
    solution = solve_fault(design, topology, law, fault, sign, hot, outer_resistance(design))
    found = stresses(design, topology, clamp_ratings(clamp), fault, solution)
    lines = tuple(sorted((s.line(0) for s in found), key=lambda s: _rounded(s.ratio)))
    known = [s.ratio for s in lines if s.ratio is not None]
    load = load_current(design, fault.power)
    through = np.abs(solution.fault_current[0])
    drop = np.abs(solution.outer_drop[0])
    nominal = design.rails.positive if solution.rail == "positive" else design.rails.negative
    level, pushed = float(solution.rail_level[0]), float(solution.rail_current[0])
    lifted = abs(level) > abs(nominal) * (1 + 1e-9) and fault.power != "off"
    verdict = worst(s.verdict for s in lines)
    end = solution.settled or solution
    return FaultCase(
        name=fault.name,
        words=_words(fault, sign),
        voltage=float(np.max(np.abs(solution.fault_voltage))) * sign,
        power=fault.power,
        fault_current=float(through.max()),
        fault_current_rms=float(np.sqrt(np.mean(through**2))),
        pin_current=float(pin_current(topology, solution)[0]),
        clamp_current=float(clamp_peak(solution)[0]),
        clamp_node_voltage=_largest(end.clamp_node),
        pin_voltage=_largest(end.pin_voltage),
        rail=solution.rail,
        rail_current=pushed,
        rail_load=load,
        rail_rate=(pushed - (load or 0.0)) / design.rails.capacitance if lifted else 0.0,
        rail_settles_at=level if lifted else None,
        resistor_power=float(np.mean(through * drop)) / outer.count,
        resistor_voltage=float(drop.max()) / outer.count,
        stresses=lines,
        survivability=min(known) if known else None,
        verdict=verdict,
        reason=_reason(verdict, lines, solution, design, fault),
    )


def _reason(
    verdict: Verdict,
    lines: tuple[StressLine, ...],
    solution: FaultSolution,
    design: Design,
    fault: Fault,
) -> str:
    deciding = next((s for s in lines if s.verdict == verdict), None)
    if deciding is None:
        return "nothing is stressed."
    said = f"{deciding.part}, {deciding.quantity} {figure(deciding.stress, deciding.unit)}"
    if deciding.rating is None or deciding.ratio is None:
        return f"{said}: {deciding.note}."
    text = (
        f"lowest margin {margin_words(deciding.ratio)}: {said} against {100 * deciding.derating:.0f} % of "
        f"{figure(deciding.rating, deciding.unit)}."
    )
    if fault.power == "off":
        back = write(float(np.max(np.abs(solution.fault_current))), "current", digits=2)
        text += f" Into the unpowered board flows {back}."
    return text


def margin_words(ratio: float) -> str:
    """A margin with three digits and no exponent, "1.07×"; cut, never rounded up to a pass."""
    if ratio > LARGEST_MARGIN:
        return f"over {LARGEST_MARGIN:.0f}×"
    if ratio < SMALLEST_MARGIN:
        return f"below {SMALLEST_MARGIN:g}×"
    digits = max(2 - floor(log10(ratio)), 0)
    return f"{cut(ratio, digits):.{digits}f}×"


def cut(ratio: float, digits: int) -> float:
    """A positive ratio cut, not rounded, after some digits behind the point."""
    step = 10.0**digits
    return floor(ratio * step * (1 + ROUNDING)) / step


def _impulse(fault: Fault) -> FaultCase:
    """An impulse fault: named, not solved here."""
    unknown = dict.fromkeys(
        (
            "fault_current",
            "fault_current_rms",
            "pin_current",
            "clamp_current",
            "clamp_node_voltage",
            "pin_voltage",
            "rail_current",
            "rail_rate",
            "resistor_power",
            "resistor_voltage",
        ),
        float("nan"),
    )
    return FaultCase(
        name=fault.name,
        words=_words(fault, 1.0),
        voltage=fault.voltage,
        power=fault.power,
        rail="positive",
        rail_load=None,
        rail_settles_at=None,
        stresses=(),
        survivability=None,
        verdict=Verdict.NOT_MEASURED,
        reason=(
            "impulse, not judged yet: assume that any single chip resistor arcs over and that the "
            "clamp sees the whole impulse, and test it."
        ),
        **unknown,
    )


def _words(fault: Fault, sign: float) -> str:
    size = write(abs(fault.voltage), "voltage")
    signed = write(sign * abs(fault.voltage), "voltage", signed=True).replace("-", "−")
    kind = {
        "dc": f"{signed} direct",
        "mains-frequency": f"{size} rms, {write(fault.frequency, 'frequency')}",
        "esd": f"{size} discharge",
        "surge": f"{size} surge",
        "burst": f"{size} burst",
    }[fault.kind]
    if fault.kind in IMPULSES:
        return f"{kind}, powered {fault.power}"
    if fault.channels > 1:
        kind += f" on {fault.channels} inputs at once"
    length = "continuous"
    if not isinstance(fault.duration, str):
        length = f"for {write(fault.duration, 'time')}"
    state = "asleep" if fault.power == "asleep" else f"powered {fault.power}"
    return f"{kind}, {length}, {state}"


def _largest(values: Array) -> float:
    flat = values.reshape(-1)
    return float(flat[np.argmax(np.abs(flat))])
