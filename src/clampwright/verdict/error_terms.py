"""Solve a design at its corners and split the error at the pin into terms with 95 % intervals.

Every number comes from the network solver; a term "alone" is the circuit with only that cause
present, so that the sum can be compared with the solution where all are present together.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from clampwright.network.topologies import Topology
from clampwright.parts.amplifiers import amplifier_class
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.law_interval import energy_doubt, lowest_bound, principal_directions
from clampwright.parts.law_model import reverse_leakage
from clampwright.parts.lots import tolerance_factor
from clampwright.uncertain import NORMAL_95
from clampwright.verdict.adjust import as_pair, less_calibration
from clampwright.verdict.corners import Corners, resistance_at
from clampwright.verdict.design import Amplifier, Design
from clampwright.verdict.laid_out import (
    ABSENT,
    Case,
    Causes,
    Solved,
    Variant,
    bias_current,
    guard_range,
    solve_all,
)
from clampwright.verdict.layout import OWN_ANSWER
from clampwright.verdict.places import sits
from clampwright.verdict.stated import states_added
from clampwright.verdict.terms import AddedTerm, ErrorTerms, Interval

Array = NDArray[np.float64]

MOST_KEPT = 64  # clamps whose causes are kept
LOST_SIGNAL = "signal lost into the source's own shunt through the series resistor"


def error_terms(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    outer: Array | None = None,
) -> list[ErrorTerms]:
    """Terms for each side that may act alone.

    outer : Ω, one entry per corner, in place of the design's own outer resistor

    Rail clamps pull opposite ways and no cancellation is credited: each side is taken with the other
    absent. The pair on a guard adds: both sit at the guard's offset; of the two one is lit, one dark.
    A zero calibration is subtracted and, for a differential input, the mismatch of the legs is left.
    What the sheet states of film, joints and hum joins last.
    """
    sides = zeroed(design, topology, clamp, corners, outer)
    sides = as_pair(design, sides) if design.network.pair else sides
    if topology.name == "own":
        from clampwright.verdict.own_elements import uncredited, with_elements  # which solve cases

        sides = with_elements(design, topology, corners, outer, sides)
    if states_added(design):
        from clampwright.verdict.added_terms import with_added  # which solves cases of this module

        sides = with_added(design, topology, clamp, corners, outer, sides)
    return uncredited(sides) if topology.name == "own" else sides


def zeroed(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    outer: Array | None,
) -> list[ErrorTerms]:
    """Terms of one leg for each side, less a zero calibration where there is one."""
    calibrated, count = design.requirement.calibration_temperature, corners.count
    if calibrated is None:
        return _single_ended(design, topology, clamp, corners, outer)
    zero = replace(
        corners,
        board_temperature=np.full(count, calibrated),
        sensor_temperature=np.full(count, calibrated),
        source_resistance=resistance_at(design.source, np.full(count, calibrated)),
        illuminance=np.zeros(count),
    )
    twice = None if outer is None else np.tile(np.broadcast_to(outer, (count,)), 2)
    both = _single_ended(design, topology, clamp, corners.followed_by(zero), twice)
    judged, reference = slice(None, count), slice(count, None)
    return less_calibration([s.of(judged) for s in both], [s.of(reference) for s in both])


def _single_ended(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    outer: Array | None,
) -> list[ErrorTerms]:
    groups = topology.groups if clamp is not None and topology.has_clamp else ()
    loses = topology.name == "T13" and bool(corners.signal.any())
    causes = _causes(clamp, groups, loses)
    solved = solve_all(design, topology, corners, outer, causes)
    bare, biased = solved.error[0], solved.error[1]
    none = bias_current(design.amplifier, corners.board_temperature) == 0
    bias = _bias_interval(design.amplifier, np.where(none, 0.0, biased - bare))
    zero = np.zeros(corners.count)
    own, lost = zero, solved.error[-1] if loses else zero
    added: tuple[AddedTerm, ...] = ()
    if topology.name in OWN_ANSWER:
        own = bare - lost
    if lost.any():
        added = (AddedTerm(LOST_SIGNAL, Interval(lost, lost, lost), "defined", "design sheet"),)
    leak = Interval(*(bare - own - lost,) * 3)
    if clamp is None or not groups:
        nothing = Interval(zero, zero, zero)
        together = bias.value + bare
        return [ErrorTerms("", nothing, nothing, bias, together, leak, own, zero, zero, added)]
    each = len(_variants(clamp, groups[0]))
    sides = []
    for k, active in enumerate(groups):
        start = 2 + k * each
        light, dark = _added(solved.error[start + 1 : start + each], bare, corners.illuminance)
        interval = _log_interval(dark[0], _half_width(clamp, dark, corners.board_temperature))
        if clamp.fitted.basis == "maximum":
            case = Case(design, topology, corners, outer)
            interval = _bounded(case, clamp, active, dark[0], bare)
        sides.append(
            ErrorTerms(
                side=active[0] if len(active) == 1 else "pair",
                clamp=interval,
                light=_log_interval(light[0], NORMAL_95 * _deviation(light)),
                bias=bias,
                together=solved.error[start],
                leak=leak,
                own=own,
                leakage=np.sum([solved.clamp_current[s][start] for s in active], axis=0),
                residual=solved.residual[start],
                added=added,
            )
        )
    return sides


@lru_cache(maxsize=MOST_KEPT)
def _causes(clamp: Clamp | None, groups: tuple[tuple[str, ...], ...], loses: bool) -> Causes:
    """No cause, the bias current alone, the variants of each group; last, where asked, the lost signal.

    What of the signal goes through the source's own shunt instead of the summing node (V) is solved
    without the amplifier's offset; the series resistor drives it, so it is certain, of one sign and
    charged to the protection: −signal·R_outer/(R_S + R_outer) at the output.
    """
    found = [Variant(ABSENT, (), (), bias=False), Variant(ABSENT, (), (), bias=True)]
    for active in groups:
        assert clamp is not None
        found += _variants(clamp, active)
    if loses:
        found.append(Variant(ABSENT, (), (), bias=False, offset=False))
    return Causes(tuple(found))


def _variants(clamp: Clamp, active: tuple[str, ...]) -> list[Variant]:
    """What one side is solved for: all causes together, then each law in the dark and lit.

    The laws are the most probable one and those one standard deviation along each principal axis.
    """
    law, lit = clamp.fitted.law, active[:1]
    found = [Variant(law, active, lit, bias=True)]
    for one in (law, *principal_directions(clamp.fitted)):
        found += [Variant(one, active, (), bias=False), Variant(one, active, lit, bias=False)]
    return found


def _added(error: Array, bare: Array, illuminance: Array) -> tuple[Array, Array]:
    """What light adds and what the clamps add in the dark (V), one row per law."""
    dark = error[0::2] - bare
    light = error[1::2] - bare - dark
    return np.where(illuminance > 0, light, 0.0), dark


def _deviation(rows: Array) -> Array:
    """Standard deviation in ln of the first row, whose changes along each axis the others hold."""
    changes = _log_ratio(rows[1:], rows[0])
    return np.asarray(np.sqrt((changes * changes).sum(axis=0)))


def _half_width(clamp: Clamp, dark: Array, temperature: Array) -> Array:
    """Half-width of the clamp's term in ln at 95 %: its law, its mechanism far off, its lot."""
    doubt = energy_doubt(clamp.fitted, temperature)
    width = NORMAL_95 * _deviation(dark) + doubt
    return np.asarray(np.hypot(width, lot_half_width(clamp)))


def _bias_interval(amplifier: Amplifier, value: Array) -> Interval:
    """Error of the amplifier's bias current alone; its sign is not promised by a data sheet."""
    if amplifier.bias_kind == "measured":
        return Interval(value, value, value)
    spread = bias_spread(amplifier) if amplifier.bias_kind == "typical" else 1.0
    reach = np.abs(value) * spread
    return Interval(value, -reach, reach)


def lot_half_width(clamp: Clamp) -> float:
    """Half-width in ln I that the next part of the lot may differ by (95/95 tolerance limit)."""
    if clamp.lot is None:
        return 0.0
    return tolerance_factor(clamp.lot.count) * clamp.lot.log_standard_deviation


def _bounded(
    case: Case, clamp: Clamp, active: tuple[str, ...], dark: Array, bare: Array
) -> Interval:
    """Where only a maximum is known: anything from nothing to the error that the maximum makes.

    The law is scaled to the maximum at each corner and the circuit solved again, so that even an
    absurd maximum ends where the rails hold the node.
    """
    design, corners = case.design, case.corners
    place = np.column_stack([corners.signal, corners.board_temperature])
    distinct, which = np.unique(place, axis=0, return_inverse=True)
    scale = np.empty(len(distinct))
    for i, (signal, temperature) in enumerate(distinct):
        reverse = max(-sits(design, case.topology, active[0], float(signal), temperature), 0.0)
        bound = lowest_bound(clamp.fitted.maxima, clamp.fitted.prior, reverse, temperature)
        scale[i] = (bound or 0.0) / reverse_leakage(clamp.fitted.law, reverse or 1.0, temperature)
    law = clamp.fitted.law
    many = scale[which]
    at_most = replace(
        law,
        generation_current=law.generation_current * many,
        film_conductance=law.film_conductance * many,
    )
    reach = case.solve(at_most, active, (), bias=False).error - bare
    ends = np.array([reach, dark, np.zeros_like(dark)])
    return Interval(dark, ends.min(axis=0), ends.max(axis=0))


def bias_spread(amplifier: Amplifier) -> float:
    """95 % factor either way around a typical bias current: the half-width in ln of its family."""
    low, high = amplifier_class(amplifier.family).bias_current
    return float(np.sqrt(high / low))


def with_series_resistance(design: Design, total: float) -> Design:
    """The same design with the outer resistor replaced by one of `total` ohms."""
    outer = design.network.outer_resistor
    resistor = outer.model_copy(update={"value": total / outer.count})
    network = design.network.model_copy(update={"outer_resistor": resistor})
    return design.model_copy(update={"network": network})


def _log_ratio(a: Array, b: Array) -> Array:
    """ln(a/b) where both have one sign and are not zero; 0 where the term is absent."""
    usable = a * b > 0
    ratio = np.divide(a, b, out=np.ones_like(a), where=usable)
    return np.asarray(np.log(ratio))


def _log_interval(value: Array, half_width: Array) -> Interval:
    """Log-normal 95 % interval of a signed value."""
    one, other = value * np.exp(-half_width), value * np.exp(half_width)
    return Interval(value, np.minimum(one, other), np.maximum(one, other))


__all__ = [
    "ABSENT", "Case", "ErrorTerms", "Interval", "Solved", "bias_current", "error_terms",
    "guard_range", "with_series_resistance",
]  # fmt: skip
