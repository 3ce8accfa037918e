"""What can leak on an assembled board, and how each of it goes with signal, rails, heat and light.

The error at the pin is offset + R·Σ (current of a unit of a term × how much of it there is).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE

Array = NDArray[np.float64]
BUILT_IN_VOLTAGE = 0.7  # [V] usual for silicon
REFERENCE = 298.15  # [K] at which the terms are stated
OFFSET = "offset"


@dataclass(frozen=True)
class BoardReading:
    """One reading of the error at the pin (V, what the amplifier sees less the true signal)."""

    error: float  # [V]
    standard_uncertainty: float  # [V]
    resistance: float  # [Ω] test resistor plus series resistors, from the source to the node
    signal: float = 0.0  # [V]
    upper_rail: float = 2.5  # [V]
    lower_rail: float = -2.5  # [V]
    temperature: float = REFERENCE  # [K]
    light: float = 0.0  # [lx]


@dataclass(frozen=True)
class Shape:
    """How terms go with temperature and voltage; from the part's own law, or the usual values."""

    clamp_energy: float = 0.64  # [eV] apparent
    clamp_exponent: float = 0.5  # [1] over V + 0.7 V
    bias_energy: float = 0.53  # [eV]; doubling each 10 °C near 25 °C
    film_energy: float = 0.3  # [eV] surface film; order of magnitude only
    stated_voltage: float = 0.0  # [V] reverse, at which the clamps are stated


@dataclass(frozen=True)
class Doubt:
    """How well a shape is known: standard uncertainties, all the same for every reading of a board.

    The usual ones (common practice): energies of silicon junctions lie within 0.1 eV, exponents
    between graded and abrupt, a bias doubles each 8 to 12 °C, a film may be anything.
    """

    clamp_energy: float = 0.05  # [eV]
    clamp_exponent: float = 0.1  # [1]
    bias_energy: float = 0.06  # [eV]
    film_energy: float = 0.15  # [eV]


@dataclass(frozen=True)
class Applied:
    """What was applied in each of several readings, as arrays."""

    resistance: Array
    signal: Array
    upper_rail: Array
    lower_rail: Array
    temperature: Array
    light: Array


def applied(readings: Sequence[BoardReading]) -> Applied:
    """The conditions of some readings; InputError where a signal is not between the rails."""
    made = Applied(*(np.array([getattr(r, f.name) for r in readings]) for f in fields(Applied)))
    if ((made.signal >= made.upper_rail) | (made.signal <= made.lower_rail)).any():
        raise InputError(
            "a clamp conducts forward in a reading", expected="a signal between the rails"
        )
    return made


Term = Callable[[Applied, Shape], Array]


def _upper(r: Applied, shape: Shape) -> Array:
    return clamp_factor(r.upper_rail - r.signal, r.temperature, shape)


def _lower(r: Applied, shape: Shape) -> Array:
    return -clamp_factor(r.signal - r.lower_rail, r.temperature, shape)


def clamp_factor(voltage: ArrayLike, temperature: ArrayLike, shape: Shape) -> Array:
    """Leakage of a clamp at a reverse voltage (V) and temperature (K) over its stated leakage.

    ((V + 0.7 V)/(V_0 + 0.7 V))^m · exp(E/k·(1/T_0 − 1/T)): generation in a depletion layer.
    """
    wide = np.asarray(voltage, float) + BUILT_IN_VOLTAGE
    wide = (wide / (shape.stated_voltage + BUILT_IN_VOLTAGE)) ** shape.clamp_exponent
    return np.asarray(wide * _warm(shape.clamp_energy, temperature))


def _warm(energy: float, temperature: ArrayLike) -> Array:
    heat = np.asarray(temperature, float)
    return np.asarray(np.exp(energy / BOLTZMANN_PER_CHARGE * (1 / REFERENCE - 1 / heat)))


TERMS: Mapping[str, Term] = {
    "upper clamp": _upper,
    "lower clamp": _lower,
    "amplifier bias": lambda r, s: _warm(s.bias_energy, r.temperature),
    "film to upper rail": lambda r, s: (
        (r.upper_rail - r.signal) * _warm(s.film_energy, r.temperature)
    ),
    "film to lower rail": lambda r, s: (
        (r.lower_rail - r.signal) * _warm(s.film_energy, r.temperature)
    ),
    "film to ground": lambda r, s: -r.signal * _warm(s.film_energy, r.temperature),
    "photocurrent of upper clamp less lower": lambda r, s: r.light,
}
"""Term → current (A, into the node) for a unit of it: clamp A, film S, photocurrent A/lx."""
LIGHT = "photocurrent of upper clamp less lower"
UNITS = {OFFSET: "voltage", "film": "conductance", "photocurrent": "responsivity"}
VARY = {
    "upper clamp": "the upper rail alone",
    "lower clamp": "the lower rail alone",
    "amplifier bias": "temperature, with signal and rails held",
    "film to upper rail": "the upper rail in three steps, or humidity",
    "film to lower rail": "the lower rail in three steps, or humidity",
    "film to ground": "the signal in three steps",
    LIGHT: "light",
    OFFSET: "the test resistor",
}


def kind_of(term: str) -> str:
    """Dimension of a term, a key of `quantities.DIMENSIONS`."""
    return next((kind for word, kind in UNITS.items() if term.startswith(word)), "current")


def node_currents(at: Applied, terms: Sequence[str], shape: Shape) -> Array:
    """Current (A) into the node for a unit of each term, (readings, terms)."""
    made = np.empty((len(at.signal), len(terms)))
    for place, name in enumerate(terms):
        made[:, place] = TERMS[name](at, shape)
    return made


__all__ = [
    "BUILT_IN_VOLTAGE",
    "LIGHT",
    "OFFSET",
    "REFERENCE",
    "TERMS",
    "VARY",
    "Applied",
    "BoardReading",
    "Doubt",
    "Shape",
    "applied",
    "clamp_factor",
    "kind_of",
    "node_currents",
]
