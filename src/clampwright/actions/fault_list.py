"""Faults of a design sheet: presets to add, entries to remove.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

import re
from pathlib import Path

from clampwright.faults.presets import Preset, preset_named, presets, sheet_fields
from clampwright.quantities import write
from clampwright.verdict.design import Design
from clampwright.verdict.gates import gate
from clampwright.workspace.edit import design_from, sheet_text
from clampwright.workspace.edit_lists import add_entry, remove_entry, with_entry

SECTION = "faults"
PLAIN = str.maketrans({"\u2009": " ", "\u2212": "-"})


def fault_presets() -> tuple[Preset, ...]:
    """Every fault that standards and practice name, in the order to show them."""
    return tuple(presets().values())


def add_fault(path: Path, key: str, expected_hash: str) -> str:
    """Add a preset to the faults of a design sheet; returns its new hash.

    Where the fault raises a safety gate for a new reason, an acknowledgement given before is taken away:
    somebody has to read the caution again. Raises InputError for an unknown key, ConflictError when the
    sheet is no longer the one with `expected_hash`.
    """
    text = sheet_text(path, expected_hash)
    design = design_from(text, path.name)
    ends = (design.requirement.signal_minimum, design.requirement.signal_maximum)
    signal = write(max(ends, key=abs), "voltage").translate(PLAIN)
    entry = sheet_fields(preset_named(key), free_name(design), signal)
    after = gate(design_from(with_entry(text, SECTION, entry, path.name), path.name))
    again = set(after.reasons) - set(gate(design).reasons)
    changes = {"surroundings.acknowledged": ""} if again and after.acknowledged else {}
    return add_entry(path, SECTION, entry, expected_hash, changes)


def remove_fault(path: Path, number: int, expected_hash: str) -> str:
    """Take fault `number` (from 1) out of a design sheet; returns its new hash."""
    return remove_entry(path, SECTION, number, expected_hash)


def free_name(design: Design) -> str:
    """The next name of the kind F1, F2, …, above every one that is there."""
    numbers = [int(m[1]) for f in design.faults if (m := re.match(r"F(\d{1,6})\b", f.name))]
    return f"F{max(numbers, default=0) + 1}"
