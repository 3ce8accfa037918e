"""Nonlinear least squares with an honest report: converged or not, covariance, degrees of freedom.

A minimiser that stops is not a minimiser that has converged. What is returned says how far the
point still is from a stationary one in units of its own standard deviations, whether the data
determine every parameter, and from how many starts the same minimum was reached.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError

Array = NDArray[np.float64]
Rows = Callable[[Array], Array]

OFFSET_LIMIT = 1e-5  # [1] relative offset below which a point counts as stationary
STEP_LIMIT = 1e-9  # [1] or the next step changes every parameter by less than this share
SAME_MINIMUM = 1e-6  # [1] relative difference of two sums of squares that count as one minimum
ROUNDING_LIMIT = 1e-5  # [1] a larger share of rounding in the residuals is told
RANK_LIMIT = 1e-13  # [1] smallest over largest singular value of the scaled Jacobian
POLISH_STEPS = 12
DESCENT_STEPS = 40
RISE_BY_ROUNDING = 1e-12  # [1] of a sum of squares that a step may raise
FARTHEST_FACTOR = 100.0  # [1] how far further starts lie from the first, each way
FURTHER_EVALUATIONS = 300
SEED = 20261125  # fixed, so that a fit is the same every time
REJECTED = 1e150  # stands for a residual that is no number: no step may end there


@dataclass(frozen=True)
class Minimum:
    """Where a fit ended and what may be said of it."""

    values: Array
    covariance: Array  # (JᵀJ)⁻¹, for residuals of unit variance; infinite where undetermined
    sum_of_squares: float
    degrees_of_freedom: int
    relative_offset: float  # Gauss–Newton step in standard deviations; 0 at a stationary point
    rounding_share: float  # rounding of the model over the residuals: what the deviations lose
    converged: bool
    reason: str
    starts: int
    starts_agreeing: int  # how many of the starts ended in this minimum


def minimise(
    residuals: Rows,
    jacobian: Rows,
    start: Array,
    *,
    further_starts: int = 0,
    tolerance: float = 1e-15,
    evaluations: int = 2000,
) -> Minimum:
    """The least sum of squares found from `start` and from `further_starts` points around it.

    residuals : θ (p,) → rows (n,), n ≥ p
    jacobian  : θ (p,) → (n, p)
    further_starts : 0 trusts the start; else every parameter is also started up to a factor 100
        away (same sign), and the lowest minimum wins. Nothing proves that it is the lowest of all.
    tolerance   : of the search, relative, in the sum of squares and in θ; the Gauss–Newton steps
        after it add digits
    evaluations : of the residuals, at most, from `start` by each method

    Gauss–Newton from `start` where its steps descend to a stationary point; else Levenberg–Marquardt
    with columns scaled by the Jacobian (Marquardt 1963; Moré 1978), a trust region where that fails,
    then Gauss–Newton steps until they no longer help. Converged means: the
    relative offset of Bates and Watts (1981) is below 1e-5, or the next step is below 1e-9 of every
    parameter, and the Jacobian has full rank. Raises InputError for a start without finite rows.
    """
    start = np.asarray(start, float)
    residuals, jacobian = _remembered(residuals), _remembered(jacobian)
    with np.errstate(all="ignore"):
        rows = residuals(start)
        if not np.all(np.isfinite(rows)) or rows.size < start.size:
            raise InputError(
                "a fit cannot start here: the model gives no number or there are fewer rows "
                "than parameters",
                expected=f"{start.size} or more finite residuals",
                mend="give another start or more data",
            )
        ends = [_from_one_start(residuals, jacobian, start, tolerance, evaluations)]
        for point in _further_starts(start, further_starts, residuals):
            end = _search(residuals, jacobian, point, "lm", tolerance, FURTHER_EVALUATIONS)
            ends.append(_polished(residuals, jacobian, end))
        sums = [_sum_of_squares(residuals, end) for end in ends]
        same = min(sums) * (1 + SAME_MINIMUM)
        agreeing = sum(total <= same for total in sums)
        best = ends[int(np.argmin(sums))]
        return _report(residuals, jacobian, best, len(ends), agreeing)


def inverse_information(jacobian: Array) -> Array:
    """(JᵀJ)⁻¹ by the singular values of J with its columns scaled to length one.

    Infinite everywhere when the columns are dependent: nothing is then known of some parameter.
    """
    lengths = np.linalg.norm(jacobian, axis=0)
    count = jacobian.shape[1]
    if not np.all(np.isfinite(lengths)) or np.any(lengths == 0):
        return np.full((count, count), np.inf)
    _, scales, axes = np.linalg.svd(jacobian / lengths, full_matrices=False)
    if scales[-1] <= RANK_LIMIT * scales[0]:
        return np.full((count, count), np.inf)
    spread = (axes.T / scales) / lengths[:, None]
    return np.asarray(spread @ spread.T)


def _remembered(function: Rows) -> Rows:
    """The function with its last answer kept: search, steps and report ask twice at one point."""
    last: list[tuple[Array, Array]] = []

    def asked(values: Array) -> Array:
        if not last or not np.array_equal(last[0][0], values):
            last[:] = [(values.copy(), np.asarray(function(values), float))]
        return last[0][1]

    return asked


def _further_starts(start: Array, count: int, residuals: Rows) -> list[Array]:
    """Points around the start by factors, where the model gives a number."""
    if count == 0:
        return []
    random = np.random.default_rng(SEED)
    factors = FARTHEST_FACTOR ** random.uniform(-1.0, 1.0, (count, start.size))
    return [p for p in start * factors if np.isfinite(_sum_of_squares(residuals, p))]


def _sum_of_squares(residuals: Rows, values: Array) -> float:
    rows = residuals(values)
    total = float(rows @ rows)
    return total if np.isfinite(total) else np.inf


def _from_one_start(
    residuals: Rows, jacobian: Rows, start: Array, tolerance: float, evaluations: int
) -> Array:
    """Gauss–Newton where it reaches the minimum; else Marquardt, else a trust region.

    From a start near the minimum, as data sheets give it, the plain steps are the quickest, and the
    library of the other two need not be loaded.
    """
    best = _descended(residuals, jacobian, start)
    if _stationary(residuals, jacobian, best):
        return best
    best = _search(residuals, jacobian, start, "lm", tolerance, evaluations)
    best = _polished(residuals, jacobian, best)
    if _stationary(residuals, jacobian, best):
        return best
    for again in (start, best):
        end = _search(residuals, jacobian, again, "trf", tolerance, evaluations)
        end = _polished(residuals, jacobian, end)
        if _sum_of_squares(residuals, end) < _sum_of_squares(residuals, best):
            best = end
    return best


def _search(
    residuals: Rows,
    jacobian: Rows,
    start: Array,
    method: Literal["lm", "trf"],
    tolerance: float,
    evaluations: int,
) -> Array:
    """The end of one search by scipy; never worse than its start."""
    from scipy.optimize import least_squares

    def rows(values: Array) -> Array:
        found = residuals(values)
        return np.where(np.isfinite(found), found, REJECTED)

    def slopes(values: Array) -> Array:
        return np.nan_to_num(jacobian(values), posinf=0.0, neginf=0.0)

    try:
        found = least_squares(
            rows, start, jac=slopes, method=method, x_scale="jac",
            xtol=tolerance, ftol=tolerance, gtol=1e-15, max_nfev=evaluations,
        )  # fmt: skip
    except (np.linalg.LinAlgError, ValueError):  # the search ran into numbers beyond all bounds
        return start
    values = np.asarray(found.x, float)
    better = _sum_of_squares(residuals, values) <= _sum_of_squares(residuals, start)
    return values if better else start


def _descended(residuals: Rows, jacobian: Rows, values: Array) -> Array:
    """Gauss–Newton steps while they shrink; near the minimum its sum of squares tells no more."""
    least, size = _sum_of_squares(residuals, values), np.inf
    for _ in range(DESCENT_STEPS):
        step = _next_step(residuals, jacobian, values)
        if step is None:
            return values
        there, now = _sum_of_squares(residuals, values + step), _largest_share(step, values)
        if not (there <= least * (1 + RISE_BY_ROUNDING) and now < size):
            return values
        values, least, size = values + step, there, now
    return values


def _polished(residuals: Rows, jacobian: Rows, values: Array) -> Array:
    """Gauss–Newton steps for the last digits, taken only while the sum of squares does not rise."""
    least = _sum_of_squares(residuals, values)
    for _ in range(POLISH_STEPS):
        step = _next_step(residuals, jacobian, values)
        if step is None:
            return values
        there = _sum_of_squares(residuals, values + step)
        if not there <= least:
            return values
        values, least = values + step, there
    return values


def _next_step(residuals: Rows, jacobian: Rows, values: Array) -> Array | None:
    """The Gauss–Newton step by the scaled Jacobian, or None where it has no full rank."""
    slopes = jacobian(values)
    lengths = np.linalg.norm(slopes, axis=0)
    if not np.all(np.isfinite(slopes)) or np.any(lengths == 0):
        return None
    step, _, rank, _ = np.linalg.lstsq(slopes / lengths, -residuals(values), rcond=RANK_LIMIT)
    return np.asarray(step / lengths) if rank == values.size else None


def _largest_share(step: Array, values: Array) -> float:
    return float(np.max(np.abs(step) / np.maximum(np.abs(values), np.finfo(float).tiny)))


def _offset_and_step(residuals: Rows, jacobian: Rows, values: Array) -> tuple[float, float]:
    """Relative offset, and the largest relative change of a parameter by the next step."""
    step = _next_step(residuals, jacobian, values)
    if step is None:
        return np.inf, np.inf
    rows = residuals(values)
    freedom = rows.size - values.size
    tangent = float(np.linalg.norm(jacobian(values) @ step))
    change = _largest_share(step, values)
    if freedom == 0 or tangent == 0.0:
        return 0.0 if tangent == 0.0 else np.inf, change
    spread = float(np.linalg.norm(rows)) / np.sqrt(freedom)
    return (tangent / np.sqrt(values.size)) / spread, change


def _stationary(residuals: Rows, jacobian: Rows, values: Array) -> bool:
    offset, change = _offset_and_step(residuals, jacobian, values)
    return offset < OFFSET_LIMIT or change < STEP_LIMIT


def _report(residuals: Rows, jacobian: Rows, values: Array, starts: int, agreeing: int) -> Minimum:
    rows = residuals(values)
    slopes = jacobian(values)
    offset, change = _offset_and_step(residuals, jacobian, values)
    covariance = inverse_information(slopes)
    rounding = _rounding_share(rows, slopes, values)
    determined = bool(np.all(np.isfinite(covariance)))
    converged = determined and (offset < OFFSET_LIMIT or change < STEP_LIMIT)
    if not determined:
        reason = "the data do not determine every parameter: the Jacobian has no full rank"
    elif converged:
        reason = f"stationary: relative offset {offset:.1e}, next step {change:.1e} of a parameter"
    else:
        reason = f"stopped short: relative offset {offset:.1e}, next step {change:.1e}"
    if determined and rounding > ROUNDING_LIMIT:
        reason += "; the residuals are near rounding, which blurs the standard deviations"
    return Minimum(
        values=values,
        covariance=covariance,
        sum_of_squares=float(rows @ rows),
        degrees_of_freedom=rows.size - values.size,
        relative_offset=offset,
        rounding_share=rounding,
        converged=converged,
        reason=reason,
        starts=starts,
        starts_agreeing=agreeing,
    )


def _rounding_share(rows: Array, slopes: Array, values: Array) -> float:
    """Rounding of the model's value, as large as its parts, over the residuals; 1 where they vanish."""
    size = float(np.linalg.norm(rows))
    rounding = float(np.finfo(float).eps * np.linalg.norm(np.abs(slopes) @ np.abs(values)))
    return min(rounding / size, 1.0) if size > 0 else 1.0
