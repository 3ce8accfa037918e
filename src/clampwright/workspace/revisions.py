"""Records that are kept: one JSON file a revision under `records/DESIGN/`, numbered, never overwritten."""

from __future__ import annotations

import json
import os
import re
import tempfile
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from clampwright.errors import InputError
from clampwright.workspace.folder import read_bytes

FOLDER = "records"
FILE = re.compile(r"(\d{4,6})\.json")
MOST = 999_999  # revisions of one design


class Revision(BaseModel):
    """One record as it was: its inputs, what the sheet said, and the answers in words.

    sheet : every field the design sheet stated, by dotted name; inputs : hash of every file
    answers : by name, as they were printed; results : the frozen results in full
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    number: int
    made_on: str
    design: str
    design_hash: str
    inputs: dict[str, str]
    sheet: dict[str, str]
    answers: dict[str, str]
    results: dict[str, Any] = {}


def revisions(root: Path, design: str) -> tuple[int, ...]:
    """Numbers of the records kept of a design, oldest first."""
    folder = root / FOLDER / design
    if not folder.is_dir():
        return ()
    matches = [FILE.fullmatch(path.name) for path in folder.iterdir()]
    return tuple(sorted(int(m[1]) for m in matches if m))


def read_revision(root: Path, design: str, number: int) -> Revision:
    """One record; InputError when it is not there or its file is damaged."""
    known = revisions(root, design)
    if number not in known:
        shown = ", ".join(str(n) for n in known)
        raise InputError(
            f"there is no record {number} of this design",
            where=f"{FOLDER}/{design}",
            expected=shown or "a record made before",
        )
    path = _path(root, design, number)
    try:
        return Revision.model_validate_json(read_bytes(path))
    except ValidationError:
        raise InputError(
            "the file of this record is damaged",
            where=f"{FOLDER}/{design}/{path.name}",
            mend="take it from a backup, or make the record again",
        ) from None


def keep_revision(root: Path, draft: Revision) -> Revision:
    """Keep a record under the next free number; the number of the draft does not matter.

    The latest one is returned, and nothing is written, when it rests on the very same inputs.
    Raises InputError when the folder cannot be written or is full.
    """
    known = revisions(root, draft.design)
    if known:
        latest = read_revision(root, draft.design, known[-1])
        if latest.design_hash == draft.design_hash:
            return latest
    number = known[-1] + 1 if known else 1
    while number <= MOST:
        kept = draft.model_copy(update={"number": number})
        if _written(_path(root, draft.design, number), kept):
            return kept
        number += 1  # another program was quicker
    raise InputError("no number is free for another record", where=f"{FOLDER}/{draft.design}")


def _path(root: Path, design: str, number: int) -> Path:
    return root / FOLDER / design / f"{number:04d}.json"


def _written(path: Path, kept: Revision) -> bool:
    """Write a new file at once or not at all; False when there is one of that name."""
    data = json.dumps(kept.model_dump(mode="json"), ensure_ascii=False, indent=1).encode()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile("wb", dir=path.parent, prefix=".new.") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            Path(file.name).chmod(0o644)
            try:
                os.link(file.name, path)
            except FileExistsError:
                return False
    except OSError as error:
        raise InputError(
            f"the record cannot be kept: {(error.strerror or 'unknown reason').lower()}",
            where=str(path.parent),
            mend="check the folder, its permissions and the free space",
        ) from None
    return True
