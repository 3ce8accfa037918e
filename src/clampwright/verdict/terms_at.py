"""The error terms of one clamp side at one corner, by their names and with what each rests on."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.clamp_summary import light_is_known
from clampwright.verdict.corners import Corners, largest_offset
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import bias_current
from clampwright.verdict.input_current import SOURCE_OFFSET
from clampwright.verdict.judge import BIAS_WORDS
from clampwright.verdict.known import Known
from clampwright.verdict.layout import topology_of
from clampwright.verdict.places import side_words
from clampwright.verdict.results import Basis, Term
from clampwright.verdict.terms import ErrorTerms, Interval

NOTHING = Interval(*(np.zeros(1),) * 3)


def terms_at(
    design: Design, clamp: Clamp | None, grid: Corners, side: ErrorTerms, index: int
) -> tuple[Term, ...]:
    """All error terms of one side at one corner: clamp and light, bias, insulation, added, amplifier."""
    found: list[Term] = []
    if clamp is not None:
        found += _clamp_terms(design, clamp, grid, side, index)
    found += _bias_terms(design, grid, side, index)
    if side.leak.value[index]:
        name = "insulation of the protection's other parts"
        found.append(_term(name, side.leak, index, "assumed", "leak", "topology default"))
    dark = grid.illuminance[index] == 0
    for a in side.added:
        there = a.group == "leak" or (a.interval.value[index] and not (dark and a.group == "light"))
        if there:
            found.append(_term(a.name, a.interval, index, a.basis, a.group, a.source, a.known_by))
    found += _offset_terms(design, grid, side, index)
    return tuple(found)


def _clamp_terms(
    design: Design, clamp: Clamp, grid: Corners, side: ErrorTerms, index: int
) -> Iterator[Term]:
    topology = topology_of(design)
    name = side_words(topology, side.side)
    if side.clamp.value[index] or topology.name != "own":
        yield _term(name, side.clamp, index, clamp.fitted.basis, "clamp", clamp.name)
    if grid.illuminance[index] > 0:
        basis: Basis = "measured" if light_is_known(clamp) else "assumed"
        yield _term(f"photocurrent of the {name}", side.light, index, basis, "light", clamp.name)


def _bias_terms(design: Design, grid: Corners, side: ErrorTerms, index: int) -> Iterator[Term]:
    amplifier = design.amplifier
    if amplifier.bias_current is None:
        name = "the amplifier's bias current, not stated and taken as nothing"
        yield _term(name, NOTHING, 0, "assumed", "bias", "not stated")
    elif bias_current(amplifier, grid.board_temperature)[index]:
        gone = design.requirement.calibration_temperature is not None and not side.bias.high[index]
        held = feedback_holds(design)
        yield _term(
            BIAS_WORDS + (", all of it taken away by the zero" if gone else ""),
            sign_unknown(side.bias) if held else side.bias,
            index,
            amplifier.bias_kind,
            "amplifier" if held else "bias",
            f"{amplifier.family} input",
        )


def _offset_terms(design: Design, grid: Corners, side: ErrorTerms, index: int) -> Iterator[Term]:
    own = abs(float(side.own[index]))
    if own:
        yield _either_way(SOURCE_OFFSET, own)
    elif "offset_voltage" not in design.amplifier.model_fields_set:
        name = "the amplifier's offset voltage, not stated and taken as nothing"
        yield _term(name, NOTHING, 0, "assumed", "amplifier", "not stated")
    reach = amplifier_offset(design, float(grid.board_temperature[index]))
    if reach:
        yield _either_way("amplifier offset voltage and drift, sign unknown", reach)


def amplifier_offset(design: Design, board_temperature: float) -> float:
    """How far offset and drift may reach (V): from the calibration, else from the stated offset."""
    amplifier, calibrated = design.amplifier, design.requirement.calibration_temperature
    if calibrated is None:
        return float(largest_offset(amplifier, board_temperature))
    return amplifier.offset_drift * abs(board_temperature - calibrated)


def feedback_holds(design: Design) -> bool:
    """Whether feedback holds the node, so that bias current is the amplifier's own affair.

    The protection's resistor then carries none of it.
    """
    return design.network.topology == "T13"


def sign_unknown(interval: Interval) -> Interval:
    """About zero where the interval reaches as far below as above: no sign is promised.

    So it is added to what has a sign, such as a lost signal, without shifting it.
    """
    middle = np.where(interval.low == -interval.high, 0.0, interval.value)
    return Interval(middle, interval.low, interval.high)


def _either_way(name: str, reach: float) -> Term:
    return Term(
        name=name,
        value=0.0,
        low=-reach,
        high=reach,
        basis="typical",
        group="amplifier",
        source="design sheet",
    )


def _term(
    name: str, interval: Interval, index: int, basis: Basis, group: str, source: str,
    known_by: Known | None = None,
) -> Term:  # fmt: skip
    return Term(
        name=name,
        value=float(interval.value[index]),
        low=float(interval.low[index]),
        high=float(interval.high[index]),
        basis=basis,
        group=group,
        source=source,
        known_by=known_by,
    )
