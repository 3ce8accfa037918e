"""Which field a sentence speaks of, so that it can stand beside that field."""

from __future__ import annotations

import re

LINE = re.compile(r"^(?P<file>[^:\n]*?), (?P<field>[a-z_]+(?:\.[a-z_0-9]+)*): (?P<rest>.+)$")


def field_problems(sentence: str) -> dict[str, str]:
    """Sentence by field, for every line of the form `file, field: what was wrong`."""
    found = {}
    for line in sentence.splitlines():
        if match := LINE.match(line):
            rest = match["rest"]
            found[match["field"]] = rest[0].upper() + rest[1:]
    return found
