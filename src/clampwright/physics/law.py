"""The data of a clamp: parameters at a reference temperature, and the same at one condition.

Kept apart from the formulas so that every formula module can name them without a cycle.
Voltage is anode minus cathode, current flows into the anode; photocurrent flows the other way.
Every field may be a float or an array; arrays of one object broadcast together.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from math import inf
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampwright.physics.constants import REFERENCE_TEMPERATURE

Numbers = float | NDArray[np.float64]
LARGEST_EXPONENT = 600.0  # above, exponentials go on linearly: exp(600)·1e6 is still a double
LARGEST_MULTIPLICATION = 1e9  # a double still tells voltages apart there
TINY = 1e-300
FARTHEST_BREAKDOWN = 1e300  # [V] stands for "none"
LARGEST_GAP = 1 - 2.0**-52  # keeps the logarithm of V_R/V_BR finite at 0 V


@dataclass(frozen=True)
class ClampLaw:
    """Parameters of one clamp at `reference_temperature`, in the dark; zero means absent.

    A Schottky junction puts its thermionic current into `diffusion_*` (activation energy = barrier
    height, exponent 2) with `image_force_lowering`, and its guard ring into `generation_*`.
    """

    diffusion_current: Numbers = 0.0  # [A] saturation current
    diffusion_ideality: Numbers = 1.0
    diffusion_activation_energy: Numbers = 1.12  # [eV]
    diffusion_temperature_exponent: Numbers = 3.0
    generation_current: Numbers = 0.0  # [A] at zero depletion widening
    generation_ideality: Numbers = 2.0
    generation_activation_energy: Numbers = 0.62  # [eV]
    generation_temperature_exponent: Numbers = 0.0  # 0: the activation energy is the apparent one
    built_in_voltage: Numbers = 0.7  # [V]
    grading: Numbers = 0.5
    film_conductance: Numbers = 0.0  # [S] ohmic surface film, or 1/R of a varistor below its knee
    film_activation_energy: Numbers = 0.3  # [eV]
    responsivity: Numbers = 0.0  # [A/lx]
    series_resistance: Numbers = 0.0  # [ohm], not part of `current_and_slope`
    zero_bias_capacitance: Numbers = 0.0  # [F]
    reference_temperature: Numbers = REFERENCE_TEMPERATURE  # [K]
    image_force_lowering: Numbers = 0.0  # [V^(3/4)] barrier lowering per (V_R + V_bi)^(1/4)
    breakdown_voltage: Numbers = inf  # [V] avalanche; infinite: none
    breakdown_exponent: Numbers = 4.0  # n of 1/(1 - (V_R/V_BR)^n), 3…6
    breakdown_temperature_coefficient: Numbers = 0.0  # [1/K] of the breakdown voltage
    breakdown_resistance: Numbers = 1.0  # [ohm] slope resistance past any knee, see `clamp`
    tunnelling_current: Numbers = 0.0  # [A] at V_R = tunnelling_voltage (soft knee)
    tunnelling_voltage: Numbers = 5.0  # [V]
    tunnelling_width: Numbers = 0.3  # [V] per e-fold
    tunnelling_temperature_coefficient: Numbers = 0.0  # [1/K] of the tunnelling voltage
    symmetric_current: Numbers = (
        0.0  # [A] at |V| = symmetric_voltage (varistor, two-way suppressor)
    )
    symmetric_voltage: Numbers = 1.0  # [V]
    symmetric_exponent: Numbers = 30.0  # > 1
    symmetric_temperature_coefficient: Numbers = 0.0  # [1/K] of the symmetric voltage
    transit_time: Numbers = 0.0  # [s] diffusion charge per forward current
    valid_temperature_minimum: Numbers = 0.0  # [K] what evidence covers; 0 and inf: no claim
    valid_temperature_maximum: Numbers = inf  # [K]
    valid_reverse_voltage_maximum: Numbers = inf  # [V]
    valid_illuminance_maximum: Numbers = inf  # [lx]


@dataclass(frozen=True)
class ClampState:
    """A clamp law at one temperature and illuminance (arrays broadcast)."""

    thermal_voltage: Numbers  # [V]
    diffusion_current: Numbers  # [A]
    diffusion_ideality: Numbers
    generation_current: Numbers  # [A]
    generation_ideality: Numbers
    built_in_voltage: Numbers  # [V]
    grading: Numbers
    film_conductance: Numbers  # [S]
    photocurrent: Numbers  # [A]
    series_resistance: Numbers  # [ohm]
    zero_bias_capacitance: Numbers  # [F]
    image_force_lowering: Numbers = 0.0  # [V^(3/4)]
    breakdown_voltage: Numbers = inf  # [V]
    breakdown_exponent: Numbers = 4.0
    breakdown_knee: Numbers = 0.5  # 1 − V_R/V_BR below which the multiplication grows linearly
    breakdown_conductance: Numbers = 0.0  # [S] added past the knee, see `clamp`
    tunnelling_current: Numbers = 0.0  # [A] the exponential extrapolated to 0 V
    tunnelling_width: Numbers = 1.0  # [V]
    tunnelling_knee: Numbers = 0.0  # V_R/width above which it grows linearly
    symmetric_current: Numbers = 0.0  # [A]
    symmetric_voltage: Numbers = 1.0  # [V]
    symmetric_exponent: Numbers = 30.0
    symmetric_knee: Numbers = 1.0  # |V|/symmetric_voltage above which it grows linearly
    transit_time: Numbers = 0.0  # [s]


def take(state: ClampState, index: Any) -> ClampState:
    """The state of some cases of a batch: every array field indexed, scalars kept."""
    return ClampState(
        **{
            f.name: (value[index] if np.ndim(value := getattr(state, f.name)) else value)
            for f in fields(state)
        }
    )
