"""The protection topologies by name, their circuits, and where each clamp sits.

Elements and nodes are plain names. In every topology the fault arrives at `connector` and the
amplifier's input is `pin`; the clamps hang on `clamp node`, which is the pin where there is no inner
resistor. What each name stands for is in the topology's `roles`.
"""

from __future__ import annotations

from collections.abc import Iterable

from clampwright.errors import InputError
from clampwright.network.catalogue_first import FIRST_STAGE_TOPOLOGIES
from clampwright.network.catalogue_pairs import PAIR_TOPOLOGIES, stacked
from clampwright.network.catalogue_rails import RAIL_TOPOLOGIES, T2
from clampwright.network.circuit import Circuit
from clampwright.network.combine import chained, paired
from clampwright.network.compose import without
from clampwright.network.topology import (
    Answer,
    Level,
    Role,
    Topology,
    error_terms,
    error_voltage,
)

__all__ = [
    "CATALOGUE",
    "TOPOLOGIES",
    "Answer",
    "Role",
    "Topology",
    "chained",
    "error_terms",
    "error_voltage",
    "fault_circuit",
    "paired",
    "signal_circuit",
    "sits_at",
    "stacked",
    "topology_named",
]

CATALOGUE: dict[str, Topology] = {
    t.name: t
    for t in sorted(
        (*RAIL_TOPOLOGIES, *PAIR_TOPOLOGIES, *FIRST_STAGE_TOPOLOGIES, paired(T2)),
        key=lambda t: int(t.name[1:]),
    )
}
JUDGED = ("T1", "T2", "T5", "T6")
TOPOLOGIES: dict[str, Topology] = {name: CATALOGUE[name] for name in JUDGED}
"""Those for which a whole verdict can be given; CATALOGUE has all that can be solved."""

LEVELS: dict[str, Level] = {
    "rail positive": (0.0, "rail positive"),
    "rail negative": (0.0, "rail negative"),
    "clamp rail positive": (0.0, "clamp rail positive"),
    "clamp rail negative": (0.0, "clamp rail negative"),
    "ground": (0.0, ""),
    "guard": (1.0, "guard offset"),
    "guarded end": (1.0, "guard offset"),
}
SIGNAL: Level = (1.0, "")  # of every node that is not listed


def topology_named(name: str) -> Topology:
    """The topology of that name; InputError lists the names otherwise."""
    if name not in CATALOGUE:
        raise InputError(
            f'there is no topology "{name}"',
            where="network.topology",
            expected="one of " + ", ".join(CATALOGUE),
        )
    return CATALOGUE[name]


def signal_circuit(
    topology: Topology, *, inner: bool = False, present: Iterable[str] = ()
) -> Circuit:
    """The circuit in normal use: source, rails and, for a guard, the follower.

    inner   : whether the inner resistor is fitted (on both legs of a pair)
    present : names of the other optional roles that are fitted, capacitors among them
    """
    return _fitted(topology, topology.signal, inner, present)


def fault_circuit(
    topology: Topology, *, inner: bool = False, present: Iterable[str] = (), stage: str = ""
) -> Circuit:
    """The circuit under a fault at the connector; InputError for a stage it does not have.

    The amplifier's own junctions to the rails (`pin upper`, `pin lower`) join, the sensor leaves, and
    a guard follower or amplifier is taken as saturated: its output is a fixed potential.
    stage : one of `topology.stages`, the first one by default
    """
    stage = stage or topology.stages[0]
    if stage not in topology.fault:
        raise InputError(
            f'{topology.name} has no fault stage "{stage}"',
            where="network.topology",
            expected="one of " + ", ".join(topology.stages),
        )
    return _fitted(topology, topology.fault[stage], inner, present)


def _fitted(topology: Topology, circuit: Circuit, inner: bool, present: Iterable[str]) -> Circuit:
    fitted = set(present)
    roles = {r.name: r for r in topology.roles}
    unknown = sorted(fitted - set(roles))
    if unknown:
        raise InputError(
            f'{topology.name} has no part "{unknown[0]}"',
            where="network",
            expected="one of " + ", ".join(roles),
        )
    always = {n for n in roles if n.startswith(("pin upper", "pin lower", "other pin"))}
    absent = {n for n, r in roles.items() if not r.required} - fitted - always
    inners = {n for n in roles if n.startswith("R_inner")}
    absent = absent - inners if inner else absent | (inners - fitted)
    shorted = [n for n in absent if roles[n].kind == "resistor" and roles[n].absent == "short"]
    return without(circuit, absent - set(shorted), sorted(shorted))


def sits_at(
    topology: Topology,
    side: str,
    signal: float,
    rails: tuple[float, float],
    guard_offset: float,
    *,
    clamp_rails: tuple[float, float] = (0.0, 0.0),
    middle: float = 0.0,
    amplifier_offset: float = 0.0,
) -> float:
    """Anode minus cathode of a clamp in normal use (V): the voltage at which to measure its leakage.

    signal : V at the node; rails, clamp_rails : (positive, negative), V; guard_offset : follower
    output minus input, V; middle : bias of the middle node, V; amplifier_offset : other input or
    summing node against the input, V. Valid while the drops of leakage are small; the solved
    `clamp_voltage` holds always.
    Raises InputError for a clamp that the topology does not have.
    """
    constants = {
        "": 0.0,
        "rail positive": rails[0],
        "rail negative": rails[1],
        "guard offset": guard_offset,
        "clamp rail positive": clamp_rails[0],
        "clamp rail negative": clamp_rails[1],
        "middle": middle,
        "amplifier offset": amplifier_offset,
    }
    branch = next((c for c in topology.signal.clamps if c.name == side), None)
    if branch is None or topology.name == "own":
        raise InputError(
            f'where the clamp "{side}" of {topology.name} sits is not listed',
            where="network",
            expected="one of " + ", ".join(c.name for c in topology.signal.clamps),
        )
    (share, high), (other, low) = (
        _level(topology, node) for node in (branch.anode, branch.cathode)
    )
    return (share - other) * signal + (constants[high] - constants[low])


def _level(topology: Topology, node: str) -> Level:
    plain = node.removesuffix(" plus").removesuffix(" minus")
    return topology.levels.get(node, LEVELS.get(node, LEVELS.get(plain, SIGNAL)))
