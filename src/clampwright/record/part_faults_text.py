"""Each part shorted and opened in turn, as text: 100 columns."""

from __future__ import annotations

import math
from textwrap import wrap

from clampwright.record.words import COLUMNS, THIN_SPACE, quantity, ratio
from clampwright.verdict.part_fault_results import PartFaultLine, PartFaultsResult

PART_WIDTH = 24
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
    for line in unnoticed_first(result):
        lead = f"  {line.name:<{PART_WIDTH}}{line.kind:<7}"
        lines += wrap(lead + line.words, COLUMNS, subsequent_indent=" " * len(lead))
    lines += ["", *wrap(unnoticed_words(result), COLUMNS)]
    return "\n".join(lines)


def unnoticed_first(result: PartFaultsResult) -> list[PartFaultLine]:
    """The lines, those that nobody would notice first."""
    return sorted(result.lines, key=lambda found: found.noticed)


def unnoticed_words(result: PartFaultsResult) -> str:
    """How many part faults the signal does not show, and from which change on one is noticed."""
    hidden = sum(not line.noticed for line in result.lines)
    tested = sum(line.shows == "in a leakage test" for line in result.lines)
    share = ratio(100 * result.noticed_share).removesuffix(".00")
    found = f", {tested} of them beyond the allowed error" if tested else ""
    return (
        f"{hidden} of {len(result.lines)} go unnoticed{found}: test the input after each fault. Noticed "
        f"is a reading that moves by {quantity(result.noticed_from, 'voltage')}, "
        f"{share}{THIN_SPACE}% of the span."
    )


def part_fault_row(line: PartFaultLine) -> tuple[str, ...]:
    """Cells under `PART_FAULT_HEADS`."""
    unsolved = math.isnan(line.pin_current)
    pin = "not solved" if unsolved else quantity(line.pin_current, "current")
    rated = quantity(line.pin_current_limit, "current")
    broken = "; ".join(line.breaks) or ("not solved" if unsolved else "nothing")
    return (line.name, line.kind, line.said, pin, rated, broken)
