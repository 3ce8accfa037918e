"""Clamp, amplifier and dirt told apart on the assembled board, without unsoldering.

The error at the pin is offset + R·Σ (unit current of a term × how that term goes with signal, rails,
temperature and light). Readings under varied conditions are solved for the terms by weighted least
squares; what the chosen conditions cannot tell apart is said, not guessed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from clampwright.bench.board_solve import BLIND, Sitting, Solution, solve_board
from clampwright.bench.board_terms import (
    OFFSET,
    TERMS,
    VARY,
    BoardReading,
    Doubt,
    Shape,
    applied,
    kind_of,
    node_currents,
)
from clampwright.errors import InputError
from clampwright.quantities import write
from clampwright.uncertain import NORMAL_95, ONE_SIDED_95

Array = NDArray[np.float64]
PROMINENT = 0.25  # [1] share of a direction from which a term is named in words
LACK_OF_FIT = 0.01  # [1]
DETECTED = ONE_SIDED_95  # [1] standard uncertainties from which a term counts as seen


@dataclass(frozen=True)
class Found:
    """One term: its value and doubt (SI, at 25 °C); both None when it could not be told apart."""

    name: str
    value: float | None
    standard_uncertainty: float | None
    coverage_factor: float = NORMAL_95

    @property
    def expanded(self) -> float | None:
        """Half of the 95 % interval."""
        u = self.standard_uncertainty
        return None if u is None else self.coverage_factor * u

    def words(self) -> str:
        """ "upper clamp: 3.1 pA ± 0.4 pA", or that it is not detected or not told apart."""
        if self.value is None or self.standard_uncertainty is None:
            return f"{self.name}: not told apart"
        reach, kind = self.coverage_factor * self.standard_uncertainty, kind_of(self.name)
        if abs(self.value) < DETECTED * self.standard_uncertainty:
            most = write(abs(self.value) + reach, kind, digits=2)
            return f"{self.name}: not detected, within ± {most}"
        return f"{self.name}: {write(self.value, kind)} ± {write(reach, kind, digits=2)}"


@dataclass(frozen=True)
class Separation:
    """All terms, their joint covariance, what is mixed up, and whether the model explains the board.

    The covariance holds readings, scale of the resistor and shapes; minimum-norm where mixed up.
    """

    found: tuple[Found, ...]
    values: Array
    covariance: Array
    mixed: tuple[str, ...]  # each a sentence about a combination that could not be told apart
    chi_square: float
    degrees_of_freedom: int
    chance: float | None
    residuals: tuple[float, ...]
    shape: Shape  # as the readings sharpened it
    coverage_factor: float = NORMAL_95

    @property
    def names(self) -> tuple[str, ...]:
        """Offset and terms in the order of `values`."""
        return tuple(term.name for term in self.found)

    def value(self, name: str) -> Found:
        """The term of that name; InputError for none."""
        for term in self.found:
            if term.name == name:
                return term
        raise InputError(f'no term "{name}"', expected=", ".join(self.names))

    def net_current(self, reading: BoardReading) -> Found:
        """All that flows into the node under the conditions of one of the readings."""
        units = node_currents(applied([reading]), self.names[1:], self.shape)[0]
        row = np.array([0.0, *units])
        value, u = float(row @ self.values), sqrt(float(row @ self.covariance @ row))
        return Found("current into the node", value, u, self.coverage_factor)


def separate(
    readings: Sequence[BoardReading],
    terms: Sequence[str] = ("upper clamp", "lower clamp", "amplifier bias"),
    shape: Shape | None = None,
    *,
    doubt: Doubt | None = None,
    scale_uncertainty: float = 0.0,
    coverage_factor: float = NORMAL_95,
) -> Separation:
    """Solve board readings for an offset voltage and the named terms (keys of `TERMS`).

    shape : as well as it is known; doubt : how well (None: exactly)
    scale_uncertainty : relative standard uncertainty of the test resistor, common to all readings
    Covariance is widened where the readings contradict the model (Birge ratio). A term with a share
    in a combination the conditions cannot tell is given no value. InputError for an unknown term.
    """
    shape = shape or Shape()
    for name in terms:
        if name not in TERMS:
            raise InputError(f'no term "{name}"', expected=", ".join(TERMS))
    sitting = Sitting(tuple(readings), "", scale_uncertainty)
    solved = solve_board([sitting], terms, shape, doubt)
    return one_of(solved, 0, terms, coverage_factor)


def one_of(
    solved: Solution, place: int, terms: Sequence[str], coverage_factor: float = NORMAL_95
) -> Separation:
    """The separation of one sitting out of a solution for several."""
    names = (OFFSET, *terms)
    values, covariance = solved.values[place], solved.covariance[place, :, place, :]
    blind = solved.blind[:, place, :]
    told = np.all(np.abs(blind) < BLIND**0.5, axis=0) if len(blind) else np.ones(len(names), bool)
    found = tuple(
        Found(n, float(v), sqrt(c), coverage_factor) if ok else Found(n, None, None)
        for n, v, c, ok in zip(names, values, np.diag(covariance), told, strict=True)
    )
    return Separation(
        found,
        values,
        covariance,
        tuple(_mixed(d, names) for d in blind if np.abs(d).max() > BLIND**0.5),
        solved.chi_square,
        solved.degrees_of_freedom,
        chance_of(solved.chi_square, solved.degrees_of_freedom),
        tuple(solved.residuals.tolist()),
        solved.shape,
        coverage_factor,
    )


def _mixed(direction: Array, names: Sequence[str]) -> str:
    involved = [n for n, share in zip(names, np.abs(direction), strict=True) if share > BLIND**0.5]
    main = [n for n, share in zip(names, np.abs(direction), strict=True) if share > PROMINENT]
    if len(involved) == 1:
        return f"{involved[0]} leaves no trace in these readings: vary {VARY[involved[0]]}"
    ways = list(dict.fromkeys(VARY[n] for n in main if n != OFFSET)) or [VARY[OFFSET]]
    return f"{' and '.join(involved)} could not be told apart: vary {', or '.join(ways)}"


def chance_of(chi_square: float, freedom: int) -> float | None:
    """Chance of a chi square as large or larger; None without degrees of freedom."""
    from clampwright.uncertain.special import gammaincc

    return float(gammaincc(freedom / 2, chi_square / 2)) if freedom else None


__all__ = [
    "DETECTED",
    "LACK_OF_FIT",
    "Found",
    "Separation",
    "chance_of",
    "one_of",
    "separate",
]
