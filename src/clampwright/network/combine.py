"""Topologies made of topologies: stages in a row, and the two legs of a differential pair."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import product

from clampwright.errors import InputError
from clampwright.network.circuit import Capacitor, Circuit
from clampwright.network.compose import PIN_JUNCTIONS, joined, renamed, without
from clampwright.network.pair import two_legs
from clampwright.network.topology import Answer, Role, Topology

LEGS = ("plus", "minus")


def chained(first: Topology, second: Topology, *more: Topology) -> Topology:
    """Stages in a row from the connector to the pin, for example a gas tube stage, then a resistor.

    The pin of a stage is the connector of the next one. Names of the second stage that the first
    uses too get " 2" appended (of a third " 3"); rails, ground, guard and pin are shared. Followers of
    every stage follow the last pin. Fault stages combine with " / ".
    Raises InputError for a topology without a source resistance in series (T13) or of two legs (T15).
    """
    chain = _chained(first, second, 2)
    for number, stage in enumerate(more, start=3):
        chain = _chained(chain, stage, number)
    return chain


def paired(leg: Topology) -> Topology:
    """T15: two copies of a single-ended topology, every part replaceable on each leg alone.

    Names of elements and nodes end in " plus" and " minus"; rails and ground are shared. Under a
    fault on one lead only, the other leg's `fault` and `R_fault` are its own signal and source.
    Raises InputError for a leg that does not answer with the voltage of its pin.
    """
    if leg.answer.node != "pin" or leg.answer.less:
        raise InputError(
            f"{leg.name} cannot be the leg of a differential pair",
            where="network.topology",
            expected="a topology that answers with the voltage of its pin",
        )
    plus, minus = LEGS
    opposite = [
        (*(_of(s, plus) for s in here), *(_of(s, minus) for s in there))
        for here, there in zip(leg.groups, leg.groups[::-1], strict=True)
    ]
    if not leg.opposed:
        opposite = [tuple(_of(s, side) for s in leg.sides) for side in LEGS]
    return replace(
        leg,
        name="T15",
        title=f"differential pair, each leg: {leg.title}",
        words="Two copies of a single-ended protection; only what differs between them counts.",
        when="for bridges and instrumentation amplifiers, with a return path for the bias currents",
        sides=tuple(_of(s, side) for side in LEGS for s in leg.sides),
        signal=_both(leg.signal),
        fault={stage: _both(circuit) for stage, circuit in leg.fault.items()},
        roles=(*(_leg_role(r, side, leg) for side in LEGS for r in leg.roles), _DIFFERENCE),
        differs=(
            "offset R·ΔI + I·ΔR: clamps of one package, one temperature, one light",
            "rejection ΔR·g + R·Δg at direct current, 2πf·Δ(R·C) above",
            "thermal EMF differences of the series resistors add to the signal",
            *leg.differs,
        ),
        answer=Answer(
            node=_of("pin", plus),
            less=_of("pin", minus),
            offsets=(),
            words="difference of the error voltages at the two pins",
        ),
        acting=tuple(opposite) if leg.sides else (),
        levels={
            _of(node, side): level
            for node, level in leg.levels.items()
            if node not in leg.signal.fixed
            for side in LEGS
        },
    )


_DIFFERENCE = Role("C_difference", "capacitor", "capacitor between the two pins", "F", False, 1e-8)


def _of(name: str, leg: str) -> str:
    return f"{name} {leg}"


def _both(circuit: Circuit) -> Circuit:
    shared = {f for f in circuit.fixed if f not in ("source", "fault", "guard", "output")}
    shared.add("ground")

    pair = two_legs(circuit, tuple(shared), LEGS)
    between = Capacitor("C_difference", "pin plus", "pin minus")
    return replace(pair, capacitors=(*pair.capacitors, between))


def _leg_role(role: Role, leg: str, topology: Topology) -> Role:
    shared = role.kind == "potential" and role.name in topology.signal.fixed
    name = role.name if shared else _of(role.name, leg)
    return replace(role, name=name, words=role.words if shared else f"{role.words}, {leg} leg")


def _chained(first: Topology, second: Topology, number: int) -> Topology:
    for stage in (first, second):
        if "source" not in stage.signal.fixed or stage.answer.less:
            raise InputError(
                f"{stage.name} cannot be one of several stages",
                where="network.topology",
                expected="single-ended topologies that take a voltage",
            )
    taken = {*first.signal.element_names, *(r.name for r in first.roles)}
    for circuit in (first.signal, *first.fault.values()):
        taken |= {*circuit.element_names, *circuit.unknown}
    element = _renamer(
        {"R_S", "R_fault", "bias", "C_cable", "C_input", *PIN_JUNCTIONS}, taken, number
    )
    shared = {"pin", "guard", "ground", *second.signal.fixed}
    for circuit in second.fault.values():
        shared |= {*circuit.fixed}
    node = _renamer(shared, taken | {"connector"}, number)
    return Topology(
        name=f"{first.name} + {second.name}",
        title=f"{first.title}, then {second.title}",
        words=f"{first.words} {second.words}",
        when=f"{first.when}; then {second.when}",
        sides=(*first.sides, *map(element, second.sides)),
        opposed=first.opposed and second.opposed,
        signal=_in_a_row(first.signal, second.signal, node, element),
        fault={
            _stage(a, b): _in_a_row(first.fault[a], second.fault[b], node, element)
            for a, b in product(first.fault, second.fault)
        },
        roles=_roles(first, second, element),
        differs=tuple(dict.fromkeys((*first.differs, *second.differs))),
        answer=_answer(first, second, node, element),
        acting=tuple(
            (*a, *map(element, b))
            for a, b in product(first.groups or ((),), second.groups or ((),))
        ),
        levels={**first.levels, **{node(n): level for n, level in second.levels.items()}},
        needs_inner=second.needs_inner,
        needs_guard=first.needs_guard or second.needs_guard,
    )


def _renamer(shared: set[str], taken: set[str], number: int) -> Callable[[str], str]:
    def rename(name: str) -> str:
        return f"{name} {number}" if name in taken and name not in shared else name

    return rename


def _stage(first: str, second: str) -> str:
    return " / ".join(dict.fromkeys(s for s in (first, second) if s != "fault")) or "fault"


def _in_a_row(
    first: Circuit, second: Circuit, node: Callable[[str], str], element: Callable[[str], str]
) -> Circuit:
    """The first circuit with its pin as the connector of the second."""
    between = node("connector")
    followers = first.driven
    head = without(replace(first, driven=()), ["bias", "C_input", *PIN_JUNCTIONS])
    head = renamed(head, {"pin": between}.get, str)
    tail = without(second, ["R_S", "R_fault", "C_cable"])
    tail = renamed(tail, node, element)
    whole = joined(replace(head, driven=followers), tail)
    idle = {"source", "fault"} - {first.base}
    return replace(whole, fixed=tuple(f for f in whole.fixed if f not in idle))


def _roles(first: Topology, second: Topology, element: Callable[[str], str]) -> tuple[Role, ...]:
    ends = {"bias", "C_input", *PIN_JUNCTIONS}
    starts = {"R_S", "R_fault", "C_cable"}
    kept = [r for r in first.roles if r.name not in ends]
    added = [replace(r, name=element(r.name)) for r in second.roles if r.name not in starts]
    return tuple({r.name: r for r in (*kept, *added)}.values())


def _answer(
    first: Topology, second: Topology, node: Callable[[str], str], element: Callable[[str], str]
) -> Answer:
    answer = second.answer
    return replace(
        answer,
        node=node(answer.node) if answer.node else None,
        through=element(answer.through) if answer.through else "",
        currents=tuple((element(b), sign) for b, sign in answer.currents),
        offsets=(*first.answer.offsets, *answer.offsets),
    )
