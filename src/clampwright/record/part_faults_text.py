"""Each part shorted and opened in turn, as text: 100 columns."""

from __future__ import annotations

from textwrap import wrap

from clampwright.verdict.results import PartFaultsResult

COLUMNS = 100
PART_WIDTH = 22


def part_faults_text(result: PartFaultsResult) -> str:
    """One line for each part and kind, those that nobody would notice first."""
    lines = [f"Each part shorted and opened; fault {result.fault}", ""]
    for line in sorted(result.lines, key=lambda found: found.noticed):
        lead = f"  {line.part:<{PART_WIDTH}}{line.kind:<7}"
        lines += wrap(lead + line.words, COLUMNS, subsequent_indent=" " * len(lead))
    hidden = sum(not line.noticed for line in result.lines)
    lines += ["", f"{hidden} of {len(result.lines)} go unnoticed: test the input after each fault."]
    return "\n".join(lines)
