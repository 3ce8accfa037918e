"""What a logger hands to its sink: readings with the time of two clocks, and what happened between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol

MarkKind = Literal[
    "touch",
    "light",
    "cable",
    "gap",
    "garbled",
    "overload",
    "clock",
    "start",
    "end",
    "note",
    "plan",
    "step",
    "check",
    "result",
]  # plan, step, check: how a guided session stands; result: what readings of a board gave


@dataclass(frozen=True)
class Sample:
    """One reading: volts as the meter showed them, and when the answer came.

    `temperature` (K) and `light` (lx) are those read just before by second instruments, NaN without.
    """

    volts: float
    time: str  # UTC, ISO 8601, to the microsecond
    monotonic: int  # [ns] of a clock that never jumps; only differences mean something
    temperature: float = float("nan")
    light: float = float("nan")


@dataclass(frozen=True)
class Event:
    """Something that happened between two readings."""

    kind: MarkKind
    words: str
    time: str


class Sink(Protocol):
    """Where readings go. Both calls return only when what they were given cannot be lost any more."""

    def take(self, samples: Sequence[Sample]) -> None:
        """Keep some readings."""

    def note(self, event: Event) -> None:
        """Keep an event after all readings taken so far."""


__all__ = ["Event", "MarkKind", "Sample", "Sink"]
