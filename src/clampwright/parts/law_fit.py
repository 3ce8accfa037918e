"""From sparse evidence to a clamp law: maximum a posteriori with the class as the prior.

The prior is Gaussian in the logarithm of currents and linear in exponents and energies. Residuals
stay in linear current, so undetected and negative readings count honestly. Few readings count by
their Student factor: each point enters as the normal distribution of the same 95 % interval. What
points share (adapter scale within a session, part temperature within a session and temperature, lux
meter) goes into one covariance matrix, taken from the model and re-linearised until the solution
stands still.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

import numpy as np

from clampwright.errors import InputError
from clampwright.parts.evidence import (
    EvidencePoint,
    MaximumFigure,
    TypicalFigure,
    own_covariance,
)
from clampwright.parts.law_model import (
    Array,
    LawPrior,
    law_with,
    leakage_and_gradient,
    magnitude_deviation,
    reverse_leakage,
)
from clampwright.parts.least_squares import Minimum, inverse_information, minimise
from clampwright.physics.clamp import ClampLaw

__all__ = [
    "Basis",
    "FittedLaw",
    "LawPrior",
    "Residual",
    "fit_law",
    "noise_covariance",
    "reverse_leakage",
]

Basis = Literal["measured", "typical", "maximum", "assumed"]

FORWARD_LIMIT = 0.15  # [V] beyond it the diffusion term, which is not fitted, begins to count
KNOWN_SHARE = 0.5  # a parameter is known when the evidence halves its prior standard deviation
SAME_SOAK = 1.0  # [K] temperatures nearer than this share their error within a session
OUTER_LIMIT = 25
FULL_STEPS = 5  # rounds before the covariance follows by half steps
SETTLED = 1e-5  # [1] in every parameter
LACK_OF_FIT_LEVEL = 0.01


@dataclass(frozen=True)
class Residual:
    """One row of the residual table."""

    source: str
    measured: float  # [A]
    predicted: float  # [A]
    standard_uncertainty: float  # [A] all causes
    normalised: float


@dataclass(frozen=True, eq=False)
class FittedLaw:
    """A clamp law with the covariance of its fitted parameters and what each rests on.

    Equal only to itself, so that what follows from it can be kept.
    """

    law: ClampLaw
    names: tuple[str, ...]
    values: Array
    covariance: Array
    prior: LawPrior
    basis: Basis
    chi_square: float
    lack_of_fit: float | None  # p-value; None without readings
    residuals: tuple[Residual, ...]
    temperature_range: tuple[float, float] | None  # [K] of the evidence
    maxima: tuple[MaximumFigure, ...] = ()
    flags: tuple[str, ...] = ()
    known: tuple[str, ...] = field(default=())
    assumed: tuple[str, ...] = field(default=())


def fit_law(
    prior: LawPrior,
    points: Sequence[EvidencePoint] = (),
    typical: Sequence[TypicalFigure] = (),
    maxima: Sequence[MaximumFigure] = (),
) -> FittedLaw:
    """The most probable law given class, readings and typical figures.

    Raises InputError for a point without a usable uncertainty or condition.
    Source of the method: Gauss–Newton on the posterior, JCGM 102 clause on implicit multivariate
    models for the covariance (value from memory: check the current edition).
    """
    for point in points:
        _check(point)
    used = tuple(p for p in points if p.reverse_voltage >= -FORWARD_LIMIT)
    problem = _Problem(prior, used, tuple(typical))
    theta, noise, settled = _solve(problem)
    covariance = _posterior_covariance(problem, theta, noise)
    chi_square, p_value, rows = _judge(problem, theta, noise)
    temperatures = [p.temperature for p in used] + [f.temperature for f in typical]
    fitted = FittedLaw(
        law=_with_range(law_with(prior.law, prior.names, theta), used),
        names=prior.names,
        values=theta,
        covariance=covariance,
        prior=prior,
        basis=_basis(problem, theta, covariance, bool(maxima)),
        chi_square=chi_square,
        lack_of_fit=p_value,
        residuals=rows,
        temperature_range=(min(temperatures), max(temperatures)) if temperatures else None,
        maxima=tuple(maxima),
        flags=_flags(points, used, p_value, settled),
    )
    from clampwright.parts.law_words import known_and_assumed

    known, assumed = known_and_assumed(fitted)
    return replace(fitted, known=known, assumed=assumed)


def _with_range(law: ClampLaw, points: tuple[EvidencePoint, ...]) -> ClampLaw:
    """The law with the range its readings cover; without readings it claims none."""
    if not points:
        return law
    return replace(
        law,
        valid_temperature_minimum=min(p.temperature for p in points),
        valid_temperature_maximum=max(p.temperature for p in points),
        valid_reverse_voltage_maximum=max(p.reverse_voltage for p in points),
        valid_illuminance_maximum=max(p.illuminance for p in points),
    )


@dataclass(frozen=True)
class _Problem:
    """What is fitted to what, with the conditions of the rows and the whitened prior."""

    prior: LawPrior
    points: tuple[EvidencePoint, ...]
    typical: tuple[TypicalFigure, ...]

    @cached_property
    def conditions(self) -> tuple[Array, Array, Array]:
        return _conditions(self.points)

    @cached_property
    def typical_conditions(self) -> tuple[Array, Array, Array]:
        return _conditions(self.typical)

    @cached_property
    def prior_whitening(self) -> Array:
        return np.asarray(np.linalg.inv(np.linalg.cholesky(self.prior.covariance)))

    def rows(self, theta: Array, noise: Array) -> tuple[Array, Array]:
        """Whitened residuals and Jacobian: prior, readings, typical figures (in ln)."""
        prior = self.prior
        residuals: list[Array] = [self.prior_whitening @ (theta - prior.values)]
        jacobians = [self.prior_whitening]
        if self.points:
            value, slope = leakage_and_gradient(prior.law, prior.names, theta, *self.conditions)
            whitening = np.asarray(np.linalg.inv(noise), float)
            residuals.append(whitening @ (value - [p.leakage for p in self.points]))
            jacobians.append(whitening @ slope)

        if self.typical:
            value, slope = leakage_and_gradient(
                prior.law, prior.names, theta, *self.typical_conditions
            )
            width = np.array([f.log_standard_deviation for f in self.typical])
            residuals.append((np.log(value) - np.log([f.leakage for f in self.typical])) / width)
            jacobians.append(slope / (value * width)[:, None])
        return np.concatenate(residuals), np.concatenate(jacobians)


def _check(point: EvidencePoint) -> None:
    numbers = (point.reverse_voltage, point.temperature, point.illuminance, point.leakage)
    if not np.all(np.isfinite(numbers)) or point.temperature <= 0 or point.illuminance < 0:
        raise InputError(
            "an evidence point lacks a usable voltage, temperature, illuminance or leakage",
            where=point.source,
            expected="finite numbers, kelvin above 0, lux of 0 or more",
        )
    if not (np.isfinite(point.standard_uncertainty) and point.standard_uncertainty > 0):
        raise InputError(
            "an evidence point has no standard uncertainty",
            where=point.source,
            expected="a standard uncertainty above 0 A",
            mend="repeat the reading and its zero, and give n and s",
        )


def _conditions(
    points: Sequence[EvidencePoint] | Sequence[TypicalFigure],
) -> tuple[Array, Array, Array]:
    rows = [(p.reverse_voltage, p.temperature, p.illuminance) for p in points]
    table = np.array(rows, float).reshape(len(rows), 3)
    return table[:, 0], table[:, 1], table[:, 2]


def noise_covariance(law: ClampLaw, points: Sequence[EvidencePoint]) -> Array:
    """Covariance (A²) of the readings about `law`: own noise, zeros, scale, temperature and lux.

    Own noise as normal equivalent of its degrees of freedom, so that every interval made of it is
    that of a Student factor where one reading decides (Cochran, Biometrics 20 (1964) 191).
    """
    v, t, e = _conditions(points)
    value = reverse_leakage(law, v, t, e)
    kelvin = (reverse_leakage(law, v, t + 0.05, e) - reverse_leakage(law, v, t - 0.05, e)) / 0.1
    covariance: Array = own_covariance(points)
    light = value - reverse_leakage(law, v, t, 0.0)
    shared = (
        (value * [p.scale_uncertainty for p in points], [p.session for p in points]),
        (
            kelvin * [p.temperature_uncertainty for p in points],
            _thermal_groups(points),
        ),
        (light * [p.illuminance_uncertainty for p in points], [p.session for p in points]),
    )
    for effect, groups in shared:
        same = np.array([[a == b for b in groups] for a in groups])
        covariance = covariance + np.outer(effect, effect) * same
    return covariance


def _thermal_groups(points: Sequence[EvidencePoint]) -> list[tuple[str, int]]:
    """Session and number of the soak: temperatures closer than 1 K were one setting."""
    levels = sorted({p.temperature for p in points})
    soak = dict.fromkeys(levels[:1], 0)
    for lower, upper in pairwise(levels):
        soak[upper] = soak[lower] + (upper - lower > SAME_SOAK)
    return [(p.session, soak[p.temperature]) for p in points]


def _solve(problem: _Problem) -> tuple[Array, Array, bool]:
    """θ at the posterior maximum, the factor of its noise covariance, whether it settled.

    The covariance is taken at a point that follows θ, after some rounds by half steps only:
    readings that contradict each other would else make it swing for ever.
    """
    prior, points = problem.prior, problem.points
    theta, noise = _start(prior, points), np.zeros((0, 0))
    if not points and not problem.typical:
        return prior.values, noise, True
    anchor = theta
    for round_number in range(OUTER_LIMIT):
        if points:
            noise = _noise_factor(problem, anchor)

        found = _minimum(problem, theta, noise)
        theta = found.values
        if float(np.max(np.abs(theta - anchor))) < SETTLED:
            return theta, noise, found.converged
        anchor = theta if round_number < FULL_STEPS else (anchor + theta) / 2
    return theta, noise, False


def _minimum(problem: _Problem, start: Array, noise: Array) -> Minimum:
    """The least sum of squares with the noise held; rows and slopes come from one evaluation."""
    last: list[tuple[Array, tuple[Array, Array]]] = []

    def both(theta: Array) -> tuple[Array, Array]:
        if not last or not np.array_equal(last[0][0], theta):
            last[:] = [(theta.copy(), problem.rows(theta, noise))]
        return last[0][1]

    return minimise(
        lambda theta: both(theta)[0],
        lambda theta: both(theta)[1],
        start,
        tolerance=1e-10,
        evaluations=200,
    )


def _noise_factor(problem: _Problem, theta: Array) -> Array:
    """Lower triangular factor of the noise covariance with the model at θ."""
    law = law_with(problem.prior.law, problem.prior.names, theta)
    return np.asarray(np.linalg.cholesky(noise_covariance(law, problem.points)))


def _start(prior: LawPrior, points: tuple[EvidencePoint, ...]) -> Array:
    """The prior, its magnitude moved to the median of the clearly detected dark readings."""
    theta = prior.values
    dark = [
        p
        for p in points
        if p.leakage > 3 * p.normal_equivalent and p.reverse_voltage > 0 and p.illuminance == 0
    ]
    if dark:
        ratio = np.array([p.leakage for p in dark]) / reverse_leakage(prior.law, *_conditions(dark))
        theta[0] += float(np.median(np.log(ratio)))
    return theta


def _posterior_covariance(problem: _Problem, theta: Array, noise: Array) -> Array:
    return inverse_information(problem.rows(theta, noise)[1])


def _judge(
    problem: _Problem, theta: Array, noise: Array
) -> tuple[float, float | None, tuple[Residual, ...]]:
    """Chi-square of all rows, its p-value (as many degrees of freedom as data) and the table."""
    rows, _ = problem.rows(theta, noise)
    chi_square = float(rows @ rows)
    if not problem.points:
        return chi_square, None, ()
    from clampwright.uncertain.special import gammaincc

    freedom = len(problem.points) + len(problem.typical)
    law = law_with(problem.prior.law, problem.prior.names, theta)
    predicted = reverse_leakage(law, *problem.conditions)
    width = np.sqrt(np.diag(noise @ noise.T))
    table = tuple(
        Residual(p.source, p.leakage, float(m), float(u), float((p.leakage - m) / u))
        for p, m, u in zip(problem.points, predicted, width, strict=True)
    )
    return chi_square, float(gammaincc(freedom / 2, chi_square / 2)), table


def _basis(problem: _Problem, theta: Array, covariance: Array, bounded: bool) -> Basis:
    """What the magnitude of the leakage rests on."""
    prior = problem.prior
    before = magnitude_deviation(prior, prior.values, prior.covariance)
    if problem.points and magnitude_deviation(prior, theta, covariance) < KNOWN_SHARE * before:
        return "measured"
    if problem.typical:
        return "typical"
    return "maximum" if bounded else "assumed"


def _flags(
    points: Sequence[EvidencePoint],
    used: Sequence[EvidencePoint],
    p_value: float | None,
    settled: bool,
) -> tuple[str, ...]:
    flags = []
    if not settled:
        flags.append("the readings contradict each other: the law found is one of several")
    if len(used) < len(points):
        flags.append(
            f"{len(points) - len(used)} readings beyond {FORWARD_LIMIT:g} V forward are not used: "
            "there the diffusion current counts, which this fit does not move"
        )
    hidden = [p for p in used if not p.detected]
    if used and len(hidden) == len(used):
        flags.append("no reading stands out of its uncertainty: they bound the leakage from above")
    elif hidden:
        flags.append(
            f"{len(hidden)} of {len(used)} readings are not detected and count with their width"
        )
    if p_value is not None and p_value < LACK_OF_FIT_LEVEL:
        flags.append(
            f"the law does not explain the readings (p = {p_value:.2g}): look for light, "
            "dirt, a swapped lead or a second conduction mechanism"
        )
    return tuple(flags)
