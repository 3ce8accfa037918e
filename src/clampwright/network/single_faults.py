"""Each part shorted and opened in turn: voltage at the pin and currents of what is left.

A short merges two nodes, it is no small resistor; an opening takes the part away. Nothing is judged
here: which rating a voltage or current exceeds is decided by those who know the ratings.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.network.batch import Solution, Values, count_cases
from clampwright.network.circuit import Circuit
from clampwright.network.compose import renamed
from clampwright.network.linearise import linearise
from clampwright.network.node_current import current_into
from clampwright.network.solve import solve

Array = NDArray[np.float64]
Kind = Literal["short", "open"]
Outcome = Literal["solved", "floating", "fixed nodes joined", "no steady state"]


@dataclass(frozen=True)
class PartFault:
    """One part shorted or opened.

    outcome     : solved · floating: the pin or its neighbour hangs on nothing · fixed nodes joined:
                  the part shorts two held potentials, its current is theirs to limit · no steady
                  state: none was found, as where a follower comes to hold its own input
    pin_voltage : V per case; NaN where not solved, as in single cases without a steady state
    currents    : A per case of every other resistor (a → b) and clamp (anode → cathode)
    part_current: A per case through the shorted part from its first to its second end; NaN for an
                  opening or where not solved
    """

    part: str
    kind: Kind
    outcome: Outcome
    pin_voltage: Array
    currents: dict[str, Array]
    part_current: Array
    solution: Solution | None


def single_faults(circuit: Circuit, values: Values, pin: str) -> list[PartFault]:
    """Short and open every resistor and clamp of the circuit in turn, all cases at once."""
    return [
        study(circuit, values, part, kind, pin)
        for part in _parts(circuit)
        for kind in ("short", "open")
    ]


def study(circuit: Circuit, values: Values, part: str, kind: Kind, pin: str) -> PartFault:
    """The circuit with one part shorted or opened. InputError for a part it does not have."""
    ends = _parts(circuit)
    if part not in ends:
        raise InputError(f'there is no part "{part}"', expected="one of " + ", ".join(ends))
    left = opened(circuit, part)
    where = pin
    if kind == "short":
        merged = merge(left, *ends[part])
        if merged is None:
            return _unsolved(part, kind, "fixed nodes joined", values)
        left, gone, kept = merged
        where = kept if pin == gone else pin
    if where not in (*left.fixed, *left.unknown, *(d.name for d in left.driven)):
        return _unsolved(part, kind, "floating", values)
    try:
        left.check()
        _ = left.driven_in_order  # a follower whose input is its own output holds nothing
    except InputError:
        return _unsolved(part, kind, "floating", values)
    solution = solve(left, values)
    settled = solution.converged & _held(left, values, solution)
    if not settled.any():
        return _unsolved(part, kind, "no steady state", values)
    through = np.full(count_cases(values), np.nan)
    if kind == "short":
        through = _through(opened(circuit, part), solution, values, ends[part])
    return PartFault(
        part=part,
        kind=kind,
        outcome="solved",
        pin_voltage=np.where(settled, solution.voltage(where), np.nan),
        currents={
            name: np.where(settled, current, np.nan)
            for name, current in {**solution.resistor_current, **solution.clamp_current}.items()
        },
        part_current=np.where(settled, through, np.nan),
        solution=solution,
    )


def opened(circuit: Circuit, part: str) -> Circuit:
    """The circuit without a resistor or clamp, and without capacitors: they carry no steady current."""
    return replace(
        circuit,
        resistors=tuple(r for r in circuit.resistors if r.name != part),
        clamps=tuple(c for c in circuit.clamps if c.name != part),
        capacitors=(),
    )


def merge(circuit: Circuit, a: str, b: str) -> tuple[Circuit, str, str] | None:
    """The circuit with two nodes made one, the name that went and the one that stayed.

    None where both are held by something (fixed or driven). A part across the two is lost with it.
    """
    held = {*circuit.fixed, *(d.name for d in circuit.driven)}
    if a in held and b in held:
        return None
    gone, kept = (a, b) if b in held else (b, a)
    one = renamed(circuit, {gone: kept}.get, str)
    return (
        replace(
            one,
            resistors=tuple(r for r in one.resistors if r.a != r.b),
            clamps=tuple(c for c in one.clamps if c.anode != c.cathode),
        ),
        gone,
        kept,
    )


def _held(circuit: Circuit, values: Values, solution: Solution) -> NDArray[np.bool_]:
    """Whether every free node is held by something: a follower of gain 1 holds not its own input."""
    pivots = linearise(circuit, values, solution).factors().pivots
    return np.asarray(np.all(pivots.real > 0, axis=0))


def _through(circuit: Circuit, solution: Solution, values: Values, ends: tuple[str, str]) -> Array:
    """Current a → b of a short: what the rest of the circuit carries into its end that is free."""
    held = {*circuit.fixed, *(d.name for d in circuit.driven)}
    seen = replace(
        circuit,
        resistors=tuple(r for r in circuit.resistors if r.name in solution.resistor_current),
        clamps=tuple(c for c in circuit.clamps if c.name in solution.clamp_current),
    )
    best, least = np.zeros(0), np.inf
    for node, sign in zip(ends, (1.0, -1.0), strict=True):
        if node not in held:
            total, size = _into(seen, solution, values, node)
            if size < least:  # the end where the smaller currents meet keeps more digits
                best, least = sign * total, size
    return best


def _into(circuit: Circuit, solution: Solution, values: Values, node: str) -> tuple[Array, float]:
    """Current (A) into a node from clamps, resistors and injections, and the largest of them."""
    parts = [
        current_into(replace(circuit, resistors=rs, clamps=cs), solution, node)
        for rs, cs in (
            *(((r,), ()) for r in circuit.resistors),
            *(((), (c,)) for c in circuit.clamps),
        )
    ]
    parts += [
        np.broadcast_to(np.asarray(values.currents[c.name], float), solution.residual.shape)
        for c in circuit.currents
        if c.node == node
    ]
    return np.asarray(np.sum(parts, axis=0)), float(np.max(np.abs(parts)))


def _parts(circuit: Circuit) -> dict[str, tuple[str, str]]:
    ends = {r.name: (r.a, r.b) for r in circuit.resistors}
    return {**ends, **{c.name: (c.anode, c.cathode) for c in circuit.clamps}}


def _unsolved(part: str, kind: Kind, outcome: Outcome, values: Values) -> PartFault:
    unknown = np.full(count_cases(values), np.nan)
    return PartFault(part, kind, outcome, unknown, {}, unknown, None)
