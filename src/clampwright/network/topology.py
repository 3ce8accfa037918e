"""What a protection topology is: roles, circuits, answer and what each clamp sits at, as plain data.

The circuits hold every optional role; what a design leaves out is taken away by `compose.without`
(an absent resistor is a wire unless its role says otherwise, anything else is simply not there).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from clampwright.network.batch import Solution, Values, given
from clampwright.network.circuit import Circuit

Array = NDArray[np.float64]
Kind = Literal[
    "resistor", "clamp", "leak", "current", "capacitor", "potential", "follower", "figure"
]
Level = tuple[float, str]  # share of the signal, and the name of the constant added to it


@dataclass(frozen=True)
class Role:
    """One replaceable part or stated value of a topology.

    kind : "leak" is a branch with an ohmic clamp law, so that what it draws counts as error;
    "figure" is a stated value that is in no circuit (times, powers). A default is common practice
    without a source, in the unit named; None means that it must be stated.
    """

    name: str
    kind: Kind
    words: str
    unit: str = ""
    required: bool = True
    default: float | None = None
    absent: Literal["short", "open"] = "short"  # what a missing resistor stands for


@dataclass(frozen=True)
class Answer:
    """Which number is the error: the deviation of a node, or currents through a feedback resistor.

    The error is the deviation of `node`, less that of `less`, plus the resistance named `through`
    times the signed currents of the branches, plus the offsets of the followers named (V).
    """

    node: str | None = "pin"
    less: str | None = None
    through: str = ""
    currents: tuple[tuple[str, float], ...] = ()
    offsets: tuple[str, ...] = ()
    words: str = "error voltage at the amplifier pin"


@dataclass(frozen=True)
class Topology:
    """One protection topology: what it is, when to use it and how its clamps are placed."""

    name: str
    title: str
    words: str
    when: str
    sides: tuple[str, ...]  # clamp roles on the signal
    opposed: bool  # True: the clamps pull opposite ways (rails); False: they add (pair)
    signal: Circuit
    fault: Mapping[str, Circuit]  # by stage, the usual one first
    roles: tuple[Role, ...]
    differs: tuple[str, ...] = ()
    answer: Answer = field(default_factory=Answer)
    acting: tuple[tuple[str, ...], ...] = ()  # clamps that leak together in the worst case
    levels: Mapping[str, Level] = field(default_factory=dict)
    needs_inner: bool = False
    needs_guard: bool = False

    @property
    def has_clamp(self) -> bool:
        """Whether a clamp part of our own is fitted."""
        return bool(self.sides)

    @property
    def groups(self) -> tuple[tuple[str, ...], ...]:
        """Sets of clamps to judge as leaking while the others do not, worst case by worst case."""
        if self.acting:
            return self.acting
        return tuple((s,) for s in self.sides) if self.opposed else (self.sides,)

    @property
    def stages(self) -> tuple[str, ...]:
        """Names of the fault circuits, the usual one first."""
        return tuple(self.fault)

    def role(self, name: str) -> Role:
        """The role of that name; KeyError otherwise."""
        return {r.name: r for r in self.roles}[name]


def error_terms(topology: Topology, solution: Solution, values: Values) -> dict[str, Array]:
    """The error (V) by cause, as the topology's `answer` defines it; the terms add up to it."""
    answer = topology.answer
    size = solution.residual.shape
    terms: dict[str, Array] = {}
    if answer.node:
        terms[answer.node] = solution.deviation[answer.node]
    if answer.less:
        terms[answer.less] = -solution.deviation[answer.less]
    for branch, sign in answer.currents:
        resistance = np.asarray(given(values.resistances, answer.through, "resistance"))
        terms[branch] = sign * resistance * _current(branch, solution, values)
    for follower in answer.offsets:
        terms[follower] = np.asarray(given(values.driven, follower, "gain and offset")[1], float)
    return {name: np.broadcast_to(term, size) for name, term in terms.items()}


def error_voltage(topology: Topology, solution: Solution, values: Values) -> Array:
    """The error (V) that protection makes in a solved topology, one entry per case."""
    return np.asarray(sum(error_terms(topology, solution, values).values()))


def _current(branch: str, solution: Solution, values: Values) -> Array:
    for found in (solution.clamp_current, solution.resistor_current):
        if branch in found:
            return found[branch]
    return np.asarray(given(values.currents, branch, "current"), float)
