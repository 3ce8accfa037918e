"""Straight lines through reduced leakages, each with what it means in plain words.

Activation energy ("measure hot, infer cold"), exponent over voltage, slope at zero bias, current for
each lux. They describe one part; the law of the clamp itself is fitted in `parts.law_fit`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, exp, log, sqrt

import numpy as np
from numpy.typing import NDArray

from clampwright.bench.weighted_line import Judged, judge, weighted_line
from clampwright.errors import InputError
from clampwright.parts.evidence import EvidencePoint, own_covariance
from clampwright.parts.law_fit import SAME_SOAK
from clampwright.parts.law_interval import ENERGY_DOUBT, FAR_EXTRAPOLATION
from clampwright.parts.least_squares import inverse_information
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE, BUILT_IN_VOLTAGE
from clampwright.quantities import write
from clampwright.uncertain import NORMAL_95, ONE_SIDED_95

Array = NDArray[np.float64]
ROUNDS = 100
LARGEST_STEP = np.array([1.0, 0.3])  # [1] in ln I and [eV]: holds the first steps back
SETTLED = 1e-9  # [1] and [eV]
DEEP = 0.3  # [V] reverse, from where exp(−V/2V_T) no longer counts
SILICON = (
    ("you are reading an offset, or light", -0.10, 0.10, 0.0),
    ("surface film, dirt or tunnelling", 0.10, 0.45, 0.0),
    ("generation in the depletion layer", 0.55, 0.70, 1.5),
    ("a Schottky barrier", 0.50, 0.80, 2.0),
    ("generation mixed with diffusion", 0.70, 0.95, 2.0),
    ("diffusion", 0.95, 1.20, 3.0),
)  # what an apparent energy [eV] means, and γ of its T^γ; textbook values
FINGER_TOO_LITTLE = 0.23  # [eV] ×1.3 from 23 to 32 °C
FINGER_TOO_MUCH = 0.95  # [eV] ×3
GENERATION = (0.55, 0.70)  # [eV] ×1.9…2.2 from 23 to 32 °C


@dataclass(frozen=True)
class EnergyFit:
    """ln I = a − E·(1/kT − 1/kT_ref): `covariance` of (a, E), already widened where it fits badly."""

    logarithm: float  # a = ln(I/A) at T_ref
    energy: float  # [eV] apparent: T^γ is inside
    reference_temperature: float  # [K] harmonic mean of the readings
    covariance: Array
    temperatures: tuple[float, float]  # [K] lowest and highest read
    judged: Judged

    @property
    def energy_uncertainty(self) -> float:
        """Standard uncertainty of the apparent energy (eV)."""
        return float(sqrt(self.covariance[1, 1]))

    def without_power(self, exponent: float) -> float:
        """The energy in T^γ·exp(−E/kT): apparent less γ·kT (eV)."""
        return self.energy - exponent * BOLTZMANN_PER_CHARGE * self.reference_temperature


@dataclass(frozen=True)
class Inferred:
    """A current (A) the fit gives at a temperature, with its 95 % interval."""

    value: float
    low: float
    high: float
    extrapolated: float  # [K] beyond the readings; 0 inside


def energy_fit(points: Sequence[EvidencePoint]) -> EnergyFit:
    """Apparent activation energy from readings at one voltage and two temperatures or more.

    Fitted in linear current, so a reading that is not detected counts with its width. Scale is
    shared in a session, the error of a temperature by readings of one soak. InputError when all
    temperatures lie within 3 K or nothing is detected.
    """
    t = np.array([p.temperature for p in points])
    i = np.array([p.leakage for p in points])
    if len(points) < 2 or np.ptp(t) < 3.0:
        raise InputError("an activation energy needs two temperatures 3 K apart or more")
    if not any(p.detected and p.leakage > 0 for p in points):
        raise InputError("no reading is detected at any temperature", mend="measure hotter")
    reference = 1.0 / float(np.mean(1.0 / t))
    x = (1 / t - 1 / reference) / BOLTZMANN_PER_CHARGE
    theta = _energy_start(points, x)
    for _ in range(ROUNDS):
        current = np.exp(theta[0] - theta[1] * x)
        factor = np.linalg.cholesky(_noise(points, t, current, float(theta[1])))
        slopes = np.linalg.solve(factor, np.stack([current, -current * x], 1))
        rows = np.linalg.solve(factor, i - current)
        step = np.clip(np.linalg.lstsq(slopes, rows)[0], -LARGEST_STEP, LARGEST_STEP)
        theta = theta + step
        if np.max(np.abs(step)) < SETTLED:
            break
    else:
        raise InputError(
            "the readings do not lead to one activation energy", mend="read hotter, or more often"
        )
    model = np.exp(theta[0] - theta[1] * x)
    widths = np.sqrt(np.diag(factor @ factor.T))
    judged = judge(rows, (i - model) / widths, model)
    covariance = inverse_information(slopes) * judged.inflation**2
    span = (float(t.min()), float(t.max()))
    return EnergyFit(float(theta[0]), float(theta[1]), reference, covariance, span, judged)


def infer(fit: EnergyFit, temperature: float) -> Inferred:
    """The leakage at another temperature (K): hot readings carried to the cold, or up.

    Farther than 20 K beyond the readings, the ratio that 0.1 eV makes is added to the width.
    """
    step = (1 / temperature - 1 / fit.reference_temperature) / BOLTZMANN_PER_CHARGE
    direction = np.array([1.0, -step])
    width = NORMAL_95 * sqrt(float(direction @ fit.covariance @ direction))
    edge = min(max(temperature, fit.temperatures[0]), fit.temperatures[1])
    beyond = abs(temperature - edge)
    if beyond > FAR_EXTRAPOLATION:
        width += ENERGY_DOUBT / BOLTZMANN_PER_CHARGE * abs(1 / temperature - 1 / edge)
    value = exp(fit.logarithm - fit.energy * step)
    return Inferred(value, value * exp(-width), value * exp(width), beyond)


def meanings(energy: float, uncertainty: float) -> tuple[tuple[str, float], ...]:
    """What a silicon or Schottky part with this apparent energy (eV) may be doing, nearest first.

    Each with its γ. Everything whose range the 95 % interval touches; the nearest where none is.
    """
    reach = NORMAL_95 * uncertainty

    def off(row: tuple[str, float, float, float]) -> float:
        return max(row[1] - energy, energy - row[2], 0.0)

    ordered = sorted(SILICON, key=off)
    near = [row for row in ordered if off(row) <= reach] or ordered[:1]
    return tuple((name, exponent) for name, _, _, exponent in near)


def energy_words(fit: EnergyFit) -> str:
    """One sentence or three: which energy is printed, what it means, what contradicts it."""
    expanded = ceil(100 * NORMAL_95 * fit.energy_uncertainty) / 100
    first, *others = meanings(fit.energy, fit.energy_uncertainty)
    name, exponent = first
    text = f"apparent activation energy {fit.energy:.2f} ± {expanded:.2f} eV: {name}"
    if exponent:
        text += f" ({fit.without_power(exponent):.2f} eV once the T^{exponent:g} of that law is taken out)"
    if others:
        text += "; not excluded: " + ", ".join(other for other, _ in others)
    if fit.judged.lacking:
        text += f"; the readings contradict one energy (chance {fit.judged.chance:.1g})"
    return text


@dataclass(frozen=True)
class ExponentFit:
    """I ∝ (V + 0.7 V)^m at one temperature."""

    exponent: float
    uncertainty: float
    logarithm: float  # ln(I/A) at V + V_bi = 1 V
    covariance: Array  # of (logarithm, exponent)
    judged: Judged
    words: str


def voltage_exponent(points: Sequence[EvidencePoint]) -> ExponentFit:
    """Exponent over V + V_bi from detected dark readings at two reverse voltages of 0.3 V or more."""
    used = [p for p in points if p.reverse_voltage >= DEEP and p.detected and p.leakage > 0]
    x = np.array([log(p.reverse_voltage + BUILT_IN_VOLTAGE) for p in used])
    if len(used) < 2 or np.ptp(x) < 0.05:
        raise InputError("an exponent needs detected readings at two reverse voltages")
    y = np.array([log(p.leakage) for p in used])
    currents = np.array([p.leakage for p in used])
    line = weighted_line(x, y, own_covariance(used) / np.outer(currents, currents))
    spread = line.slope_uncertainty
    words = _exponent_words(line.slope, spread, line.judged)
    return ExponentFit(line.slope, spread, line.intercept, line.covariance, line.judged, words)


def _exponent_words(exponent: float, spread: float, judged: Judged) -> str:
    ranges = (
        (-0.1, 0.15, "does not grow with voltage: diffusion, light or offset"),
        (0.15, 0.42, "graded junction"),
        (0.42, 0.60, "abrupt junction"),
        (0.60, 0.85, "field-enhanced generation"),
        (0.85, 1.25, "nearly proportional to voltage: film, dirt or insulation"),
        (1.25, np.inf, "grows faster than voltage: near breakdown"),
    )
    fitting = [w for low, high, w in ranges if low - 2 * spread <= exponent <= high + 2 * spread]
    text = f"exponent over voltage {exponent:.2f} ± {NORMAL_95 * spread:.2f}: "
    text += " or ".join(fitting) if fitting else "falls with voltage: check settling and zero"
    return text + ("; the readings contradict one exponent" if judged.lacking else "")


@dataclass(frozen=True)
class SlopeFit:
    """Slope at zero bias. `resistance` is None when the slope is not told from zero."""

    conductance: float  # [S]
    uncertainty: float  # [S]
    resistance: float | None  # [Ω]
    resistance_at_least: float  # [Ω] one-sided 95 %
    offset: float  # [A] current left at 0 V
    offset_uncertainty: float  # [A]
    covariance: Array  # of (offset, conductance), ideality included in the diagonal
    judged: Judged
    words: str


def zero_bias_slope(points: Sequence[EvidencePoint], largest_voltage: float = 0.03) -> SlopeFit:
    """r_0 from readings at small voltages of both signs, for a junction of ideality 1 to 2.

    I = g·nV_T·(1 − exp(−V/nV_T)) + offset in reverse direction, n = 1.5; half of the change between
    n = 1 and 2 is added to the uncertainty. InputError without both signs.
    """
    used = [p for p in points if 0 < abs(p.reverse_voltage) <= largest_voltage]
    if {p.reverse_voltage > 0 for p in used} != {True, False}:
        raise InputError(
            "a slope at zero bias needs small voltages of both signs", expected="such as ±10 mV"
        )
    y = np.array([p.leakage for p in used])
    noise = own_covariance(used)
    middle, one, two = (weighted_line(_junction(used, n), y, noise) for n in (1.5, 1.0, 2.0))
    offset, slope = middle.intercept, middle.slope
    ideality = np.array([one.intercept - two.intercept, one.slope - two.slope]) / 2
    covariance = middle.covariance + np.diag(ideality**2)
    spread = float(sqrt(covariance[1, 1]))
    upper = max(slope, 0.0) + ONE_SIDED_95 * spread
    told = slope > ONE_SIDED_95 * spread
    offset_spread = float(sqrt(covariance[0, 0]))
    words = (
        f"zero-bias resistance {write(1 / slope, 'resistance')}"
        if told
        else f"zero-bias slope not detected: resistance ≥ {write(1 / upper, 'resistance')}"
    )
    if abs(offset) > 3 * offset_spread:
        words += f"; {write(offset, 'current', signed=True)} flows at 0 V: light or an offset"
    return SlopeFit(
        slope, spread, 1 / slope if told else None, 1 / upper, offset, offset_spread, covariance,
        middle.judged, words,
    )  # fmt: skip


def _junction(points: Sequence[EvidencePoint], ideality: float) -> Array:
    """Current of a junction of slope 1 S at 0 V."""
    scale = np.array([ideality * BOLTZMANN_PER_CHARGE * p.temperature for p in points])
    volts = np.array([p.reverse_voltage for p in points])
    return np.asarray(-scale * np.expm1(-volts / scale))


@dataclass(frozen=True)
class ResponsivityFit:
    """Current for each lux of one lamp; `judged` tells whether it is proportional."""

    responsivity: float  # [A/lx]
    uncertainty: float  # [A/lx]
    dark: float  # [A]
    covariance: Array  # of (dark, responsivity)
    judged: Judged
    words: str


def responsivity(points: Sequence[EvidencePoint]) -> ResponsivityFit:
    """S from readings at one voltage and temperature, dark and lit by one lamp."""
    x = np.array([p.illuminance for p in points])
    if len(set(x.tolist())) < 2:
        raise InputError("responsivity needs a dark and a lit reading")
    y = np.array([p.leakage for p in points])
    line = weighted_line(x, y, own_covariance(points))
    slope, spread = line.slope, line.slope_uncertainty
    if slope > ONE_SIDED_95 * spread:
        words = f"{write(slope, 'responsivity')} ± {write(NORMAL_95 * spread, 'responsivity')}"
    else:
        upper = max(slope, 0.0) + ONE_SIDED_95 * spread
        words = f"no response to light detected, ≤ {write(upper, 'responsivity')}"
    if len(set(x.tolist())) < 3:
        words += "; linearity not checked: one more illuminance would"
    elif line.judged.lacking:
        words += "; not proportional to light: check lux meter, heating by the lamp, saturation"
    return ResponsivityFit(slope, spread, line.intercept, line.covariance, line.judged, words)


def finger_check(cool: EvidencePoint, warm: EvidencePoint) -> str:
    """Did warming the body by a few kelvin do to the reading what it does to a silicon junction?

    From 23 to 32 °C generation gives ×1.9…2.2; other temperatures by the same energies.
    """
    step = (1 / cool.temperature - 1 / warm.temperature) / BOLTZMANN_PER_CHARGE
    if step <= 0:
        raise InputError("the warm reading is not warmer than the cool one")
    if not (cool.leakage > 0 and warm.leakage > 0 and cool.detected and warm.detected):
        return "not told: a reading is not detected; warm it further"
    ratio = warm.leakage / cool.leakage
    relative = sqrt(sum((p.normal_equivalent / p.leakage) ** 2 for p in (cool, warm)))
    low, high = (exp(e * step) for e in GENERATION)
    told = f"×{ratio:.2f} ± {NORMAL_95 * ratio * relative:.2f}, "
    told += f"a generation junction gives ×{low:.1f}…{high:.1f}"
    energy, reach = log(ratio) / step, relative / step
    if energy + reach < FINGER_TOO_LITTLE:
        return f"{told}: you are reading fixture, offset or light"
    if energy - reach > FINGER_TOO_MUCH:
        return f"{told}: diffusion, or sweat on the body"
    if GENERATION[0] - 2 * reach <= energy <= GENERATION[1] + 2 * reach:
        return f"{told}: as expected"
    return f"{told}: neither clearly junction nor clearly offset; warm it further and fit"


def _energy_start(points: Sequence[EvidencePoint], x: Array) -> Array:
    """Line through the logarithms of what is positive, the usual energy where that is one point."""
    seen = np.array([p.leakage > p.normal_equivalent for p in points])
    y = np.log([max(p.leakage, p.normal_equivalent) for p in points])
    if seen.sum() >= 2 and np.ptp(x[seen]) > 0:
        slope, intercept = np.polyfit(x[seen], y[seen], 1)
        return np.array([intercept, -slope])
    brightest = int(np.argmax(np.where(seen, y, -np.inf)))
    return np.array([y[brightest] + 0.6 * x[brightest], 0.6])


def _noise(points: Sequence[EvidencePoint], t: Array, current: Array, energy: float) -> Array:
    """Covariance of the readings about the line: own noise, shared scale, shared soak."""
    own = own_covariance(points)
    sessions = [p.session for p in points]
    same = np.array([[a == b for b in sessions] for a in sessions])
    soak = same & (np.abs(t[:, None] - t[None, :]) < SAME_SOAK)
    scale = current * [p.scale_uncertainty for p in points]
    kelvin = current * energy / (BOLTZMANN_PER_CHARGE * t**2)
    kelvin = kelvin * [p.temperature_uncertainty for p in points]
    return np.asarray(own + np.outer(scale, scale) * same + np.outer(kelvin, kelvin) * soak)


__all__ = [
    "EnergyFit",
    "ExponentFit",
    "Inferred",
    "ResponsivityFit",
    "SlopeFit",
    "energy_fit",
    "energy_words",
    "finger_check",
    "infer",
    "meanings",
    "responsivity",
    "voltage_exponent",
    "zero_bias_slope",
]
