"""Fits and diagnosis in one shape: parameters, covariance, lack of fit, residuals, plain meaning."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp, sqrt

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict

from clampwright.bench import fits
from clampwright.bench.diagnosis import Diagnosis
from clampwright.bench.weighted_line import Judged
from clampwright.errors import InputError
from clampwright.parts.evidence import EvidencePoint
from clampwright.physics.constants import ROOM_TEMPERATURE
from clampwright.quantities import write
from clampwright.quantities.fields import Current, Ratio
from clampwright.uncertain import NORMAL_95

Array = NDArray[np.float64]
SHOWN_EFFECTS = 4  # [1] the weight of further ones is next to nothing
COOL, WARM = (
    (288.15, 300.15),
    (301.15, 313.15),
)  # [K] of a finger check: the room, and a finger's warmth


class _View(BaseModel):
    model_config = ConfigDict(frozen=True)


class Parameter(_View):
    """One fitted number in SI with its standard uncertainty; `text` is how it is printed."""

    name: str
    value: float
    standard_uncertainty: float
    unit: str
    text: str


class Residual(_View):
    """One reading of a fit: `value` is what the fit leaves over, in its own standard uncertainties."""

    at: str
    measured: Current
    fitted: Current
    value: Ratio


class FitView(_View):
    """One fit. `covariance` belongs to `parameters`; it is widened where the fit is bad.

    value  : what it found, with its 95 % uncertainty; `meaning` says what that means in plain words
    chance : of a scatter at least as large, if the fit were right; None without degrees of freedom
    """

    name: str
    value: str
    meaning: str
    parameters: tuple[Parameter, ...]
    covariance: tuple[tuple[float, ...], ...]
    chi_square: float
    degrees_of_freedom: int
    chance: Ratio | None
    contradicted: bool
    residuals: tuple[Residual, ...]

    @property
    def correlation(self) -> float:
        """Correlation coefficient of the two parameters."""
        c = self.covariance
        return c[0][1] / sqrt(c[0][0] * c[1][1]) if c[0][0] * c[1][1] > 0 else 0.0

    def lines(self) -> list[str]:
        """Meaning first, then numbers, lack of fit and residuals, one line each."""
        numbers = "; ".join(f"{p.name} {p.text}" for p in self.parameters)
        shown = ", ".join(f"{round(r.value, 1) + 0.0:+.1f} ({r.at})" for r in self.residuals)
        left = f"  residuals over their uncertainties: {shown}".replace("-", "−")
        return [
            f"{self.value}: {self.meaning}",
            f"  {numbers} (standard uncertainties); correlation {self.correlation:+.2f}",
            f"  {self._judged()}",
            *([left] if self.degrees_of_freedom else []),
        ]

    def _judged(self) -> str:
        if self.chance is None:
            return "lack of fit: as many numbers as readings, nothing is left to judge it by"
        verdict = "the readings contradict it" if self.contradicted else "none shown"
        return (
            f"lack of fit: {verdict} (χ² {self.chi_square:.3g} for {self.degrees_of_freedom} degrees of "
            f"freedom, chance {self.chance:.2g})"
        )


def fit_views(points: Sequence[EvidencePoint]) -> tuple[FitView, ...]:
    """Every fit that the readings of one wiring of one part allow."""
    tried = (energy_view, exponent_view, slope_view, light_view)
    found = (_made(view, points) for view in tried)
    return tuple(view for view in found if view is not None)


class EffectView(_View):
    """One effect of the diagnosis: weight (all together 1), what speaks for it and what against."""

    effect: str
    weight: Ratio
    favour: tuple[str, ...]
    against: tuple[str, ...]


def effect_views(diagnosis: Diagnosis) -> tuple[EffectView, ...]:
    """The likeliest effects of a diagnosis, first one first."""
    return tuple(EffectView(**vars(r)) for r in diagnosis.ranked[:SHOWN_EFFECTS])


def finger_words(points: Sequence[EvidencePoint]) -> str:
    """The finger check from one voltage in the dark, room against 28…40 °C; "" without both."""
    dark = [p for p in points if p.illuminance == 0 and p.reverse_voltage >= fits.DEEP]
    for warm in dark:
        for cool in dark:
            alike = warm.reverse_voltage == cool.reverse_voltage
            if alike and _within(cool, COOL) and _within(warm, WARM):
                return f"finger check: {fits.finger_check(cool, warm)}"
    return ""


def energy_view(points: Sequence[EvidencePoint]) -> FitView:
    """Activation energy at the voltage with most temperatures, and the current at 23 °C from it."""
    used = most([p for p in points if p.illuminance == 0], lambda p: p.reverse_voltage)
    fit = fits.energy_fit(used)
    cold = fits.infer(fit, ROOM_TEMPERATURE)
    ends = " … ".join(write(v, "current", digits=2) for v in (cold.low, cold.high))
    leak = write(cold.value, "current", digits=2)
    carried = f"at {write(ROOM_TEMPERATURE, 'temperature')} {leak} ({ends})"
    spread = float(np.sqrt(fit.covariance[0, 0]))
    at = f"current at {write(fit.reference_temperature, 'temperature')}"
    parameters = (
        _logarithm(at, fit.logarithm, spread),
        _plain("energy", fit.energy, fit.energy_uncertainty, "eV", "{:.3f} ± {:.3f} eV"),
    )
    told, _, meaning = fits.energy_words(fit).partition(": ")
    words = (told, f"{meaning}; {carried}")
    return _view("activation energy", words, parameters, fit.covariance, used, fit.judged)


def exponent_view(points: Sequence[EvidencePoint]) -> FitView:
    """Exponent over voltage at the temperature with most voltages."""
    deep = [
        p
        for p in points
        if p.illuminance == 0 and p.reverse_voltage >= fits.DEEP and p.detected and p.leakage > 0
    ]
    used = most(deep, lambda p: round(p.temperature))
    fit = fits.voltage_exponent(used)
    spread = float(np.sqrt(fit.covariance[0, 0]))
    parameters = (
        _logarithm("current at V + V_bi = 1 V", fit.logarithm, spread),
        _plain("exponent", fit.exponent, fit.uncertainty, "1", "{:.3f} ± {:.3f}"),
    )
    in_amperes = [exp(v) for v in fit.judged.fitted]
    told, _, meaning = fit.words.partition(": ")
    words = (told, meaning)
    return _view(
        "exponent over voltage", words, parameters, fit.covariance, used, fit.judged, in_amperes
    )


def slope_view(points: Sequence[EvidencePoint]) -> FitView:
    """Slope at zero bias from small voltages of both signs, in the dark."""
    dark = [p for p in points if p.illuminance == 0 and 0 < abs(p.reverse_voltage) <= 0.03]
    used = most(dark, lambda p: round(p.temperature))
    fit = fits.zero_bias_slope(used)
    parameters = (
        _quantity("current at 0 V", fit.offset, fit.offset_uncertainty, "current", "A"),
        _quantity("conductance", fit.conductance, fit.uncertainty, "conductance", "S"),
    )
    told, _, more = fit.words.partition("; ")
    if fit.resistance is not None:
        told += f" ± {100 * NORMAL_95 * fit.uncertainty * fit.resistance:.2g} %"
    words = (told, more or "what a clamp near 0 V leaks is its voltage over this")
    return _view("slope at 0 V", words, parameters, fit.covariance, used, fit.judged)


def light_view(points: Sequence[EvidencePoint]) -> FitView:
    """Current for each lux where the part was lit, dark readings of the same condition with it."""
    lit = [p for p in points if p.illuminance > 0]
    where = {(p.reverse_voltage, round(p.temperature)) for p in lit[:1]}
    used = [p for p in points if (p.reverse_voltage, round(p.temperature)) in where]
    fit = fits.responsivity(used)
    spread = float(np.sqrt(fit.covariance[0, 0]))
    parameters = (
        _quantity("dark current", fit.dark, spread, "current", "A"),
        _quantity("responsivity", fit.responsivity, fit.uncertainty, "responsivity", "A/lx"),
    )
    told, _, more = fit.words.partition("; ")
    words = (f"light: {told}", more or "proportional to the light")
    return _view("response to light", words, parameters, fit.covariance, used, fit.judged)


def most(
    points: Sequence[EvidencePoint], key: Callable[[EvidencePoint], float]
) -> list[EvidencePoint]:
    """The points of the condition that has the most; the later one of equals."""
    groups: dict[float, list[EvidencePoint]] = {}
    for p in points:
        groups.setdefault(key(p), []).append(p)
    return max(reversed(groups.values()), key=len, default=[])


def _made(
    view: Callable[[Sequence[EvidencePoint]], FitView], points: Sequence[EvidencePoint]
) -> FitView | None:
    """A fit, or nothing where its readings were not taken."""
    try:
        return view(points)
    except InputError:
        return None


def _view(
    name: str,
    words: tuple[str, str],
    parameters: tuple[Parameter, ...],
    covariance: Array,
    used: Sequence[EvidencePoint],
    judged: Judged,
    fitted: Sequence[float] = (),
) -> FitView:
    residuals = tuple(
        Residual(at=_where(p), measured=p.leakage, fitted=f, value=r)
        for p, f, r in zip(used, fitted or judged.fitted, judged.residuals, strict=True)
    )
    return FitView(
        name=name,
        value=words[0],
        meaning=words[1],
        parameters=parameters,
        covariance=tuple(tuple(row) for row in covariance.tolist()),
        chi_square=judged.chi_square,
        degrees_of_freedom=judged.degrees_of_freedom,
        chance=judged.chance,
        contradicted=judged.lacking,
        residuals=residuals,
    )


def _where(p: EvidencePoint) -> str:
    parts = [write(p.reverse_voltage, "voltage"), write(p.temperature, "temperature")]
    return ", ".join(parts + ([write(p.illuminance, "illuminance")] if p.illuminance else []))


def _within(point: EvidencePoint, span: tuple[float, float]) -> bool:
    return span[0] <= point.temperature <= span[1]


def _logarithm(name: str, value: float, spread: float) -> Parameter:
    """ln(I/A), printed as the current and the factor of one standard uncertainty."""
    text = f"{write(exp(value), 'current')} ×/÷ {exp(spread):.3f}"
    return Parameter(
        name=f"ln of {name}", value=value, standard_uncertainty=spread, unit="ln(A)", text=text
    )


def _plain(name: str, value: float, spread: float, unit: str, form: str) -> Parameter:
    text = form.format(value, spread)
    return Parameter(name=name, value=value, standard_uncertainty=spread, unit=unit, text=text)


def _quantity(name: str, value: float, spread: float, dimension: str, unit: str) -> Parameter:
    text = f"{write(value, dimension)} ± {write(spread, dimension, digits=2)}"
    return Parameter(name=name, value=value, standard_uncertainty=spread, unit=unit, text=text)


__all__ = [
    "EffectView",
    "FitView",
    "Parameter",
    "Residual",
    "effect_views",
    "finger_words",
    "fit_views",
    "most",
]
