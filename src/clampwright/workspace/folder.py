"""A workspace folder: `parts/`, `designs/`, `instruments/`, `readings/`, `boards/`,
`records/` as text files."""

from __future__ import annotations

import hashlib
import os
import tempfile
import tomllib
from collections.abc import Mapping, Set
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clampwright.bench.instrument import Profile, read_profile
from clampwright.errors import InputError
from clampwright.parts.sheet import PartSheet, read_sheet
from clampwright.quantities.sheets import validated
from clampwright.verdict.design import Design

if TYPE_CHECKING:
    from clampwright.workspace.sessions import StoredSession

FOLDERS = ("parts", "designs", "instruments", "readings", "boards", "records")
LARGEST_SHEET = 1_000_000  # [bytes] of a text sheet


@dataclass(frozen=True)
class Workspace:
    """What a workspace holds: sheets by id, readings files by stem, and the hash of each file."""

    root: Path
    parts: Mapping[str, PartSheet]
    names: Mapping[str, str]  # part id → file
    instruments: Mapping[str, Profile]
    readings: Mapping[str, bytes]
    hashes: Mapping[str, str]
    sheets: Mapping[str, str] = field(default_factory=dict)  # instrument id → text as written
    sessions: Mapping[str, StoredSession] = field(default_factory=dict)  # those parts refer to


def open_workspace(root: Path) -> Workspace:
    """Read every part, instrument and readings file, and what part sheets refer to in the database.

    Raises InputError for a folder that is not there, a sheet that cannot be read, or an id that two
    sheets share.
    """
    if not root.is_dir():
        raise InputError(
            "there is no such folder",
            where=str(root),
            expected="a workspace",
            mend="make one with: clampwright new DIR",
        )
    hashes: dict[str, str] = {}
    parts: dict[str, PartSheet] = {}
    names: dict[str, str] = {}
    for path in _files(root, "parts", ".toml"):
        sheet = read_sheet(_toml(path, root, hashes), _name(path, root))
        if sheet.id in parts:
            raise InputError(
                f'the part id "{sheet.id}" is used twice',
                where=_name(path, root),
                mend="rename one",
            )
        parts[sheet.id] = sheet
        names[sheet.id] = _name(path, root)
    instruments: dict[str, Profile] = {}
    sheets: dict[str, str] = {}
    for path in _files(root, "instruments", ".toml"):
        profile = read_profile(_toml(path, root, hashes), _name(path, root))
        instruments[profile.id] = profile
        sheets[profile.id] = read_bytes(path).decode("utf-8-sig")
    readings = {}
    for path in _files(root, "readings", ".csv"):
        readings[path.stem] = read_bytes(path)
        hashes[_name(path, root)] = content_hash(readings[path.stem])
    named = {e.readings for sheet in parts.values() for e in sheet.evidence}
    sessions = _stored(root, named - readings.keys())
    hashes |= {f"readings.db, session {s.name}": s.hash for s in sessions.values()}
    return Workspace(root, parts, names, instruments, readings, hashes, sheets, sessions)


def workspace_of(path: Path) -> Path:
    """The workspace a design or readings file belongs to: the folder above `designs/` and the like."""
    folder = path.resolve().parent
    return folder.parent if folder.name in FOLDERS else folder


def read_design(path: Path) -> tuple[Design, str]:
    """A design sheet and the hash of its bytes."""
    hashes: dict[str, str] = {}
    data = _toml(path, path.parent, hashes)
    return validated(Design, data, path.name), hashes[path.name]


def instrument_in(path: Path) -> Profile:
    """The instrument that a sheet describes."""
    return read_profile(_toml(path, path.parent, {}), path.name)


def content_hash(data: bytes) -> str:
    """SHA-256 of some bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def combined_hash(hashes: Mapping[str, str]) -> str:
    """One hash over named inputs, independent of their order."""
    lines = "".join(f"{name} {hashes[name]}\n" for name in sorted(hashes))
    return content_hash(lines.encode())


def read_bytes(path: Path) -> bytes:
    """The bytes of a file, or a one-sentence error."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError("there is no such file", where=str(path)) from None
    except OSError as error:
        reason = (error.strerror or "it cannot be read").lower()
        raise InputError(f"the file cannot be read: {reason}", where=str(path)) from None


def write_text(path: Path, text: str) -> None:
    """Write a text file (UTF-8) at once or not at all."""
    write_bytes(path, text.encode())


def write_bytes(path: Path, data: bytes) -> None:
    """Write a file at once or not at all: temporary file beside it, flushed to disk, then renamed."""
    temporary = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(
            "wb", dir=path.parent, prefix=f".{path.name}.", delete=False
        ) as file:
            temporary = Path(file.name)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        temporary.chmod(0o644)
        temporary.replace(path)
    except OSError as error:
        if temporary:
            temporary.unlink(missing_ok=True)
        reason = (error.strerror or "unknown reason").lower()
        raise InputError(
            f"the file cannot be written: {reason}",
            where=str(path),
            mend="check the folder, its permissions and the free space",
        ) from None


def _stored(root: Path, names: Set[str]) -> dict[str, StoredSession]:
    """Sessions of the readings database; the database layer is loaded only where one is named."""
    if not names or not any((root / name).exists() for name in ("readings.db", "workspace.toml")):
        return {}
    from clampwright.workspace.sessions import stored_sessions

    return stored_sessions(root, names)


def check_writable(path: Path) -> None:
    """InputError, before the work is done, where a file cannot be written.

    No folder is made on the way, but `records/` of a workspace.
    """
    folder = path.resolve().parent
    if folder.name == "records" and (folder.parent / "designs").is_dir() and not folder.exists():
        folder = folder.parent
    if not folder.exists():
        raise InputError(
            f'there is no folder "{folder}"',
            where=str(path),
            expected="a folder that exists, or records/ of a workspace",
            mend="make the folder first",
        )
    if path.is_dir() or not folder.is_dir() or not os.access(folder, os.W_OK):
        raise InputError(
            "the file cannot be written there",
            where=str(path),
            mend="check the folder and its permissions",
        )


def _files(root: Path, folder: str, suffix: str) -> list[Path]:
    place = root / folder
    return sorted(p for p in place.glob(f"*{suffix}") if p.is_file()) if place.is_dir() else []


def _name(path: Path, root: Path) -> str:
    return path.relative_to(root).as_posix()


def _toml(path: Path, root: Path, hashes: dict[str, str]) -> dict[str, Any]:
    data = read_bytes(path)
    name = _name(path, root)
    if len(data) > LARGEST_SHEET:
        raise InputError(
            f"a sheet of {len(data)} bytes is too large",
            where=name,
            expected=f"at most {LARGEST_SHEET} bytes",
        )
    hashes[name] = content_hash(data)
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise InputError(
            "the sheet is not UTF-8 text", where=name, mend="save it as UTF-8"
        ) from None
    except tomllib.TOMLDecodeError as error:
        raise InputError(
            f"the sheet is not TOML: {str(error)[:1].lower()}{str(error)[1:]}",
            where=name,
            expected='lines such as voltage = "15 V"',
        ) from None
