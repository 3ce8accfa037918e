"""What is true of a pretend board, beside what a separation makes of its readings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from clampwright.bench.board_terms import (
    LIGHT,
    OFFSET,
    BoardReading,
    Shape,
    applied,
    node_currents,
)
from clampwright.bench.pretend import Truth, true_leakage
from clampwright.bench.pretend_board import REFERENCE, HiddenBoard, HiddenSitting


def predicted_errors(
    readings: Sequence[BoardReading], terms: Mapping[str, float], shape: Shape | None = None
) -> NDArray[np.float64]:
    """Error at the pin (V) that given terms (SI, with `offset` in volts) make in each reading."""
    names = [name for name in terms if name != OFFSET]
    at, values = applied(readings), np.array([terms[name] for name in names])
    made = at.resistance * (node_currents(at, names, shape or Shape()) @ values)
    return np.asarray(terms.get(OFFSET, 0.0) + made)


def true_terms(
    truth: Truth, board: HiddenBoard, day: HiddenSitting, stated: float
) -> dict[str, float]:
    """The terms a perfect separation would find (SI, 25 °C, clamps at a reverse voltage `stated`)."""
    part = next(p for p in truth.parts if (p.part, p.wiring) == (board.part, board.wiring))
    clamp = true_leakage(part, stated, REFERENCE)
    return {
        "offset": day.offset,
        "upper clamp": day.upper_factor * clamp,
        "lower clamp": day.lower_factor * clamp,
        "amplifier bias": -day.bias,
        "film to upper rail": day.film_to_upper_rail,
        "film to lower rail": day.film_to_lower_rail,
        "film to ground": day.film_to_ground,
        LIGHT: day.light_imbalance,
    }
