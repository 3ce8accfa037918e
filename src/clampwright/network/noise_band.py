"""Noise integrated over a band: brick wall or one pole, which a requirement must name.

Quadrature on logarithmic panels that reach well under and over every pole, so that a wide band loses
nothing (√(kT/C) comes out to ten digits) and a narrow one costs little.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError

Array = NDArray[np.float64]
Shape = Literal["brick wall", "one pole"]

PANELS_PER_DECADE = 2
POINTS_PER_PANEL = 8  # Gauss–Legendre
MARGIN = 1e-6  # the first panel starts this far under the slowest pole and under the edge
TAIL = 1e9  # one pole: the last panel ends this far over its edge; 1e-9 of the power is left


def noise_in_band(
    power: Callable[[Array], Array],
    edge: float,
    shape: Shape,
    *,
    start: float = 0.0,
    slowest: float = np.inf,
) -> Array:
    """Noise (V or A rms) in a band.

    power   : density (V²/Hz) at frequencies (Hz), (…, frequencies), as from `noise_power`
    edge    : Hz; brick wall: the upper edge; one pole: its −3 dB frequency, π/2 wider in noise
    start   : Hz, lower edge (brick wall in both shapes); above 0 with 1/f noise
    slowest : Hz, the lowest pole of the network, so that the panels reach below it
    Returns the root of the integral, one per case. Raises InputError for an empty band.
    """
    if not 0 <= start < edge:
        raise InputError(
            f"the band from {start:g} Hz to {edge:g} Hz is empty", expected="start below the edge"
        )
    frequency, weight = band_points(start, edge, shape, slowest)
    if shape == "one pole":
        weight = weight / (1.0 + (frequency / edge) ** 2)
    return np.sqrt(np.asarray(power(frequency)) @ weight)


def band_points(start: float, edge: float, shape: Shape, slowest: float) -> tuple[Array, Array]:
    """Frequencies (Hz) and weights (Hz) of the integral from `start` over the whole band."""
    top = edge if shape == "brick wall" else edge * TAIL
    low = start if start > 0 else MARGIN * min(edge, slowest)
    panels = max(1, int(np.ceil(PANELS_PER_DECADE * np.log10(top / low))))
    node, weight = _panel()
    ends = np.linspace(np.log(low), np.log(top), panels + 1)
    half = (ends[1:] - ends[:-1])[:, None] / 2
    frequency = np.exp((ends[1:] + ends[:-1])[:, None] / 2 + half * node).ravel()
    weights = (half * weight).ravel() * frequency
    if start > 0:
        return frequency, weights
    return np.concatenate([[low / 2], frequency]), np.concatenate([[low], weights])


@cache
def _panel() -> tuple[Array, Array]:
    """Points and weights of the quadrature in a panel from −1 to 1."""
    node, weight = np.polynomial.legendre.leggauss(POINTS_PER_PANEL)
    return node, weight
