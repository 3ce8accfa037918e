"""The catalogue of generic classes: what is believed of a junction before anything is measured.

Each class is data (files beside this module) with wide spreads and a source, or "common
practice, no source". A class is a prior for the law fit, never a result.
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from difflib import get_close_matches
from functools import lru_cache
from importlib import resources
from typing import Annotated

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict, Field

from clampwright.errors import InputError
from clampwright.parts.law_model import LawPrior, reverse_leakage
from clampwright.physics.clamp import ClampLaw
from clampwright.physics.constants import (
    BOLTZMANN_PER_CHARGE,
    BUILT_IN_VOLTAGE,
    REFERENCE_TEMPERATURE,
)
from clampwright.quantities.fields import (
    Capacitance,
    Current,
    Illuminance,
    Resistance,
    Temperature,
    Voltage,
)


class ClassPart(BaseModel):
    """Base of every table of the catalogue: frozen, no unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class LeakageSpread(ClassPart):
    """Dark reverse leakage: log-normal about `median` at one voltage and temperature."""

    median: Annotated[Current, Field(gt=0)]
    voltage: Annotated[Voltage, Field(gt=0)]
    temperature: Temperature = REFERENCE_TEMPERATURE
    log_standard_deviation: Annotated[float, Field(gt=0)]
    source: str


class Spread(ClassPart):
    """A number with a Gaussian spread (energies in eV)."""

    mean: float
    standard_deviation: Annotated[float, Field(gt=0)]
    source: str


class LightSpread(ClassPart):
    """Photocurrent at one illuminance: log-normal about `median`, warm-white or daylight."""

    median: Annotated[Current, Field(gt=0)]
    illuminance: Annotated[Illuminance, Field(gt=0)]
    log_standard_deviation: Annotated[float, Field(gt=0)]
    source: str


class Forward(ClassPart):
    """The diffusion term that sets the forward drop, and the resistance in series.

    Without `voltage` the reverse law alone, continued forward, gives the drop (Schottky).
    """

    voltage: Voltage | None = None  # at `current`, 25 °C
    current: Annotated[Current, Field(gt=0)] = 1e-3
    ideality: Annotated[float, Field(gt=0)] = 1.0
    activation_energy: float = 1.12  # [eV]
    temperature_exponent: float = 3.0
    series_resistance: Resistance = 0.0
    source: str


class Knee(ClassPart):
    """A soft knee (tunnelling) or a symmetric power law at `voltage` and `current`."""

    voltage: Annotated[Voltage, Field(gt=0)]
    current: Annotated[Current, Field(gt=0)]
    width: Voltage | None = None  # per e-fold: a soft knee in reverse
    exponent: float | None = None  # > 1: symmetric power law
    source: str


class JunctionClass(ClassPart):
    """A generic class of junction and what is believed of it."""

    name: str
    title: str
    leakage: LeakageSpread
    activation_energy: Spread  # apparent: a plain Arrhenius line
    grading: Spread  # growth with reverse voltage; an effective exponent
    ideality: Spread  # of the reverse and near-zero current: the zero-bias slope
    light: LightSpread | None = None
    forward: Forward | None = None
    knee: Knee | None = None
    ohmic: bool = False  # leakage proportional to voltage (varistor body, switch, film)
    capacitance: Capacitance  # at 0 V, typical
    breakdown_minimum: Voltage | None = None  # usual rating
    breakdown_typical: Voltage | None = None  # where avalanche sets in
    forward_current_maximum: Current | None = None  # usual rating
    combined_of: tuple[str, ...] = ()  # classes which this one stands for when in parallel
    ratings_source: str
    note: str = ""


@lru_cache(maxsize=1)
def catalogue() -> dict[str, JunctionClass]:
    """Every class by name, in the order of the data files."""
    folder = resources.files("clampwright.parts").joinpath("catalogue")
    files = sorted((f for f in folder.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)
    classes: dict[str, JunctionClass] = {}
    for file in files:
        for entry in tomllib.loads(file.read_text(encoding="utf-8")).get("class", []):
            found = JunctionClass.model_validate(entry, context={"sheet": file.name})
            classes[found.name] = found
    return classes


def junction_class(name: str, where: str = "") -> JunctionClass:
    """The class called `name`; InputError names the nearest, or all, otherwise."""
    classes = catalogue()
    if name not in classes:
        close = get_close_matches(name, classes, n=3)
        raise InputError(
            f'no class "{name}" in the catalogue',
            where=where,
            expected=" or ".join(f'"{near}"' for near in close) or "one of " + ", ".join(classes),
        )
    return classes[name]


def combined_class(names: tuple[str, ...]) -> JunctionClass:
    """The class that stands for different junctions in parallel: a stated one or the leakiest."""
    for found in catalogue().values():
        if found.combined_of and set(found.combined_of) == set(names):
            return found
    return max((junction_class(name) for name in names), key=lambda c: c.leakage.median)


def class_law(found: JunctionClass) -> ClampLaw:
    """The law in the middle of the class, at 25 °C."""
    forward = forward_fields(found)
    shared: dict[str, float] = {
        **forward,
        "zero_bias_capacitance": found.capacitance,
        "responsivity": found.light.median / found.light.illuminance if found.light else 0.0,
        "built_in_voltage": BUILT_IN_VOLTAGE,
        "grading": found.grading.mean,
    }
    if found.breakdown_typical is not None:
        shared["breakdown_voltage"] = found.breakdown_typical
    shared |= knee_fields(found.knee)
    median = _median_at_reference(found)
    if found.ohmic:
        return ClampLaw(
            film_conductance=median / found.leakage.voltage,
            film_activation_energy=found.activation_energy.mean,
            **shared,
        )
    law = ClampLaw(
        generation_current=median / np.exp(found.grading.mean * _log_width(found)),
        generation_ideality=found.ideality.mean,
        generation_activation_energy=found.activation_energy.mean,
        **shared,
    )
    return _matched(law, median, found.leakage.voltage)


def _matched(law: ClampLaw, median: float, voltage: float) -> ClampLaw:
    """The law with its generation current set so that all mechanisms together give `median`."""
    rest = float(
        reverse_leakage(replace(law, generation_current=0.0), voltage, REFERENCE_TEMPERATURE)
    )
    for _ in range(3):  # the avalanche multiplies it, nearly independently of its size
        total = float(reverse_leakage(law, voltage, REFERENCE_TEMPERATURE))
        ratio = (median - rest) / (total - rest)
        law = replace(law, generation_current=law.generation_current * ratio)
    return law


def class_prior(found: JunctionClass, *, scale: float = 1.0, series: int = 1) -> LawPrior:
    """The class as a prior: `scale` times its area, or `series` like junctions in a row.

    In a row the same current flows through each at 1/`series` of the voltage.
    """
    law = class_law(found)
    law = replace(
        law,
        generation_current=law.generation_current * scale,
        diffusion_current=law.diffusion_current * scale,
        film_conductance=law.film_conductance * scale / series,
        responsivity=law.responsivity * scale,
        series_resistance=law.series_resistance * series / scale,
        zero_bias_capacitance=law.zero_bias_capacitance * scale / series,
        generation_ideality=law.generation_ideality * series,
        diffusion_ideality=law.diffusion_ideality * series,
        built_in_voltage=law.built_in_voltage * series,
        breakdown_voltage=law.breakdown_voltage * series,
        tunnelling_current=law.tunnelling_current * scale,
        tunnelling_voltage=law.tunnelling_voltage * series,
        tunnelling_width=law.tunnelling_width * series,
        symmetric_current=law.symmetric_current * scale,
        symmetric_voltage=law.symmetric_voltage * series,
    )
    names, covariance = _prior_spread(found)
    return LawPrior(
        law=law,
        names=names,
        covariance=covariance,
        reference_voltage=found.leakage.voltage * series,
        title=found.title,
    )


def forward_fields(found: JunctionClass) -> dict[str, float]:
    """Fields of the law that give the class's forward drop; none without a forward point."""
    if found.forward is None:
        return {}
    point = found.forward
    if point.voltage is None:
        return {"series_resistance": point.series_resistance}
    thermal = BOLTZMANN_PER_CHARGE * REFERENCE_TEMPERATURE * point.ideality
    inner = point.voltage - point.current * point.series_resistance
    return {
        "diffusion_current": float(point.current / np.expm1(inner / thermal)),
        "diffusion_ideality": point.ideality,
        "diffusion_activation_energy": point.activation_energy,
        "diffusion_temperature_exponent": point.temperature_exponent,
        "series_resistance": point.series_resistance,
    }


def knee_fields(knee: Knee | None) -> dict[str, float]:
    """Fields of the law for a soft or a symmetric knee."""
    if knee is None:
        return {}
    if knee.exponent is not None:
        return {
            "symmetric_current": knee.current,
            "symmetric_voltage": knee.voltage,
            "symmetric_exponent": knee.exponent,
        }
    return {
        "tunnelling_current": knee.current,
        "tunnelling_voltage": knee.voltage,
        "tunnelling_width": knee.width or 0.3,
    }


def _median_at_reference(found: JunctionClass) -> float:
    """The class's median leakage moved from its stated temperature to 25 °C."""
    inverse = 1 / REFERENCE_TEMPERATURE - 1 / found.leakage.temperature
    return float(
        found.leakage.median
        * np.exp(-found.activation_energy.mean / BOLTZMANN_PER_CHARGE * inverse)
    )


def _log_width(found: JunctionClass) -> float:
    """ln of the widening (1 + V/V_bi) at the stated voltage: multiplies the grading."""
    return float(np.log1p(found.leakage.voltage / BUILT_IN_VOLTAGE))


def _prior_spread(found: JunctionClass) -> tuple[tuple[str, ...], NDArray[np.float64]]:
    """Names and covariance of θ: the spread is stated at the class's voltage, so the current at
    zero widening and the grading go together."""
    magnitude = found.leakage.log_standard_deviation
    if found.ohmic:
        names: tuple[str, ...] = ("film_conductance", "film_activation_energy")
        return names, np.diag([magnitude**2, found.activation_energy.standard_deviation**2])
    names = ("generation_current", "generation_activation_energy", "grading", "generation_ideality")
    deviations = [
        magnitude,
        found.activation_energy.standard_deviation,
        found.grading.standard_deviation,
        found.ideality.standard_deviation / found.ideality.mean,
    ]
    if found.light:
        names = (*names, "responsivity")
        deviations.append(found.light.log_standard_deviation)
    mixing = np.eye(len(names))
    mixing[0, 2] = -_log_width(found)
    return names, np.asarray(mixing @ np.diag(np.square(deviations)) @ mixing.T)
