"""Measured values with their doubt: a thin layer over a GUM tree calculator.

An uncertain value remembers the inputs it came from: sharing one input object between two
results keeps their correlation. Values, uncertainties and half-widths are in the unit of the
caller (SI inside). Source of every rule, unless told otherwise: JCGM 100:2008 (the GUM). Floor 0.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import inf, sqrt
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError

Uncertain = Any  # an uncertain real number of the tree calculator; + - * / ** work on it
CONFIDENCE = 0.95  # [1] level of every interval unless told otherwise
NORMAL_95 = 1.959963984540054  # [1] two-sided 95 % of a normal distribution
LARGEST_FREEDOM = 1e6  # [1] beyond it Student's factor is the normal one to six digits


@dataclass(frozen=True)
class Component:
    """One line of a budget: what one input adds to the result, in the result's unit."""

    name: str
    standard_uncertainty: float
    degrees_of_freedom: float


# Measured values (GUM 4.2 type A, 4.3 type B)


def measured(
    value: float, standard_uncertainty: float, degrees_of_freedom: float = inf, label: str = ""
) -> Uncertain:
    """A value with a standard uncertainty (≥ 0) known to `degrees_of_freedom` (≥ 1 or inf)."""
    from GTC import constant, ureal

    if not standard_uncertainty >= 0:
        raise InputError(
            f"standard uncertainty {standard_uncertainty!r}", where=label, expected="zero or more"
        )
    if not degrees_of_freedom >= 1:
        raise InputError(
            f"{degrees_of_freedom!r} degrees of freedom", where=label, expected="1 or more"
        )
    if standard_uncertainty == 0:
        return constant(value, label=label)
    return ureal(value, standard_uncertainty, degrees_of_freedom, label=label)


def from_readings(readings: Sequence[float] | NDArray[np.float64], label: str = "") -> Uncertain:
    """Type A: mean of n ≥ 2 repeated readings, u = s/√n, n − 1 degrees of freedom (GUM 4.2.3)."""
    data = np.asarray(readings, float)
    if data.size < 2:
        raise InputError("a spread needs repeated readings", where=label, expected="2 or more")
    spread = float(data.std(ddof=1)) / sqrt(data.size)
    return measured(float(data.mean()), spread, data.size - 1, label)


def from_reading_sets(
    sets: Sequence[Sequence[float]], labels: Sequence[str]
) -> tuple[Uncertain, ...]:
    """Type A for quantities read together: means, spreads, correlations (GUM 5.2.3, H.2)."""
    from GTC import ta

    return tuple(ta.multi_estimate_real([list(s) for s in sets], labels=list(labels)))


def line_through(
    x: Sequence[float], y: Sequence[float], label: str = ""
) -> tuple[Uncertain, Uncertain]:
    """Intercept and slope (correlated) of the least-squares line through points (GUM H.3)."""
    from GTC import ta

    intercept, slope = ta.line_fit(list(x), list(y), label=label or None).a_b
    return intercept, slope


def rectangular(
    value: float, half_width: float, label: str = "", degrees_of_freedom: float = inf
) -> Uncertain:
    """Type B, anywhere within ±half_width with equal chance: u = half_width/√3 (GUM 4.3.7)."""
    return measured(value, half_width / sqrt(3), degrees_of_freedom, label)


def normal(
    value: float, expanded: float, label: str = "", coverage_probability: float = CONFIDENCE
) -> Uncertain:
    """Type B from a stated interval ±expanded of a normal distribution (GUM 4.3.4)."""
    return measured(value, expanded / coverage_factor(inf, coverage_probability), inf, label)


def one_sided(value: float, width: float, label: str = "") -> Uncertain:
    """Type B, truth between `value` and `value + width` (width of either sign): the middle,
    u = |width|/√12 (GUM 4.3.8 with the middle of the interval as estimate)."""
    return measured(value + width / 2, abs(width) / sqrt(12), inf, label)


# What a result says


def value_of(x: Uncertain) -> float:
    """Best estimate."""
    from GTC import value

    return float(value(x))


def standard_uncertainty(x: Uncertain) -> float:
    """Combined standard uncertainty, correlations included (GUM 5.1.2, 5.2.2)."""
    from GTC import uncertainty

    return float(uncertainty(x))


def degrees_of_freedom(x: Uncertain) -> float:
    """Effective degrees of freedom by Welch–Satterthwaite (GUM G.4.1); inf for a constant."""
    from GTC import dof

    return float(dof(x)) if standard_uncertainty(x) > 0 else inf


def expanded_uncertainty(x: Uncertain, coverage_probability: float = CONFIDENCE) -> float:
    """U = t_p(ν_eff)·u with the exact, untruncated ν_eff (GUM G.6.4)."""
    return coverage_factor(degrees_of_freedom(x), coverage_probability) * standard_uncertainty(x)


def components(x: Uncertain, inputs: Sequence[Uncertain]) -> tuple[Component, ...]:
    """What each input adds to `x` (sensitivity times uncertainty, no sign), in the given order."""
    from GTC import component, dof, label

    return tuple(
        Component(str(label(i) or ""), abs(float(component(x, i))), float(dof(i)))
        for i in inputs
        if standard_uncertainty(i) > 0
    )


def correlation(x: Uncertain, y: Uncertain) -> float:
    """Correlation coefficient of two results, −1…1 (GUM 5.2.2)."""
    from GTC import get_correlation

    return float(get_correlation(x, y))


def multiplicative_interval(
    x: Uncertain, coverage_probability: float = CONFIDENCE
) -> tuple[float, float]:
    """Interval of a positive quantity from its logarithm: value·exp(∓U(ln x)).

    For results whose doubt is relative (a current far above its limits). InputError when x ≤ 0.
    """
    from GTC import log

    centre = value_of(x)
    if centre <= 0:
        raise InputError(f"the logarithm of {centre!r} does not exist", expected="a positive value")
    half = expanded_uncertainty(log(x), coverage_probability)
    return centre * float(np.exp(-half)), centre * float(np.exp(half))


# Quantiles


def coverage_factor(degrees_of_freedom: float, coverage_probability: float = CONFIDENCE) -> float:
    """Two-sided exact Student t: ±t holds `coverage_probability` (GUM Table G.2); ν ≥ 1 or inf."""
    return one_sided_factor(degrees_of_freedom, 0.5 + coverage_probability / 2)


def one_sided_factor(degrees_of_freedom: float, probability: float = CONFIDENCE) -> float:
    """Student t below which `probability` lies."""
    from scipy.special import ndtri, stdtrit

    if degrees_of_freedom == inf:
        return float(ndtri(probability))
    return float(stdtrit(degrees_of_freedom, probability))


def joined_freedom(*parts: tuple[float, float], coverage_probability: float = CONFIDENCE) -> float:
    """Degrees of freedom whose Student factor is the mean of the parts', weighted by variance.

    parts : (standard uncertainty, degrees of freedom ≥ 1 or inf) of independent inputs
    For a sum in which an input of very few degrees of freedom may dominate: Welch–Satterthwaite
    then covers too little. Equal to the parts' own where they agree. inf for no uncertainty at all.
    Source: W. G. Cochran, Biometrics 20 (1964) 191 (for the difference of two means).
    """
    from scipy.optimize import brentq

    variance = sum(size**2 for size, _ in parts)
    if variance == 0:
        return inf
    factor = sum(
        size**2 / variance * coverage_factor(freedom, coverage_probability)
        for size, freedom in parts
    )
    if factor <= coverage_factor(LARGEST_FREEDOM, coverage_probability):
        return inf

    def excess(logarithm: float) -> float:
        return coverage_factor(float(np.exp(logarithm)), coverage_probability) - factor

    return float(np.exp(brentq(excess, 0.0, np.log(LARGEST_FREEDOM), xtol=1e-12)))


def upper_bound(
    value: ArrayLike,
    standard_uncertainty: ArrayLike,
    degrees_of_freedom: float = inf,
    probability: float = CONFIDENCE,
) -> Any:
    """Upper bound of a quantity that cannot be negative: I + u·Φ⁻¹(p + (1 − p)·Φ(−I/u)).

    The distribution about `value` is cut at zero and scaled to one; written through the upper tail,
    1 − p − (1 − p)·Φ(−I/u) = (1 − p)·Φ(I/u), it stays exact far below zero. With finite degrees of
    freedom Student's t takes the place of Φ. Never negative. Same shape as the inputs.
    Source: Bayesian bound of a truncated normal (as in the limits of Currie-type detection).
    """
    from scipy.special import log_ndtr, ndtri_exp, stdtr, stdtrit

    u = np.asarray(standard_uncertainty, float)
    if np.any(~(u > 0)):
        raise InputError("an upper bound needs an uncertainty", expected="more than zero")
    ratio = np.asarray(value, float) / u
    if degrees_of_freedom == inf:
        quantile = -ndtri_exp(np.log1p(-probability) + log_ndtr(ratio))
    else:
        quantile = -stdtrit(
            degrees_of_freedom, (1 - probability) * stdtr(degrees_of_freedom, ratio)
        )
    bound = u * (ratio + quantile)
    return float(bound) if bound.ndim == 0 else bound


def tolerance_factor(count: int, content: float = 0.95, confidence: float = CONFIDENCE) -> float:
    """One-sided factor K: mean + K·s lies above `content` of a normal lot with `confidence`.

    K = t'(confidence; n − 1, z_content·√n)/√n, t' the noncentral t quantile; n ≥ 2.
    Source: exact solution as tabulated in ISO 16269-6.
    """
    from scipy.special import nctdtrit, ndtri

    if count < 2:
        raise InputError(f"a lot of {count} has no spread", expected="2 parts or more")
    shift = ndtri(content) * sqrt(count)
    return float(nctdtrit(count - 1, shift, confidence)) / sqrt(count)


# Beyond first order


def second_order_variance(
    model: Callable[..., float], values: Sequence[float], uncertainties: Sequence[float]
) -> NDArray[np.float64]:
    """Second-order terms of the variance for each pair of inputs (GUM 5.1.2 note, H.1.7).

    Element i, j is [½(∂²f/∂xi∂xj)² + ∂f/∂xi·∂³f/∂xi∂xj²]·u²(xi)·u²(xj), derivatives by central
    differences of one standard uncertainty (exact for models up to third degree in each pair); add
    their sum to u². Inputs independent and symmetric.
    """
    x, u = np.asarray(values, float), np.asarray(uncertainties, float)
    steps = np.diag(u)

    def f(*moves: NDArray[np.float64]) -> float:
        return float(model(*(x + sum(moves))))

    def second(i: int, j: int, at: NDArray[np.float64]) -> float:
        a, b = steps[i], steps[j]
        return (f(at, a, b) - f(at, a, -b) - f(at, -a, b) + f(at, -a, -b)) / 4

    still = np.zeros_like(x)
    size = range(len(x))
    terms = np.zeros((len(x), len(x)))
    for i in size:
        slope = (f(steps[i]) - f(-steps[i])) / 2
        for j in size:
            third = (second(i, j, steps[j]) - second(i, j, -steps[j])) / 2
            terms[i, j] = second(i, j, still) ** 2 / 2 + slope * third
    return terms


@dataclass(frozen=True)
class Input:
    """One input of `simulated`: distribution with standard deviation `standard_uncertainty`."""

    value: float
    standard_uncertainty: float
    shape: Literal["normal", "rectangular"] = "normal"

    def draw(self, draws: int, random: np.random.Generator) -> NDArray[np.float64]:
        """`draws` values of this input."""
        if self.shape == "normal":
            return random.normal(self.value, self.standard_uncertainty, draws)
        half = self.standard_uncertainty * sqrt(3)
        return random.uniform(self.value - half, self.value + half, draws)


def simulated(
    model: Callable[..., Any], inputs: Sequence[Input], draws: int = 100_000, seed: int = 1
) -> NDArray[np.float64]:
    """Sorted results of a model under random inputs (JCGM 101:2008, propagation of distributions).

    For what first order misses: a dominant rectangular input, a square at zero.
    """
    random = np.random.default_rng(seed)
    return np.sort(np.asarray(model(*(i.draw(draws, random) for i in inputs)), float))


def interval_of(
    results: NDArray[np.float64], coverage_probability: float = CONFIDENCE, shortest: bool = False
) -> tuple[float, float]:
    """Coverage interval of sorted results, symmetric in probability or shortest (JCGM 101, 7.7)."""
    count = len(results)
    held = round(coverage_probability * count)
    starts = np.arange(count - held)
    at = (
        int(np.argmin(results[starts + held] - results[starts]))
        if shortest
        else (count - held) // 2
    )
    return float(results[at]), float(results[at + held])


__all__ = [
    "CONFIDENCE",
    "NORMAL_95",
    "Component",
    "Input",
    "Uncertain",
    "components",
    "correlation",
    "coverage_factor",
    "degrees_of_freedom",
    "expanded_uncertainty",
    "from_reading_sets",
    "from_readings",
    "interval_of",
    "joined_freedom",
    "line_through",
    "measured",
    "multiplicative_interval",
    "normal",
    "one_sided",
    "one_sided_factor",
    "rectangular",
    "second_order_variance",
    "simulated",
    "standard_uncertainty",
    "tolerance_factor",
    "upper_bound",
    "value_of",
]
