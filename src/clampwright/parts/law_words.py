"""What is known and what is only assumed about a fitted law, in words with values."""

from __future__ import annotations

from math import exp, sqrt

from clampwright.parts.law_fit import KNOWN_SHARE, FittedLaw
from clampwright.parts.law_model import LOG_PARAMETERS, magnitude_deviation, reverse_leakage
from clampwright.quantities import write
from clampwright.uncertain import NORMAL_95

PARTLY_SHARE = 0.9  # [1] below it the evidence has had a say, though not the word
PARAMETER_WORDS = {
    "generation_current": "reverse leakage",
    "generation_activation_energy": "activation energy (apparent)",
    "grading": "growth with reverse voltage (grading exponent)",
    "generation_ideality": "ideality near 0 V",
    "responsivity": "photocurrent",
    "film_conductance": "reverse leakage (ohmic)",
    "film_activation_energy": "activation energy (apparent)",
}
MAGNITUDES = ("generation_current", "film_conductance")


def left_to_class(fitted: FittedLaw) -> tuple[bool, ...]:
    """Of each parameter whether the readings leave half of its prior width or more."""
    return tuple(
        not known < KNOWN_SHARE * before
        for known, before in (_deviations(fitted, n) for n in range(len(fitted.names)))
    )


def _deviations(fitted: FittedLaw, index: int) -> tuple[float, float]:
    """Standard deviation of a parameter with the readings and by the class alone."""
    prior = fitted.prior
    if fitted.names[index] in MAGNITUDES:
        return (
            magnitude_deviation(prior, fitted.values, fitted.covariance),
            magnitude_deviation(prior, prior.values, prior.covariance),
        )
    both = (fitted.covariance, prior.covariance)
    known, before = (sqrt(covariance[index, index]) for covariance in both)
    return known, before


def known_and_assumed(fitted: FittedLaw) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Sentences on parameters the evidence has narrowed, and on those left to the class."""
    known, assumed = [], []
    prior = fitted.prior
    for index, name in enumerate(fitted.names):
        deviation, prior_deviation = _deviations(fitted, index)
        text = f"{PARAMETER_WORDS[name]} {_value(fitted, name)}{_spread(name, deviation)}"
        if deviation < KNOWN_SHARE * prior_deviation:
            known.append(text)
        else:
            partly = "partly " if deviation < PARTLY_SHARE * prior_deviation else ""
            assumed.append(f"{text}, {partly}as for any {prior.title or 'part of its class'}")
    return tuple(known), tuple(assumed)


def _value(fitted: FittedLaw, name: str) -> str:
    law = fitted.law
    if name in MAGNITUDES:
        voltage = fitted.prior.reference_voltage
        leakage = float(reverse_leakage(law, voltage, law.reference_temperature))
        return f"{write(leakage, 'current')} at {write(voltage, 'voltage')}, 25 °C, dark"
    value = float(getattr(law, name))
    if name.endswith("activation_energy"):
        return write(value, "activation_energy")
    if name == "responsivity":
        return write(value, "responsivity")
    return f"{value:.2f}"


def _spread(name: str, deviation: float) -> str:
    """± for energies and exponents, a factor for whatever is log-normal (95 %)."""
    expanded = NORMAL_95 * deviation
    if name in LOG_PARAMETERS:
        return f" within a factor {exp(expanded):.3g} (95 %)"
    unit = "\u2009eV" if name.endswith("activation_energy") else ""
    return f" ± {expanded:.2g}{unit} (95 %)"
