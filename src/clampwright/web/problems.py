"""Which field a sentence speaks of, so that it can stand beside that field."""

from __future__ import annotations

import re

FIELD = r"[a-z_]+(?:\.[a-z_0-9]+)*"
STATED = r"network\.(?:values|classes)\.(?:\"[^\"\n]+\"|[A-Za-z0-9_ -]+)"
SECTIONS = "requirement|source|board|rails|amplifier|network|faults|surroundings"
LINE = re.compile(
    rf"^(?:[^:\n]*?, (?P<field>{STATED}|{FIELD})|(?P<bare>{STATED}|(?:{SECTIONS})\.[a-z_0-9.]+))"
    r": (?P<rest>.+)$"
)


def field_problems(sentence: str) -> dict[str, str]:
    """Sentence by field, for every line of the form `file, field: what was wrong`; the file may lack."""
    found = {}
    for line in sentence.splitlines():
        if match := LINE.match(line):
            rest = match["rest"]
            field = (match["field"] or match["bare"]).replace('"', "")
            found[field] = rest[0].upper() + rest[1:]
    return found
