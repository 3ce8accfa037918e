"""Each part shorted and opened in turn, as text: 100 columns."""

from __future__ import annotations

import math
from textwrap import wrap

from clampwright.record.words import COLUMNS, quantity
from clampwright.verdict.part_fault_results import PartFaultLine, PartFaultsResult

PART_WIDTH = 22
PART_FAULT_HEADS = (
    "part",
    "fails",
    "what the signal shows",
    "pin under the fault",
    "its rating",
    "what breaks",
)


def part_faults_text(result: PartFaultsResult) -> str:
    """One line for each part and kind, those that nobody would notice first."""
    lines = [f"Each part shorted and opened; fault {result.fault}", ""]
    for line in sorted(result.lines, key=lambda found: found.noticed):
        lead = f"  {line.part:<{PART_WIDTH}}{line.kind:<7}"
        lines += wrap(lead + line.words, COLUMNS, subsequent_indent=" " * len(lead))
    lines += ["", unnoticed_words(result)]
    return "\n".join(lines)


def unnoticed_words(result: PartFaultsResult) -> str:
    """How many part faults the signal does not show."""
    hidden = sum(not line.noticed for line in result.lines)
    return f"{hidden} of {len(result.lines)} go unnoticed: test the input after each fault."


def part_fault_row(line: PartFaultLine) -> tuple[str, ...]:
    """Cells under `PART_FAULT_HEADS`."""
    said, _, _ = line.words.removesuffix(".").partition("; under the fault")
    pin = "not solved" if math.isnan(line.pin_current) else quantity(line.pin_current, "current")
    rated = quantity(line.pin_current_limit, "current")
    broken = "; ".join(line.breaks) or ("not solved" if math.isnan(line.pin_current) else "nothing")
    return (line.part, line.kind, said, pin, rated, broken)
