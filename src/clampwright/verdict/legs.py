"""The two legs of a differential input at opposite ends of their tolerances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from clampwright.network.adjoint import missing
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.physics.clamp import ClampLaw
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.linear_case import LinearCase, linear_case


def leg_cases(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    index: int,
    match: float = 0.0,
) -> tuple[LinearCase, LinearCase]:
    """Both legs at one corner: resistors and capacitors at opposite ends, clamps apart by `match`."""
    network = design.network
    outer = network.outer_resistor.value * network.outer_resistor.count
    legs = []
    for sign in (1.0, -1.0):
        r, c = 1 + sign * network.resistor_tolerance, 1 + sign * network.capacitor_tolerance
        leg = design.model_copy(
            update={
                "network": network.model_copy(
                    update={"node_capacitance": network.node_capacitance * c}
                ),
                "source": design.source.model_copy(
                    update={"cable_capacitance": design.source.cable_capacitance * c}
                ),
            }
        )
        part = scaled(clamp, 1 + sign * match / 2) if clamp else None
        value = np.array([outer * r])
        legs.append(linear_case(leg, topology, part, corners, index, value, differential=False))
    return legs[0], legs[1]


def rejection(legs: tuple[LinearCase, LinearCase], frequency: float) -> float:
    """Common-mode rejection (dB) of two legs at a frequency (Hz); infinite for equal legs.

    The difference of what each leg misses from a gain of one, so that 200 dB still has its digits.
    """
    lost = [complex(missing(leg.network, ("source",), frequency)["pin"][0, 0]) for leg in legs]
    difference = abs(lost[0] - lost[1])
    gain = abs(1 - sum(lost) / 2)
    return float(20 * np.log10(gain / difference)) if difference > 0 else float("inf")


def scaled(clamp: Clamp, factor: float) -> Clamp:
    """The clamp with every leakage, and so every slope, times a factor."""
    law: ClampLaw = clamp.fitted.law
    more = replace(
        law,
        diffusion_current=law.diffusion_current * factor,
        generation_current=law.generation_current * factor,
        film_conductance=law.film_conductance * factor,
    )
    return replace(clamp, fitted=replace(clamp.fitted, law=more))
