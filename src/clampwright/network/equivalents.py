"""Laws and values of parts that are no junctions: limiter, leak, fired tube, tripped fuse."""

from __future__ import annotations

from math import inf

import numpy as np
from numpy.typing import NDArray

from clampwright.physics.clamp import ClampLaw, Numbers
from clampwright.physics.temperature import thermal_voltage

Array = NDArray[np.float64]

ARC_EXPONENT = 30.0  # steepness of a fired tube: its voltage grows 8 % per decade of current
ARC_RESISTANCE = 1e-3  # [Ω] slope at which that law turns into a straight line (kiloamperes)


def leak_law(resistance: Numbers) -> ClampLaw:
    """An insulation resistance (Ω, > 0) as a clamp law, so that what it draws counts as error."""
    return ClampLaw(film_conductance=1.0 / np.asarray(resistance), film_activation_energy=0.0)


def limiter_law(
    limit: Numbers, on_resistance: Numbers, temperature: float, breakdown: Numbers = inf
) -> ClampLaw:
    """Either half of a two-way current limiter, for use at one temperature.

    Two such laws in anti-series carry exactly I = limit·tanh(V/(on_resistance·limit)): a Shockley
    junction of saturation current `limit` and scale s reversed drops −s·ln(1 − i), the other forward
    s·ln(1 + i), together 2s·artanh(i) with 2s = on_resistance·limit.

    limit : A; on_resistance : Ω; temperature : K; breakdown : V of each half
    Source of the tanh form: common practice, no source; of the identity: elementary.
    """
    scale = np.asarray(on_resistance) * limit / 2
    return ClampLaw(
        diffusion_current=limit,
        diffusion_ideality=scale / thermal_voltage(temperature),
        diffusion_activation_energy=0.0,
        diffusion_temperature_exponent=0.0,
        breakdown_voltage=breakdown,
    )


def arc_law(arc_voltage: Numbers, current: Numbers = 1.0, insulation: Numbers = 1e10) -> ClampLaw:
    """A fired gas tube: about `arc_voltage` (V, 10…30) at `current` (A) with either sign.

    insulation : Ω of the tube while its arc carries next to nothing
    """
    return ClampLaw(
        symmetric_current=current,
        symmetric_voltage=arc_voltage,
        symmetric_exponent=ARC_EXPONENT,
        breakdown_resistance=ARC_RESISTANCE,
        film_conductance=1.0 / np.asarray(insulation),
        film_activation_energy=0.0,
    )


def tripped_resistance(voltage: Numbers, other_resistance: Numbers, power: Numbers) -> Array:
    """Resistance (Ω) at which a tripped resettable fuse holds V·I = `power`.

    voltage : V, fault less the clamp's voltage; other_resistance : Ω in series with it; power : W
    From I·(V − I·R) = P, the smaller root (the other one is not stable). NaN where the circuit
    cannot supply the power, V² < 4·P·R: it does not stay tripped.
    """
    v, r, p = (np.asarray(x, float) for x in (voltage, other_resistance, power))
    square = v * v - 4.0 * p * r
    root = np.sqrt(np.where(square >= 0, square, np.nan))
    current = 2.0 * p / (np.abs(v) + root)
    return np.asarray(p / current**2)
