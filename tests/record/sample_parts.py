"""Parts to draw: demo sheets (all numbers invented) with a few made-up readings."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib import resources

from clampwright.parts.clamp_part import clamp_part
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.sheet import read_sheet
from clampwright.parts.wirings import wirings
from clampwright.verdict.part_view import PartResult, part_view

DEMO = resources.files("clampwright.workspace").joinpath("demo_data", "orchard", "parts")
HASH = "0123456789abcdef" * 4


def reading(voltage: float, celsius: float, leakage: float, width: float) -> EvidencePoint:
    return EvidencePoint(
        reverse_voltage=voltage,
        temperature=celsius + 273.15,
        illuminance=0.0,
        leakage=leakage,
        standard_uncertainty=width,
        session="one",
        temperature_uncertainty=0.5,
        source=f"made-up reading at {voltage:g} V",
    )


READINGS = {
    "C/B+E": (
        reading(5.0, 23.0, 3.8e-12, 0.4e-12),
        reading(5.0, 60.0, 65e-12, 1e-12),
        reading(2.5, 60.0, 50e-12, 1e-12),
    ),
    "C+B/E": (reading(2.5, 23.0, 0.2e-12, 0.5e-12),),  # not detected
}


@cache
def sample_part(name: str) -> PartResult:
    text = DEMO.joinpath(f"{name}.toml").read_text(encoding="utf-8")
    sheet = read_sheet(tomllib.loads(text), f"{name}.toml")
    readings = READINGS if name == "npn-small" else {}
    return part_view(
        sheet, wirings(sheet), lambda w: clamp_part(sheet, w, readings.get(w.name, ())), HASH
    )
