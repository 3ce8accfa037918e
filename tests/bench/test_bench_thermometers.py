"""Thermometers against the published tables, and the inverse against the table read backwards."""

import csv
from pathlib import Path

import numpy as np
import pytest

from clampwright.bench import thermometers
from clampwright.bench.instrument import read_profile
from clampwright.bench.readings import read_readings
from clampwright.bench.reduce import reduce_readings
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
    """Both junctions alike: no voltage."""
    assert thermometers.type_k_voltage(296.15, 296.15) == 0.0
    assert thermometers.type_k_temperature(0.0, 296.15) == pytest.approx(296.15, abs=1e-9)


def test_broken_leads_are_named():
    with pytest.raises(InputError, match="broken or shorted lead"):
        thermometers.platinum_temperature(1e6)
    with pytest.raises(InputError, match="swapped leads") as refused:
        thermometers.type_k_temperature(1.0)
    assert "-6.458 to 54.89 mV against 0 °C" in str(refused.value)  # the ends of the table
    with pytest.raises(InputError, match=r"-7\.458 to 53\.89 mV against 25 °C"):  # 1.000 mV there
        thermometers.type_k_temperature(1.0, 298.15)
    with pytest.raises(InputError, match="beyond a platinum"):
        thermometers.platinum_resistance(3000.0)


HEADER = "part,wiring,state,reverse voltage (V),light (lx),instrument,reading (µV)"
SHEET = {
    "id": "A1", "scale": "1 mV/nA", "tolerance": "1 %", "resolution": "0.1 µV",
    "temperature_uncertainty": "0.5 K",
}  # fmt: skip


def readings_file(title, cells):
    """Zeros, then two readings for each cell, zeros."""
    rows = [f",,zero open,,,A1,{v}{',' * (1 + title.count(','))}" for v in (12.3, 12.5)]
    read = [f"npn-small,C/B+E,reading,5,0,A1,{v},{c}" for c in cells for v in (16.1, 16.3)]
    return "\n".join((f"{HEADER},{title}", *rows, *read, *rows)) + "\n"


@pytest.mark.parametrize("name", ["pt100 (Ω)", "PT100 [ohm]"])
def test_readings_with_the_resistance_of_a_platinum_thermometer(name):
    """IEC 60751 table, every row between −40 and 200 °C."""
    rows = [r for r in table("pt100_iec60751.csv") if -40 <= r["t_C"] <= 200]
    made = read_readings(readings_file(name, [r["R_ohm"] for r in rows]))
    expected = np.repeat([r["t_C"] + 273.15 for r in rows], 2)
    assert made.temperature[2:-2] == pytest.approx(expected, abs=3e-4)
    assert np.isnan(made.temperature[[0, 1, -1]]).all()


def test_readings_with_the_voltage_of_a_type_k_couple():
    """ITS-90 table: cold junction at 0 °C, and at 25 °C, whose own voltage (1.000 mV) is then missing."""
    rows = [r for r in table("type_k_its90.csv") if -40 <= r["t_C"] <= 200]
    (room,) = (r["emf_mV"] for r in rows if r["t_C"] == 25)
    for cold, less in ((0, 0.0), (25, room)):
        cells = [f"{1e3 * (r['emf_mV'] - less):.3f},{cold}" for r in rows]
        made = read_readings(readings_file("type k (µV),cold junction (°C)", cells))
        expected = np.repeat([r["t_C"] + 273.15 for r in rows], 2)
        assert made.temperature[2:-2] == pytest.approx(expected, abs=0.04)  # 1 µV is 25 mK


@pytest.mark.parametrize(
    ("title", "cell", "told"),
    [
        ("pt100 (Ω)", "1.2e6", 'line 4, column "pt100": 1.2e'),
        ("pt100 (Ω)", "", 'column "temperature": the temperature is missing'),
        (
            "type k (µV),cold junction (°C)",
            "941,",
            'column "cold junction": the cold junction is m',
        ),
        ("type k (µV),cold junction (°C)", ",23", "a cold junction without type k"),
        ("type k (mV),cold junction (°C)", "941,23", 'column "type k": 941 mV is beyond'),
        ("temperature (°C),pt100 (Ω)", "23,108.96", "the temperature is written twice"),
    ],
)
def test_a_thermometer_that_says_nothing_is_told_by_line(title, cell, told):
    with pytest.raises(InputError) as refused:
        read_readings(readings_file(title, [cell]))
    assert told in str(refused.value) and "line 4" in str(refused.value)


def test_the_class_of_the_thermometer_counts_and_its_flicker_does_not():
    """Class B at 23 °C: 0.3 + 0.005·23 = 0.415 K, rectangular, beside 0.5 K; IEC 60751."""
    flickering = read_readings(readings_file("pt100 (Ω)", [108.95, 108.97, 108.96, 115.54]))
    for name, tolerance in (
        ("Pt100 class B", 0.415), ("Pt100 class A", 0.196), ("type K class 2", 2.5),
        ("type K class 1", 1.5), ("", 0.0),
    ):  # fmt: skip
        profile = read_profile(SHEET | {"thermometer_class": name}, "A1.toml")
        cool, warm = reduce_readings(flickering, {"A1": profile})
        assert (cool.count, warm.count) == (6, 2)
        assert cool.temperature == pytest.approx(
            thermometers.platinum_temperature(108.96), abs=1e-5
        )
        expected = (0.5**2 + tolerance**2 / 3) ** 0.5
        assert cool.temperature_uncertainty == pytest.approx(expected, abs=1e-3)
