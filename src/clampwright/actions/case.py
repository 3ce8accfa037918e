"""A design with the workspace around it, opened once and asked many things.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from clampwright.actions.evidence import Evidence
from clampwright.errors import InputError
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.wirings import wirings
from clampwright.verdict.design import Design
from clampwright.verdict.layout import topology_of
from clampwright.verdict.own_parts import class_clamp, is_class, other_elements, with_parts
from clampwright.verdict.rank import Option
from clampwright.workspace.edit import Changes, design_with, sheet_text
from clampwright.workspace.folder import (
    Workspace,
    combined_hash,
    content_hash,
    open_workspace,
    read_design,
    workspace_of,
)


@dataclass(frozen=True)
class Case:
    """A design with the workspace around it; evidence is reduced when it is first needed."""

    design: Design
    design_hash: str
    workspace: Workspace
    name: str = "design"

    @cached_property
    def inputs(self) -> dict[str, str]:
        """Hash of every input by name."""
        return {"design": self.design_hash, **self.workspace.hashes}

    @cached_property
    def hash(self) -> str:
        """One hash over the design and everything in its workspace."""
        return combined_hash(self.inputs)

    @cached_property
    def evidence(self) -> Evidence:
        """The readings of the workspace, reduced when first needed."""
        return Evidence(self.workspace)

    def chosen_clamp(self) -> Clamp | None:
        """The clamp that the design names; InputError when it names none it needs."""
        topology = topology_of(self.design)
        if not topology.has_clamp:
            return None
        return self._part(self.design.network.clamp, f"{self.name}, network.clamp")

    def with_parts(self) -> Case:
        """The case with the evidence of every other part that its own network names."""
        if self.design.network.topology != "own":
            return self
        parts = {}
        for e in other_elements(self.design):
            where = f"{self.name}, network.elements, {e.name}.part"
            known = e.part.strip().partition(" ")[0] in self.workspace.parts
            named = known and not is_class(e.part)
            parts[e.name] = self._part(e.part, where) if named else class_clamp(e.part, where)
        found = replace(self, design=with_parts(self.design, parts))
        found.__dict__["evidence"] = self.evidence  # same readings: not reduced again
        return found

    def _part(self, named: str | None, where: str) -> Clamp:
        """The part and wiring of a text; InputError when there is none of that name."""
        if not named or " " not in named.strip():
            raise InputError(
                f"the clamp is {'missing' if not named else 'not a part and a wiring: ' + named}",
                where=where,
                expected='a part id and a wiring, such as "npn-small C/B+E"',
            )
        part, wiring = named.strip().split(None, 1)
        if part not in self.workspace.parts:
            raise InputError(
                f'there is no part sheet "{part}"',
                where=where,
                expected=", ".join(sorted(self.workspace.parts)) or "a sheet under parts/",
            )
        sheet = self.workspace.parts[part]
        return self.evidence.named(sheet, wiring, where)

    def clamp_names(self) -> list[str]:
        """Every wiring of every part that may serve as a clamp, as a design names it."""
        return [
            f"{sheet.id} {wiring.name}"
            for sheet in self.workspace.parts.values()
            for wiring in wirings(sheet)
            if not wiring.rejected and wiring.clamp_class is not None
        ]

    def options(self) -> list[Option]:
        """Every wiring of every part, with its clamp or the reason it is none."""
        found = []
        for sheet in self.workspace.parts.values():
            for wiring in wirings(sheet):
                usable = not wiring.rejected and wiring.clamp_class is not None
                clamp = self.evidence.clamp(sheet, wiring) if usable else None
                found.append(Option(sheet.id, sheet.title, wiring, clamp))
        return found


def open_case(design_path: Path) -> Case:
    """Read a design sheet and its workspace."""
    design, design_hash = read_design(design_path)
    workspace = open_workspace(workspace_of(design_path))
    return Case(design, design_hash, workspace, design_path.name).with_parts()


def what_if(case: Case, path: Path, changes: Changes) -> Case:
    """The case with some fields of its design sheet changed; nothing is written."""
    text = sheet_text(path, case.design_hash)
    design = design_with(text, changes, case.name)
    sign = content_hash(repr((case.design_hash, sorted(changes.items()))).encode())
    varied = replace(case, design=design, design_hash=sign)
    varied.__dict__["evidence"] = case.evidence  # same readings: not reduced again
    return varied.with_parts()
