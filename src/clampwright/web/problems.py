"""What is said of an error: its status, its sentence, and the fields that it stands beside."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

from fastapi.exceptions import RequestValidationError

from clampwright.errors import ClampwrightError, ConflictError
from clampwright.web.table import NotThere

FIELD = r"[a-z_]+(?:\.[a-z_0-9]+)*"
STATED = r"network\.(?:values|classes)\.(?:\"[^\"\n]+\"|[A-Za-z0-9_ -]+)"
SECTIONS = "requirement|source|board|rails|amplifier|network|faults|surroundings"
LINE = re.compile(
    rf"^(?:[^:\n]*?, (?P<field>{STATED}|{FIELD})|(?P<bare>{STATED}|(?:{SECTIONS})\.[a-z_0-9.]+))"
    r": (?P<rest>.+)$"
)
KINDS = (NotThere, ClampwrightError, RequestValidationError, Exception)


@dataclass(frozen=True)
class Problem:
    """HTTP status, one sentence, and sentences by field of the sheet."""

    status: int
    sentence: str
    fields: dict[str, str] = field(default_factory=dict)


def problem_of(error: Exception, root: Path) -> Problem:
    """What is told of an error; files are named from the folder that is served on (`root`)."""
    if isinstance(error, NotThere):
        return Problem(404, f"{error}.")
    if isinstance(error, ClampwrightError):  # bad input, or a circuit that is not solved
        sentence = str(error).replace(f"{root}/", "")
        if isinstance(error, ConflictError):
            return Problem(409, sentence)
        return Problem(422, sentence, field_problems(sentence))
    if isinstance(error, RequestValidationError):
        wrong = error.errors()[0]
        where = ".".join(str(part) for part in wrong["loc"])[:120]
        return Problem(422, f"{where}: {wrong['msg']}.")
    kind = type(error).__name__
    return Problem(500, f"An error of ours, not of your files: {kind}. Please report it.")


def field_problems(sentence: str) -> dict[str, str]:
    """Sentence by field, for every line of the form `file, field: what was wrong`; the file may lack."""
    found = {}
    for line in sentence.splitlines():
        if match := LINE.match(line):
            rest = match["rest"]
            field = (match["field"] or match["bare"]).replace('"', "")
            found[field] = rest[0].upper() + rest[1:]
    return found
