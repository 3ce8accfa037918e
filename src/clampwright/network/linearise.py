"""Any circuit made linear at its solution: couplings and excess, conductances and capacitances apart.

A follower is no unknown: a branch to it couples to the node it follows with its gain, and only the
rest, 1 − gain, loads. So a bootstrapped clamp or shield loses its slope and capacitance exactly as far
as the follower follows, and nothing is ever subtracted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.batch import Solution, Values, count_cases, given
from clampwright.network.circuit import Circuit
from clampwright.network.elimination import Factors, Numbers, factorise
from clampwright.network.rest_point import RestPoint, rest_point

if TYPE_CHECKING:
    from clampwright.network.modes import Modes

Array = NDArray[np.float64]
Branch = tuple[str, str, Array]  # node, node, siemens or farads per case
GROUND = (
    "ground"  # may end a capacitor in a circuit that does not name it: it moves no current at DC
)
NONE: Mapping[str, ArrayLike] = MappingProxyType({})


@dataclass(frozen=True)
class Stamp:
    """Conductances (S) or capacitances (F) by what they tie each unknown node to.

    coupling : (cases, n, n) to other unknown nodes, also through a follower
    held     : (cases, n) to each fixed node
    slack    : (cases, n) what followers leave over, 1 − gain
    offsets  : (cases, n) through which an offset of each driven node acts
    """

    coupling: Array
    held: dict[str, Array]
    slack: Array
    offsets: dict[str, Array]

    @cached_property
    def excess(self) -> Array:
        """Everything that is no coupling, (cases, n)."""
        return np.asarray(self.slack + np.sum(list(self.held.values()), axis=0))


@dataclass(frozen=True)
class LinearNetwork:
    """A circuit linearised: unknown nodes in order, where every node is tied, and the two stamps.

    ties   : node → (unknown node or fixed node it follows, gain per case)
    clamps : where each clamp rests; empty in the leak-free circuit
    """

    nodes: tuple[str, ...]
    ties: dict[str, tuple[str, Array]]
    conductance: Stamp
    capacitance: Stamp
    clamps: dict[str, RestPoint]

    @property
    def cases(self) -> int:
        """How many cases the arrays hold."""
        return len(self.conductance.slack)

    @cached_property
    def modes(self) -> list[Modes]:
        """Time constants and their vectors, found once; one entry per case."""
        from clampwright.network.modes import modes_of

        return modes_of(self)

    def share(self, node: str) -> Array:
        """Weight of each unknown node in the voltage of any node, (cases, n)."""
        return _row(self.nodes, self.ties, node, self.cases)

    def factors(self, frequency: ArrayLike = 0.0) -> Factors:
        """Factors at each frequency (Hz), (frequencies,) or (cases, frequencies).

        Lanes are cases × frequencies; the factors are real where all frequencies are 0.
        """
        g, c = self.conductance, self.capacitance
        f = np.atleast_1d(np.asarray(frequency, float))
        if not f.any():
            return factorise(_lanes(g.coupling, f), _lanes(g.excess, f))
        return factorise(
            _lanes(g.coupling, f) + _lanes(c.coupling, f, 1.0),
            _lanes(g.excess, f) + _lanes(c.excess, f, 1.0),
        )

    def drive(self, source: str, frequency: ArrayLike = 0.0) -> Numbers:
        """Current into each unknown node per volt of a fixed node, or of a driven node's offset.

        Returns (n, cases × frequencies), A/V. InputError where nothing of that name drives.
        """
        f = np.atleast_1d(np.asarray(frequency, float))
        through, kicked = self.drive_parts(source)
        return _lanes(through, f) + _lanes(kicked, f, 1.0)

    def drive_parts(self, source: str) -> tuple[Array, Array]:
        """The same as conductance (S) and capacitance (F), (cases, n) each."""
        if source in self.conductance.held:
            return self.conductance.held[source], self.capacitance.held[source]
        if source in self.conductance.offsets:
            return self.conductance.offsets[source], self.capacitance.offsets[source]
        raise InputError(
            f'node "{source}" drives nothing',
            where="network",
            expected="a fixed or a driven node",
        )


def linearise(
    circuit: Circuit,
    values: Values,
    solution: Solution | None = None,
    capacitances: Mapping[str, ArrayLike] = NONE,
) -> LinearNetwork:
    """Linearise a circuit at its solution, clamps by their slope and junction capacitance there.

    solution     : from `solve`; None leaves the clamps out (the leak-free circuit)
    capacitances : F of the circuit's capacitors by name, one value or one per case; a capacitor
                   that is not named is not fitted
    Raises InputError for a missing value or a capacitance without a capacitor.
    """
    cases = count_cases(values) if solution is None else solution.residual.size
    fixed = tuple(dict.fromkeys((*circuit.fixed, GROUND)))
    nodes, ties = circuit.unknown, _follow(circuit, values, cases)
    ends = {c.name: (c.a, c.b) for c in circuit.capacitors}
    for name in capacitances:
        if name not in ends:
            raise InputError(
                f'there is no capacitor "{name}"',
                where="network",
                expected="one of " + ", ".join(ends) if ends else "none",
            )
    ohmic: list[Branch] = [
        (
            r.a,
            r.b,
            _spread(1.0 / np.asarray(given(values.resistances, r.name, "resistance")), cases),
        )
        for r in circuit.resistors
    ]
    farads: list[Branch] = [(*ends[name], _spread(c, cases)) for name, c in capacitances.items()]
    resting: dict[str, RestPoint] = {}
    if solution is not None:
        for c in circuit.clamps:
            state = given(values.laws, c.name, "law")
            across, carried = solution.clamp_voltage[c.name], solution.clamp_current[c.name]
            point = resting[c.name] = rest_point(across, state, carried)
            ohmic.append((c.anode, c.cathode, _spread(point.slope, cases)))
            farads.append((c.anode, c.cathode, _spread(point.capacitance, cases)))
    drivers = tuple(d.name for d in circuit.driven)
    chains = _chains(circuit, values, cases)
    conductance, capacitance = (
        _stamp(branches, nodes, fixed, drivers, ties, chains, cases) for branches in (ohmic, farads)
    )
    return LinearNetwork(nodes, ties, conductance, capacitance, resting)


def released(circuit: Circuit, node: str) -> Circuit:
    """The circuit with a fixed node let go, as a virtual ground is without its feedback.

    Linearise it at the solution of the circuit that holds the node. InputError where it is not fixed.
    """
    if node not in circuit.fixed:
        raise InputError(
            f'"{node}" is no fixed node', expected="one of " + ", ".join(circuit.fixed)
        )
    left = tuple(f for f in circuit.fixed if f != node)
    return replace(circuit, fixed=left, base=left[0] if circuit.base == node else circuit.base)


def _follow(circuit: Circuit, values: Values, cases: int) -> dict[str, tuple[str, Array]]:
    """For every node the fixed or unknown node it follows at last, and its gain (per case)."""
    one = np.ones(cases)
    ties = {name: (name, one) for name in (GROUND, *circuit.fixed, *circuit.unknown)}
    for driven in circuit.driven_in_order:
        gain = _spread(given(values.driven, driven.name, "gain and offset")[0], cases)
        root, before = ties[driven.input]
        ties[driven.name] = (root, gain * before)
    return ties


def _chains(circuit: Circuit, values: Values, cases: int) -> dict[str, dict[str, Array]]:
    """For every driven node the gain from the offset of each driven node before it, itself 1."""
    chains: dict[str, dict[str, Array]] = {}
    for driven in circuit.driven_in_order:
        gain = _spread(values.driven[driven.name][0], cases)
        before = chains.get(driven.input, {})
        chains[driven.name] = {name: gain * g for name, g in before.items()}
        chains[driven.name][driven.name] = np.ones(cases)
    return chains


def _stamp(
    branches: Iterable[Branch],
    nodes: tuple[str, ...],
    fixed: tuple[str, ...],
    drivers: tuple[str, ...],
    ties: dict[str, tuple[str, Array]],
    chains: dict[str, dict[str, Array]],
    cases: int,
) -> Stamp:
    n = len(nodes)
    index = {name: i for i, name in enumerate(nodes)}
    coupling, slack = np.zeros((cases, n, n)), np.zeros((cases, n))
    held = {name: np.zeros((cases, n)) for name in fixed}
    offsets = {name: np.zeros((cases, n)) for name in drivers}
    for a, b, y in branches:
        for here, there in ((a, b), (b, a)):
            if here not in index:
                continue
            i, (root, gain) = index[here], ties[there]
            slack[:, i] += y * (1.0 - gain)
            if root not in index:
                held[root][:, i] += y * gain
            elif root != here:
                coupling[:, i, index[root]] += y * gain
            for name, share in chains.get(there, {}).items():
                offsets[name][:, i] += y * share
    return Stamp(coupling, held, slack, offsets)


def _row(
    nodes: tuple[str, ...], ties: dict[str, tuple[str, Array]], node: str, cases: int
) -> Array:
    if node not in ties:
        raise InputError(
            f'there is no node "{node}"', where="network", expected="one of " + ", ".join(ties)
        )
    root, gain = ties[node]
    row = np.zeros((cases, len(nodes)))
    if root in nodes:
        row[:, nodes.index(root)] = gain
    return row


def _spread(value: ArrayLike, cases: int) -> Array:
    array = np.asarray(value, float)
    return array if array.shape == (cases,) else np.full(cases, array)


def _lanes(part: Array, frequency: Array, order: float = 0.0) -> Numbers:
    """Put (cases, …) on lanes (…, cases × frequencies), times 2πjf where `order` is 1."""
    count = frequency.shape[-1]
    first = part.transpose(*range(1, part.ndim), 0)[..., None]
    spread = first * (2j * np.pi * frequency) if order else first.repeat(count, axis=-1)
    return spread.reshape(*first.shape[:-2], len(part) * count)
