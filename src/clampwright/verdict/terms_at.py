"""The error terms of one clamp side, by their names and with what each rests on.

At every corner at once as `SideTerm`s, which are cheap to judge, or at one corner as `Term`s.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

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
from clampwright.verdict.results import Basis, Group, Term
from clampwright.verdict.terms import ErrorTerms, Interval

Array = NDArray[np.float64]


class SideTerm(NamedTuple):
    """One term of a side at every corner (V), and at which of them it is there."""

    name: str
    interval: Interval
    there: NDArray[np.bool_]
    basis: Basis
    group: Group
    source: str
    known_by: Known | None = None

    def at(self, index: int) -> Term:
        """The term at one corner."""
        return Term(
            name=self.name,
            value=float(self.interval.value[index]),
            low=float(self.interval.low[index]),
            high=float(self.interval.high[index]),
            basis=self.basis,
            group=self.group,
            source=self.source,
            known_by=self.known_by,
        )


def terms_at(terms: Sequence[SideTerm], index: int) -> tuple[Term, ...]:
    """All error terms of one side that are there at one corner."""
    return tuple(t.at(index) for t in terms if t.there[index])


def side_terms(
    design: Design, clamp: Clamp | None, grid: Corners, side: ErrorTerms
) -> tuple[SideTerm, ...]:
    """What one side is made of: clamp and light, bias, insulation, added, amplifier."""
    found: list[SideTerm] = []
    if clamp is not None:
        found += _of_clamp(design, clamp, grid, side)
    found += _of_bias(design, grid, side)
    name = "insulation of the protection's other parts"
    insulated = side.leak.value != 0
    found.append(SideTerm(name, side.leak, insulated, "assumed", "leak", "topology default"))
    for a in side.added:
        there = np.full(grid.count, True)
        if a.group != "leak":
            there = a.interval.value != 0
        if a.group == "light":
            there = there & (grid.illuminance != 0)
        found.append(SideTerm(a.name, a.interval, there, a.basis, a.group, a.source, a.known_by))
    found += _of_offset(design, grid, side)
    return tuple(c for c in found if c.there.any())


def _of_clamp(design: Design, clamp: Clamp, grid: Corners, side: ErrorTerms) -> Iterator[SideTerm]:
    topology = topology_of(design)
    name = side_words(topology, side.side)
    there = side.clamp.value != 0 if topology.name == "own" else np.full(grid.count, True)
    yield SideTerm(name, side.clamp, there, clamp.fitted.basis, "clamp", clamp.name)
    basis: Basis = "measured" if light_is_known(clamp) else "assumed"
    lit = grid.illuminance > 0
    yield SideTerm(f"photocurrent of the {name}", side.light, lit, basis, "light", clamp.name)


def _of_bias(design: Design, grid: Corners, side: ErrorTerms) -> Iterator[SideTerm]:
    amplifier = design.amplifier
    if amplifier.bias_current is None:
        name = "the amplifier's bias current, not stated and taken as nothing"
        yield _nothing(name, "bias", np.full(grid.count, True))
        return
    there = bias_current(amplifier, grid.board_temperature) != 0
    calibrated = design.requirement.calibration_temperature is not None
    gone = (side.bias.high == 0) & calibrated
    held = feedback_holds(design)
    for words, which in (("", there & ~gone), (", all of it taken away by the zero", there & gone)):
        yield SideTerm(
            BIAS_WORDS + words,
            sign_unknown(side.bias) if held else side.bias,
            which,
            amplifier.bias_kind,
            "amplifier" if held else "bias",
            f"{amplifier.family} input",
        )


def _of_offset(design: Design, grid: Corners, side: ErrorTerms) -> Iterator[SideTerm]:
    own = np.abs(side.own)
    yield _either_way(SOURCE_OFFSET, own)
    if "offset_voltage" not in design.amplifier.model_fields_set:
        name = "the amplifier's offset voltage, not stated and taken as nothing"
        yield _nothing(name, "amplifier", own == 0)
    reach = amplifier_offset(design, grid.board_temperature)
    yield _either_way("amplifier offset voltage and drift, sign unknown", reach)


def amplifier_offset(design: Design, board_temperature: Array | float) -> Array:
    """How far offset and drift may reach (V): from the calibration, else from the stated offset."""
    amplifier, calibrated = design.amplifier, design.requirement.calibration_temperature
    if calibrated is None:
        return largest_offset(amplifier, board_temperature)
    return np.asarray(amplifier.offset_drift * np.abs(board_temperature - calibrated))


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


def _either_way(name: str, reach: Array) -> SideTerm:
    interval = Interval(np.zeros_like(reach), -reach, reach)
    return SideTerm(name, interval, reach != 0, "typical", "amplifier", "design sheet")


def _nothing(name: str, group: Group, there: NDArray[np.bool_]) -> SideTerm:
    """What is not stated and taken as nothing."""
    zero = np.zeros(there.size)
    return SideTerm(name, Interval(zero, zero, zero), there, "assumed", group, "not stated")
