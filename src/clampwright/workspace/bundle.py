"""Evidence bundles: one file that hands a session to somebody else, and that shows any change.

The file is a zip archive whose comment is the SHA-256 of every byte before it, so that one changed
byte anywhere is refused. It shows change, not authorship: nothing here is signed.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import tomllib
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from clampwright.bench.columns import Readings
from clampwright.bench.instrument import read_profile
from clampwright.bench.readings import read_readings, write_readings
from clampwright.errors import InputError
from clampwright.workspace.database import Store
from clampwright.workspace.folder import combined_hash, content_hash
from clampwright.workspace.store import (
    MARK_KINDS,
    Correction,
    Mark,
    Session,
    Snapshot,
    append,
    checked,
    corrections,
    marks,
    now,
    readings_of,
    session_named,
    snapshots,
    start_session,
    write_corrections,
    write_marks,
    write_snapshots,
)

LARGEST_BUNDLE = 100_000_000  # [bytes] of the file
LARGEST_CONTENT = 200_000_000  # [bytes] of everything in it; a million readings are about 80 MB
MOST_FILES = 100
_MARK = b"sha256:"
_TAIL = len(_MARK) + 64
_SHEET = re.compile(r"instruments/[1-9][0-9]?\.toml")
_FIXED = ("manifest.json", "readings.csv", "corrections.json", "marks.json")
_MEND = "ask whoever made it to send it again"
_Line = Annotated[str, Field(max_length=2_000)]


class Manifest(BaseModel):
    """What a bundle says about itself."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["clampwright evidence bundle"] = "clampwright evidence bundle"
    version: Literal[1] = 1
    session: _Line
    who: _Line
    started: _Line
    origin: Annotated[str, Field(min_length=1, max_length=2_000)]
    conditions: _Line
    made: _Line
    files: dict[str, Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]]
    content_hash: str

    def computed_hash(self) -> str:
        """SHA-256 over who, when, whose, and the hash of every file."""
        told = {key: getattr(self, key) for key in ("session", "who", "started", "origin")}
        told["conditions"] = self.conditions
        return combined_hash(
            {"session": content_hash(json.dumps(told, sort_keys=True).encode()), **self.files}
        )


@dataclass(frozen=True)
class Bundle:
    """The checked content of a bundle; `readings` are raw, zeros included."""

    manifest: Manifest
    readings: Readings
    corrections: tuple[Correction, ...]
    marks: tuple[Mark, ...]
    sheets: Mapping[str, str]  # instrument id → text of its sheet


def write_bundle(
    store: Store, session: Session, *, origin: str, sheets: Mapping[str, str]
) -> bytes:
    """The bytes of a bundle of one session.

    origin : whose evidence it is; a session that came from elsewhere keeps its own
    sheets : text of instrument sheets by id, for instruments the session itself does not describe
    Raises InputError when the origin is not known or an instrument is described nowhere.
    """
    whose = session.origin or origin.strip()
    if not whose:
        raise InputError(
            "a bundle must say whose evidence it is",
            mend="give a name with --of, or write owner in workspace.toml",
        )
    raw = readings_of(store, session, corrected=False)
    files = {
        "readings.csv": write_readings(raw).encode(),
        "corrections.json": _json([asdict(c) for c in corrections(store, session)]),
        "marks.json": _json([asdict(m) for m in marks(store, session)]),
    }
    for number, text in enumerate(_described(store, session, raw, sheets), 1):
        files[f"instruments/{number}.toml"] = text.encode()
    manifest = Manifest(
        session=session.name,
        who=session.who,
        started=session.started,
        origin=whose,
        conditions=session.conditions,
        made=now(),
        files={name: content_hash(data) for name, data in files.items()},
        content_hash="",
    )
    manifest = manifest.model_copy(update={"content_hash": manifest.computed_hash()})
    return _sealed({"manifest.json": _json(manifest.model_dump()), **files})


def read_bundle(data: bytes, name: str) -> Bundle:
    """Check a bundle called `name` and give its content; nothing is written anywhere.

    Raises InputError for a changed byte, a file too large, unexpected or unreadable content.
    """
    try:
        return _content(_opened(data, name), name)
    except (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError):
        raise InputError("the bundle cannot be opened", where=name, mend=_MEND) from None
    except ValueError as error:  # also those of JSON, TOML, UTF-8 and the data model
        told = str(error).splitlines()[0]
        raise InputError(f"the bundle is not as it should be: {told}", where=name) from None


def is_bundle(data: bytes) -> bool:
    """Whether bytes begin like a bundle (any zip archive)."""
    return data[:4] == b"PK\x03\x04"


def import_bundle(store: Store, bundle: Bundle, session: str = "") -> Session:
    """A new session with the content of a bundle; its origin stays visible for ever.

    session : another name for it here. Raises InputError when the name or the content is there.
    """
    told = bundle.manifest
    name = session or told.session
    with store.writing() as connection:
        made = start_session(
            store,
            name,
            who=told.who,
            origin=told.origin,
            conditions=told.conditions,
            source_hash=told.content_hash,
            started=told.started,
            connection=connection,
        )
        append(store, made, bundle.readings, connection=connection)
        write_corrections(connection, made, bundle.corrections)
        write_marks(connection, made, bundle.marks)
        write_snapshots(connection, made, [Snapshot(i, t) for i, t in bundle.sheets.items()])
    return session_named(store, name)


def _described(
    store: Store, session: Session, raw: Readings, sheets: Mapping[str, str]
) -> list[str]:
    """Sheets of the instruments that the readings name."""
    known = {**sheets} if not session.origin else {}
    known |= {s.instrument: s.sheet for s in snapshots(store, session)}
    if missing := sorted(set(raw.instrument.names) - set(known)):
        raise InputError(
            f'the session names an instrument "{missing[0]}" that is described nowhere',
            mend="describe it in a sheet under instruments/: without it nobody can reduce the readings",
        )
    return [known[name] for name in raw.instrument.names]


def _json(data: Any) -> bytes:
    return json.dumps(data, indent=1, ensure_ascii=False).encode()


def _sealed(files: Mapping[str, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in files.items():
            archive.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
        archive.comment = _MARK + b"0" * 64  # its length stands before it, and is hashed too
    body = out.getvalue()[:-_TAIL]
    return body + _MARK + hashlib.sha256(body).hexdigest().encode()


def _opened(data: bytes, name: str) -> dict[str, bytes]:
    """Files of a bundle by name, after every check that needs no understanding of them."""
    if len(data) > LARGEST_BUNDLE:
        raise InputError(
            f"a bundle of {len(data)} bytes is too large",
            where=name,
            expected=f"at most {LARGEST_BUNDLE} bytes",
        )
    body, tail = data[:-_TAIL], data[-_TAIL:]
    if not is_bundle(data) or not tail.startswith(_MARK):
        raise InputError("this is not an evidence bundle, or not all of it", where=name, mend=_MEND)
    if tail != _MARK + hashlib.sha256(body).hexdigest().encode():
        raise InputError("the bundle was changed after it was made", where=name, mend=_MEND)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = archive.infolist()
        for member in members:
            if member.filename not in _FIXED and not _SHEET.fullmatch(member.filename):
                raise InputError(
                    f'the bundle holds a file "{member.filename[:60]}" that has no place in it',
                    where=name,
                )
        names = [member.filename for member in members]
        size = sum(member.file_size for member in members)
        if len(set(names)) != len(names) or len(names) > MOST_FILES or size > LARGEST_CONTENT:
            raise InputError(
                f"the bundle holds {len(names)} files of {size} bytes",
                where=name,
                expected=f"at most {MOST_FILES} different files, {LARGEST_CONTENT} bytes in all",
            )
        return {member.filename: archive.read(member) for member in members}


def _content(files: Mapping[str, bytes], name: str) -> Bundle:
    lacking = [file for file in _FIXED if file not in files]
    if lacking:
        raise InputError(f"the bundle lacks {lacking[0]}", where=name, mend=_MEND)
    manifest = Manifest.model_validate_json(files["manifest.json"])
    found = {file: content_hash(d) for file, d in files.items() if file != "manifest.json"}
    if found != manifest.files or manifest.computed_hash() != manifest.content_hash:
        raise InputError(
            "the content of the bundle is not what it says it is", where=name, mend=_MEND
        )
    readings = read_readings(files["readings.csv"], f"{name}, readings.csv")
    return Bundle(
        manifest,
        readings,
        _corrections(files["corrections.json"], len(readings), name),
        _marks(files["marks.json"], name),
        _sheets(files, readings, name),
    )


def _corrections(data: bytes, count: int, name: str) -> tuple[Correction, ...]:
    found = TypeAdapter(tuple[Correction, ...]).validate_json(data)
    for one in found:
        checked(one, f"{name}, corrections.json")
        if not 1 <= one.first <= one.last <= count:
            raise InputError("a correction names readings that are not there", where=name)
    return found


def _marks(data: bytes, name: str) -> tuple[Mark, ...]:
    found = TypeAdapter(tuple[Mark, ...]).validate_json(data)
    for one in found:
        if one.kind not in MARK_KINDS:
            raise InputError(f'"{one.kind[:40]}" is no kind of mark', where=f"{name}, marks.json")
    return found


def _sheets(files: Mapping[str, bytes], readings: Readings, name: str) -> dict[str, str]:
    sheets: dict[str, str] = {}
    for file, data in files.items():
        if _SHEET.fullmatch(file):
            profile = read_profile(tomllib.loads(data.decode()), f"{name}, {file}")
            sheets[profile.id] = data.decode()
    if missing := set(readings.instrument.names) - set(sheets):
        raise InputError(f'the bundle does not describe "{min(missing)}"', where=name, mend=_MEND)
    return sheets


__all__ = ["Bundle", "Manifest", "import_bundle", "is_bundle", "read_bundle", "write_bundle"]
