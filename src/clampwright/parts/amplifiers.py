"""Families of amplifier inputs: the ranges in which their figures usually lie."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib import resources

from pydantic import BaseModel, ConfigDict

from clampwright.errors import InputError
from clampwright.quantities.fields import (
    Capacitance,
    Current,
    CurrentNoise,
    TemperatureDifference,
    Voltage,
    VoltageDrift,
    VoltageNoise,
)


class AmplifierClass(BaseModel):
    """One family: every pair is (low, high) of typical members; bias current at 25 °C."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    offset_voltage: tuple[Voltage, Voltage]
    offset_drift: tuple[VoltageDrift, VoltageDrift]
    bias_current: tuple[Current, Current]
    bias_doubling: TemperatureDifference | None = None  # None: follows no doubling law
    voltage_noise: tuple[VoltageNoise, VoltageNoise]
    current_noise: tuple[CurrentNoise, CurrentNoise]
    input_capacitance: tuple[Capacitance, Capacitance]
    pin_current_maximum: tuple[Current, Current]
    pin_beyond_rail: tuple[Voltage, Voltage]
    source: str
    note: str = ""


@lru_cache(maxsize=1)
def amplifier_classes() -> dict[str, AmplifierClass]:
    """Every family by name."""
    file = resources.files("clampwright.parts").joinpath("catalogue", "amplifiers.toml")
    entries = tomllib.loads(file.read_text(encoding="utf-8"))["amplifier"]
    found = (
        AmplifierClass.model_validate(entry, context={"sheet": "amplifiers.toml"})
        for entry in entries
    )
    return {family.name: family for family in found}


def amplifier_class(name: str, where: str = "") -> AmplifierClass:
    """The family called `name`; InputError lists the names otherwise."""
    families = amplifier_classes()
    if name not in families:
        raise InputError(
            f'no amplifier family "{name}"', where=where, expected="one of " + ", ".join(families)
        )
    return families[name]
