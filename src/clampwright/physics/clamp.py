"""The clamp law: one formula for every junction a practitioner would try.

`ClampLaw` holds parameters at a reference temperature, `at_conditions` moves them to a temperature
and an illuminance, `current_and_slope` evaluates them. Voltage is anode minus cathode, current flows
into the anode; photocurrent flows the other way. Every field may be a float or an array.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampwright.physics.constants import BOLTZMANN_PER_CHARGE, REFERENCE_TEMPERATURE

Numbers = float | NDArray[np.float64]
LARGEST_EXPONENT = 700.0  # exp(700) is still a double


@dataclass(frozen=True)
class ClampLaw:
    """Parameters of one clamp at `reference_temperature`, in the dark; zero means absent."""

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
    film_conductance: Numbers = 0.0  # [S] ohmic surface film
    film_activation_energy: Numbers = 0.3  # [eV]
    responsivity: Numbers = 0.0  # [A/lx]
    series_resistance: Numbers = 0.0  # [ohm], not part of `current_and_slope`
    zero_bias_capacitance: Numbers = 0.0  # [F]
    reference_temperature: Numbers = REFERENCE_TEMPERATURE  # [K]


@dataclass(frozen=True)
class ClampState:
    """A clamp law at one temperature and illuminance (arrays broadcast)."""

    thermal_voltage: Numbers
    diffusion_current: Numbers
    diffusion_ideality: Numbers
    generation_current: Numbers
    generation_ideality: Numbers
    built_in_voltage: Numbers
    grading: Numbers
    film_conductance: Numbers
    photocurrent: Numbers
    series_resistance: Numbers
    zero_bias_capacitance: Numbers


def temperature_factor(
    temperature: Numbers, reference: Numbers, activation_energy: Numbers, exponent: Numbers
) -> Any:
    """(T/T0)^exponent · exp(−E/k·(1/T − 1/T0)); Arrhenius with a power of temperature."""
    t, t0 = np.asarray(temperature, float), np.asarray(reference, float)
    return (t / t0) ** exponent * np.exp(
        -np.asarray(activation_energy) / BOLTZMANN_PER_CHARGE * (1 / t - 1 / t0)
    )


def at_conditions(law: ClampLaw, temperature: Numbers, illuminance: Numbers = 0.0) -> ClampState:
    """Move a law to `temperature` (K) and `illuminance` (lx)."""
    t0 = law.reference_temperature

    def moved(current: Numbers, energy: Numbers, exponent: Numbers) -> Any:
        return current * temperature_factor(temperature, t0, energy, exponent)

    return ClampState(
        thermal_voltage=BOLTZMANN_PER_CHARGE * np.asarray(temperature, float),
        diffusion_current=moved(
            law.diffusion_current, law.diffusion_activation_energy, law.diffusion_temperature_exponent
        ),
        diffusion_ideality=law.diffusion_ideality,
        generation_current=moved(
            law.generation_current,
            law.generation_activation_energy,
            law.generation_temperature_exponent,
        ),
        generation_ideality=law.generation_ideality,
        built_in_voltage=law.built_in_voltage,
        grading=law.grading,
        film_conductance=moved(law.film_conductance, law.film_activation_energy, 0.0),
        photocurrent=np.asarray(law.responsivity) * np.asarray(illuminance),
        series_resistance=law.series_resistance,
        zero_bias_capacitance=law.zero_bias_capacitance,
    )


def current_and_slope(voltage: Numbers, state: ClampState) -> tuple[Any, Any]:
    """Current (A) and slope dI/dV (S) at `voltage` (V, anode minus cathode), without series resistance."""
    v = np.asarray(voltage, float)
    current, slope = _exponential(v, state.diffusion_ideality * state.thermal_voltage)
    current, slope = state.diffusion_current * current, state.diffusion_current * slope
    shape, shape_slope = _exponential(v, state.generation_ideality * state.thermal_voltage)
    reverse = np.maximum(-v, 0.0)
    width = (1.0 + reverse / state.built_in_voltage) ** state.grading
    width_slope = np.where(v < 0, -state.grading * width / (state.built_in_voltage + reverse), 0.0)
    current = current + state.generation_current * width * shape
    slope = slope + state.generation_current * (width * shape_slope + width_slope * shape)
    current = current + state.film_conductance * v - state.photocurrent
    return current, slope + state.film_conductance


def _exponential(v: Any, scale: Any) -> tuple[Any, Any]:
    """expm1(v/scale) and its slope, continued linearly above LARGEST_EXPONENT."""
    x = v / scale
    top = np.minimum(x, LARGEST_EXPONENT)
    growth = np.exp(top)
    return np.expm1(top) + growth * (x - top), growth / scale


def capacitance(voltage: Numbers, state: ClampState) -> Any:
    """Junction capacitance (F): C0/(1+V_R/V_bi)^m in reverse, linear continuation forward."""
    v = np.asarray(voltage, float)
    reverse = np.maximum(-v, 0.0)
    return state.zero_bias_capacitance * (
        (1 + reverse / state.built_in_voltage) ** -np.asarray(state.grading)
        + np.where(v > 0, state.grading * v / state.built_in_voltage, 0.0)
    )


def take(state: ClampState, index: Any) -> ClampState:
    """The state of some cases of a batch: every array field indexed, scalars kept."""
    return ClampState(
        **{
            f.name: (value[index] if np.ndim(value := getattr(state, f.name)) else value)
            for f in fields(state)
        }
    )
