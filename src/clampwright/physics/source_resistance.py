"""Source resistance against temperature: glass electrodes and photodiode shunts move by decades."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from clampwright.errors import InputError
from clampwright.physics.law import Numbers

SourceLaw = Literal["constant", "glass electrode", "photodiode shunt"]

HALVING_INTERVALS = {
    "glass electrode": 8.0,  # [K] resistance doubles per 8 °C colder; common practice, no source
    "photodiode shunt": 6.0,  # [K] shunt halves per 6 °C hotter; common practice, no source
}


def source_resistance(
    temperature: Numbers,
    resistance: Numbers,
    reference_temperature: Numbers,
    law: SourceLaw = "constant",
    interval: Numbers | None = None,
) -> Any:
    """Resistance (ohm) at `temperature`: R0·2^(−(T − T0)/interval), or R0 for "constant".

    temperature, reference_temperature : K
    resistance : ohm at the reference
    interval : K hotter that halve the resistance (both laws fall when hot); None: the usual value

    Raises InputError for an unknown law or an interval that is not positive.
    """
    if law == "constant":
        return np.asarray(resistance) * np.ones_like(np.asarray(temperature, float))
    if law not in HALVING_INTERVALS:
        raise InputError(
            f'unknown source law "{law}"',
            where="source",
            expected="constant, " + ", ".join(HALVING_INTERVALS),
        )
    halving = np.asarray(HALVING_INTERVALS[law] if interval is None else interval, float)
    if not np.all(halving > 0):
        raise InputError(
            f"interval {np.min(halving):g} K is not positive",
            where="source",
            expected="kelvin hotter that halve the resistance",
        )
    rise = np.asarray(temperature, float) - np.asarray(reference_temperature, float)
    return np.asarray(resistance) * 2.0 ** (-rise / halving)
