"""Move a clamp law to a temperature and an illuminance, and find where its knees turn linear."""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.errors import InputError
from clampwright.physics.cases import in_any
from clampwright.physics.law import (
    FARTHEST_BREAKDOWN,
    LARGEST_EXPONENT,
    LARGEST_MULTIPLICATION,
    TINY,
    ClampLaw,
    ClampState,
    Numbers,
)
from clampwright.physics.temperature import temperature_factor, thermal_voltage

SHARPEST_SOFT_KNEE = 500.0  # largest tunnelling voltage in units of its width


def at_conditions(law: ClampLaw, temperature: Numbers, illuminance: Numbers = 0.0) -> ClampState:
    """Move a law to `temperature` (K, > 0) and `illuminance` (lx, ≥ 0); arrays broadcast.

    Raises InputError where a temperature is not positive, a knee voltage turns negative, or a
    tunnelling knee is sharper than a double can hold.
    """
    t = np.asarray(temperature, float)
    if not (t > 0).all():
        raise InputError(
            f"temperature {np.min(t):g} K is not positive",
            where="clamp law",
            expected="kelvin above 0",
            mend="add 273.15 to a Celsius value",
        )
    photocurrent = np.asarray(law.responsivity) * np.asarray(illuminance)
    diffusion = _moved(
        law.diffusion_current,
        law,
        t,
        law.diffusion_activation_energy,
        law.diffusion_temperature_exponent,
    )
    generation = _moved(
        law.generation_current,
        law,
        t,
        law.generation_activation_energy,
        law.generation_temperature_exponent,
    )
    film = _moved(law.film_conductance, law, t, law.film_activation_energy, 0.0)
    return ClampState(
        thermal_voltage=thermal_voltage(t),
        diffusion_current=diffusion,
        diffusion_ideality=law.diffusion_ideality,
        generation_current=generation,
        generation_ideality=law.generation_ideality,
        built_in_voltage=law.built_in_voltage,
        grading=law.grading,
        film_conductance=film,
        photocurrent=photocurrent,
        series_resistance=law.series_resistance,
        zero_bias_capacitance=law.zero_bias_capacitance,
        image_force_lowering=law.image_force_lowering,
        transit_time=law.transit_time,
        **_avalanche_state(law, t, diffusion, generation, photocurrent),
        **_tunnelling_state(law, t),
        **_symmetric_state(law, t),
    )


def _moved(value: Numbers, law: ClampLaw, t: Any, energy: Numbers, exponent: Numbers) -> Any:
    """A current or conductance at temperature `t`; what is absent stays absent."""
    if not in_any(value):
        return value
    return value * temperature_factor(t, law.reference_temperature, energy, exponent)


def _avalanche_state(law: ClampLaw, t: Any, diffusion: Any, generation: Any, light: Any) -> Any:
    """Knee where the multiplied primary current has fallen to the breakdown resistance."""
    moves = in_any(law.breakdown_temperature_coefficient)
    if not moves and not in_any(law.breakdown_voltage < FARTHEST_BREAKDOWN):
        return {
            "breakdown_voltage": FARTHEST_BREAKDOWN,
            "breakdown_exponent": law.breakdown_exponent,
        }
    voltage = np.minimum(_moved_voltage("breakdown", law, t), FARTHEST_BREAKDOWN)
    absent = voltage >= FARTHEST_BREAKDOWN
    finite = np.where(absent, 1.0, voltage)
    exponent = np.asarray(law.breakdown_exponent, float)
    lowering = law.image_force_lowering * (
        (law.built_in_voltage + finite) ** 0.25 - np.asarray(law.built_in_voltage) ** 0.25
    )
    primary = (
        diffusion * np.exp(np.minimum(lowering / thermal_voltage(t), LARGEST_EXPONENT))
        + generation * (1 + finite / law.built_in_voltage) ** law.grading
        + light
    )
    wanted = finite / (exponent * law.breakdown_resistance * np.maximum(primary, TINY))
    largest = np.clip(np.sqrt(wanted), 2.0, LARGEST_MULTIPLICATION)
    knee = -np.expm1(np.log1p(-1 / largest) / exponent)
    reached = primary * exponent * (1 - knee) ** (exponent - 1) * largest**2 / finite
    missing = 1 / np.asarray(law.breakdown_resistance) - reached
    return {
        "breakdown_voltage": voltage,
        "breakdown_exponent": law.breakdown_exponent,
        "breakdown_knee": knee,
        "breakdown_conductance": np.where(absent, 0.0, np.maximum(missing, 0.0)),
    }


def _tunnelling_state(law: ClampLaw, t: Any) -> Any:
    """The exponential extrapolated to 0 V and the exponent where its slope reaches 1/resistance."""
    if not in_any(law.tunnelling_current > 0):
        return {
            "tunnelling_current": law.tunnelling_current,
            "tunnelling_width": law.tunnelling_width,
            "tunnelling_knee": 0.0,
        }
    width = np.asarray(law.tunnelling_width, float)
    steps = _moved_voltage("tunnelling", law, t) / width
    present = np.asarray(law.tunnelling_current) > 0
    if np.any(present & (steps > SHARPEST_SOFT_KNEE)):
        raise InputError(
            f"tunnelling voltage is {np.max(steps):.0f} times its width",
            where="clamp law",
            expected=f"a ratio of at most {SHARPEST_SOFT_KNEE:g}",
            mend="widen the soft knee or use the avalanche form",
        )
    ratio = width / (np.maximum(law.tunnelling_current, TINY) * law.breakdown_resistance)
    knee = np.minimum(steps + np.maximum(np.log(ratio), 0.0), LARGEST_EXPONENT)
    return {
        "tunnelling_current": law.tunnelling_current * np.exp(-np.minimum(steps, LARGEST_EXPONENT)),
        "tunnelling_width": law.tunnelling_width,
        "tunnelling_knee": np.where(present, knee, 0.0),
    }


def _symmetric_state(law: ClampLaw, t: Any) -> Any:
    """The power law and the voltage ratio where its slope reaches 1/resistance."""
    if not in_any(law.symmetric_current > 0):
        return {
            "symmetric_current": law.symmetric_current,
            "symmetric_voltage": law.symmetric_voltage,
            "symmetric_exponent": law.symmetric_exponent,
            "symmetric_knee": 1.0,
        }
    voltage = _moved_voltage("symmetric", law, t)
    exponent = np.asarray(law.symmetric_exponent, float)
    present = np.asarray(law.symmetric_current) > 0
    slope = exponent * np.where(present, law.symmetric_current, 1.0) * law.breakdown_resistance
    ratio = np.maximum(voltage / slope, 1.0) ** (1 / (exponent - 1))
    return {
        "symmetric_current": law.symmetric_current,
        "symmetric_voltage": voltage,
        "symmetric_exponent": law.symmetric_exponent,
        "symmetric_knee": np.where(present, ratio, 1.0),
    }


def _moved_voltage(name: str, law: ClampLaw, t: Any) -> Any:
    """V(T0)·(1 + coefficient·(T − T0)), refused where it is not positive."""
    coefficient = np.asarray(getattr(law, f"{name}_temperature_coefficient"))
    voltage = getattr(law, f"{name}_voltage") * (1 + coefficient * (t - law.reference_temperature))
    if not np.all(voltage > 0):
        raise InputError(
            f"{name} voltage becomes {np.min(voltage):g} V",
            where="clamp law",
            expected="a positive voltage at every temperature",
            mend=f"check {name}_temperature_coefficient (per kelvin, not percent)",
        )
    return voltage
