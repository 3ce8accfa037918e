"""Sessions of the readings database as the rest of the program takes them: plain, frozen, hashed."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping, Set
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from clampwright.bench.columns import Readings, Text
from clampwright.bench.instrument import Profile, read_profile
from clampwright.bench.runs import Mark
from clampwright.workspace.database import Store, has_store, open_store
from clampwright.workspace.folder import combined_hash, content_hash
from clampwright.workspace.store import Session, marks, numbered_readings, sessions, snapshots

NOTED = ("touch", "light", "cable", "note", "overload")  # marks that may explain an event of a run


@dataclass(frozen=True)
class StoredSession:
    """Corrected readings of a session, the instruments it describes, and whose evidence it is."""

    name: str
    origin: str  # "" for this bench
    readings: Readings
    numbers: NDArray[np.int64]  # of each reading in its session, from 1
    profiles: Mapping[str, Profile]
    hash: str
    marks: tuple[Mark, ...] = ()  # what someone noted meanwhile

    def profiles_with(self, own: Mapping[str, Profile]) -> Mapping[str, Profile]:
        """Profiles to reduce with: evidence from elsewhere is never reduced with our instruments.

        own : profiles of the workspace; they stand before older descriptions of our own sessions
        """
        return self.profiles if self.origin else {**self.profiles, **own}


def stored_sessions(root: Path, names: Set[str]) -> dict[str, StoredSession]:
    """The sessions of these names that the readings database of a workspace holds."""
    if not has_store(root):
        return {}
    with open_store(root) as store:
        return {s.name: _stored(store, s) for s in sessions(store) if s.name in names}


def readings_hash(readings: Readings) -> str:
    """SHA-256 over every column of readings."""
    digest = hashlib.sha256()
    for column in (getattr(readings, f.name) for f in fields(readings)):
        if isinstance(column, Text):
            digest.update("\n".join(column.names).encode() + b"\0")
        digest.update((column.codes if isinstance(column, Text) else column).tobytes())
    return digest.hexdigest()


def _stored(store: Store, session: Session) -> StoredSession:
    numbers, readings = numbered_readings(store, session)
    hashes = {"readings": readings_hash(readings)}
    profiles = {}
    for taken in snapshots(store, session):
        where = f"session {session.name}, instrument {taken.instrument}"
        hashes[taken.instrument] = content_hash(taken.sheet.encode())
        profiles[taken.instrument] = read_profile(tomllib.loads(taken.sheet), where)
    noted = (m for m in marks(store, session) if m.kind in NOTED)
    told = tuple(Mark(m.time, m.kind, m.words) for m in noted)
    return StoredSession(
        session.name, session.origin, readings, numbers, profiles, combined_hash(hashes), told
    )


__all__ = ["StoredSession", "readings_hash", "stored_sessions"]
