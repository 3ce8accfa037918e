"""From readings to what a part is known to do: reduction, studies, clamps with evidence.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, ConfigDict

from clampwright.bench.columns import Readings
from clampwright.bench.leakage import Leakage, evidence_points
from clampwright.bench.names import name_warnings, nothing_found, part_names
from clampwright.bench.readings import read_readings
from clampwright.bench.reduce import reduce_readings
from clampwright.errors import InputError
from clampwright.parts.clamp_part import Clamp, clamp_part
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.sheet import PartSheet
from clampwright.parts.wirings import Wiring, wiring_named
from clampwright.workspace.folder import (
    Workspace,
    content_hash,
    open_workspace,
    read_bytes,
    workspace_of,
)

if TYPE_CHECKING:
    from clampwright.bench.runs import Mark
    from clampwright.bench.study import StudyResult


class ReduceResult(BaseModel):
    """Every leakage that a readings file supports."""

    model_config = ConfigDict(frozen=True)

    readings: str
    readings_hash: str
    rows: int
    leakages: tuple[Leakage, ...]
    origin: str = ""  # whose evidence; "" for this bench
    warnings: tuple[str, ...] = ()  # names in the readings that no part sheet knows


@dataclass(frozen=True)
class Evidence:
    """The readings that part sheets refer to, reduced when they are first needed."""

    workspace: Workspace
    _clamps: dict[tuple[str, str], Clamp] = field(default_factory=dict)  # fitted once each

    @cached_property
    def reduced(self) -> dict[str, ReduceResult]:
        """Every readings file or session that a part sheet refers to, reduced."""
        named = sorted(self._readings_named())
        return {stem: reduce_named(stem, self.workspace) for stem in named}

    @cached_property
    def points(self) -> dict[tuple[str, str, str], tuple[EvidencePoint, ...]]:
        """Evidence by readings file or session, part and wiring name as written there."""
        found: dict[tuple[str, str, str], tuple[EvidencePoint, ...]] = {}
        for stem, result in self.reduced.items():
            for leak in result.leakages:
                key = (stem, leak.part, leak.wiring)
                found[key] = found.get(key, ()) + evidence_points([leak], result.origin)
        return found

    def _readings_named(self) -> set[str]:
        named = {e.readings for sheet in self.workspace.parts.values() for e in sheet.evidence}
        there = {*self.workspace.readings, *self.workspace.sessions}
        missing = named - there
        if missing:
            raise InputError(
                f'a part sheet refers to readings "{min(missing)}", which are not there',
                where=str(self.workspace.root / "readings"),
                expected=", ".join(sorted(there)) or "a CSV file or a session",
            )
        return named

    def clamp(self, sheet: PartSheet, wiring: Wiring) -> Clamp:
        """The clamp that a sheet of the workspace makes in a wiring, with all its evidence."""
        key = (sheet.id, wiring.name)
        if key not in self._clamps:
            self._clamps[key] = self._fitted(sheet, wiring)
        return self._clamps[key]

    def named(self, sheet: PartSheet, text: str, where: str) -> Clamp:
        """The clamp of a sheet of the workspace in a wiring as written in a design."""
        key = (sheet.id, text)
        if key not in self._clamps:
            self._clamps[key] = self.clamp(sheet, wiring_named(sheet, text, where))
        return self._clamps[key]

    def _fitted(self, sheet: PartSheet, wiring: Wiring) -> Clamp:
        points: tuple[EvidencePoint, ...] = ()
        notes: tuple[str, ...] = ()
        for evidence in sheet.evidence:
            if wiring_named(sheet, evidence.wiring).name != wiring.name:
                continue
            named, found = self._found(evidence.readings, sheet, wiring)
            points += found
            here = [n for p, n in named if p == sheet.id and self._is(sheet, n, wiring, "")]
            notes += name_warnings([(sheet.id, n) for n in here], {sheet.id: sheet})
            if not found:
                notes += (nothing_found(evidence.readings, sheet.id, wiring.name, named),)
        clamp = clamp_part(sheet, wiring, points)
        return replace(clamp, notes=(*clamp.notes, *dict.fromkeys(notes)))

    def _found(
        self, stem: str, sheet: PartSheet, wiring: Wiring
    ) -> tuple[list[tuple[str, str]], tuple[EvidencePoint, ...]]:
        """Part and wiring names in some readings, and their points for one wiring."""
        points: tuple[EvidencePoint, ...] = ()
        named = [(part, name) for where, part, name in self.points if where == stem]
        for part, name in named:
            if part == sheet.id and self._is(sheet, name, wiring, f"readings {stem}"):
                points += self.points[stem, part, name]
        return named, points

    @staticmethod
    def _is(sheet: PartSheet, name: str, wiring: Wiring, where: str) -> bool:
        return wiring_named(sheet, name, where).name == wiring.name


def reduce_file(readings_path: Path) -> ReduceResult:
    """Reduce a readings file, or a session of that name, with the instruments of its workspace."""
    workspace = open_workspace(workspace_of(readings_path))
    if not readings_path.exists():
        from clampwright.workspace.sessions import stored_sessions

        name = readings_path.name
        if found := stored_sessions(workspace.root, {name}):
            return reduce_named(name, replace(workspace, sessions=found))
    return reduce_bytes(read_bytes(readings_path), readings_path.name, workspace)


def study(readings_path: Path) -> StudyResult:
    """What the readings of a file or session mean: fits, diagnosis, lots, and their runs in time."""
    from clampwright.bench.study import study_of

    reduced = reduce_file(readings_path)
    readings, marks = _raw(readings_path)
    return study_of(
        reduced.leakages,
        readings_path.name,
        reduced.origin,
        readings=readings,
        marks=marks,
        warnings=reduced.warnings,
    )


def _raw(path: Path) -> tuple[Readings, tuple[Mark, ...]]:
    """The readings of a file, or those of a session with what was noted meanwhile."""
    if path.exists():
        return read_readings(read_bytes(path), path.name), ()
    from clampwright.workspace.sessions import stored_sessions

    stored = stored_sessions(workspace_of(path), {path.name})[path.name]
    return stored.readings, stored.marks


def reduce_named(name: str, workspace: Workspace) -> ReduceResult:
    """Reduce readings that a workspace has read: a file by its stem, or a session."""
    if name in workspace.readings:
        return reduce_bytes(workspace.readings[name], name, workspace)
    stored = workspace.sessions[name]
    profiles = stored.profiles_with(workspace.instruments)
    return ReduceResult(
        readings=name,
        readings_hash=stored.hash,
        rows=len(stored.readings),
        leakages=reduce_readings(stored.readings, profiles, name),
        origin=stored.origin,
        warnings=_warnings(stored.readings, workspace),
    )


def reduce_bytes(data: bytes, name: str, workspace: Workspace) -> ReduceResult:
    """Reduce readings given as bytes; `name` is the session they belong to."""
    readings = read_readings(data, name)
    session = Path(name).stem
    leakages = reduce_readings(readings, workspace.instruments, session)
    return ReduceResult(
        readings=name,
        readings_hash=content_hash(data),
        rows=len(readings),
        leakages=leakages,
        warnings=_warnings(readings, workspace),
    )


def _warnings(readings: Readings, workspace: Workspace) -> tuple[str, ...]:
    """Names in readings that no part sheet of the workspace knows."""
    return name_warnings(part_names(readings), workspace.parts)
