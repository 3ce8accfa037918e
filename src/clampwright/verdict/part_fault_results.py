"""Frozen results of each part shorted and opened in turn."""

from __future__ import annotations

from typing import Literal

from clampwright.quantities.fields import Current, Ratio, Voltage
from clampwright.verdict.design import Design
from clampwright.verdict.results import Result

RailState = Literal["held", "unknown", "rises", "exceeded"]
"""A rail under a fault: held by its load, not known, lifted within its maximum, lifted beyond it."""

Shows = Literal["signal lost", "at once", "in a leakage test", "not at all"]
"""What a failed part shows in use. Only in a leakage test: the reading moves by more than the allowed
error and by less than anybody notices. Not at all: it stays within the allowed error."""


class PartFaultLine(Result):
    """One part shorted or opened: what the signal shows, and what the worst fault then does.

    part   : the role in the circuit; name : the same part as the schematic writes it
    change : largest change of the reading against the intact circuit, over all corners; NaN where lost
    said   : what the signal shows, in words
    breaks : the ratings exceeded under the fault, in words; empty where none is
    """

    part: str
    name: str
    kind: Literal["short", "open"]
    outcome: str
    change: Voltage
    shows: Shows
    noticed: bool
    pin_current: Current
    pin_current_limit: Current
    clamp_current: Current
    clamp_current_limit: Current | None
    rail: RailState
    breaks: tuple[str, ...]
    said: str
    words: str


class PartFaultsResult(Result):
    """Each part of a design shorted and opened in turn.

    noticed_from : the change of a reading that is noticed, `noticed_share` of the span of the signal
    """

    design: Design
    design_hash: str
    fault: str
    noticed_share: Ratio
    noticed_from: Voltage
    lines: tuple[PartFaultLine, ...]
