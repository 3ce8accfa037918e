"""Least squares for the terms of one or several sittings of a board that share what is not known well.

Unknown are an offset and the terms of every sitting; shared by all sittings are the shapes of the
laws and, for each test resistor, its scale. These carry their prior uncertainty as further lines of
the fit (a standard uncertainty each), so that readings which know them better sharpen them, and
what is common drops out of differences between sittings by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from clampwright.bench.board_terms import Array, BoardReading, Doubt, Shape, applied, node_currents

BLIND = 1e-4  # [1] singular value over the largest, below which a combination is not told at all
SMALL = 1e-3  # [1] of a standard uncertainty, for slopes
SETTLED = 1e-10  # [1] of the shared unknowns and of the sum of squares


@dataclass(frozen=True)
class Sitting:
    """Readings of a board taken together with one test resistor."""

    readings: tuple[BoardReading, ...]
    resistor: str = ""  # sittings that name the same one share the error of its value
    scale_uncertainty: float = 0.0  # [1] relative standard uncertainty of its value


@dataclass(frozen=True)
class Solution:
    """Terms of every sitting and their joint covariance from readings and shared doubts."""

    values: Array  # (sittings, 1 + terms), the offset first; minimum-norm where mixed up
    covariance: Array  # (sittings, 1 + terms, sittings, 1 + terms)
    blind: Array  # (directions, sittings, 1 + terms): combinations that cannot be told
    residuals: Array  # of all readings, in standard uncertainties
    chi_square: float
    degrees_of_freedom: int
    shape: Shape  # as the readings sharpened it


def solve_board(
    sittings: Sequence[Sitting], terms: Sequence[str], shape: Shape, doubt: Doubt | None
) -> Solution:
    """Solve for an offset (V) and the named terms (SI, at 25 °C) of every sitting.

    Covariance is widened where the readings contradict the model (Birge ratio).
    """
    from scipy.optimize import least_squares

    problem = _Problem(sittings, terms, shape, _doubts(doubt), _scales(sittings))
    shared = np.zeros(problem.shared)
    if problem.shared:
        shared = least_squares(problem.left_over, shared, xtol=SETTLED, ftol=SETTLED).x
    values, _ = problem.terms_for(shared)
    rows, left_over = problem.slopes(shared, values), problem.left_over(shared)
    _, covariance, blind, rank = _least_squares(rows, left_over)
    wrong, freedom = float(left_over @ left_over), len(rows) - rank
    widened = max(1.0, wrong / freedom) if freedom else 1.0
    own, form = len(values), (len(sittings), 1 + len(terms))
    spread = covariance[:own, :own]
    if problem.shared and not len(blind):
        spread = problem.spread(shared, covariance[own:, own:])
    return Solution(
        values=values.reshape(form),
        covariance=(spread * widened).reshape(*form, *form),
        blind=blind[:, :own].reshape(-1, *form),
        residuals=left_over[: len(rows) - problem.shared],
        chi_square=wrong,
        degrees_of_freedom=freedom,
        shape=problem.shaped(shared),
    )


class _Problem:
    """The terms are linear once what is shared is chosen: solved within, only the rest is sought."""

    def __init__(
        self,
        sittings: Sequence[Sitting],
        terms: Sequence[str],
        shape: Shape,
        doubts: Sequence[tuple[str, float]],
        scales: Sequence[tuple[str, float]],
    ) -> None:
        """doubts, scales : name and standard uncertainty of each shared unknown."""
        self._at = [applied(s.readings) for s in sittings]
        self._resistors = [s.resistor for s in sittings]
        self._terms, self._shape, self._doubts, self._scales = terms, shape, doubts, scales
        self._u = np.array([r.standard_uncertainty for s in sittings for r in s.readings])
        self._read = np.array([r.error for s in sittings for r in s.readings]) / self._u
        self.shared = len(doubts) + len(scales)

    def shaped(self, shared: Array) -> Shape:
        """The shape moved by the shared unknowns, which count in standard uncertainties."""
        moved = zip(self._doubts, shared, strict=False)
        return replace(
            self._shape, **{n: getattr(self._shape, n) + u * float(k) for (n, u), k in moved}
        )

    def columns(self, shared: Array) -> Array:
        """What a unit of every offset and term makes, (readings, sittings · (1 + terms))."""
        shape, width = self.shaped(shared), 1 + len(self._terms)
        by = dict(zip(self._scales, shared[len(self._doubts) :], strict=True))
        made = np.zeros((len(self._read), width * len(self._at)))
        row = 0
        for place, (at, resistor) in enumerate(zip(self._at, self._resistors, strict=True)):
            scale = 1.0 + sum(u * k for (name, u), k in by.items() if name == resistor)
            here = made[row : row + len(at.signal), place * width : (place + 1) * width]
            here[:, 0] = 1.0
            here[:, 1:] = (scale * at.resistance)[:, None] * node_currents(at, self._terms, shape)
            row += len(at.signal)
        return np.asarray(made / self._u[:, None])

    def terms_for(self, shared: Array) -> tuple[Array, Array]:
        """Best offsets and terms for a choice of what is shared, and what they leave over."""
        columns = self.columns(shared)
        values = _least_squares(columns, self._read)[0]
        return values, self._read - columns @ values

    def left_over(self, shared: Array) -> Array:
        """Residuals of the readings, then of the shared unknowns, in standard uncertainties."""
        return np.concatenate([self.terms_for(shared)[1], -np.asarray(shared)])

    def slopes(self, shared: Array, values: Array) -> Array:
        """What a unit of every unknown makes at the solution, (readings + shared, all unknowns)."""
        here = self.columns(shared)
        moved = [
            (self.columns(shared + SMALL * unit) - here) @ values / SMALL
            for unit in np.eye(self.shared)
        ]
        prior = np.hstack([np.zeros((self.shared, len(values))), np.eye(self.shared)])
        return np.vstack([np.column_stack([here, *moved]), prior])

    def spread(self, shared: Array, covariance: Array) -> Array:
        """Covariance of offsets and terms while what is shared spreads with `covariance`.

        Solved again at 2n points √n standard deviations away, which have its mean and covariance
        (Julier and Uhlmann, Proc. IEEE 92 (2004) 401, from memory): an energy enters its term as an
        exponential, and to first order alone one interval in eleven missed.
        """
        count = self.shared
        axes = np.sqrt(count) * np.linalg.cholesky(covariance).T
        solved = [
            _least_squares(self.columns(shared + step), self._read)[:2] for step in (*axes, *-axes)
        ]
        values = np.array([v for v, _ in solved])
        off = values - values.mean(axis=0)
        return np.asarray(np.mean([c for _, c in solved], axis=0) + off.T @ off / len(off))


def _doubts(doubt: Doubt | None) -> tuple[tuple[str, float], ...]:
    return tuple((n, u) for n, u in vars(doubt).items() if u) if doubt else ()


def _scales(sittings: Sequence[Sitting]) -> tuple[tuple[str, float], ...]:
    """Each resistor whose value is doubted, with the largest doubt any sitting has of it."""
    found: dict[str, float] = {}
    for s in sittings:
        found[s.resistor] = max(found.get(s.resistor, 0.0), s.scale_uncertainty)
    return tuple((name, size) for name, size in sorted(found.items()) if size)


def _least_squares(rows: Array, wanted: Array) -> tuple[Array, Array, Array, int]:
    """Minimum-norm solution, covariance, unit blind directions and rank; columns to one length."""
    if len(rows) < rows.shape[1]:  # blank lines, so that every direction gets a singular value
        blank = np.zeros((rows.shape[1] - len(rows), rows.shape[1]))
        rows, wanted = np.vstack([rows, blank]), np.concatenate([wanted, blank[:, 0]])
    length = np.linalg.norm(rows, axis=0)
    length[length == 0] = 1.0
    left, sizes, axes = np.linalg.svd(rows / length, full_matrices=False)
    seen = sizes > BLIND * sizes[0]
    rank = int(seen.sum())
    directions = axes[seen] / length
    solution = ((left[:, :rank].T @ wanted) / sizes[seen]) @ directions
    covariance = (directions.T / sizes[seen] ** 2) @ directions
    return solution, covariance, axes[~seen], rank


__all__ = ["BLIND", "Sitting", "Solution", "solve_board"]
