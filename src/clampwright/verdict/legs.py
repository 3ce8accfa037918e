"""The two legs of a differential input at opposite ends of their tolerances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from clampwright.network.adjoint import missing
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.physics.clamp import ClampLaw
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.linear_case import LinearCase, linear_case

Array = NDArray[np.float64]


def two_legs(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    index: int,
    match: float = 0.0,
    outer: Array | None = None,
) -> LinearCase:
    """Both legs at one corner as cases: resistors and capacitors at opposite ends, clamps apart.

    match : by how much of their leakage the clamps of the two legs differ
    outer : Ω, (n,), in place of the design's own outer resistor; the first n cases are the one leg of
            each, the last n the other
    """
    network = design.network
    if outer is None:
        outer = np.array([network.outer_resistor.value * network.outer_resistor.count])
    apart = np.repeat([1.0, -1.0], outer.size)
    outer = np.tile(outer, 2)
    part = scaled(clamp, 1 + apart * match / 2) if clamp and match else clamp
    value = outer * (1 + apart * network.resistor_tolerance)
    own = 1 + apart * network.capacitor_tolerance
    return linear_case(
        design, topology, part, corners, index, value, differential=False, capacitor_factor=own
    )


def rejection(legs: LinearCase, frequency: float) -> float:
    """Common-mode rejection (dB) of two legs at a frequency (Hz); infinite for equal legs."""
    return float(rejections(legs, frequency)[0])


def rejections(legs: LinearCase, frequency: float) -> Array:
    """The same for each outer resistor, (n,).

    The difference of what each leg misses from a gain of one, so that 200 dB still has its digits.
    """
    first, second = np.split(missing(legs.network, ("source",), frequency)["pin"][:, 0], 2)
    difference = np.abs(first - second)
    gain = np.abs(1 - (first + second) / 2)
    with np.errstate(divide="ignore"):  # equal legs
        return np.asarray(20 * np.log10(gain / difference))


def scaled(clamp: Clamp, factor: Array) -> Clamp:
    """The clamp with every leakage, and so every slope, times a factor, one per case."""
    law: ClampLaw = clamp.fitted.law
    more = replace(
        law,
        diffusion_current=law.diffusion_current * factor,
        generation_current=law.generation_current * factor,
        film_conductance=law.film_conductance * factor,
    )
    return replace(clamp, fitted=replace(clamp.fitted, law=more))
