"""The verdict line of a design of which the error may be judged and the faults not."""

from __future__ import annotations

from dataclasses import replace

from clampwright.errors import ClampwrightError
from clampwright.web.table import Opened, Table
from clampwright.web.views import Line, Said, said


def judged(table: Table, opened: Opened) -> tuple[Said, str]:
    """Error and faults of a design, and why the faults cannot be judged, "" where they can.

    Raises ClampwrightError where even the error cannot be judged.
    """
    check = table.check(opened)
    try:
        return said(check, table.faults(opened)), ""
    except ClampwrightError as error:
        line, why = said(check), str(error)
        other = [one for one in line.lines if one.topic != "faults"]
        return replace(line, lines=(*other, Line("faults", "not-measured", "not judged", why))), why


def refusal(why: str) -> Said:
    """What stands in the place of a verdict while what is chosen cannot be judged."""
    return Said((Line("", "not-measured", "not judged", why),))
