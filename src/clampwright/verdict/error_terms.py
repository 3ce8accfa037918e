"""Solve a design at its corners and split the error at the pin into terms with 95 % intervals.

Every number comes from the network solver; a term "alone" is the circuit with only that cause
present, so that the sum can be compared with the solution where all are present together.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.network.circuit import Circuit
from clampwright.network.guard import solve_limited
from clampwright.network.solve import Solution, Values, require_converged, solve
from clampwright.network.topologies import Topology, signal_circuit
from clampwright.network.topology import error_voltage
from clampwright.parts.amplifiers import amplifier_class
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.law_interval import energy_doubt, lowest_bound, principal_directions
from clampwright.parts.law_model import reverse_leakage
from clampwright.parts.lots import tolerance_factor
from clampwright.physics.clamp import ClampLaw, at_conditions
from clampwright.verdict.adjust import as_pair, less_calibration
from clampwright.verdict.corners import Corners, resistance_at
from clampwright.verdict.design import Amplifier, Design
from clampwright.verdict.layout import (
    OWN_ANSWER,
    followers,
    other_laws,
    potentials,
    present_roles,
    resistances,
    role_value,
)
from clampwright.verdict.places import sits
from clampwright.verdict.stated import states_added
from clampwright.verdict.terms import ErrorTerms, Interval

Array = NDArray[np.float64]

COVERAGE = 1.959963984540054  # two-sided 95 % of a normal distribution
OFFSET_TEMPERATURE = 298.15  # [K] at which offset voltages are stated
ABSENT = ClampLaw()


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
    sides = _single_ended(design, topology, clamp, corners, outer)
    calibrated = design.requirement.calibration_temperature
    if calibrated is not None:
        zero = replace(
            corners,
            board_temperature=np.full(corners.count, calibrated),
            sensor_temperature=np.full(corners.count, calibrated),
            source_resistance=resistance_at(design.source, np.full(corners.count, calibrated)),
            illuminance=np.zeros(corners.count),
        )
        reference = _single_ended(design, topology, clamp, zero, outer)
        sides = less_calibration(sides, reference)
    sides = as_pair(design, sides) if design.network.pair else sides
    if not states_added(design):
        return sides
    from clampwright.verdict.added_terms import with_added  # which solves cases of this module

    return with_added(design, topology, clamp, corners, outer, sides)


def _single_ended(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    outer: Array | None,
) -> list[ErrorTerms]:
    case = Case(design, topology, corners, outer)
    bias = case.bias_interval()
    if clamp is None or not topology.has_clamp:
        zero = Interval(*(np.zeros(corners.count),) * 3)
        together = bias.value + case.bare
        none = np.zeros(corners.count)
        return [ErrorTerms("", zero, zero, bias, together, case.leak(), case.own(), none, 0.0)]
    return [_side_terms(case, clamp, active, bias) for active in topology.groups]


def _side_terms(case: Case, clamp: Clamp, active: tuple[str, ...], bias: Interval) -> ErrorTerms:
    law, lit = clamp.fitted.law, active[:1]
    dark = case.error(law, active, ())
    light = case.error(law, active, lit) - dark
    log_clamp, log_light = np.zeros_like(dark), np.zeros_like(dark)
    for moved in principal_directions(clamp.fitted):
        other = case.error(moved, active, ())
        log_clamp += _log_ratio(other, dark) ** 2
        log_light += _log_ratio(case.error(moved, active, lit) - other, light) ** 2
    doubt = np.array([energy_doubt(clamp.fitted, t) for t in case.corners.board_temperature])
    width = np.hypot(COVERAGE * np.sqrt(log_clamp) + doubt, lot_half_width(clamp))
    whole = case.solve(law, active, lit, bias=True)
    interval = _log_interval(dark, width)
    if clamp.fitted.basis == "maximum":
        interval = _bounded(case, clamp, active, dark)
    return ErrorTerms(
        side=active[0] if len(active) == 1 else "pair",
        clamp=interval,
        light=_log_interval(light, COVERAGE * np.sqrt(log_light)),
        bias=bias,
        together=whole.error,
        leak=case.leak(),
        own=case.own(),
        leakage=np.sum([whole.solution.clamp_current[s] for s in active], axis=0),
        residual=float(whole.solution.residual.max()),
    )


def lot_half_width(clamp: Clamp) -> float:
    """Half-width in ln I that the next part of the lot may differ by (95/95 tolerance limit)."""
    if clamp.lot is None:
        return 0.0
    return tolerance_factor(clamp.lot.count) * clamp.lot.log_standard_deviation


def _bounded(case: Case, clamp: Clamp, active: tuple[str, ...], dark: Array) -> Interval:
    """Where only a maximum is known: anything from nothing to the error that the maximum makes.

    The law is scaled to the maximum at each corner and the circuit solved again, so that even an
    absurd maximum ends where the rails hold the node.
    """
    design, corners = case.design, case.corners
    place = np.column_stack([corners.signal, corners.board_temperature])
    distinct, which = np.unique(place, axis=0, return_inverse=True)
    scale = np.empty(len(distinct))
    for i, (signal, temperature) in enumerate(distinct):
        reverse = max(-sits(design, case.topology, active[0], float(signal)), 0.0)
        bound = lowest_bound(clamp.fitted.maxima, clamp.fitted.prior, reverse, temperature)
        scale[i] = (bound or 0.0) / reverse_leakage(clamp.fitted.law, reverse or 1.0, temperature)
    law = clamp.fitted.law
    many = scale[which]
    at_most = replace(
        law,
        generation_current=law.generation_current * many,
        film_conductance=law.film_conductance * many,
    )
    reach = case.error(at_most, active, ())
    ends = np.array([reach, dark, np.zeros_like(dark)])
    return Interval(dark, ends.min(axis=0), ends.max(axis=0))


class Solved(NamedTuple):
    """What went in, what came out, and the error (V) as the topology defines it."""

    values: Values
    solution: Solution
    error: Array


class Case:
    """A design laid out for the solver: one array entry per corner."""

    def __init__(
        self, design: Design, topology: Topology, corners: Corners, outer: Array | None = None
    ) -> None:
        self.design, self.topology, self.corners = design, topology, corners
        network = design.network
        self.circuit = signal_circuit(
            topology,
            inner=network.inner_resistor is not None,
            present=present_roles(design, topology),
        )
        own = network.outer_resistor.value * network.outer_resistor.count
        given = {"R_S": corners.source_resistance, "R_outer": own if outer is None else outer}
        self.resistances = resistances(design, topology, self.circuit, given)
        held = {"source": corners.signal, "pin": self._offset()}
        self.potentials = potentials(design, topology, self.circuit, held)
        heat = float(corners.board_temperature.max())
        self.others = {
            name: at_conditions(law, corners.board_temperature)
            for name, law in other_laws(
                design, topology, self.circuit, topology.sides, heat
            ).items()
        }
        self.followers = followers(design, self.circuit, topology)
        self.guard_range = guard_range(design, self.circuit)

    def _offset(self) -> Array:
        """Offset voltage of the amplifier at each corner (V), where it holds the summing node."""
        amplifier = self.design.amplifier
        drift = np.abs(self.corners.board_temperature - OFFSET_TEMPERATURE)
        return abs(amplifier.offset_voltage) + amplifier.offset_drift * drift

    def solve(
        self, law: ClampLaw, active: tuple[str, ...], lit: tuple[str, ...], *, bias: bool
    ) -> Solved:
        """Solve with the clamps `active`, those `lit`, with or without bias."""
        corners = self.corners
        laws = dict(self.others)
        for side in self.topology.sides:
            lux = corners.illuminance if side in lit else 0.0
            chosen = law if side in active else ABSENT
            laws[side] = at_conditions(chosen, corners.board_temperature, lux)
        values = Values(
            potentials=self.potentials,
            resistances={**self.resistances, **self._feedback()},
            laws=laws,
            currents={c.name: self._current(c.name, bias=bias) for c in self.circuit.currents},
            driven=self.followers,
        )
        if self.guard_range:
            limited = solve_limited(self.circuit, values, self.guard_range)
            values, solution = limited.values, limited.solution
        else:
            solution = solve(self.circuit, values)
        require_converged(solution, "the accuracy corners")
        return Solved(values, solution, error_voltage(self.topology, solution, values))

    def _feedback(self) -> dict[str, float]:
        through = self.topology.answer.through
        if not through or through in self.resistances:
            return {}
        return {through: role_value(self.design, self.topology, through)}

    def _current(self, name: str, *, bias: bool) -> Array:
        """A current injected into the network (A, positive into its node)."""
        count = self.corners.count
        if name in ("bias", "other bias"):
            return -self.bias_current() if bias else np.zeros(count)
        if name == "source current":
            through = role_value(self.design, self.topology, self.topology.answer.through)
            return self.corners.signal / through
        return np.full(count, role_value(self.design, self.topology, name))

    def error(self, law: ClampLaw, active: tuple[str, ...], lit: tuple[str, ...]) -> Array:
        """Error (V) that only these clamps add to the circuit without clamps and bias current."""
        return self.solve(law, active, lit, bias=False).error - self.bare

    @cached_property
    def bare(self) -> Array:
        """Error (V) without clamps and bias current: of the amplifier's offset and of leaks."""
        return self.solve(ABSENT, (), (), bias=False).error

    def leak(self) -> Interval:
        """Error (V) of insulation and other parts of the protection that are no clamps."""
        value = self.bare - self.own()
        return Interval(value, value, value)

    def own(self) -> Array:
        """Error (V) of the amplifier's offset in the source alone, where feedback holds the node."""
        if self.topology.name not in OWN_ANSWER:
            return np.zeros(self.corners.count)
        return self.bare

    def pin_error(
        self, clamp: Clamp | None, active: tuple[str, ...], lit: tuple[str, ...]
    ) -> Array:
        """Error (V) with everything present: clamps, light and bias current."""
        law = clamp.fitted.law if clamp else ABSENT
        return self.solve(law, active, lit, bias=True).error

    def bias_current(self) -> Array:
        """Bias current (A, into the pin) at each corner."""
        return bias_current(self.design.amplifier, self.corners.board_temperature)

    def bias_interval(self) -> Interval:
        """Error of the amplifier's bias current alone; its sign is not promised by a data sheet."""
        value = self.solve(ABSENT, (), (), bias=True).error - self.bare
        amplifier = self.design.amplifier
        if amplifier.bias_kind == "measured":
            return Interval(value, value, value)
        spread = bias_spread(amplifier) if amplifier.bias_kind == "typical" else 1.0
        reach = np.abs(value) * spread
        return Interval(value, -reach, reach)


def guard_range(design: Design, circuit: Circuit) -> dict[str, tuple[ArrayLike, ArrayLike]]:
    """Lowest and highest output (V) of the guard follower, where there is one and both are stated."""
    amplifier = design.amplifier
    low, high = amplifier.guard_output_minimum, amplifier.guard_output_maximum
    if low is None or high is None or "guard" not in {d.name for d in circuit.driven}:
        return {}
    return {"guard": (low, high)}


def bias_current(amplifier: Amplifier, temperature: Array) -> Array:
    """Bias current into the pin (A, as data sheets give it) at the board temperature (K).

    Follows the stated drift, or doubles at the stated interval, else at that of the family; constant
    where the family has none.
    """
    at_reference = amplifier.bias_current or 0.0
    if amplifier.bias_drift is not None:
        return at_reference + amplifier.bias_drift * (temperature - amplifier.bias_temperature)
    doubling = amplifier.bias_doubling or amplifier_class(amplifier.family).bias_doubling
    if doubling is None:
        return np.full_like(temperature, at_reference)
    growth: Array = at_reference * 2.0 ** ((temperature - amplifier.bias_temperature) / doubling)
    return growth


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
    out = np.zeros_like(b)
    usable = a * b > 0
    out[usable] = np.log(a[usable] / b[usable])
    return out


def _log_interval(value: Array, half_width: Array) -> Interval:
    """Log-normal 95 % interval of a signed value."""
    one, other = value * np.exp(-half_width), value * np.exp(half_width)
    return Interval(value, np.minimum(one, other), np.maximum(one, other))


__all__ = [
    "COVERAGE",
    "Case",
    "ErrorTerms",
    "Interval",
    "bias_current",
    "error_terms",
    "with_series_resistance",
]
