"""Clamp, amplifier and dirt told apart on the assembled board, without unsoldering.

The error at the pin is offset + R·Σ (unit current of a term × how that term goes with signal, rails,
temperature and light). Readings under varied conditions are solved for the terms by weighted least
squares; what the chosen conditions cannot tell apart is said, not guessed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.parts.evidence import EvidencePoint
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE
from clampwright.quantities import write

Array = NDArray[np.float64]
BUILT_IN_VOLTAGE = 0.7  # [V] usual for silicon
REFERENCE = 298.15  # [K] at which the terms are stated
BLIND = 1e-4  # [1] singular value over the largest, below which a combination is not told at all
PROMINENT = 0.25  # [1] share of a direction from which a term is named in words
LACK_OF_FIT = 0.01  # [1]
NORMAL_95 = 1.959964  # [1]


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


Term = Callable[[BoardReading, Shape], float]


def _upper(reading: BoardReading, shape: Shape) -> float:
    return _clamp(reading.upper_rail - reading.signal, reading, shape)


def _lower(reading: BoardReading, shape: Shape) -> float:
    return -_clamp(reading.signal - reading.lower_rail, reading, shape)


def _clamp(voltage: float, reading: BoardReading, shape: Shape) -> float:
    if voltage <= 0:
        raise InputError(
            "a clamp conducts forward in this reading", expected="a signal between the rails"
        )
    wide = float((1 + voltage / BUILT_IN_VOLTAGE) ** shape.clamp_exponent)
    return wide * _warm(shape.clamp_energy, reading.temperature)


def _warm(energy: float, temperature: float) -> float:
    return float(np.exp(energy / BOLTZMANN_PER_CHARGE * (1 / REFERENCE - 1 / temperature)))


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
"""Term → current (A, into the node) for a unit of it: clamp A near 0 V, film S, photocurrent A/lx."""
OFFSET = "offset"
UNITS = {OFFSET: "voltage", "film": "conductance", "photocurrent": "responsivity"}
VARY = {
    "upper clamp": "the upper rail alone",
    "lower clamp": "the lower rail alone",
    "amplifier bias": "temperature, with signal and rails held",
    "film to upper rail": "the upper rail in three steps, or humidity",
    "film to lower rail": "the lower rail in three steps, or humidity",
    "film to ground": "the signal in three steps",
    "photocurrent of upper clamp less lower": "light",
    OFFSET: "the test resistor",
}


@dataclass(frozen=True)
class Found:
    """One term: its value and doubt (SI, at 25 °C); both None when it could not be told apart."""

    name: str
    value: float | None
    standard_uncertainty: float | None

    def words(self) -> str:
        """ "upper clamp 3.1 ± 0.4 pA", or that it is not detected or not told apart."""
        if self.value is None or self.standard_uncertainty is None:
            return f"{self.name}: not told apart"
        reach = NORMAL_95 * self.standard_uncertainty
        kind = next((d for key, d in UNITS.items() if self.name.startswith(key)), "current")
        if abs(self.value) < 1.645 * self.standard_uncertainty:
            return f"{self.name}: not detected, within ± {write(abs(self.value) + reach, kind)}"
        return f"{self.name}: {write(self.value, kind)} ± {write(reach, kind, digits=2)}"


@dataclass(frozen=True)
class Separation:
    """All terms, their joint covariance, what is mixed up, and whether the model explains the board."""

    found: tuple[Found, ...]
    covariance: Array  # of the terms, minimum-norm where mixed up
    mixed: tuple[str, ...]  # each a sentence about a combination that could not be told apart
    chi_square: float
    degrees_of_freedom: int
    chance: float | None
    residuals: tuple[float, ...]
    shape: Shape

    def value(self, name: str) -> Found:
        """The term of that name; InputError for none."""
        for term in self.found:
            if term.name == name:
                return term
        raise InputError(f'no term "{name}"', expected=", ".join(t.name for t in self.found))


def separate(
    readings: Sequence[BoardReading],
    terms: Sequence[str] = ("upper clamp", "lower clamp", "amplifier bias"),
    shape: Shape | None = None,
) -> Separation:
    """Solve board readings for an offset voltage and the named terms (keys of `TERMS`).

    Covariance is widened where the readings contradict the model (Birge ratio). A term with a share
    in a combination the conditions cannot tell is given no value. InputError for an unknown term.
    """
    shape = shape or Shape()
    for name in terms:
        if name not in TERMS:
            raise InputError(f'no term "{name}"', expected=", ".join(TERMS))
    names = (OFFSET, *terms)
    rows = np.array(
        [[1.0] + [r.resistance * TERMS[name](r, shape) for name in terms] for r in readings]
    )
    u = np.array([r.standard_uncertainty for r in readings])
    y = np.array([r.error for r in readings]) / u
    rows = rows / u[:, None]
    length = np.linalg.norm(rows, axis=0)
    silent = length == 0
    length[silent] = 1.0
    left, sizes, axes = np.linalg.svd(rows / length, full_matrices=True)
    sizes = np.concatenate([sizes, np.zeros(len(names) - len(sizes))])
    seen = sizes > BLIND * sizes[0]
    rank = int(seen.sum())
    directions = axes[seen] / length
    values = ((left[:, :rank].T @ y) / sizes[seen]) @ directions
    residuals = y - rows @ values
    chi_square, freedom = float(residuals @ residuals), len(readings) - rank
    chance = _chance(chi_square, freedom)
    widened = max(1.0, chi_square / freedom) if freedom else 1.0
    covariance = (directions.T / sizes[seen] ** 2) @ directions * widened
    blind = axes[~seen]
    told = np.all(np.abs(blind) < BLIND**0.5, axis=0) if len(blind) else np.ones(len(names), bool)
    found = tuple(
        Found(n, float(v), sqrt(c)) if ok else Found(n, None, None)
        for n, v, c, ok in zip(names, values, np.diag(covariance), told, strict=True)
    )
    mixed = tuple(_mixed(direction, names) for direction in blind)
    return Separation(
        found, covariance, mixed, chi_square, freedom, chance, tuple(residuals.tolist()), shape
    )


def predicted_errors(
    readings: Sequence[BoardReading], terms: Mapping[str, float], shape: Shape | None = None
) -> Array:
    """Error at the pin (V) that given terms (SI, with `offset` in volts) make in each reading."""
    shape = shape or Shape()
    return np.array(
        [
            terms.get(OFFSET, 0.0)
            + r.resistance * sum(v * TERMS[n](r, shape) for n, v in terms.items() if n != OFFSET)
            for r in readings
        ]
    )


def against_prediction(
    readings: Sequence[BoardReading], predicted: Sequence[float], uncertainty: Sequence[float]
) -> str:
    """One sentence: do the readings agree with the predicted errors (V) and their doubts (V)?"""
    u = np.hypot([r.standard_uncertainty for r in readings], uncertainty)
    off = (np.array([r.error for r in readings]) - np.asarray(predicted)) / u
    chance = _chance(float(off @ off), len(readings))
    worst = int(np.argmax(np.abs(off)))
    text = (
        f"largest departure {off[worst]:+.1f} standard uncertainties (reading {worst + 1}: measured "
        f"{write(readings[worst].error, 'voltage')}, predicted {write(predicted[worst], 'voltage')})"
    )
    agrees = chance is not None and chance >= LACK_OF_FIT
    return f"the board {'agrees with' if agrees else 'departs from'} the prediction; {text}"


def evidence_of(
    separation: Separation, term: str, voltage: float, temperature: float, session: str
) -> EvidencePoint:
    """A separated clamp as evidence for its law, at a reverse voltage (V) and temperature (K)."""
    if "clamp" not in term or "photocurrent" in term:
        raise InputError(f'"{term}" is not a clamp', expected="upper clamp or lower clamp")
    found = separation.value(term)
    if found.value is None or found.standard_uncertainty is None:
        raise InputError(
            f"the {term} was not told apart on this board", mend=f"vary {VARY[term]} and read again"
        )
    shape = separation.shape
    factor = (1 + voltage / BUILT_IN_VOLTAGE) ** shape.clamp_exponent
    factor *= _warm(shape.clamp_energy, temperature)
    return EvidencePoint(
        reverse_voltage=voltage,
        temperature=temperature,
        illuminance=0.0,
        leakage=found.value * factor,
        standard_uncertainty=found.standard_uncertainty * factor,
        session=session,
        source=f"separated on the board, {session}: {term}",
    )


def separation_words(separation: Separation) -> str:
    """Every term, what is mixed up and how to part it, and whether the model is enough."""
    lines = [found.words() for found in separation.found]
    lines += separation.mixed
    if separation.chance is not None and separation.chance < LACK_OF_FIT:
        lines.append(
            "these terms do not explain the board "
            f"(chance {separation.chance:.1g}): another path leaks, or a reading had not settled"
        )
    if not separation.degrees_of_freedom:
        lines.append("no reading is left over to check the model: read one condition more")
    return "\n".join(lines)


def _mixed(direction: Array, names: Sequence[str]) -> str:
    involved = [n for n, share in zip(names, np.abs(direction), strict=True) if share > BLIND**0.5]
    main = [n for n, share in zip(names, np.abs(direction), strict=True) if share > PROMINENT]
    if len(involved) == 1:
        return f"{involved[0]} leaves no trace in these readings: vary {VARY[involved[0]]}"
    ways = list(dict.fromkeys(VARY[n] for n in main if n != OFFSET)) or [VARY[OFFSET]]
    return f"{' and '.join(involved)} could not be told apart: vary {', or '.join(ways)}"


def _chance(chi_square: float, freedom: int) -> float | None:
    from scipy.special import gammaincc

    return float(gammaincc(freedom / 2, chi_square / 2)) if freedom else None


__all__ = [
    "TERMS",
    "BoardReading",
    "Found",
    "Separation",
    "Shape",
    "against_prediction",
    "evidence_of",
    "predicted_errors",
    "separate",
    "separation_words",
]
