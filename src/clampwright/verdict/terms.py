"""The terms of the error at the pin, as arrays with one entry per corner."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Interval:
    """Value with its 95 % limits, arrays of one entry per corner (V)."""

    value: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class ErrorTerms:
    """Error terms of one clamp side (or of the pair) at every corner."""

    side: str
    clamp: Interval
    light: Interval
    bias: Interval
    together: Array
    leakage: Array  # A, net clamp current out of the node, all causes
    residual: float
