"""Fill a new folder: an empty workspace to start from, or an invented demonstration."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from clampwright.errors import InputError
from clampwright.workspace.folder import FOLDERS, write_text

DATA = "demo_data"
KEPT = ".clampwright"  # marks a folder that `demo` made and may write again


def copy_sheets(name: str, target: Path, extra: dict[str, str]) -> None:
    """Write the sheets of a packaged workspace into `target`, and `extra` files by relative name.

    An existing folder is written again only if it is empty or was made here before.
    """
    if target.exists() and any(target.iterdir()) and not (target / KEPT).exists():
        raise InputError(
            "the folder is not empty and was not made by this command",
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
    write_text(target / KEPT, f"made from the packaged workspace {name}\n")
