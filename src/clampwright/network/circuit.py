"""A circuit as data: resistors, clamps, currents, followers and capacitors between named nodes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from clampwright.errors import InputError


@dataclass(frozen=True)
class Resistor:
    """A resistor between two nodes; its value is looked up under `name`."""

    name: str
    a: str
    b: str


@dataclass(frozen=True)
class ClampBranch:
    """A clamp between two nodes; positive voltage is anode above cathode."""

    name: str
    anode: str
    cathode: str


@dataclass(frozen=True)
class CurrentInto:
    """A current injected into a node (A, positive into the node)."""

    name: str
    node: str


@dataclass(frozen=True)
class Driven:
    """A node held at gain · (voltage of `input`) + offset by a follower; gain 0…1."""

    name: str
    input: str


@dataclass(frozen=True)
class Capacitor:
    """A capacitor between two nodes; no direct current. Its far end may be `ground` unasked."""

    name: str
    a: str
    b: str = "ground"


@dataclass(frozen=True)
class Circuit:
    """Elements by name; every node that is neither fixed nor driven is an unknown."""

    fixed: tuple[str, ...]
    resistors: tuple[Resistor, ...]
    clamps: tuple[ClampBranch, ...] = ()
    currents: tuple[CurrentInto, ...] = ()
    driven: tuple[Driven, ...] = ()
    base: str = "source"
    capacitors: tuple[Capacitor, ...] = ()

    @property
    def unknown(self) -> tuple[str, ...]:
        """Names of the nodes to solve for, in order of first mention."""
        known = set(self.fixed) | {d.name for d in self.driven}
        return tuple(dict.fromkeys(n for n in self._mentioned() if n not in known))

    @property
    def driven_in_order(self) -> tuple[Driven, ...]:
        """Driven nodes, each after the one it follows; InputError where they follow in a circle."""
        left, order = list(self.driven), []
        while left:
            waiting = {d.name for d in left}
            free = [d for d in left if d.input not in waiting]
            if not free:
                raise InputError(
                    f'driven node "{left[0].name}" follows itself',
                    where="network",
                    expected="followers that end at a node which is not driven",
                )
            order += free
            left = [d for d in left if d.input in waiting]
        return tuple(order)

    def _mentioned(self) -> list[str]:
        names = [n for r in self.resistors for n in (r.a, r.b)]
        names += [n for c in self.clamps for n in (c.anode, c.cathode)]
        return names + [c.node for c in self.currents] + [d.input for d in self.driven]

    @property
    def element_names(self) -> tuple[str, ...]:
        """Names of everything in the circuit but its fixed nodes."""
        branches = [r.name for r in self.resistors] + [c.name for c in self.clamps]
        more = [c.name for c in self.currents] + [d.name for d in self.driven]
        return (*branches, *more, *(c.name for c in self.capacitors))

    @property
    def connected(self) -> tuple[str, ...]:
        """Nodes at an end of any element, in order of first mention."""
        ends = [*self._mentioned(), *(n for c in self.capacitors for n in (c.a, c.b))]
        return tuple(dict.fromkeys(ends))

    def reached(self, without: Collection[str] = ()) -> set[str]:
        """Nodes with a path of resistors and clamps, not those named, to a fixed potential."""
        pairs = [(r.a, r.b) for r in self.resistors]
        pairs += [(c.anode, c.cathode) for c in self.clamps if c.name not in without]
        reached = set(self.fixed)
        while True:
            more = {n for pair in pairs if reached & set(pair) for n in pair}
            more |= {d.name for d in self.driven if d.input in reached}  # a follower holds nothing
            more -= reached
            if not more:
                return reached
            reached |= more

    def check(self, where: str = "network") -> None:
        """Raise InputError when a node has no path to a fixed potential or a base is missing."""
        if self.base not in self.fixed:
            raise InputError(
                f'the base potential "{self.base}" is not among the fixed nodes',
                where=where,
                expected="one of " + ", ".join(self.fixed),
            )
        reached = self.reached()
        floating = [n for n in self.unknown if n not in reached]
        floating += [
            n for c in self.capacitors for n in (c.a, c.b) if n not in reached | {"ground"}
        ]
        if floating:
            raise InputError(
                f'node "{floating[0]}" is connected to nothing that holds its voltage',
                where=where,
                expected="a resistor or clamp from it towards a rail, ground or the source",
            )
