"""Workspaces below one folder, found by name: nothing outside it can be named at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from clampwright.errors import InputError

HERE = "here"
"""Name of the folder itself when it is a workspace; its subfolders go by their own names."""
MOST_FOLDERS = 200


@dataclass(frozen=True)
class Shelved:
    """One workspace: its folder and the sheets in it by file name without ending."""

    name: str
    folder: Path
    designs: Mapping[str, Path]
    parts: Mapping[str, Path]

    def design(self, name: str) -> Path:
        """The design sheet of that name; InputError lists those that are there."""
        return _named(self.designs, name, "design")

    def state(self, *, designs: bool = False) -> tuple[tuple[str, int, int], ...]:
        """Name, size and time of every file that evidence rests on: a cheap sign of any change.

        designs : count the design sheets too
        """
        kinds = ["parts/*.toml", "instruments/*.toml", "readings/*.csv", "readings.db*"]
        kinds += ["designs/*.toml"] if designs else []
        files = sorted(p for kind in kinds for p in self.folder.glob(kind))
        stats = [(p, p.stat()) for p in files]
        return tuple((str(p), s.st_size, s.st_mtime_ns) for p, s in stats)

    def part(self, name: str) -> Path:
        """The part sheet of that file name; InputError lists those that are there."""
        return _named(self.parts, name, "part")


def find_workspaces(root: Path) -> dict[str, Shelved]:
    """Every workspace in `root`: itself and its direct subfolders that hold designs.

    Links that lead out of `root` are left out.
    """
    found = {}
    if (root / "designs").is_dir():
        found[HERE] = _shelved(HERE, root, root)
    folders = sorted(p for p in root.iterdir() if p.is_dir()) if root.is_dir() else []
    for folder in folders[:MOST_FOLDERS]:
        hidden = folder.name.startswith(".") or folder.name == HERE
        if not hidden and _inside(folder, root) and (folder / "designs").is_dir():
            found[folder.name] = _shelved(folder.name, folder, root)
    return found


def _shelved(name: str, folder: Path, root: Path) -> Shelved:
    sheets = {
        kind: {p.stem: p for p in sorted((folder / kind).glob("*.toml")) if _inside(p, root)}
        for kind in ("designs", "parts")
    }
    return Shelved(name, folder, sheets["designs"], sheets["parts"])


def _inside(path: Path, root: Path) -> bool:
    return path.resolve().is_relative_to(root.resolve())


def _named(sheets: Mapping[str, Path], name: str, kind: str) -> Path:
    if name not in sheets:
        shown = name if name.isprintable() else repr(name)
        raise InputError(
            f'there is no {kind} "{shown[:80]}"',
            expected=", ".join(sheets) or f"a sheet under {kind}s/",
        )
    return sheets[name]
