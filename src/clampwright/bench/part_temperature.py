"""Temperature of the part where a thermometer's own quantity was written instead, and its doubt."""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.bench.columns import THERMOMETERS
from clampwright.bench.instrument import Profile
from clampwright.bench.thermometers import (
    platinum_temperature,
    platinum_temperatures,
    platinum_tolerance,
    type_k_temperature,
    type_k_temperatures,
    type_k_tolerance,
)
from clampwright.errors import InputError

FIELDS = tuple(column.field for column in THERMOMETERS)
TWICE = "the temperature is written twice: it, pt100 or type k, only one of them"
NO_JUNCTION = "the cold junction is missing: the temperature where the couple meets the meter"
NO_COUPLE = "a cold junction without type k"

Problem = tuple[int, str, str]


def fill_temperatures(columns: dict[str, Any]) -> list[Problem]:
    """Fill the temperature (K) of every row from pt100 (Ω), or type k (V) and cold junction (K).

    Gives back the first row of each kind of problem, with its column and what is wrong.
    """
    ohms, volts, junction = (columns[field] for field in FIELDS)
    told = ~np.isnan(columns["temperature"])
    by_ohms, by_volts, by_junction = (~np.isnan(column) for column in (ohms, volts, junction))
    if not (by_ohms | by_volts | by_junction).any():
        return []
    made = columns["temperature"].copy()
    made[by_ohms] = platinum_temperatures(ohms[by_ohms])
    made[by_volts] = type_k_temperatures(volts[by_volts], junction[by_volts])
    twice = told.astype(int) + by_ohms + by_volts > 1
    problems = [
        (int(rows[0]), title, words)
        for rows, title, words in (
            (np.flatnonzero(twice), "temperature", TWICE),
            (np.flatnonzero(by_volts & ~by_junction), "cold junction", NO_JUNCTION),
            (np.flatnonzero(by_junction & ~by_volts), "cold junction", NO_COUPLE),
        )
        if len(rows)
    ]
    if not problems:
        for title, rows in (("pt100", by_ohms), ("type k", by_volts)):
            for row in np.flatnonzero(rows & np.isnan(made))[:1]:
                problems.append((int(row), title, _why(ohms[row], volts[row], junction[row])))
        columns["temperature"] = made
    return problems


def _why(ohms: float, volts: float, junction: float) -> str:
    try:
        typed_temperature(
            {
                field: float(value)
                for field, value in zip(FIELDS, (ohms, volts, junction), strict=True)
                if value == value
            }
        )
    except InputError as error:
        return str(error).rstrip(".")
    raise AssertionError("a temperature that cannot be had has a reason")


def typed_temperature(condition: dict[str, Any]) -> None:
    """Put the temperature (K) in the place of what a thermometer showed, in SI; InputError if it cannot."""
    ohms, volts, junction = (condition.pop(field, None) for field in FIELDS)
    if sum(value is not None for value in (condition.get("temperature"), ohms, volts)) > 1:
        raise InputError(TWICE)
    if ohms is not None:
        condition["temperature"] = platinum_temperature(ohms)
    if volts is None and junction is not None:
        raise InputError(NO_COUPLE)
    if volts is not None:
        if junction is None:
            raise InputError(NO_JUNCTION)
        condition["temperature"] = type_k_temperature(volts, junction)


def temperature_doubt(profile: Profile, temperature: float) -> float:
    """Standard uncertainty (K): what the sheet states, and the tolerance of the thermometer's class.

    A class gives a half-width, within which any value is alike (rectangular).
    """
    kind, _, name = profile.thermometer_class.rpartition(" class ")
    if not kind:
        return profile.temperature_uncertainty
    tolerance = platinum_tolerance if kind == "Pt100" else type_k_tolerance
    return float(np.hypot(profile.temperature_uncertainty, tolerance(temperature, name) / 3**0.5))


__all__ = ["fill_temperatures", "temperature_doubt", "typed_temperature"]
