"""The solver: deviations from the leak-free circuit, femtoampere-true, in batches.

The unknown of each node is d, its deviation from the circuit without clamps and injected currents.
By superposition the linear part obeys G·d = −(clamp and injected currents) exactly, so no large
voltages are ever subtracted to find a small error, and no artificial shunt is added anywhere.
Residual and step are judged against the currents that really flow into each node.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError, InternalError
from clampwright.network.circuit import Circuit, ClampBranch
from clampwright.network.linear import solve_without_subtraction
from clampwright.physics.clamp import ClampState, current_and_slope, take
from clampwright.physics.terminal import terminal_current_and_slope, voltage_at_current

Array = NDArray[np.float64]

RELATIVE_STEP = 1e-8  # Newton is quadratic: a step this small leaves about 1e-15
SHARE_OF_THERMAL_VOLTAGE = 1e-9  # and no clamp may still move by more than this share of kT/q
MOST_ITERATIONS = 300
OVERSHOOT = 4.0  # a clamp whose current exceeds its linear prediction this much is drawn back
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


def solve(circuit: Circuit, values: Values) -> Solution:
    """Solve a circuit for a batch of cases.

    Raises InputError for a floating node or a missing value. Cases that do not converge are marked
    in `converged`; `require_converged` turns them into an InternalError.
    """
    circuit.check()
    batch = _Batch(circuit, values)
    deviation, lin_v, iterations, converged = _iterate(batch)
    return batch.solution(deviation, lin_v, iterations, converged)


def require_converged(solution: Solution, what: str) -> Solution:
    """Return the solution, or raise InternalError saying how many cases did not converge."""
    lost = int((~solution.converged).sum())
    if lost:
        raise InternalError(
            f"{lost} of {solution.converged.size} cases of {what} did not converge "
            f"(largest residual {solution.residual.max():.1e})",
            mend="please report the design file; no number is given for these cases",
        )
    return solution


def _carried(voltage: Array, law: ClampState) -> tuple[Array, Array]:
    """Current and slope at the terminals of a clamp."""
    if np.any(law.series_resistance):
        return terminal_current_and_slope(voltage, law)
    return current_and_slope(voltage, law)


class _Batch:
    """A circuit with its values laid out as arrays: nodes × cases."""

    def __init__(self, circuit: Circuit, values: Values) -> None:
        self.circuit, self.values = circuit, values
        self.unknown = list(circuit.unknown)
        self.index = {name: i for i, name in enumerate(self.unknown)}
        self.inputs = {d.name: d.input for d in circuit.driven}
        self.cases = self._count_cases()
        potentials = self._arrays(values.potentials, circuit.fixed, "potential")
        self.base = potentials[circuit.base]
        self.shifted = {name: v - self.base for name, v in potentials.items()}
        names = [r.name for r in circuit.resistors]
        resistances = self._arrays(values.resistances, names, "resistance")
        for name, r in resistances.items():
            if not np.all(r > 0):
                raise InputError(
                    f'resistor "{name}" is not positive', expected="a resistance above 0 Ω"
                )
        self.conductance = {name: 1.0 / r for name, r in resistances.items()}
        self.gain, self.offset = {}, {}
        for d in circuit.driven:
            gain, offset = values.driven[d.name]
            self.gain[d.name] = self._spread(gain)
            self.offset[d.name] = self._spread(offset) + (self.gain[d.name] - 1.0) * self.base
        self.injected = np.zeros((self.cases, len(self.unknown)))
        for c in circuit.currents:
            if c.node in self.index:
                self.injected[:, self.index[c.node]] += self._spread(values.currents[c.name])
        self.laws = {c.name: values.laws[c.name] for c in circuit.clamps}
        self.resistive = self._matrix(
            [(r.a, r.b, self.conductance[r.name]) for r in circuit.resistors]
        )
        self.shifted_reference = self._reference()

    def _count_cases(self) -> int:
        shapes = [np.shape(v) for v in self.values.potentials.values()]
        shapes += [np.shape(v) for v in self.values.resistances.values()]
        shapes += [np.shape(v) for v in self.values.currents.values()]
        shapes += [np.shape(x) for pair in self.values.driven.values() for x in pair]
        for state in self.values.laws.values():
            shapes += [np.shape(v) for v in vars(state).values()]
        shape = np.broadcast_shapes(*shapes)
        return int(shape[0]) if shape else 1

    def _spread(self, value: ArrayLike) -> Array:
        return np.broadcast_to(np.asarray(value, float), (self.cases,))

    def _arrays(self, given: Mapping[str, ArrayLike], names: object, kind: str) -> dict[str, Array]:
        out = {}
        for name in names:  # type: ignore[attr-defined]
            if name not in given:
                raise InputError(f'the {kind} of "{name}" is missing', where="network")
            out[name] = self._spread(given[name])
        return out

    def _matrix(self, branches: list[tuple[str, str, Array]]) -> tuple[Array, Array]:
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
                    gain, source = self.gain[there], self.inputs[there]
                    excess[:, i] += g * (1.0 - gain)
                    j = self.index.get(source)
                    if j is None:
                        excess[:, i] += g * gain
                    elif j != i:
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

    def clamp_voltages(self, deviation: Array) -> dict[str, Array]:
        """Anode minus cathode of each clamp."""
        return {
            c.name: (self.reference_of(c.anode) - self.reference_of(c.cathode))
            + (self.deviation_of(c.anode, deviation) - self.deviation_of(c.cathode, deviation))
            for c in self.circuit.clamps
        }

    def resistor_currents(self, deviation: Array) -> dict[str, Array]:
        """Deviation currents a → b of each resistor."""
        return {
            r.name: self.conductance[r.name]
            * (self.deviation_of(r.a, deviation) - self.deviation_of(r.b, deviation))
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

    def _size_of(self, clamp: ClampBranch, deviation: Array) -> Array:
        """Sum of the voltage magnitudes from which a clamp's voltage is formed."""
        parts = [self.reference_of(n) for n in (clamp.anode, clamp.cathode)]
        parts += [self.deviation_of(n, deviation) for n in (clamp.anode, clamp.cathode)]
        return np.asarray(np.sum(np.abs(parts), axis=0))

    def solution(
        self, deviation: Array, lin_v: dict[str, Array], iterations: int, done: NDArray[np.bool_]
    ) -> Solution:
        """Collect the answer and its residual."""
        voltages = self.clamp_voltages(deviation)
        currents = {n: _carried(v, self.laws[n])[0] for n, v in voltages.items()}
        net, size, rounding = self.leaving(deviation, currents)
        for (
            c
        ) in self.circuit.clamps:  # rounding of a clamp's voltage moves its current by its slope
            slope = _carried(voltages[c.name], self.laws[c.name])[1]
            for here in (c.anode, c.cathode):
                if here in self.index:
                    rounding[:, self.index[here]] += (
                        2 * EPSILON * slope * self._size_of(c, deviation)
                    )
        beyond = np.maximum(np.abs(net) - rounding, 0.0)
        residual = np.divide(beyond, size, out=np.zeros_like(net), where=size > 0)
        residual = residual.max(axis=1, initial=0.0)
        every = [*self.unknown, *self.circuit.fixed, *self.inputs]
        reference = {n: self.base + self.reference_of(n) for n in every}
        total_current = {
            r.name: self.conductance[r.name]
            * (
                (self.reference_of(r.a) - self.reference_of(r.b))
                + (self.deviation_of(r.a, deviation) - self.deviation_of(r.b, deviation))
            )
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


def _iterate(batch: _Batch) -> tuple[Array, dict[str, Array], int, NDArray[np.bool_]]:
    """Newton on deviations; each clamp is linearised at a voltage that its prediction allows."""
    deviation = np.zeros((batch.cases, len(batch.unknown)))
    lin_v = {n: np.minimum(v, 0.0) for n, v in batch.clamp_voltages(deviation).items()}
    done = np.zeros(batch.cases, bool)
    coupling, excess = batch.resistive
    iteration = 0
    for _ in range(MOST_ITERATIONS):
        iteration += 1
        lin = {n: _carried(lin_v[n], batch.laws[n]) for n in lin_v}
        voltages = batch.clamp_voltages(deviation)
        predicted = {n: i + g * (voltages[n] - lin_v[n]) for n, (i, g) in lin.items()}
        net = batch.leaving(deviation, predicted)[0]
        more_coupling, more_excess = batch._matrix(
            [
                (c.anode, c.cathode, np.broadcast_to(lin[c.name][1], (batch.cases,)))
                for c in batch.circuit.clamps
            ]
        )
        step = solve_without_subtraction(coupling + more_coupling, excess + more_excess, -net)
        step[done] = 0.0
        deviation = deviation + step
        new_v = batch.clamp_voltages(deviation)
        settled = np.all(np.abs(step) <= RELATIVE_STEP * np.abs(deviation) + 1e-300, axis=1)
        for c in batch.circuit.clamps:
            n = c.name
            i, g = lin[n]
            moved = _allowed(new_v[n], lin_v[n], i + g * (new_v[n] - lin_v[n]), i, batch.laws[n])
            scale = SHARE_OF_THERMAL_VOLTAGE * batch.laws[n].thermal_voltage
            close = np.abs(new_v[n] - lin_v[n]) <= np.maximum(scale, 1e-13 * np.abs(new_v[n]))
            settled &= close
            lin_v[n] = np.where(done, lin_v[n], moved)
        done = done | settled
        if done.all():
            break
    return deviation, lin_v, iteration, done


def _allowed(new: Array, old: Array, predicted: Array, before: Array, law: ClampState) -> Array:
    """The voltage at which to linearise next: `new`, or where the law carries the predicted current."""
    current, _ = _carried(new, law)
    excess = np.abs(current) > OVERSHOOT * (np.abs(predicted) + np.abs(before))
    hot = np.flatnonzero(np.broadcast_to(excess, new.shape))
    if hot.size == 0:
        return new
    low, high = np.minimum(old[hot], new[hot]), np.maximum(old[hot], new[hot])
    there = voltage_at_current(predicted[hot], take(law, hot))[0]
    out = new.copy()
    out[hot] = np.clip(there, low, high)
    return out
