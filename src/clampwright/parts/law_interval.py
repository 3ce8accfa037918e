"""What a fitted law says at a voltage, a temperature and a light: median and interval, and bounds.

Also the laws displaced along the principal axes of the covariance, so that a circuit can carry the
uncertainty of a law by being solved again.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

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

Array = NDArray[np.float64]
FAR_EXTRAPOLATION = 20.0  # [K] beyond the evidence the mechanism itself may change
MOST_LAWS = 64  # whose directions are kept
MOST_PLACES = 512  # sets of places whose leakage is kept
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

    First order in ln of the leakage. Forward and lit the sign is in doubt: there the dark current and
    the photocurrent have an interval each, and their halves add in root-sum-square, so that the width
    goes on smoothly at 0 V. More than 20 K beyond the
    evidence the width grows by the ratio that 0.1 eV of activation energy makes. With `lot` the
    ends are 95/95 tolerance limits of the lot. Where only a maximum is stated, the upper end is
    that maximum (moved by `maximum_bound`), because the class alone proves nothing.
    """
    found = leakage_intervals(fitted, [voltage], temperature, illuminance, coverage, lot)
    return Interval(*(float(side[0]) for side in found))


def leakage_intervals(
    fitted: FittedLaw,
    voltages: Sequence[float] | Array,
    temperature: float | Sequence[float] | Array,
    illuminance: float = 0.0,
    coverage: float = 0.95,
    lot: LotSpread | None = None,
) -> tuple[Array, Array, Array]:
    """Median, low and high (A) of `leakage_interval` at many reverse voltages (V) or temperatures (K)."""
    factor = _coverage_factor(coverage)
    volts, heat = np.broadcast_arrays(np.asarray(voltages, float), np.asarray(temperature, float))
    if illuminance == 0.0:
        median, gradient = leakages_at(
            fitted, tuple(zip(volts.tolist(), heat.tolist(), strict=True))
        )
    else:
        median, gradient = leakage_and_gradient(
            fitted.law, fitted.names, fitted.values, volts, heat, illuminance
        )
    median = median + 0.0  # no negative zero

    def ends(current: Array, slope: Array) -> tuple[Array, Array]:
        reach = factor * np.sqrt(np.einsum("ni,ij,nj->n", slope, fitted.covariance, slope))
        none = current == 0.0
        width = reach / np.where(none, 1.0, abs(current)) + energy_doubt(fitted, heat)
        width = np.where(none, 0.0, width)  # such an end is `reach`; 0 · ∞ would be no number
        if lot is not None:
            width = np.hypot(width, tolerance_factor(lot.count) * lot.log_standard_deviation)
        # A current that is next to nothing beside its doubt, or a law that is hardly known: no largest
        # float bounds it, the outer end is infinite and told as not bounded.
        with np.errstate(over="ignore"):
            some = np.sort(np.stack([current * np.exp(-width), current * np.exp(width)]), axis=0)
        return np.where(none, -reach, some[0]), np.where(none, reach, some[1])

    low, high = ends(median, gradient)
    lit = (volts < 0) & (illuminance > 0)
    if lit.any():
        dark, own = leakage_and_gradient(fitted.law, fitted.names, fitted.values, volts, heat, 0.0)
        photo = median - dark
        parts = ends(dark, own), ends(photo, gradient - own)
        down = np.hypot(dark - parts[0][0], photo - parts[1][0])
        up = np.hypot(parts[0][1] - dark, parts[1][1] - photo)
        low, high = np.where(lit, median - down, low), np.where(lit, median + up, high)
    plain = (median == 0.0) | lit
    if fitted.basis == "maximum":
        for n in np.flatnonzero(~plain):
            inside = Interval(float(median[n]), float(low[n]), float(high[n]))
            median[n], low[n], high[n] = _bounded(
                fitted, inside, float(volts[n]), float(heat[n]), illuminance
            )
    return median, low, high


@lru_cache(maxsize=MOST_PLACES)
def leakages_at(fitted: FittedLaw, places: tuple[tuple[float, float], ...]) -> tuple[Array, Array]:
    """Dark leakage (A, (n,)) and its gradient to θ (n, p) at n places: reverse voltage (V) and K.

    Kept while a slider asks for the same places again, so the arrays are read-only.
    """
    volts, heat = np.array(places, float).T
    found = leakage_and_gradient(fitted.law, fitted.names, fitted.values, volts, heat, 0.0)
    for array in found:
        array.setflags(write=False)
    return found


def energy_doubt(fitted: FittedLaw, temperature: ArrayLike) -> Array:
    """|ln ratio| that ±0.1 eV makes between the edge of the evidence and each `temperature` (K)."""
    heat = np.asarray(temperature, float)
    if fitted.temperature_range is None:
        return np.zeros_like(heat)
    edge = np.clip(heat, *fitted.temperature_range)
    doubt = ENERGY_DOUBT / BOLTZMANN_PER_CHARGE * np.abs(1 / heat - 1 / edge)
    return np.where(np.abs(heat - edge) <= FAR_EXTRAPOLATION, 0.0, doubt)


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


@lru_cache(maxsize=MOST_LAWS)
def principal_directions(fitted: FittedLaw) -> tuple[ClampLaw, ...]:
    """Laws one standard deviation along each principal axis of the covariance, widest first.

    To first order the variance of any result is the sum of the squares of its changes.
    """
    variances, axes = np.linalg.eigh(fitted.covariance)
    return tuple(
        law_with(
            fitted.law, fitted.names, fitted.values + np.sqrt(max(variances[i], 0.0)) * axes[:, i]
        )
        for i in np.argsort(variances)[::-1]
    )


def _coverage_factor(coverage: float) -> float:
    if not 0 < coverage < 1:
        raise InputError(f"a coverage of {coverage:g} is impossible", expected="between 0 and 1")
    from clampwright.uncertain.special import ndtri

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
