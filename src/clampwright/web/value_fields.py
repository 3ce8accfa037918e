"""The values of a topology as fields of the network page: one control a field, words by topology."""

from __future__ import annotations

from dataclasses import dataclass, field

from clampwright import actions
from clampwright.actions.topology_values import topology_values
from clampwright.web.table import Opened


@dataclass(frozen=True)
class ValueField:
    """One field of the sheet; what it is called, what stands in for it and whether it is needed differs.

    asked : (label, what stands in for it, "needed" or "") by name of the topologies that have it
    """

    name: str
    present: str
    choices: tuple[str, ...]
    asked: dict[str, tuple[str, str, str]] = field(default_factory=dict)

    def words(self, topology: str) -> tuple[str, str, str]:
        """Those of the topology, or of the first that has it."""
        return self.asked.get(topology) or next(iter(self.asked.values()))


def value_fields(opened: Opened) -> list[ValueField]:
    """Every value that any topology asks for, with the text the sheet states for it.

    What the sheet states for a part that no topology of the list has is there too, so that it can go.
    """
    case = opened.case
    written = actions.written_fields(opened.path, case.design_hash)
    found: dict[str, ValueField] = {}
    for topology, asked in topology_values(case.design).items():
        for one in asked:
            entry = found.setdefault(
                one.field, ValueField(one.field, written.get(one.field, ""), one.choices)
            )
            entry.asked[topology] = (one.label, one.otherwise, "needed" if one.needed else "")
    return sorted(found.values(), key=lambda entry: len(entry.asked))  # what is special comes first
