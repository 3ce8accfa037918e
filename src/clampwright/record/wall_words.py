"""What a wall of the resistor window says: where it stands, or that it leaves no value at all."""

from __future__ import annotations

from clampwright.record.words import nominal
from clampwright.verdict.results import NEVER_MET, ResistorWall


def leaves_none(wall: ResistorWall) -> bool:
    """Whether the requirement behind a wall is met by no resistor at all."""
    return wall.reason == NEVER_MET


def bound_words(wall: ResistorWall) -> str:
    """The bound in words: "at least 178 kΩ", "at most 294 MΩ" or that no value meets it."""
    if leaves_none(wall):
        return NEVER_MET
    side = "at least" if wall.side == "minimum" else "at most"
    return f"{side} {nominal(wall.value, 'resistance')}"
