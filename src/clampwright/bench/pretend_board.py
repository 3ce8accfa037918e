"""Readings of an assembled board from a hidden truth: clamps, bias, film, offset, noise; all invented.

Error = offset + R·(upper clamp − lower clamp − bias given into the pin + films + photocurrent) with
the true value of the test resistor, which its owner knows only within its tolerance.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import Annotated, Any

import numpy as np
from pydantic import BaseModel, ConfigDict, Field

from clampwright.bench.board_readings import BoardReadings, board_from_rows, write_board
from clampwright.bench.pretend import HiddenPart, Truth, demo_truth, true_leakage
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE
from clampwright.quantities.fields import (
    ActivationEnergy,
    Conductance,
    Current,
    Illuminance,
    Ratio,
    Resistance,
    Responsivity,
    Temperature,
    TemperatureDifference,
    Voltage,
)

REFERENCE = 298.15  # [K] at which bias and film are stated


class _Hidden(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class HiddenSitting(_Hidden):
    """What the board was like on one day; clamps as factors of the part's own leakage."""

    name: str
    time: str
    upper_factor: Ratio = 1.0
    lower_factor: Ratio = 1.0
    bias: Current = 0.0  # given into the pin at 25 °C
    offset: Voltage = 0.0
    film_to_upper_rail: Conductance = 0.0
    film_to_lower_rail: Conductance = 0.0
    film_to_ground: Conductance = 0.0
    light_imbalance: Responsivity = 0.0  # upper clamp less lower


class HiddenBoard(_Hidden):
    """A board with what is read of it: every combination, and the first rails once more lit."""

    board: str
    part: str
    wiring: str
    resistor: str
    tolerance: Ratio
    resistor_error: Ratio  # the truth within that tolerance
    series_resistance: Resistance
    test_resistances: tuple[Resistance, ...]
    signals: tuple[Voltage, ...]
    rails: tuple[tuple[Voltage, Voltage], ...]
    temperatures: tuple[Temperature, ...]
    light: Illuminance
    scatter: tuple[Voltage, ...]  # of one reading, for each test resistance
    count: Annotated[int, Field(ge=1)] = 5
    bias_doubling: TemperatureDifference = 10.0
    film_energy: ActivationEnergy = 0.3
    sittings: tuple[HiddenSitting, ...]


def pretend_board(truth: Truth, board: HiddenBoard, day: HiddenSitting, seed: int) -> BoardReadings:
    """Readings of a board on one day; the same seed gives the same readings."""
    random, part = np.random.default_rng(seed), _part(truth, board)
    rows: list[dict[str, Any]] = []
    dark = list(product(board.test_resistances, board.signals, board.rails, board.temperatures))
    plan = [(*condition, 0.0) for condition in dark]
    middle = board.signals[len(board.signals) // 2]
    lit = (middle, board.rails[0], board.temperatures[0], board.light)
    plan += [(ohms, *lit) for ohms in board.test_resistances if board.light]
    for ohms, signal, (upper, lower), kelvin, lux in plan:
        current = _current(part, board, day, (signal, upper, lower, kelvin, lux))
        true_ohms = ohms * (1 + board.resistor_error) + board.series_resistance
        error = day.offset + true_ohms * current
        scatter = board.scatter[board.test_resistances.index(ohms)]
        for shown in random.normal(error, scatter, board.count):
            rows.append(
                {
                    "board": board.board,
                    "signal": signal,
                    "upper_rail": upper,
                    "lower_rail": lower,
                    "resistance": ohms + board.series_resistance,
                    "temperature": kelvin,
                    "light": lux,
                    "error": round(float(shown), 8),  # the meter shows 10 nV
                    "resistor": board.resistor,
                    "tolerance": board.tolerance,
                    "time": day.time,
                    "note": "invented",
                }
            )
    return board_from_rows(rows)


def _current(
    part: HiddenPart, board: HiddenBoard, day: HiddenSitting, at: Sequence[float]
) -> float:
    """All that flows into the node (A)."""
    signal, upper, lower, kelvin, lux = at
    film = np.exp(board.film_energy / BOLTZMANN_PER_CHARGE * (1 / REFERENCE - 1 / kelvin))
    conducted = day.film_to_upper_rail * (upper - signal) + day.film_to_lower_rail * (
        lower - signal
    )
    conducted -= day.film_to_ground * signal
    return float(
        day.upper_factor * true_leakage(part, upper - signal, kelvin)
        - day.lower_factor * true_leakage(part, signal - lower, kelvin)
        - day.bias * 2 ** ((kelvin - REFERENCE) / board.bias_doubling)
        + conducted * film
        + day.light_imbalance * lux
    )


def _part(truth: Truth, board: HiddenBoard) -> HiddenPart:
    return next(p for p in truth.parts if (p.part, p.wiring) == (board.part, board.wiring))


def demo_boards(name: str) -> dict[str, str]:
    """CSV texts of a demonstration's assembled boards by file stem: all invented."""
    truth = demo_truth(name)
    boards = [HiddenBoard.model_validate(b) for b in truth.boards]
    every = [(board, day) for board in boards for day in board.sittings]
    return {
        day.name: write_board(pretend_board(truth, board, day, seed))
        for seed, (board, day) in enumerate(every, 1)
    }


__all__ = [
    "HiddenBoard",
    "HiddenSitting",
    "demo_boards",
    "pretend_board",
]
