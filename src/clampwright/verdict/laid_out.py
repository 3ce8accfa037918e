"""A design laid out for the solver: one array entry per corner, one or many sets of causes at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.network.circuit import Circuit
from clampwright.network.guard import solve_limited
from clampwright.network.solve import Solution, Values, solve
from clampwright.network.topologies import Topology, signal_circuit
from clampwright.network.topology import error_voltage
from clampwright.parts.amplifiers import amplifier_class
from clampwright.parts.clamp_part import Clamp
from clampwright.physics.clamp import ClampLaw, ClampState, at_conditions
from clampwright.verdict.corners import Corners, largest_offset
from clampwright.verdict.design import Amplifier, Design
from clampwright.verdict.held import require_held
from clampwright.verdict.layout import (
    followers,
    other_laws,
    potentials,
    present_roles,
    resistances,
    role_value,
)

Array = NDArray[np.float64]

ABSENT = ClampLaw()
MOST_BATCHES = 8  # whose causes are kept laid out; one of a ranking may take megabytes


class Solved(NamedTuple):
    """What went in, what came out, and the error (V) as the topology defines it."""

    values: Values
    solution: Solution
    error: Array


class Variant(NamedTuple):
    """One set of causes: the law of the clamps `active`, those `lit`, with or without bias.

    offset : whether the amplifier holds the summing node at its offset voltage, else at 0 V
    """

    law: ClampLaw
    active: tuple[str, ...]
    lit: tuple[str, ...]
    bias: bool
    offset: bool = True


@dataclass(frozen=True, eq=False)
class Causes:
    """What a batch is solved for; equal only to itself, so that it can be kept laid out."""

    variants: tuple[Variant, ...]


class SolvedAll(NamedTuple):
    """Error (V), residual and clamp currents (A), (variants, corners)."""

    error: Array
    residual: Array
    clamp_current: dict[str, Array]


class Case:
    """A design laid out for the solver: one array entry per corner."""

    def __init__(
        self,
        design: Design,
        topology: Topology,
        corners: Corners,
        outer: Array | None = None,
        offset: Array | float = 1.0,
    ) -> None:
        """offset : 0 in cases without the offset voltage that the amplifier holds a summing node at."""
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
        held = {"source": corners.signal, "pin": self._offset() * offset}
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
        return largest_offset(self.design.amplifier, self.corners.board_temperature)

    def solve(
        self, law: ClampLaw, active: tuple[str, ...], lit: tuple[str, ...], *, bias: bool
    ) -> Solved:
        """Solve with the clamps `active`, those `lit`, with or without bias."""
        heat, states = self.corners.board_temperature, {}
        for side in self.topology.sides:
            lux = self.corners.illuminance if side in lit else 0.0
            states[side] = at_conditions(law if side in active else ABSENT, heat, lux)
        return self.solve_states(states, self.bias_current() if bias else 0.0 * heat)

    def solve_states(self, states: Mapping[str, ClampState], bias: Array) -> Solved:
        """Solve with each clamp in a given state and a bias current (A, into the pin)."""
        values = Values(
            potentials=self.potentials,
            resistances={**self.resistances, **self._feedback()},
            laws={**self.others, **states},
            currents={c.name: self._current(c.name, bias) for c in self.circuit.currents},
            driven=self.followers,
        )
        if self.guard_range:
            limited = solve_limited(self.circuit, values, self.guard_range)
            values, solution = limited.values, limited.solution
        else:
            solution = solve(self.circuit, values)
        require_held(self.circuit, values, solution, "the accuracy corners")
        return Solved(values, solution, error_voltage(self.topology, solution, values))

    def _feedback(self) -> dict[str, float]:
        through = self.topology.answer.through
        if not through or through in self.resistances:
            return {}
        return {through: role_value(self.design, self.topology, through)}

    def _current(self, name: str, bias: Array) -> Array:
        """A current injected into the network (A, positive into its node)."""
        if name in ("bias", "other bias"):
            return -bias
        if name == "source current":
            through = role_value(self.design, self.topology, self.topology.answer.through)
            return (
                -self.corners.signal / through
            )  # drawn out: a positive signal is a positive output
        return np.full(self.corners.count, role_value(self.design, self.topology, name))

    def pin_error(
        self, clamp: Clamp | None, active: tuple[str, ...], lit: tuple[str, ...]
    ) -> Array:
        """Error (V) with everything present: clamps, light and bias current."""
        law = clamp.fitted.law if clamp else ABSENT
        return self.solve(law, active, lit, bias=True).error

    def bias_current(self) -> Array:
        """Bias current (A, into the pin) at each corner."""
        return bias_current(self.design.amplifier, self.corners.board_temperature)


def solve_all(
    design: Design,
    topology: Topology,
    corners: Corners,
    outer: Array | None,
    causes: Causes,
) -> SolvedAll:
    """Solve every variant at every corner in one batch.

    outer : Ω, one entry per corner, in place of the design's own outer resistor
    """
    count, many = corners.count, len(causes.variants)
    batch = _batch(causes, topology.sides, count)
    case = Case(
        design,
        topology,
        corners.repeated(many),
        None if outer is None else np.tile(np.broadcast_to(outer, (count,)), many),
        batch.offset,
    )
    heat, light = case.corners.board_temperature, case.corners.illuminance
    states = {
        side: at_conditions(law, heat, light * lit) for side, (law, lit) in batch.clamps.items()
    }
    solved = case.solve_states(states, case.bias_current() * batch.bias)
    return SolvedAll(
        solved.error.reshape(many, count),
        solved.solution.residual.reshape(many, count),
        {s: solved.solution.clamp_current[s].reshape(many, count) for s in topology.sides},
    )


class _Batch(NamedTuple):
    """Causes at every corner, 1 where one is present: law and light of each clamp, bias, offset."""

    clamps: dict[str, tuple[ClampLaw, Array]]
    bias: Array
    offset: Array


@lru_cache(maxsize=MOST_BATCHES)
def _batch(causes: Causes, sides: tuple[str, ...], count: int) -> _Batch:
    variants = causes.variants

    def present(flags: Sequence[bool]) -> Array:
        return np.repeat(np.array(flags, float), count)

    clamps = {}
    for side in sides:
        law = _stacked([v.law if side in v.active else ABSENT for v in variants], count)
        clamps[side] = law, present([side in v.lit for v in variants])
    return _Batch(
        clamps, present([v.bias for v in variants]), present([v.offset for v in variants])
    )


def _stacked(laws: Sequence[ClampLaw], count: int) -> ClampLaw:
    """Several laws as one, each for `count` cases; what they share stays a number."""
    stacked = {}
    for field in fields(ClampLaw):
        values = [getattr(law, field.name) for law in laws]
        alike = all(value == values[0] for value in values)
        stacked[field.name] = values[0] if alike else np.repeat(values, count)
    return ClampLaw(**stacked)


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
