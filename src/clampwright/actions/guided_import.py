"""A whole sitting in one CSV file becomes a session and evidence of its parts, or nothing at all.

Part of `actions`. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel, ConfigDict

from clampwright.actions.evidence import reduce_bytes
from clampwright.actions.recordings import import_readings
from clampwright.errors import InputError
from clampwright.workspace.edit import add_evidence
from clampwright.workspace.folder import open_workspace, read_bytes


class ImportedResult(BaseModel):
    """A session made from a file, and the wirings whose part sheets now refer to it."""

    model_config = ConfigDict(frozen=True)

    session: str
    count: int
    evidence: tuple[str, ...]

    def words(self) -> str:
        """One sentence."""
        return (
            f"{self.count} readings are in {self.session}, evidence of {', '.join(self.evidence)}"
        )


def import_evidence(file: Path, root: Path, *, who: str = "") -> ImportedResult:
    """Import a CSV file and let the part sheets refer to it.

    Raises InputError that names the lines when a cell is wrong, or says what is missing when the
    readings cannot be reduced or belong to no part sheet; then nothing is kept.
    """
    workspace = open_workspace(root)
    leakages = reduce_bytes(read_bytes(file), file.name, workspace).leakages
    found = dict.fromkeys((one.part, one.wiring) for one in leakages)
    known = [(part, wiring) for part, wiring in found if part in workspace.parts]
    if not known:
        raise InputError(
            "the file holds no readings of a part of this workspace",
            where=file.name,
            expected=", ".join(sorted(workspace.parts)),
            mend="nothing was imported",
        )
    made = import_readings(file, root, who=who)
    for part, wiring in known:
        add_evidence(root / workspace.names[part], made.name, wiring)
    shown = tuple(f"{part} {wiring}" for part, wiring in known)
    return ImportedResult(session=made.name, count=made.count, evidence=shown)


__all__ = ["ImportedResult", "import_evidence"]
