"""A clamp law seen as a vector of parameters with a Gaussian prior: what the fit moves.

Currents, ideality and responsivity count as logarithms, energies and exponents as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope

Array = NDArray[np.float64]

LOG_PARAMETERS = frozenset(
    {"generation_current", "generation_ideality", "responsivity", "film_conductance"}
)  # these law fields are fitted as logarithms, all others as they are
STEP = 1e-4  # central-difference step in ln or eV or exponent


@dataclass(frozen=True)
class LawPrior:
    """A law and the Gaussian spread of its fitted fields; `names` are fields of ClampLaw."""

    law: ClampLaw
    names: tuple[str, ...]
    covariance: Array  # of θ (logarithms where LOG_PARAMETERS says so)
    reference_voltage: float = 5.0  # [V] where the class states its leakage
    title: str = ""

    @property
    def values(self) -> Array:
        """θ of the prior law."""
        return parameters(self.law, self.names)


def parameters(law: ClampLaw, names: tuple[str, ...]) -> Array:
    """θ of a law: logarithms where LOG_PARAMETERS says so."""
    raw = [float(getattr(law, name)) for name in names]
    return np.array(
        [np.log(v) if n in LOG_PARAMETERS else v for n, v in zip(names, raw, strict=True)]
    )


def law_with(law: ClampLaw, names: tuple[str, ...], theta: Array) -> ClampLaw:
    """`law` with the fields `names` set from θ (its last axis); other axes make a batch of laws."""
    fields: dict[str, Any] = {
        n: (np.exp(theta[..., i]) if n in LOG_PARAMETERS else theta[..., i])
        for i, n in enumerate(names)
    }
    if theta.ndim == 1:
        fields = {n: float(v) for n, v in fields.items()}
    return replace(law, **fields)


def reverse_leakage(
    law: ClampLaw, reverse_voltage: Any, temperature: Any, illuminance: Any = 0.0
) -> Any:
    """Leakage (A), positive from cathode to anode, at reverse voltage (V), K and lx."""
    current, _ = current_and_slope(
        -np.asarray(reverse_voltage, float), at_conditions(law, temperature, illuminance)
    )
    return -current


def leakage_and_gradient(
    base: ClampLaw, names: tuple[str, ...], theta: Array, v: Any, t: Any, e: Any
) -> tuple[Array, Array]:
    """Leakage (n,) and its gradient (n, p) to θ by central differences, in one evaluation."""
    count = len(names)
    steps = STEP * np.eye(count)
    batch = theta + np.concatenate([np.zeros((1, count)), steps, -steps])
    value = reverse_leakage(law_with(base, names, batch[:, None, :]), v, t, e)
    return value[0], ((value[1 : count + 1] - value[count + 1 :]) / (2 * STEP)).T


def magnitude_deviation(prior: LawPrior, theta: Array, covariance: Array) -> float:
    """Standard deviation of ln leakage at the class's voltage, 25 °C, dark."""
    value, gradient = leakage_and_gradient(
        prior.law,
        prior.names,
        theta,
        [prior.reference_voltage],
        prior.law.reference_temperature,
        0.0,
    )
    slope = gradient[0] / value[0]
    return float(np.sqrt(slope @ covariance @ slope))
