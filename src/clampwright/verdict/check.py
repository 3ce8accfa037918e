"""`check`: solve a design at its corners, compose the budget, judge it and say why."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.wirings import stand_off_reason
from clampwright.quantities import write
from clampwright.verdict.clamp_summary import (
    clamp_summary,
    light_is_known,
    off_state_voltage,
)
from clampwright.verdict.corners import (
    Corners,
    allowed_error,
    corners,
    resistance_at,
)
from clampwright.verdict.design import Design
from clampwright.verdict.dynamics import dynamics
from clampwright.verdict.error_terms import ErrorTerms, Interval, error_terms
from clampwright.verdict.gates import gate
from clampwright.verdict.headroom import levels, outside, outside_rails, room
from clampwright.verdict.input_current import as_current, compared_at_the_input
from clampwright.verdict.judge import combined, deciding, judge, worst
from clampwright.verdict.judge_corners import FAIL, Judged, Rows, worst_corner
from clampwright.verdict.known_terms import Asked, with_known
from clampwright.verdict.layout import role_value, topology_of
from clampwright.verdict.notes import defaults_used, doubtful, open_risks
from clampwright.verdict.own_elements import element_flags
from clampwright.verdict.places import beyond_evidence, in_use
from clampwright.verdict.results import (
    Allowance,
    CheckResult,
    Gate,
    Judgement,
    Verdict,
)
from clampwright.verdict.terms_at import feedback_holds, side_terms, terms_at
from clampwright.verdict.transfer_errors import transfers

CLAMP_ALONE = "clamp alone, dark"
PROTECTION = "protection: clamp, light and bias current"
WHOLE_INPUT = "whole input"


def check_design(
    design: Design,
    clamp: Clamp | None,
    *,
    design_hash: str = "",
    inputs: Mapping[str, str] | None = None,
    over_signal: bool = True,
) -> CheckResult:
    """Everything `check` says about a design with its clamp.

    clamp       : the part as wired, with the law its evidence supports; None where the topology has none
    over_signal : whether to follow the error over the whole signal too (`transfers`)
    Raises InputError for a wiring that cannot serve, InternalError when a case does not converge.
    """
    topology = topology_of(design)
    clamp = in_use(design, topology, clamp) if clamp and topology.has_clamp else None
    grid = corners(design)
    sides = error_terms(design, topology, clamp, grid)
    judgements = judge_sides(design, clamp, grid, sides)
    moving = dynamics(design, topology, clamp, grid)
    raised = gate(design)
    asked = [j for j in judgements if j.name != CLAMP_ALONE]
    verdict = worst([*(j.verdict for j in asked), moving.verdict])
    stand_off = stand_off_reason(clamp.wiring, off_state_voltage(design)) if clamp else None
    rails_hold = topology.opposed and stand_off
    if rails_hold:
        verdict = Verdict.FAIL
    lead = next((j.reason for j in asked if j.verdict == verdict), moving.reason)
    flags = _flags(design, topology, clamp, grid)
    if rails_hold:
        lead = f"the clamp {stand_off}."
        flags.append(lead)
    reason = _with_gate(lead, raised)
    seen_first = deciding(judgements, reason)
    shown = seen_first.corner if seen_first else None
    summary = clamp_summary(design, topology, clamp, grid, shown) if clamp else None
    return CheckResult(
        design=design,
        design_hash=design_hash,
        inputs=dict(inputs or {}),
        topology_title=f"{topology.name} {topology.title}",
        topology_words=topology.words,
        clamp=summary,
        allowances=allowances(design),
        judgements=judgements,
        transfers=transfers(design, topology, clamp, grid) if over_signal else (),
        dynamics=moving,
        residual=max((float(np.max(s.residual)) for s in sides), default=0.0),
        defaults=defaults_used(design, clamp),
        open_risks=open_risks(design, clamp, judgements),
        flags=tuple(flags),
        gate=raised,
        verdict=verdict,
        reason=reason,
    )


def _flags(design: Design, topology: Topology, clamp: Clamp | None, grid: Corners) -> list[str]:
    """What the reader must know beside the verdict: of the law, the evidence, the sheet, the rails."""
    found = (
        [*clamp.fitted.flags, *clamp.notes, *beyond_evidence(design, clamp, grid)] if clamp else []
    )
    found += element_flags(design, grid) if topology.name == "own" else ()
    found += doubtful(design)
    found += outside_rails(design, levels(design, topology, grid))
    return found


def _with_gate(reason: str, raised: Gate) -> str:
    if raised.level == "red":
        return f"numbers shown for learning only ({'; '.join(raised.reasons)}). {reason}"
    return reason


def allowances(design: Design) -> tuple[Allowance, ...]:
    """Allowed net leakage at the coldest, the reference and the hottest sensor temperature.

    At a summing node every leaked current goes through the feedback resistor, whatever the source.
    """
    source, network = design.source, design.network
    topology = topology_of(design)
    feedback = None
    if topology.answer.node is None:
        feedback = role_value(design, topology, topology.answer.through)
    marks = {
        source.temperature_minimum,
        source.reference_temperature,
        source.temperature_maximum,
    }
    temperature = np.array(sorted(marks))
    resistance = resistance_at(source, temperature)
    error = design.requirement.protection_share * allowed_error(design, temperature)
    series = network.outer_resistor.value * network.outer_resistor.count
    return tuple(
        Allowance(
            sensor_temperature=float(t),
            source_resistance=float(r),
            error=float(e),
            leakage=float(e / (feedback or r)),
            leakage_with_series_resistance=float(e / (feedback or r + series)),
        )
        for t, r, e in zip(temperature, resistance, error, strict=True)
    )


def judge_sides(
    design: Design, clamp: Clamp | None, grid: Corners, sides: list[ErrorTerms]
) -> tuple[Judgement, ...]:
    """The judgements, each at the corner and side of its worst verdict.

    Among corners of one verdict the one where the error may reach furthest is told.
    """
    total = allowed_error(design, grid.sensor_temperature)
    topology = topology_of(design)
    level = levels(design, topology, grid)
    share = design.requirement.protection_share * total
    views: list[tuple[str, np.ndarray, tuple[str, ...]]] = [
        (PROTECTION, share, ("clamp", "light", "bias", "leak"))
    ]
    views.append((WHOLE_INPUT, total, ("clamp", "light", "bias", "leak", "amplifier")))
    if clamp is not None or any(a.group == "clamp" for side in sides for a in side.added):
        views.insert(0, (CLAMP_ALONE, share, ("clamp",)))
    every = [side_terms(design, clamp, grid, side) for side in sides]
    rows = [Rows(some, grid.count) for some in every]
    beyond = np.array([outside(design, v) for v in level.tolist()])
    found = []
    asked: Asked = {}
    for name, allowance, groups in views:
        judged = [some.judge(groups, allowance) for some in rows]
        saturated = [Judged(np.where(beyond, FAIL, j.severity), j.ratio) for j in judged]
        side, i = worst_corner(saturated)
        terms = terms_at([c for c in every[side] if c.group in groups], i)
        corner = grid.at(i)
        left = room(design, float(level[i]), combined(terms)[0])
        terms = with_known(design, topology, clamp, terms, corner, sides[side].side, asked)
        current = as_current(design, corner)
        found.append(judge(name, terms, float(allowance[i]), corner, left, current))
    return compared_at_the_input(tuple(found))


def protection_reach(
    design: Design, grid: Corners, sides: list[ErrorTerms]
) -> tuple[np.ndarray, np.ndarray]:
    """Largest |E| at 95 % of the protection over its allowance, and which side makes it, per corner.

    The same sum as in `judge_sides`, for many cases at once and without words.
    """
    share = design.requirement.protection_share * allowed_error(design, grid.sensor_temperature)
    ratios = []
    for side in sides:
        low, high = _summed(*_protection(design, side))
        ratios.append(np.maximum(np.abs(high), np.abs(low)) / share)
    stacked = np.array(ratios)
    return stacked.max(axis=0), stacked.argmax(axis=0)


def protection_floor(
    design: Design, clamp: Clamp | None, grid: Corners, sides: list[ErrorTerms]
) -> tuple[np.ndarray, np.ndarray]:
    """Smallest |E| at 95 % that is known over its allowance, and which side makes it, per corner.

    Above 1 the corner fails, whatever the others say; what is assumed or only bounded counts as absent.
    """
    share = design.requirement.protection_share * allowed_error(design, grid.sensor_temperature)
    known = clamp is not None and clamp.fitted.basis not in ("assumed", "maximum")
    ratios = []
    for side in sides:
        whole = _summed(*_protection(design, side))
        parts = [side.leak] if feedback_holds(design) else [side.bias, side.leak]
        parts += [a.interval for a in side.added if a.basis not in ("assumed", "maximum")]
        parts += [side.clamp] if known else []
        parts += [side.light] if clamp is not None and light_is_known(clamp) else []
        ratios.append(np.minimum(_smallest(*whole), _smallest(*_summed(*parts))) / share)
    stacked = np.array(ratios)
    return stacked.max(axis=0), stacked.argmax(axis=0)


def _protection(design: Design, side: ErrorTerms) -> tuple[Interval, ...]:
    """The terms charged to the protection."""
    own = () if feedback_holds(design) else (side.bias,)
    return (side.clamp, side.light, side.leak, *own, *(a.interval for a in side.added))


def _summed(*parts: Interval) -> tuple[np.ndarray, np.ndarray]:
    """Low and high end of a sum, halves of the intervals added in root-sum-square."""
    value = np.sum([p.value for p in parts], axis=0)
    up = np.sqrt(np.sum([(p.high - p.value) ** 2 for p in parts], axis=0))
    down = np.sqrt(np.sum([(p.value - p.low) ** 2 for p in parts], axis=0))
    return value - down, value + up


def _smallest(low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Smallest |E| for E between `low` and `high`."""
    return np.where(low * high <= 0, 0.0, np.minimum(np.abs(low), np.abs(high)))


def headline(result: CheckResult) -> str:
    """One line: verdict and the deciding error against its allowance."""
    protection = next(j for j in result.judgements if j.name == PROTECTION)
    return (
        f"{result.verdict.value}: {write(abs(protection.error), 'voltage', digits=2)} "
        f"against {write(protection.allowance, 'voltage', digits=2)}"
    )
