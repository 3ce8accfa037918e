"""Sittings of one board over months: what changed by more than its uncertainty.

All sittings are solved together, so that the scale of the test resistor and the shapes of the laws,
which err alike in all of them, drop out of the differences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import sqrt

import numpy as np

from clampwright.bench.board_solve import BLIND, Sitting, Solution, solve_board
from clampwright.bench.board_terms import (
    OFFSET,
    Array,
    BoardReading,
    Doubt,
    Shape,
    applied,
    kind_of,
    node_currents,
)
from clampwright.quantities import write
from clampwright.uncertain import NORMAL_95

MONTH = 365.25 / 12 * 86400  # [s]
NET = "current into the node"


@dataclass(frozen=True)
class Trend:
    """One term over all sittings: values, slope, and the change from the first to the last (SI)."""

    name: str
    values: tuple[float, ...]
    uncertainties: tuple[float, ...]  # expanded, 95 %, of each by itself
    slope: float  # a month
    slope_uncertainty: float
    change: float
    change_uncertainty: float

    @property
    def changed(self) -> bool:
        """Whether the change is beyond its uncertainty."""
        return abs(self.change) > self.change_uncertainty

    @property
    def creeps(self) -> bool:
        """Whether the slope of all sittings together is beyond its uncertainty."""
        return abs(self.slope) > self.slope_uncertainty

    def words(self) -> str:
        """One line."""
        kind = kind_of(self.name)

        def of(value: float, u: float) -> str:
            return f"{write(value, kind, signed=True)} ± {write(u, kind, digits=2)}"

        said = "no change beyond its uncertainty"
        if self.changed:
            said = "CHANGED, " + ("a steady creep" if self.creeps else "a step rather than a creep")
        return (
            f"{self.name}: {said}: {of(self.change, self.change_uncertainty)} from first to last; "
            f"{of(self.slope, self.slope_uncertainty)} a month"
        )


def trends(
    sittings: Sequence[Sitting],
    times: Sequence[float],
    terms: Sequence[str],
    shape: Shape,
    doubt: Doubt | None,
    *,
    at: BoardReading,
    coverage_factor: float = NORMAL_95,
) -> tuple[tuple[Trend, ...], Solution]:
    """Trend of every term that all sittings tell apart, and of the whole current under `at`.

    times : s, when each sitting was, at least two, not all the same
    """
    solved = solve_board(sittings, terms, shape, doubt)
    names = (OFFSET, *terms)
    told = np.all(np.abs(solved.blind) < BLIND**0.5, axis=(0, 1))
    rows = [(n, np.eye(len(names))[k]) for k, n in enumerate(names) if told[k]]
    rows.insert(0, (NET, np.array([0.0, *node_currents(applied([at]), terms, solved.shape)[0]])))
    months = (np.asarray(times, float) - times[0]) / MONTH
    return tuple(_trend(n, row, solved, months, coverage_factor) for n, row in rows), solved


def _trend(name: str, row: Array, solved: Solution, months: Array, factor: float) -> Trend:
    values = solved.values @ row
    covariance = np.einsum("k,ikjl,l->ij", row, solved.covariance, row)
    slope, slope_u = _slope(values, covariance, months)
    difference = np.zeros(len(values))
    difference[[0, -1]] = -1.0, 1.0
    change_u = sqrt(max(float(difference @ covariance @ difference), 0.0))
    return Trend(
        name=name,
        values=tuple(values.tolist()),
        uncertainties=tuple((factor * np.sqrt(np.diag(covariance))).tolist()),
        slope=slope,
        slope_uncertainty=factor * slope_u,
        change=float(values[-1] - values[0]),
        change_uncertainty=factor * change_u,
    )


def _slope(values: Array, covariance: Array, months: Array) -> tuple[float, float]:
    """Slope a month of the generalised least-squares line and its standard uncertainty.

    Widened where three sittings or more scatter about the line beyond their covariance.
    """
    root = np.linalg.cholesky(covariance)
    rows = np.linalg.solve(root, np.column_stack([np.ones_like(months), months]))
    wanted = np.linalg.solve(root, values)
    line, _, _, _ = np.linalg.lstsq(rows, wanted, rcond=None)
    left_over = wanted - rows @ line
    freedom = len(values) - 2
    widened = max(1.0, float(left_over @ left_over) / freedom) if freedom > 0 else 1.0
    return float(line[1]), sqrt(float(np.linalg.inv(rows.T @ rows)[1, 1]) * widened)


def seconds(time: str) -> float:
    """Seconds since 1970 of an ISO 8601 text, in UTC unless it says otherwise; ValueError for none."""
    moment = datetime.fromisoformat(time)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


__all__ = ["NET", "Trend", "seconds", "trends"]
