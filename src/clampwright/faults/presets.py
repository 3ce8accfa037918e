"""Faults that standards and practice name, as data to begin a list with.

The numbers are from memory: check the current edition of each standard before using one as a limit.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib import resources

from clampwright.errors import InputError

FROM_MEMORY = "numbers from memory: check the current edition"
LARGEST_SIGNAL = "largest signal"  # stands for the design's own signal as a voltage


@dataclass(frozen=True)
class Preset:
    """One fault: what to call it, where it comes from, and its fields as a design sheet has them."""

    key: str
    group: str
    title: str
    note: str
    fields: dict[str, str | bool]

    @property
    def standard(self) -> str:
        """The standard with the warning that its numbers are from memory; "" for practice."""
        named = str(self.fields.get("standard", ""))
        return f"{named}, {FROM_MEMORY}" if named else ""


@cache
def presets() -> dict[str, Preset]:
    """Every preset by its key, in the order to show them."""
    file = resources.files("clampwright.faults").joinpath("presets.toml")
    rows = tomllib.loads(file.read_text("utf-8"))["preset"]
    return {row["key"]: Preset(**row) for row in rows}


def preset_named(key: str) -> Preset:
    """One preset; InputError lists them where there is none of that key."""
    try:
        return presets()[key]
    except KeyError:
        raise InputError(
            f'there is no fault preset "{key[:80]}"', expected=", ".join(presets())
        ) from None


def sheet_fields(preset: Preset, name: str, largest_signal: str) -> dict[str, str | bool]:
    """The fields to write for a preset under a name; the design's own signal put in where asked."""
    fields = {"name": name} | preset.fields
    if fields["voltage"] == LARGEST_SIGNAL:
        fields["voltage"] = largest_signal
    if preset.standard:
        fields["standard"] = preset.standard
    return fields
