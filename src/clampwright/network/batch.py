"""What a circuit is worth in a batch of cases: values laid out as arrays, currents, residual, answer.

The plain solver's half without the iteration, see `solve`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.circuit import Circuit, ClampBranch
from clampwright.network.clamp_points import Point, is_bare
from clampwright.network.linear import solve_without_subtraction
from clampwright.physics.clamp import ClampState

Array = NDArray[np.float64]
Given = TypeVar("Given")

EPSILON = float(np.finfo(float).eps)
RESIDUAL_LIMIT = 1e-10  # of the sum of current magnitudes into a node


@dataclass(frozen=True)
class Values:
    """What the elements of a circuit are worth; every array has one entry per case."""

    potentials: Mapping[str, ArrayLike]
    resistances: Mapping[str, ArrayLike]
    laws: Mapping[str, ClampState]
    currents: Mapping[str, ArrayLike]
    driven: Mapping[str, tuple[ArrayLike, ArrayLike]]  # gain, offset


@dataclass(frozen=True)
class Solution:
    """Deviation (V) and reference (V) of each node, clamp voltages and currents, residual."""

    deviation: dict[str, Array]
    reference: dict[str, Array]
    clamp_voltage: dict[str, Array]
    clamp_current: dict[str, Array]
    resistor_current: dict[str, Array]
    residual: Array  # largest over nodes, beyond rounding, relative to the currents into the node
    converged: NDArray[np.bool_]
    iterations: int

    def voltage(self, node: str) -> Array:
        """Reference plus deviation (V)."""
        return self.reference[node] + self.deviation[node]


def given(values: Mapping[str, Given], name: str, kind: str) -> Given:
    """The value of an element, or InputError naming the element that has none."""
    if name not in values:
        raise InputError(f'the {kind} of "{name}" is missing', where="network")
    return values[name]


def count_cases(values: Values) -> int:
    """How many cases the values describe (1 where all are scalars)."""
    given = [*values.potentials.values(), *values.resistances.values(), *values.currents.values()]
    for pair in values.driven.values():
        given += pair
    for state in {id(law): law for law in values.laws.values()}.values():
        given += vars(state).values()
    shapes = {v.shape if isinstance(v, np.ndarray) else np.shape(v) for v in given}
    shape = np.broadcast_shapes(*shapes)
    return int(shape[0]) if shape else 1


def check(circuit: Circuit, values: Values) -> None:
    """Raise InputError for a node that nothing holds, in the circuit or for the laws of its clamps."""
    circuit.check()
    check_laws(circuit, values)


def check_laws(circuit: Circuit, values: Values) -> None:
    """Raise InputError for a node that the laws of its clamps leave without anything that holds it."""
    bare = [c for c in circuit.clamps if c.name in values.laws and is_bare(values.laws[c.name])]
    held = circuit.reached(without=[c.name for c in bare]) if bare else circuit.unknown
    for clamp in bare:
        for node in (clamp.anode, clamp.cathode):
            if node in circuit.unknown and node not in held:
                raise InputError(
                    f'node "{node}" is held only by clamp "{clamp.name}", which carries nothing near 0 V',
                    where="network",
                    expected="a resistor at the node, or a clamp that leaks a little",
                    mend="give the varistor the film conductance of its leakage below the knee",
                )


class Batch:
    """A circuit with its values laid out as arrays: nodes × cases."""

    def __init__(self, circuit: Circuit, values: Values) -> None:
        self.circuit, self.values = circuit, values
        self.unknown = list(circuit.unknown)
        self.index = {name: i for i, name in enumerate(self.unknown)}
        self.inputs: dict[str, str] = {}
        self.cases = count_cases(values)
        potentials = self._arrays(values.potentials, circuit.fixed, "potential")
        self.potentials, self.base = potentials, potentials[circuit.base]
        self.shifted = {name: v - self.base for name, v in potentials.items()}
        names = [r.name for r in circuit.resistors]
        resistances = self._arrays(values.resistances, names, "resistance")
        for name, r in resistances.items():
            if not np.all(r > 0):
                raise InputError(
                    f'resistor "{name}" is not positive', expected="a resistance above 0 Ω"
                )
        self.conductance = {name: 1.0 / r for name, r in resistances.items()}
        self.gain: dict[str, Array] = {}
        self.offset: dict[str, Array] = {}
        for d in circuit.driven_in_order:
            self._drive(d.name, d.input, *given(values.driven, d.name, "gain and offset"))
        self.injected = np.zeros((self.cases, len(self.unknown)))
        for c in circuit.currents:
            if c.node in self.index:
                self.injected[:, self.index[c.node]] += self._spread(
                    given(values.currents, c.name, "current")
                )
        self.laws = {c.name: given(values.laws, c.name, "law") for c in circuit.clamps}
        self.resistive = self.matrix(
            [(r.a, r.b, self.conductance[r.name]) for r in circuit.resistors]
        )
        self.shifted_reference = self._reference()

    def _drive(self, name: str, follows: str, gain: ArrayLike, offset: ArrayLike) -> None:
        """Tie a driven node to an unknown node, or hold it where it follows a fixed one."""
        share = self._spread(gain)
        level = self._spread(offset) + (share - 1.0) * self.base
        if follows in self.shifted:
            self.shifted[name] = share * self.shifted[follows] + level
            return
        if follows in self.inputs:
            level = share * self.offset[follows] + level
            share, follows = share * self.gain[follows], self.inputs[follows]
        self.inputs[name], self.gain[name], self.offset[name] = follows, share, level

    def _spread(self, value: ArrayLike) -> Array:
        return np.broadcast_to(np.asarray(value, float), (self.cases,))

    def _arrays(
        self, values: Mapping[str, ArrayLike], names: Iterable[str], kind: str
    ) -> dict[str, Array]:
        return {name: self._spread(given(values, name, kind)) for name in names}

    def matrix(self, branches: list[tuple[str, str, Array]]) -> tuple[Array, Array]:
        """Couplings and excess conductances of branches (node, node, conductance)."""
        n = len(self.unknown)
        coupling, excess = np.zeros((self.cases, n, n)), np.zeros((self.cases, n))
        for a, b, g in branches:
            for here, there in ((a, b), (b, a)):
                if here not in self.index:
                    continue
                i = self.index[here]
                if there in self.index:
                    coupling[:, i, self.index[there]] += g
                elif there in self.inputs:
                    gain, j = self.gain[there], self.index[self.inputs[there]]
                    excess[:, i] += g * (1.0 - gain)
                    if j != i:
                        coupling[:, i, j] += g * gain
                else:
                    excess[:, i] += g
        return coupling, excess

    def _reference(self) -> Array:
        """Leak-free voltages of the unknown nodes relative to the base potential."""
        held = np.zeros((self.cases, len(self.unknown)))
        for r in self.circuit.resistors:
            g = self.conductance[r.name]
            for here, there in ((r.a, r.b), (r.b, r.a)):
                if here in self.index:
                    if there in self.shifted:
                        held[:, self.index[here]] += g * self.shifted[there]
                    elif there in self.inputs:
                        held[:, self.index[here]] += g * self.offset[there]
        return solve_without_subtraction(*self.resistive, held)

    def reference_of(self, node: str) -> Array:
        """Leak-free voltage of any node relative to the base."""
        if node in self.index:
            return self.shifted_reference[:, self.index[node]]
        if node in self.inputs:
            return self.gain[node] * self.reference_of(self.inputs[node]) + self.offset[node]
        return self.shifted[node]

    def deviation_of(self, node: str, deviation: Array) -> Array:
        """Deviation of any node for a matrix of deviations of the unknowns."""
        if node in self.index:
            return deviation[:, self.index[node]]
        if node in self.inputs:
            return self.gain[node] * self.deviation_of(self.inputs[node], deviation)
        return np.zeros(self.cases)

    def _difference(self, a: str, b: str, value: Array) -> Array:
        """What the unknown nodes, worth `value`, contribute to the voltage between two nodes.

        A node and its own follower differ by 1 − gain, which must not come from two large voltages.
        """
        (j, share), (k, other) = self._tied(a), self._tied(b)
        if j == k:
            return (share - other) * value[:, j] if j >= 0 else np.zeros(self.cases)
        first = share * value[:, j] if j >= 0 else np.zeros(self.cases)
        return first - other * value[:, k] if k >= 0 else first

    def _tied(self, node: str) -> tuple[int, Array | float]:
        """Index of the unknown a node follows (−1 for a fixed node), and its gain."""
        if node in self.inputs:
            return self.index[self.inputs[node]], self.gain[node]
        return (self.index[node], 1.0) if node in self.index else (-1, 0.0)

    def _held(self, node: str) -> Array | float:
        """The part of a node's voltage that does not follow an unknown node."""
        return self.offset.get(node, self.shifted.get(node, 0.0))

    def reference_between(self, a: str, b: str) -> Array:
        """Leak-free voltage between two nodes."""
        level = self._held(a) - self._held(b)
        return self._difference(a, b, self.shifted_reference) + level

    def clamp_voltages(self, deviation: Array) -> dict[str, Array]:
        """Anode minus cathode of each clamp."""
        return {
            c.name: self.reference_between(c.anode, c.cathode)
            + self._difference(c.anode, c.cathode, deviation)
            for c in self.circuit.clamps
        }

    def resistor_currents(self, deviation: Array) -> dict[str, Array]:
        """Deviation currents a → b of each resistor."""
        return {
            r.name: self.conductance[r.name] * self._difference(r.a, r.b, deviation)
            for r in self.circuit.resistors
        }

    def leaving(
        self, deviation: Array, clamp_currents: dict[str, Array]
    ) -> tuple[Array, Array, Array]:
        """Current leaving each unknown node, the sum of its magnitudes, and what rounding can add.

        Rounding: a node voltage d held in a double is uncertain by eps·|d|, which a conductance g
        turns into a current g·eps·|d| that no solver can remove.
        """
        net, size = -self.injected.copy(), np.abs(self.injected)
        rounding = np.zeros_like(net)
        branches = [
            (r.a, r.b, current)
            for r, current in zip(
                self.circuit.resistors, self.resistor_currents(deviation).values(), strict=True
            )
        ]
        branches += [(c.anode, c.cathode, clamp_currents[c.name]) for c in self.circuit.clamps]
        for a, b, current in branches:
            for node, sign in ((a, 1.0), (b, -1.0)):
                if node in self.index:
                    net[:, self.index[node]] += sign * current
                    size[:, self.index[node]] += np.abs(current)
        for r in self.circuit.resistors:
            for here in (r.a, r.b):
                if here in self.index:
                    spread = np.abs(self.deviation_of(r.a, deviation))
                    spread = spread + np.abs(self.deviation_of(r.b, deviation))
                    rounding[:, self.index[here]] += 2 * EPSILON * self.conductance[r.name] * spread
        return net, size, rounding

    def size_of(self, clamp: ClampBranch, deviation: Array) -> Array:
        """Sum of the voltage magnitudes from which a clamp's voltage is formed."""
        parts = [self.reference_of(n) for n in (clamp.anode, clamp.cathode)]
        parts += [self.deviation_of(n, deviation) for n in (clamp.anode, clamp.cathode)]
        return np.asarray(np.sum(np.abs(parts), axis=0))

    def solution(
        self,
        deviation: Array,
        points: Mapping[str, Point],
        iterations: int,
        done: NDArray[np.bool_],
    ) -> Solution:
        """Collect the answer and its residual."""
        voltages = self.clamp_voltages(deviation)
        currents = {n: p.carried(voltages[n], self.laws[n]) for n, p in points.items()}
        net, size, rounding = self.leaving(deviation, currents)
        for c in self.circuit.clamps:  # rounding of its voltage moves its current by its slope
            slope = points[c.name].terminal_slope(self.laws[c.name])
            spread = 2 * EPSILON * slope * self.size_of(c, deviation)
            for here in (c.anode, c.cathode):
                if here in self.index:
                    rounding[:, self.index[here]] += spread
        beyond = np.maximum(np.abs(net) - rounding, 0.0)
        residual = np.divide(beyond, size, out=np.zeros_like(net), where=size > 0)
        residual = residual.max(axis=1, initial=0.0)
        every = [*self.unknown, *self.shifted, *self.inputs]
        reference = {n: self.base + self.reference_of(n) for n in every} | self.potentials
        total_current = {
            r.name: self.conductance[r.name]
            * (self.reference_between(r.a, r.b) + self._difference(r.a, r.b, deviation))
            for r in self.circuit.resistors
        }
        return Solution(
            deviation={n: self.deviation_of(n, deviation) for n in every},
            reference=reference,
            clamp_voltage=voltages,
            clamp_current=currents,
            resistor_current=total_current,
            residual=residual,
            converged=done & np.isfinite(deviation).all(axis=1) & (residual <= RESIDUAL_LIMIT),
            iterations=iterations,
        )
