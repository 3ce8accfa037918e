"""Look a workspace over: what to mend, a sentence each.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from pathlib import Path

from pydantic import BaseModel, ConfigDict

from clampwright.actions.case import open_case
from clampwright.errors import ClampwrightError
from clampwright.workspace.folder import read_bytes


class MendResult(BaseModel):
    """What is wrong in a workspace, what to do again, and what was removed."""

    model_config = ConfigDict(frozen=True)

    workspace: str
    looked_at: int
    wrong: tuple[str, ...]
    outdated: tuple[str, ...]
    removed: tuple[str, ...]

    def text(self) -> str:
        """A line each."""
        lines = [f"MEND   {text}" for text in self.wrong]
        lines += [f"AGAIN  {text}" for text in self.outdated]
        lines += [f"removed {name}, left by a program that was killed" for name in self.removed]
        done = f"{self.looked_at} sheets, files and sessions looked at"
        return "\n".join([*lines, f"{done}: {len(self.wrong) or 'nothing'} to mend."])


def mend(root: Path) -> MendResult:
    """Look at every sheet, file and session of a workspace, and at records made from other inputs.

    Removes temporary files that a killed program left behind; changes nothing that anybody wrote.
    """
    from clampwright.workspace.mending import look_over

    seen = look_over(root)
    return MendResult(
        workspace=str(root),
        looked_at=seen.looked_at,
        wrong=seen.wrong,
        outdated=tuple(_outdated(root)) if not seen.wrong else (),
        removed=seen.removed,
    )


def _outdated(root: Path) -> list[str]:
    """Records whose hash of the inputs is not that of their design now."""
    found = []
    for record in sorted((root / "records").glob("*.html")):
        design = root / "designs" / f"{record.stem}.toml"
        if not design.is_file():
            continue
        try:
            now = open_case(design).hash
        except ClampwrightError:
            continue  # told by the other checks
        if now.encode() not in read_bytes(record):
            found.append(
                f"records/{record.name} was made from other inputs than {design.stem} has now: "
                f"clampwright record designs/{design.name} -o records/{record.name}"
            )
    return found


__all__ = ["MendResult", "mend"]
