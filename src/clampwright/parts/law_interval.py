"""What a fitted law says at a voltage, a temperature and a light: median and interval, and bounds.

Also the laws displaced along the principal axes of the covariance, so that a circuit can carry the
uncertainty of a law by being solved again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from clampwright.errors import InputError
from clampwright.parts.evidence import MaximumFigure
from clampwright.parts.law_fit import FittedLaw
from clampwright.parts.law_model import (
    LawPrior,
    law_with,
    leakage_and_gradient,
    reverse_leakage,
)
from clampwright.parts.lots import LotSpread, tolerance_factor
from clampwright.physics.clamp import ClampLaw
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE

FAR_EXTRAPOLATION = 20.0  # [K] beyond the evidence the mechanism itself may change
ENERGY_DOUBT = 0.1  # [eV] how far the activation energy may then be off; common practice, no source


class Interval(NamedTuple):
    """A leakage (A) with its interval; positive in the reverse direction."""

    median: float
    low: float
    high: float


def leakage_interval(
    fitted: FittedLaw,
    voltage: float,
    temperature: float,
    illuminance: float = 0.0,
    coverage: float = 0.95,
    lot: LotSpread | None = None,
) -> Interval:
    """Leakage at reverse `voltage` (V), K and lx with its two-sided interval.

    First order in ln of the leakage; linear where the sign of the leakage is in doubt (forward and
    lit, or within its own uncertainty of zero only through light). More than 20 K beyond the
    evidence the width grows by the ratio that 0.1 eV of activation energy makes. With `lot` the
    ends are 95/95 tolerance limits of the lot. Where only a maximum is stated, the upper end is
    that maximum (moved by `maximum_bound`), because the class alone proves nothing.
    """
    factor = _coverage_factor(coverage)
    value, gradient = leakage_and_gradient(
        fitted.law, fitted.names, fitted.values, [voltage], temperature, illuminance
    )
    median = float(value[0]) + 0.0  # no negative zero
    deviation = float(np.sqrt(gradient[0] @ fitted.covariance @ gradient[0]))
    if median == 0.0 or (voltage < 0 and illuminance > 0):
        return Interval(median, median - factor * deviation, median + factor * deviation)
    width = factor * deviation / abs(median) + energy_doubt(fitted, temperature)
    if lot is not None:
        width = float(np.hypot(width, tolerance_factor(lot.count) * lot.log_standard_deviation))
    ends = sorted((median * np.exp(-width), median * np.exp(width)))
    interval = Interval(median, float(ends[0]), float(ends[1]))
    return _bounded(fitted, interval, voltage, temperature, illuminance)


def energy_doubt(fitted: FittedLaw, temperature: float) -> float:
    """|ln ratio| that ±0.1 eV makes between the edge of the evidence and `temperature` (K)."""
    if fitted.temperature_range is None:
        return 0.0
    low, high = fitted.temperature_range
    edge = min(max(temperature, low), high)
    if abs(temperature - edge) <= FAR_EXTRAPOLATION:
        return 0.0
    return ENERGY_DOUBT / BOLTZMANN_PER_CHARGE * abs(1 / temperature - 1 / edge)


def maximum_bound(
    figure: MaximumFigure, prior: LawPrior, voltage: float, temperature: float
) -> float:
    """The upper bound (A) a data-sheet maximum sets at another reverse voltage and temperature.

    Never an estimate. At the voltage and temperature of the figure or below both, the figure
    itself bounds (leakage grows with both); above, it is moved with the class's activation energy
    and exponent, each two standard deviations on the unfavourable side.
    """
    if voltage <= figure.reverse_voltage and temperature <= figure.temperature:
        return figure.leakage
    deviation = np.sqrt(np.diag(prior.covariance))
    theta = prior.values
    for index, name in enumerate(prior.names):
        if name.endswith("activation_energy") or name == "grading":
            theta[index] += 2 * deviation[index]
    law = law_with(prior.law, prior.names, theta)
    at = max(voltage, figure.reverse_voltage), max(temperature, figure.temperature)
    ratio = reverse_leakage(law, *at) / reverse_leakage(
        law, figure.reverse_voltage, figure.temperature
    )
    return float(figure.leakage * ratio)


def lowest_bound(
    maxima: Sequence[MaximumFigure],
    prior: LawPrior,
    voltage: float,
    temperature: float,
    illuminance: float = 0.0,
) -> float | None:
    """The lowest bound of several maxima, or None without one.

    A figure says nothing in more light than it is stated for; without a stated light it is for the
    dark and the class's photocurrent, two standard deviations up, is added.
    """
    bounds = [
        maximum_bound(figure, prior, voltage, temperature)
        + _light_bound(prior, max(illuminance - figure.illuminance, 0.0))
        for figure in maxima
    ]
    return min(bounds) if bounds else None


def perturbed(fitted: FittedLaw, index: int, step: float) -> ClampLaw:
    """The law with parameter `index` of θ moved by `step` standard deviations, others held."""
    if not 0 <= index < len(fitted.names):
        raise InputError(
            f"a fitted law has no parameter {index}", expected=f"0 to {len(fitted.names) - 1}"
        )
    theta = fitted.values.copy()
    theta[index] += step * np.sqrt(fitted.covariance[index, index])
    return law_with(fitted.law, fitted.names, theta)


def principal_directions(fitted: FittedLaw) -> list[ClampLaw]:
    """Laws one standard deviation along each principal axis of the covariance, widest first.

    To first order the variance of any result is the sum of the squares of its changes.
    """
    variances, axes = np.linalg.eigh(fitted.covariance)
    return [
        law_with(
            fitted.law, fitted.names, fitted.values + np.sqrt(max(variances[i], 0.0)) * axes[:, i]
        )
        for i in np.argsort(variances)[::-1]
    ]


def _coverage_factor(coverage: float) -> float:
    if not 0 < coverage < 1:
        raise InputError(f"a coverage of {coverage:g} is impossible", expected="between 0 and 1")
    from scipy.special import ndtri

    return float(ndtri((1 + coverage) / 2))


def _light_bound(prior: LawPrior, illuminance: float) -> float:
    if "responsivity" not in prior.names or illuminance == 0:
        return 0.0
    index = prior.names.index("responsivity")
    upper = prior.values[index] + 2 * np.sqrt(prior.covariance[index, index])
    return float(np.exp(upper) * illuminance)


def _bounded(
    fitted: FittedLaw, interval: Interval, voltage: float, temperature: float, illuminance: float
) -> Interval:
    """The interval with the maximum as its upper end, where a maximum is all there is."""
    if fitted.basis != "maximum" or voltage <= 0:
        return interval
    bound = lowest_bound(fitted.maxima, fitted.prior, voltage, temperature, illuminance)
    if bound is None:
        return interval
    return Interval(min(interval.median, bound), min(interval.low, bound), bound)
