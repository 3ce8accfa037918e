"""What is wrong in a workspace, a sentence each: every file is looked at, also behind the first mistake.

Nothing that anybody wrote is changed; only temporary files that a killed program left are removed.
"""

from __future__ import annotations

import re
import sqlite3
import time
import tomllib
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from clampwright.bench.board_readings import read_board
from clampwright.bench.instrument import Profile, read_profile
from clampwright.bench.readings import read_readings
from clampwright.errors import ClampwrightError, InputError
from clampwright.parts.sheet import PartSheet, read_sheet
from clampwright.parts.wirings import wiring_named
from clampwright.verdict.design import Design
from clampwright.workspace.boards import board_readings_of
from clampwright.workspace.database import FILE, Store, has_store, open_store
from clampwright.workspace.folder import FOLDERS, read_bytes, read_design
from clampwright.workspace.store import BOARD, Session, readings_of, sessions, snapshots

LEFT_OVER = re.compile(r"\..+\.[a-z0-9_]{8}")  # as `folder.write_bytes` names them
OLD = 600.0  # [s] a temporary file younger than that may be in use
_Thing = TypeVar("_Thing")


@dataclass(frozen=True)
class Seen:
    """What is wrong, a sentence each; temporary files removed; how many things were looked at."""

    wrong: tuple[str, ...]
    removed: tuple[str, ...]
    looked_at: int


class _Look:
    """Gathers what is wrong while the files are read one by one."""

    def __init__(self) -> None:
        self.wrong: list[str] = []
        self.count = 0

    def at(self, where: str, work: Callable[..., _Thing], *arguments: Any) -> _Thing | None:
        """What `work` gives, or None and its sentence."""
        self.count += 1
        try:
            return work(*arguments)
        except ClampwrightError as error:
            text = str(error)
            self.wrong.append(text if where in text else f"{where}: {text}")
            return None


def look_over(root: Path) -> Seen:
    """Read every sheet, readings file and the database of a workspace, and what refers to what."""
    if not root.is_dir():
        raise InputError("there is no such folder", where=str(root), expected="a workspace")
    look = _Look()
    parts = {n: part for n, p in _files(root, "parts") if (part := look.at(n, _part, p, n))}
    chains = {n: c for n, p in _files(root, "instruments") if (c := look.at(n, _chain, p, n))}
    look.wrong += _twice(part.id for part in parts.values())
    look.wrong += _twice(chain.id for chain in chains.values())
    known = {chain.id for chain in chains.values()}
    for name, path in _files(root, "readings", ".csv"):
        used = look.at(name, _instruments_of, path, name) or ()
        look.wrong += [
            f'{name}: there is no instrument sheet "{i}"' for i in used if i not in known
        ]
    for name, path in _files(root, "boards", ".csv"):
        look.at(name, _board, path, name)
    evidence = {p.stem for _, p in _files(root, "readings", ".csv")} | _stored(look, root)
    for name, part in parts.items():
        missing = {e.readings for e in part.evidence} - evidence
        look.wrong += [_no_evidence(name, stem) for stem in sorted(missing)]
    here = {part.id: part for part in parts.values()}
    for name, path in _files(root, "designs"):
        design = look.at(name, read_design, path)
        if design:
            look.at(name, _refuse_strange_clamp, design[0], here)
    return Seen(tuple(look.wrong), tuple(_left_overs_removed(root)), look.count)


def _files(root: Path, folder: str, ending: str = ".toml") -> list[tuple[str, Path]]:
    place = root / folder
    found = sorted(p for p in place.glob(f"*{ending}") if p.is_file()) if place.is_dir() else []
    return [(path.relative_to(root).as_posix(), path) for path in found]


def _toml(path: Path, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(read_bytes(path).decode("utf-8-sig"))
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise InputError(f"the sheet cannot be read: {error}", where=name) from None


def _part(path: Path, name: str) -> PartSheet:
    return read_sheet(_toml(path, name), name)


def _chain(path: Path, name: str) -> Profile:
    return read_profile(_toml(path, name), name)


def _instruments_of(path: Path, name: str) -> tuple[str, ...]:
    return read_readings(read_bytes(path), name).instrument.names


def _board(path: Path, name: str) -> None:
    read_board(read_bytes(path), name)


def _twice(ids: Iterator[str]) -> list[str]:
    return [
        f'the id "{i}" is used by two sheets: rename one' for i, n in Counter(ids).items() if n > 1
    ]


def _no_evidence(name: str, stem: str) -> str:
    return (
        f'{name}: its evidence "{stem}" is neither a file under readings/ nor a session; '
        "bring it back, or take the line out"
    )


def _refuse_strange_clamp(design: Design, parts: Mapping[str, PartSheet]) -> None:
    named = (design.network.clamp or "").strip()
    if not named:
        return
    part, _, wiring = named.partition(" ")
    if part not in parts:
        raise InputError(
            f'its clamp names the part "{part}", which has no sheet that can be read',
            expected=", ".join(sorted(parts)) or "a sheet under parts/",
        )
    wiring_named(parts[part], wiring, "network.clamp")


def _stored(look: _Look, root: Path) -> set[str]:
    """Names of the sessions of the database, each read whole; the file itself checked first."""
    if not look.at("workspace.toml", has_store, root):
        return set()
    if (root / FILE).is_file() and look.at(FILE, _whole, root / FILE) is None:
        return set()
    names: set[str] = set()
    look.at(FILE, _every_session, look, root, names)
    return names


def _whole(path: Path) -> bool:
    """Check every page and index of an SQLite file; InputError with what it says first."""
    try:
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)
        try:
            (said,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
        finally:
            connection.close()
    except sqlite3.Error as error:
        said = str(error)
    if said == "ok":
        return True
    raise InputError(
        f"the database is damaged: {' '.join(said.split())}",
        where=FILE,
        mend="keep a copy of it, then restore your last backup",
    )


def _every_session(look: _Look, root: Path, names: set[str]) -> None:
    with open_store(root) as store:
        for session in sessions(store):
            names.add(session.name)
            look.at(f"session {session.name}", _session, store, session)


def _session(store: Store, session: Session) -> None:
    if session.kind == BOARD:
        board_readings_of(store, session)
    elif session.count:
        readings_of(store, session)
    for taken in snapshots(store, session):
        read_profile(tomllib.loads(taken.sheet), f"session {session.name}, {taken.instrument}")


def _left_overs_removed(root: Path) -> Iterator[str]:
    """Remove files that were never renamed to what they should have become."""
    for place in (root, *(root / folder for folder in FOLDERS)):
        for path in sorted(place.glob(".*")) if place.is_dir() else ():
            old = path.is_file() and time.time() - path.stat().st_mtime > OLD
            if old and LEFT_OVER.fullmatch(path.name):
                path.unlink()
                yield path.relative_to(root).as_posix()


__all__ = ["Seen", "look_over"]
