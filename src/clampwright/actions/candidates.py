"""Every clamp that the parts of a workspace can make, opened once and asked many things.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from statistics import median

from clampwright.actions.evidence import Evidence
from clampwright.errors import InputError
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.sheet import PartSheet
from clampwright.parts.wirings import Wiring, wirings
from clampwright.workspace.folder import Workspace, open_workspace


@dataclass(frozen=True)
class Candidates:
    """The clamps of one workspace by name, "npn-small C/B+E"; laws are fitted when first needed."""

    workspace: Workspace

    @cached_property
    def evidence(self) -> Evidence:
        """The readings that part sheets refer to."""
        return Evidence(self.workspace)

    @cached_property
    def clamps(self) -> Mapping[str, Clamp]:
        """Every wiring that may serve as a clamp."""
        found = {}
        for sheet in self.workspace.parts.values():
            for wiring in wirings(sheet):
                if not wiring.rejected and wiring.clamp_class is not None:
                    clamp = self.clamp(sheet, wiring)
                    found[clamp.name] = clamp
        return found

    def clamp(self, sheet: PartSheet, wiring: Wiring) -> Clamp:
        """One wiring of a part with its law, fitted when it is first asked for."""
        return self.evidence.clamp(sheet, wiring)

    @cached_property
    def detection_limits(self) -> Mapping[str, float]:
        """What each instrument detected at the least: median (A) over its results."""
        limits: dict[str, list[float]] = {}
        for reduced in self.evidence.reduced.values():
            for leak in reduced.leakages:
                limits.setdefault(leak.instrument, []).append(leak.detection_limit)
        return {name: median(some) for name, some in sorted(limits.items())}

    def named(self, names: Sequence[str]) -> list[Clamp]:
        """The clamps of these names in their order; InputError for one that is not there."""
        if missing := [name for name in names if name not in self.clamps]:
            raise InputError(
                f'there is no clamp "{missing[0][:80]}" in this workspace',
                expected="a part and a wiring, such as " + ", ".join(list(self.clamps)[:3]),
            )
        return [self.clamps[name] for name in names]


def open_candidates(folder: Path) -> Candidates:
    """Read a workspace for its clamps; InputError for a sheet that cannot be read."""
    return Candidates(open_workspace(folder))
