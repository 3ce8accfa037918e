"""Say so where a law is used outside what its evidence or its formula covers."""

from __future__ import annotations

import numpy as np

from clampwright.physics.law import ClampLaw, Numbers

COLDEST, HOTTEST = 100.0, 500.0  # [K] the formulas were checked here
LARGEST_VOLTAGE = 1e4  # [V] of the clamp law, either way


def flags(
    law: ClampLaw, voltage: Numbers, temperature: Numbers, illuminance: Numbers = 0.0
) -> tuple[str, ...]:
    """One phrase for each way in which any of the given conditions leaves the valid range.

    voltage : V, anode minus cathode; temperature : K; illuminance : lx. Empty: inside.
    """
    v, t = np.asarray(voltage, float), np.asarray(temperature, float)
    reverse, light = -v, np.asarray(illuminance, float)
    past = (
        (t < law.valid_temperature_minimum, "colder than its evidence"),
        (t > law.valid_temperature_maximum, "hotter than its evidence"),
        (reverse > law.valid_reverse_voltage_maximum, "more reverse voltage than its evidence"),
        (light > law.valid_illuminance_maximum, "more light than its evidence"),
        (reverse >= law.breakdown_voltage, "past its breakdown voltage"),
        ((t < COLDEST) | (t > HOTTEST), f"outside {COLDEST:g} to {HOTTEST:g} K of the formula"),
        (np.abs(v) > LARGEST_VOLTAGE, "outside ±10 kV of the formula"),
    )
    return tuple(phrase for condition, phrase in past if np.any(condition))
