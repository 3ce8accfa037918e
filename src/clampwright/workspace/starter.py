"""Fill a new folder: an empty workspace to start from, or an invented demonstration."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from clampwright.errors import InputError
from clampwright.workspace.folder import FOLDERS, write_text

DATA = "demo_data"
KEPT = ".clampwright"  # marks a folder that `demo` made and may write again


def copy_sheets(name: str, target: Path, extra: dict[str, str], *, again: bool = False) -> None:
    """Write the sheets of a packaged workspace into `target`, and `extra` files by relative name.

    An existing folder is written only if it is empty or, with `again`, if it is a demonstration made
    here before: sheets that somebody may have changed are never overwritten.
    """
    if target.exists() and not target.is_dir():
        raise InputError("this is a file, not a folder", where=str(target), expected="a new folder")
    made_here = again and (target / KEPT).exists()
    if target.exists() and any(target.iterdir()) and not made_here:
        raise InputError(
            "the folder is not empty",
            where=str(target),
            expected="an empty or new folder",
            mend="choose another name",
        )
    for folder in FOLDERS:
        (target / folder).mkdir(parents=True, exist_ok=True)
    source = files("clampwright.workspace") / DATA / name
    for folder in FOLDERS:
        place = source / folder
        if place.is_dir():
            for sheet in sorted(place.iterdir(), key=lambda s: s.name):
                write_text(target / folder / sheet.name, sheet.read_text("utf-8"))
    for relative, text in extra.items():
        write_text(target / relative, text)
    if again:
        write_text(target / KEPT, f"made from the packaged workspace {name}\n")
