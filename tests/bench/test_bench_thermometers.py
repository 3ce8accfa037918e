"""Thermometers against the published tables, and the inverse against the table read backwards."""

import csv
from pathlib import Path

import pytest

from clampwright.bench import thermometers
from clampwright.errors import InputError

DATA = Path(__file__).parents[1] / "data"


def table(name):
    with open(DATA / name, encoding="utf-8", newline="") as file:
        return [{k: float(v) for k, v in row.items()} for row in csv.DictReader(file)]


@pytest.mark.parametrize("row", table("pt100_iec60751.csv"), ids=lambda r: f"{r['t_C']:g}")
def test_platinum(row):
    """IEC 60751 table of resistance and of class tolerances."""
    kelvin = row["t_C"] + 273.15
    assert thermometers.platinum_resistance(kelvin) == pytest.approx(row["R_ohm"], abs=6e-5)
    assert thermometers.platinum_temperature(row["R_ohm"]) == pytest.approx(kelvin, abs=3e-4)
    for name in "AB":
        allowed = row[f"class_{name}_tol_C"]
        assert thermometers.platinum_tolerance(kelvin, name) == pytest.approx(allowed, abs=6e-4)


@pytest.mark.parametrize("row", table("type_k_its90.csv"), ids=lambda r: f"{r['t_C']:g}")
def test_type_k(row):
    """ITS-90 reference table (NIST Monograph 175), rounded there to 1 µV."""
    kelvin = row["t_C"] + 273.15
    volts = thermometers.type_k_voltage(kelvin)
    assert volts == pytest.approx(row["emf_mV"] * 1e-3, abs=0.6e-6)
    assert thermometers.type_k_temperature(volts) == pytest.approx(kelvin, abs=1e-6)


def test_reference_junction_at_room_temperature():
    """Both junctions alike: no voltage; the slope is the difference of the table over 1 K."""
    assert thermometers.type_k_voltage(296.15, 296.15) == 0.0
    assert thermometers.type_k_temperature(0.0, 296.15) == pytest.approx(296.15, abs=1e-9)
    for kelvin in (250.0, 296.15, 350.0):
        difference = thermometers.type_k_voltage(kelvin + 0.5) - thermometers.type_k_voltage(
            kelvin - 0.5
        )
        slope = thermometers.type_k_sensitivity(kelvin)
        assert slope == pytest.approx(difference, rel=1e-4, abs=0)


def test_broken_leads_are_named():
    with pytest.raises(InputError, match="broken or shorted lead"):
        thermometers.platinum_temperature(1e6)
    with pytest.raises(InputError, match="swapped leads"):
        thermometers.type_k_temperature(1.0)
    with pytest.raises(InputError, match="beyond a platinum"):
        thermometers.platinum_resistance(3000.0)
