"""The terms of the error at the pin, as arrays with one entry per corner."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from clampwright.verdict.known import Known

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Interval:
    """Value with its 95 % limits, arrays of one entry per corner (V)."""

    value: Array
    low: Array
    high: Array

    def of(self, corners: slice) -> Interval:
        """Those of some corners."""
        return Interval(self.value[corners], self.low[corners], self.high[corners])


@dataclass(frozen=True)
class AddedTerm:
    """A contribution that exists only where the sheet states its cause: film, joints, hum, lost signal."""

    name: str
    interval: Interval
    basis: Literal["measured", "typical", "maximum", "assumed", "defined"]
    source: str
    group: Literal["clamp", "light", "leak"] = "leak"
    known_by: Known | None = None


@dataclass(frozen=True)
class ErrorTerms:
    """Error terms of one clamp side (or of the pair) at every corner."""

    side: str
    clamp: Interval
    light: Interval
    bias: Interval
    together: Array  # V, everything present
    leak: Interval  # insulation of the protection's other parts
    own: Array  # V, what the amplifier's offset drives into the source's own resistance
    leakage: Array  # A, net clamp current out of the node, all causes
    residual: Array  # of the solved network
    added: tuple[AddedTerm, ...] = ()  # charged to the protection

    def of(self, corners: slice) -> ErrorTerms:
        """Those of some corners."""
        return ErrorTerms(
            side=self.side,
            clamp=self.clamp.of(corners),
            light=self.light.of(corners),
            bias=self.bias.of(corners),
            together=self.together[corners],
            leak=self.leak.of(corners),
            own=self.own[corners],
            leakage=self.leakage[corners],
            residual=self.residual[corners],
            added=tuple(replace(a, interval=a.interval.of(corners)) for a in self.added),
        )
