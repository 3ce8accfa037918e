"""`rank`: every clamp wiring × topology × series resistor, judged for accuracy and for faults."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import ClampwrightError
from clampwright.network.topologies import CATALOGUE, Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.wirings import Wiring, stand_off_reason
from clampwright.quantities import series_values, write
from clampwright.verdict.alike import electrical_key
from clampwright.verdict.check import (
    PROTECTION,
    protection_floor,
    protection_reach,
)
from clampwright.verdict.clamp_summary import off_state_voltage
from clampwright.verdict.corners import allowed_error, corners
from clampwright.verdict.design import Design, Resistor
from clampwright.verdict.dynamics import dynamics_met
from clampwright.verdict.error_terms import error_terms
from clampwright.verdict.faults import IMPULSES, survivability
from clampwright.verdict.gates import gate
from clampwright.verdict.headroom import levels, room
from clampwright.verdict.input_current import as_current
from clampwright.verdict.judge import SEVERITY, combined, judge, magnitude, worst
from clampwright.verdict.known_terms import Asked, with_known
from clampwright.verdict.layout import is_offered, left_out, topology_of
from clampwright.verdict.own_parts import elements_with
from clampwright.verdict.pareto import with_dominance
from clampwright.verdict.places import in_use
from clampwright.verdict.results import (
    Basis,
    Candidate,
    Judgement,
    RankResult,
    Verdict,
)
from clampwright.verdict.terms_at import side_terms, terms_at
from clampwright.verdict.window import resistor_window

Array = NDArray[np.float64]

SERIES = "E24"
LOWEST_RESISTANCE = 100.0  # [Ω] of the search
HIGHEST_RESISTANCE = 10e6  # [Ω]
INNER_DEFAULT = 10e3  # [Ω] between clamp node and pin, where the design names none
GUARD_DEFAULT = 4.7e3  # [Ω]
NO_CLAMP = "none"
UNRATED_PIN = (
    "without a clamp the pin carries the whole fault: that needs a published pin current rating, and "
    "amplifier.pin_current_maximum states none."
)
FIRST = 1e100  # sorts a failing corner before every other
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Option:
    """One wiring offered to the ranking: the clamp, or why the wiring itself is rejected."""

    part: str
    title: str
    wiring: Wiring
    clamp: Clamp | None


def rank_design(
    design: Design,
    chosen: Clamp | None,
    options: Iterable[Option],
    *,
    design_hash: str = "",
    progress: Progress | None = None,
) -> RankResult:
    """The shortlist for a design's requirement, rails, amplifier and faults.

    Each pair of wiring and topology appears once with the series resistor that serves it best:
    best verdict first, then the largest of the smaller of accuracy margin and survivability; where all
    fail, the most accurate of those that survive the faults, and the reason says so.
    """
    offers = list(options)
    known = [*CATALOGUE.values()] if design.network.topology != "own" else [topology_of(design)]
    tried = [t for t in known if t.name != "T15" and is_offered(design, t)]
    jobs: list[tuple[Option | None, Topology]] = [(None, t) for t in tried if not t.has_clamp]
    jobs += [(o, t) for o in offers for t in tried if t.has_clamp]
    best, every = [], []
    judged: dict[Hashable, tuple[str, list[Candidate]]] = {}
    for done, (option, topology) in enumerate(jobs):
        rows = _rows_once(design, option, topology, judged)
        every += rows
        best.append(_chosen(rows))
        if progress:
            progress(done + 1, len(jobs))
    best.sort(key=_merit, reverse=True)
    window = resistor_window(design, chosen)
    top = best[0]
    return RankResult(
        design=design,
        design_hash=design_hash,
        window=window,
        candidates=with_dominance(best),
        every_resistor=tuple(every),
        evaluated=len(every),
        left_out=left_out(design, [t for t in known if t not in tried]),
        gate=gate(design),
        verdict=top.verdict or Verdict.NOT_MEASURED,
        reason=_headline(top),
    )


def _headline(top: Candidate) -> str:
    if top.rejected or top.series_resistance is None:
        return "no candidate serves this requirement"
    return (
        f"first: {', '.join(filter(None, (top.title, top.wiring)))} in {top.topology} with "
        f"{write(top.series_resistance, 'resistance')}: {top.reason}"
    )


def _chosen(rows: list[Candidate]) -> Candidate:
    """The row whose series resistor serves a candidate best; a failing one says how it was chosen."""
    best = max(rows, key=_merit)
    if best.rejected or best.verdict != Verdict.FAIL:
        return best
    lasting = [r for r in rows if r.survivability is None or r.survivability >= 1]
    words = "no resistor survives the faults: shown is the one that comes nearest"
    if lasting:
        best = max(lasting, key=lambda r: r.accuracy_margin or 0.0)
        words = "shown is the resistor with the least error of those that survive the faults"
    return best.model_copy(update={"reason": f"{best.reason.removesuffix('.')}; {words}."})


def _merit(candidate: Candidate) -> tuple[int, int, float, float]:
    if candidate.rejected or candidate.verdict is None:
        return (0, 0, 0.0, 0.0)
    margins = (candidate.accuracy_margin or 0.0, candidate.survivability or 0.0)
    severity = len(SEVERITY) - SEVERITY.index(candidate.verdict)
    return (1, severity, min(margins), max(margins))


def _rows_once(
    design: Design,
    option: Option | None,
    topology: Topology,
    judged: dict[Hashable, tuple[str, list[Candidate]]],
) -> list[Candidate]:
    """The rows of a wiring; `judged` holds those of one that is the same clamp under another name."""
    if option is None or option.clamp is None or topology.name == "own":
        return _rows(design, option, topology)
    key, name = (electrical_key(option.clamp), topology.name), option.clamp.name
    if key not in judged:
        judged[key] = name, _rows(design, option, topology)
        return judged[key][1]
    other, rows = judged[key]
    return [
        row.model_copy(
            update={"wiring": option.wiring.name, "reason": row.reason.replace(other, name)}
        )
        for row in rows
    ]


def _rows(design: Design, option: Option | None, topology: Topology) -> list[Candidate]:
    """One candidate per series resistor, or a single rejected one."""
    clamp = option.clamp if option else None
    reason = _rejection(design, option, topology)
    if reason:
        return [_row(option, topology, None, rejected=True, reason=reason)]
    shaped = in_topology(design, topology, clamp)
    if clamp:
        clamp = in_use(shaped, topology, clamp)
    values = np.array(series_values(SERIES, LOWEST_RESISTANCE, HIGHEST_RESISTANCE))
    try:
        rows = accuracy(shaped, topology, clamp, values)
        lasting = survivability(shaped, topology, clamp, values)
        fast, too_slow = _fast_until(shaped, topology, clamp, values)
    except ClampwrightError as error:
        return [_row(option, topology, None, rejected=True, reason=str(error))]
    impulses = ", ".join(f.name for f in design.faults if f.kind in IMPULSES)
    bare = f"impulse faults {impulses} would go into the amplifier's pin, which is not solved yet."
    unrated = clamp is None and design.amplifier.pin_current_maximum is None
    found = []
    for i, judgement in enumerate(rows):
        ratio = float(lasting.ratio[i])
        missing = lasting.unrated[i]
        others = [(Verdict.NOT_MEASURED, f"no rating on the sheet: {missing}.")] if missing else []
        others += [(Verdict.NOT_MEASURED, bare)] if impulses and clamp is None else []
        others += [(Verdict.NOT_MEASURED, UNRATED_PIN)] if unrated else []
        others += [(Verdict.FAIL, too_slow)] if i >= fast else []
        others += [(Verdict.FAIL, f"{lasting.decides[i]}.")] if ratio < 1 else []
        found.append(_judged(option, topology, float(values[i]), judgement, ratio, others))
    return found


def _fast_until(
    design: Design, topology: Topology, clamp: Clamp | None, outer: Array
) -> tuple[int, str]:
    """How many of the outer resistors (Ω, rising) leave the dynamic requirements met.

    Also what the next one breaks. All of them only get worse with the resistor.
    """
    grid = corners(design)
    low, high, reason = -1, outer.size, ""
    probe = outer.size - 1  # the largest usually passes
    while high - low > 1:
        met = dynamics_met(design, topology, clamp, grid, outer[probe : probe + 1])
        broken = [what for what, fine in met.items() if not fine[0]]
        if broken:
            high, reason = probe, f"{', '.join(broken)} not met."
        else:
            low = probe
        probe = (low + high) // 2
    return high, reason


def accuracy(
    design: Design, topology: Topology, clamp: Clamp | None, outer: Array
) -> list[Judgement]:
    """The protection judged at its worst corner for each outer resistor (Ω), in one batch."""
    grid = corners(design)
    many = grid.repeated(outer.size)
    sides = error_terms(design, topology, clamp, many, np.repeat(outer, grid.count))
    reach, side = protection_reach(design, many, sides)
    floor, floor_side = protection_floor(design, clamp, many, sides)
    failing = floor > 1  # such a corner decides, however far the others may reach
    reach, side = np.where(failing, reach * FIRST, reach), np.where(failing, floor_side, side)
    allowance = design.requirement.protection_share * allowed_error(design, many.sensor_temperature)
    level = np.tile(levels(design, topology, grid), outer.size)
    every = [side_terms(design, clamp, many, one) for one in sides]
    rows = [[c for c in some if c.group != "amplifier"] for some in every]
    found = []
    asked: Asked = {}
    for start in range(0, many.count, grid.count):
        i = start + int(np.argmax(reach[start : start + grid.count]))
        terms = terms_at(rows[int(side[i])], i)
        left = room(design, float(level[i]), combined(terms)[0])
        there, acting = many.at(i), sides[int(side[i])].side
        terms = with_known(design, topology, clamp, terms, there, acting, asked)
        current = as_current(design, there)
        found.append(judge(PROTECTION, terms, float(allowance[i]), there, left, current))
    return found


def _rejection(design: Design, option: Option | None, topology: Topology) -> str | None:
    if option is None:
        return None
    if option.wiring.rejected or option.clamp is None:
        return option.wiring.reason or "no clamp"
    if topology.opposed:
        if option.wiring.both_ways:
            return "conducts both ways: against a rail it would always be on"
        return stand_off_reason(option.wiring, off_state_voltage(design))
    return None


def in_topology(design: Design, topology: Topology, clamp: Clamp | None) -> Design:
    """The design moved to a topology, with inner and guard resistors where it needs them."""
    network = design.network
    inner = network.inner_resistor or Resistor(value=INNER_DEFAULT)
    guard = network.guard_resistor or Resistor(value=GUARD_DEFAULT)
    changes = {
        "topology": topology.name,
        "inner_resistor": inner if topology.needs_inner or topology.needs_guard else None,
        "guard_resistor": guard if topology.needs_guard else None,
        "clamp": clamp.name if clamp else None,
        "elements": elements_with(design, clamp.name) if clamp else network.elements,
    }
    return design.model_copy(update={"network": network.model_copy(update=changes)})


def _judged(
    option: Option | None,
    topology: Topology,
    ohms: float,
    judgement: Judgement,
    lasting: float,
    others: list[tuple[Verdict, str]],
) -> Candidate:
    """A candidate by its worst verdict: accuracy first, then what `others` hold against it."""
    largest = magnitude(judgement.low, judgement.high)[1]
    verdict, reason = judgement.verdict, judgement.reason
    for other, words in others:
        if other == worst((verdict, other)):
            verdict, reason = other, words
    basis: Basis = (
        "assumed"  # without a clamp the pin itself is the clamp, and its junctions are assumed
    )
    if option and option.clamp:
        basis = option.clamp.fitted.basis
    return _row(
        option,
        topology,
        ohms,
        rejected=False,
        reason=reason,
        error=judgement.error,
        error_low=judgement.low,
        error_high=judgement.high,
        room=judgement.room,
        volts_per_ampere=judgement.volts_per_ampere,
        accuracy_margin=judgement.allowance / largest if largest else float("inf"),
        survivability=lasting if np.isfinite(lasting) else None,
        leakage_basis=basis,
        known_by=next((t.known_by for t in judgement.terms if t.group == "clamp"), None),
        verdict=verdict,
    )


def _row(
    option: Option | None,
    topology: Topology,
    ohms: float | None,
    *,
    rejected: bool,
    reason: str,
    **numbers: object,
) -> Candidate:
    blank = dict.fromkeys(
        (
            "error",
            "error_low",
            "error_high",
            "accuracy_margin",
            "survivability",
            "leakage_basis",
            "verdict",
        )
    )
    return Candidate(
        part=option.part if option else NO_CLAMP,
        title=option.title if option else "no clamp part",
        wiring=option.wiring.name if option else "",
        topology=topology.name,
        series_resistance=ohms,
        rejected=rejected,
        reason=reason,
        **(blank | numbers),
    )
