"""What a part shows: curves against textbook formulas, kinds of knowledge kept apart."""

from __future__ import annotations

import json
import tomllib
from functools import cache
from importlib import resources
from math import exp, log

import numpy as np
import pytest

from clampwright.parts.clamp_part import Clamp, clamp_part
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.sheet import read_sheet
from clampwright.parts.wirings import wirings
from clampwright.verdict.part_view import PartResult, WiringView, part_view

DEMO = resources.files("clampwright.workspace").joinpath("demo_data", "orchard", "parts")
BOLTZMANN = 8.617333262e-5  # [eV/K] CODATA 2018
ROOM = 296.15  # [K]
READING = EvidencePoint(
    reverse_voltage=5.0, temperature=ROOM, illuminance=0.0, leakage=4e-12,
    standard_uncertainty=0.2e-12, session="one", source="made-up reading",
)  # fmt: skip


@cache
def sheet_of(name: str):
    text = DEMO.joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return read_sheet(tomllib.loads(text), f"{name}.toml")


def clamp_of(name: str, wiring: str) -> Clamp:
    return clamp_part(sheet_of(name), wiring, [READING] if wiring == "C/B+E" else ())


@cache
def part(name: str) -> PartResult:
    sheet = sheet_of(name)
    return part_view(sheet, wirings(sheet), lambda w: clamp_of(name, w.name), "hash")


def view(name: str, wiring: str) -> WiringView:
    return next(w for w in part(name).wirings if w.name == wiring)


def curve(one: WiringView, against: str):
    return next(c for c in one.curves if c.against == against).points


CASES = [
    ("npn-small", "C/B+E"),
    ("npn-small", "C+E/B"),
    ("glass-diode", "K/A"),
    ("schottky-small", "K/A"),
]


@pytest.mark.parametrize(("name", "wiring"), CASES)
def test_slope_at_zero_is_that_of_the_curve_and_of_the_textbook(name: str, wiring: str) -> None:
    """1/r_0 = I_S/(n_D·V_T) + I_G/(n_G·V_T) + G: derivative of Shockley's equation at 0 V
    (Sze, Physics of Semiconductor Devices), currents at 23 °C."""
    one, law = view(name, wiring), clamp_of(name, wiring).fitted.law

    def at_room(current: float, energy: float, exponent: float) -> float:
        t0 = law.reference_temperature
        inverse = (1 / t0 - 1 / ROOM) / BOLTZMANN
        return current * (ROOM / t0) ** exponent * exp(energy * inverse)

    diffusion = at_room(
        law.diffusion_current, law.diffusion_activation_energy, law.diffusion_temperature_exponent
    )
    generation = at_room(
        law.generation_current,
        law.generation_activation_energy,
        law.generation_temperature_exponent,
    )
    thermal = BOLTZMANN * ROOM
    slope = diffusion / (law.diffusion_ideality * thermal)
    slope += generation / (law.generation_ideality * thermal)
    slope += at_room(law.film_conductance, law.film_activation_energy, 0.0)
    outside = 1 / slope + law.series_resistance
    assert one.zero_bias_resistance == pytest.approx(outside, rel=1e-6, abs=0)
    around = [p for p in curve(one, "voltage") if 0 < abs(p.voltage) < 1.5e-3]
    rise = (around[1].current - around[0].current) / (around[1].voltage - around[0].voltage)
    assert rise == pytest.approx(1 / outside, rel=1e-3, abs=0)


@pytest.mark.parametrize(("name", "wiring"), CASES)
def test_current_is_signed_into_the_anode_and_rises_with_voltage(name: str, wiring: str) -> None:
    points = curve(view(name, wiring), "voltage")
    volts = np.array([p.voltage for p in points])
    current = np.array([p.current for p in points])
    assert np.all(np.diff(volts) > 0)
    assert np.all(np.diff(current) > 0)
    assert np.all(current[volts < -1e-9] < 0)
    assert np.all(current[volts > 1e-9] > 0)
    assert (volts[0], volts[-1]) == pytest.approx(
        (-6.6 if wiring == "C+E/B" else -20.0, 1.0), rel=1e-12, abs=0
    )
    for p in points:
        assert p.low <= p.current <= p.high


def test_leakage_doubles_every_so_many_kelvin_on_the_curve() -> None:
    """ln 2 = (E/k)·(1/T − 1/(T + d)) + γ·ln((T + d)/T), solved by the curve itself."""
    one = view("npn-small", "C/B+E")
    points = curve(one, "temperature")
    kelvin = [p.temperature for p in points]
    logs = [log(p.current) for p in points]
    room, warmer = np.interp([ROOM, ROOM + one.doubling], kelvin, logs)
    assert warmer - room == pytest.approx(log(2), abs=0.05)
    assert np.all(np.diff(logs) > 0)


def test_light_adds_responsivity_times_lux() -> None:
    """A photocurrent is proportional to illuminance (textbook); it flows in reverse."""
    one, law = view("glass-diode", "K/A"), clamp_of("glass-diode", "K/A").fitted.law
    for p in curve(one, "light")[::10]:
        added = p.current - one.leakage
        assert added == pytest.approx(law.responsivity * p.illuminance, rel=1e-3, abs=0)


def test_without_readings_the_maximum_bounds_and_the_class_speaks() -> None:
    one = view("npn-small", "C/B")  # the sheet states at most 15 nA at 30 V, 25 °C
    assert one.basis == "maximum"
    assert one.leakage_high == pytest.approx(15e-9, rel=1e-9, abs=0)
    assert one.leakage < 0.01 * one.leakage_high
    assert [p.basis for p in one.evidence] == ["maximum"]
    assert one.known == ()
    assert one.lack_of_fit is None


def test_a_reading_moves_only_its_own_wiring() -> None:
    read, other = view("npn-small", "C/B+E"), view("npn-small", "C/B")
    assert read.basis == "measured"
    assert read.leakage == pytest.approx(4e-12, rel=0.05, abs=0)
    assert {p.basis for p in read.evidence} == {"measured", "maximum"}
    measured = next(p for p in read.evidence if p.basis == "measured")
    # 1.96 standard uncertainties: two-sided 95 % of the normal distribution
    assert measured.high - measured.leakage == pytest.approx(1.96 * 0.2e-12, rel=0.03, abs=0)
    assert other.basis == "maximum"


def test_forward_branch_claims_no_interval_beyond_what_is_fitted() -> None:
    for p in curve(view("npn-small", "C/B+E"), "voltage"):
        if p.voltage > 0.15:
            assert p.low == p.current == p.high


def test_rejected_wiring_keeps_its_reason_and_has_no_law() -> None:
    one = view("npn-small", "C/E")
    assert one.rejected
    assert "base open" in one.reason
    assert (one.basis, one.leakage, one.curves, one.law) == (None, None, (), {})


@pytest.mark.parametrize("name", ["npn-small", "esd-array", "led-red", "rectifier"])
def test_every_wiring_is_shown_and_survives_json(name: str) -> None:
    result = part(name)
    assert [w.name for w in result.wirings] == [w.name for w in wirings(sheet_of(name))]
    data = json.loads(result.model_dump_json())
    some = next(w for w in data["wirings"] if not w["rejected"])
    assert some["leakage"]["unit"] == "A"
    assert PartResult.model_validate_json(result.model_dump_json()) == result
