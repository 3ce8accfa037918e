"""Frozen results of each part shorted and opened in turn."""

from __future__ import annotations

from typing import Literal

from clampwright.quantities.fields import Current, Voltage
from clampwright.verdict.design import Design
from clampwright.verdict.results import Result

RailState = Literal["held", "unknown", "rises", "exceeded"]
"""A rail under a fault: held by its load, not known, lifted within its maximum, lifted beyond it."""


class PartFaultLine(Result):
    """One part shorted or opened: what the signal shows, and what the worst fault then does.

    breaks : the ratings exceeded under the fault, in words; empty where none is
    """

    part: str
    kind: Literal["short", "open"]
    outcome: str
    error: Voltage
    noticed: bool
    pin_current: Current
    pin_current_limit: Current
    clamp_current: Current
    clamp_current_limit: Current | None
    rail: RailState
    breaks: tuple[str, ...]
    words: str


class PartFaultsResult(Result):
    """Each part of a design shorted and opened in turn."""

    design: Design
    design_hash: str
    fault: str
    lines: tuple[PartFaultLine, ...]
