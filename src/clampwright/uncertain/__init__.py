"""Measured values with their doubt: a thin layer over a GUM tree calculator.

An uncertain value remembers the inputs it came from: sharing one input object between two
results keeps their correlation. Values, uncertainties and half-widths are in the unit of the
caller (SI inside). Source of every rule, unless told otherwise: JCGM 100:2008 (the GUM). Floor 0.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log, sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from clampwright.errors import InputError

Uncertain = Any  # an uncertain real number of the tree calculator; + - * / ** work on it
CONFIDENCE = 0.95  # [1] level of every interval unless told otherwise
NORMAL_95 = 1.959963984540054  # [1] two-sided 95 % of a normal distribution
ONE_SIDED_95 = 1.6448536269514722  # [1] below which 95 % of a normal distribution lies
LARGEST_FREEDOM = 1e6  # [1] beyond it Student's factor is the normal one to six digits
HALVINGS = 44  # [1] of the logarithm of the degrees of freedom: to 1e-12 of their value


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
    from clampwright.uncertain.tree import constant, ureal

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


# What a result says


def value_of(x: Uncertain) -> float:
    """Best estimate."""
    from clampwright.uncertain.tree import value

    return float(value(x))


def standard_uncertainty(x: Uncertain) -> float:
    """Combined standard uncertainty, correlations included (GUM 5.1.2, 5.2.2)."""
    from clampwright.uncertain.tree import uncertainty

    return float(uncertainty(x))


def degrees_of_freedom(x: Uncertain) -> float:
    """Effective degrees of freedom by Welch–Satterthwaite (GUM G.4.1); inf for a constant."""
    from clampwright.uncertain.tree import dof

    return float(dof(x)) if standard_uncertainty(x) > 0 else inf


def components(x: Uncertain, inputs: Sequence[Uncertain]) -> tuple[Component, ...]:
    """What each input adds to `x` (sensitivity times uncertainty, no sign), in the given order."""
    from clampwright.uncertain.tree import component, dof, label

    return tuple(
        Component(str(label(i) or ""), abs(float(component(x, i))), float(dof(i)))
        for i in inputs
        if standard_uncertainty(i) > 0
    )


# Quantiles


def coverage_factor(degrees_of_freedom: float, coverage_probability: float = CONFIDENCE) -> float:
    """Two-sided exact Student t: ±t holds `coverage_probability` (GUM Table G.2); ν ≥ 1 or inf."""
    return one_sided_factor(degrees_of_freedom, 0.5 + coverage_probability / 2)


def one_sided_factor(degrees_of_freedom: float, probability: float = CONFIDENCE) -> float:
    """Student t below which `probability` lies."""
    from clampwright.uncertain.special import ndtri, stdtrit

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
    variance = sum(size**2 for size, _ in parts)
    if variance == 0:
        return inf
    factor = sum(
        size**2 / variance * coverage_factor(freedom, coverage_probability)
        for size, freedom in parts
    )
    if factor <= coverage_factor(LARGEST_FREEDOM, coverage_probability):
        return inf

    from clampwright.uncertain.special import stdtrit

    low, high, probability = 0.0, log(LARGEST_FREEDOM), 0.5 + coverage_probability / 2
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        enough = stdtrit(exp(middle), probability) < factor
        low, high = (low, middle) if enough else (middle, high)
    return exp(low)


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
    from clampwright.uncertain.special import log_ndtr, ndtri_exp, stdtr, stdtrit

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


__all__ = [
    "CONFIDENCE",
    "NORMAL_95",
    "ONE_SIDED_95",
    "Component",
    "Uncertain",
    "components",
    "coverage_factor",
    "degrees_of_freedom",
    "joined_freedom",
    "measured",
    "normal",
    "one_sided_factor",
    "rectangular",
    "standard_uncertainty",
    "upper_bound",
    "value_of",
]
