"""A part seen whole, and its page on disk.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from pathlib import Path

from clampwright.actions.candidates import Candidates
from clampwright.errors import InputError
from clampwright.parts.wirings import wirings
from clampwright.verdict.part_view import PartResult, part_view
from clampwright.workspace.folder import (
    check_writable,
    content_hash,
    open_workspace,
    read_bytes,
    workspace_of,
    write_text,
)


def part(sheet_path: Path, candidates: Candidates | None = None) -> PartResult:
    """Wirings, ratings, laws, evidence and curves of a part sheet in its workspace.

    candidates : those of its workspace, where they are open already
    """
    if candidates is None:
        candidates = Candidates(open_workspace(workspace_of(sheet_path)))
    workspace = candidates.workspace
    name = f"parts/{sheet_path.name}"
    data = read_bytes(sheet_path)
    sheet = next((s for s in workspace.parts.values() if workspace.names[s.id] == name), None)
    if sheet is None:
        raise InputError(
            "this file is not among the parts of its workspace",
            where=str(sheet_path),
            expected="a TOML sheet in the folder parts/ of a workspace",
        )
    return part_view(
        sheet, wirings(sheet), lambda w: candidates.clamp(sheet, w), content_hash(data)
    )


def part_page(result: PartResult, target: Path) -> Path:
    """Write the curves and tables of a part as one self-contained HTML page."""
    _html(target)
    check_writable(target)
    from clampwright.record.part_page import part_html

    write_text(target, part_html(result))
    return target


def _html(target: Path) -> None:
    if target.suffix.lower() not in (".html", ".htm"):
        raise InputError(
            f'a page cannot be written as "{target.suffix or "no kind at all"}"',
            where=str(target),
            expected="a name that ends in .html",
        )
