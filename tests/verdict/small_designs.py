"""Small invented designs and clamps for the tests of the verdict room."""

from clampwright.parts.clamp_part import Clamp, clamp_part
from clampwright.parts.sheet import read_sheet
from clampwright.verdict.design import Design

DIODE = {
    "id": "test-diode",
    "title": "Invented diode",
    "kind": "diode",
    "leads": ["A", "K"],
    "package": {"name": "TO-92", "light": "opaque plastic", "thermal_resistance": "200 K/W"},
    "junctions": [
        {
            "name": "junction",
            "anode": "A",
            "cathode": "K",
            "class": "npn collector-base",
            "breakdown_minimum": "100 V",
            "forward_current_maximum": "200 mA",
        }
    ],
}


def leak(value, kind="typical"):
    """A data-sheet leakage at 5 V and 25 °C."""
    return {
        "quantity": "reverse leakage",
        "of": "junction",
        "kind": kind,
        "value": value,
        "voltage": "5 V",
        "temperature": "25 °C",
        "source": "invented",
        "page": "1",
    }


def diode(figures=(), **junction) -> Clamp:
    """A diode clamp with the given data-sheet figures and ratings."""
    sheet = DIODE | {"figures": list(figures)}
    sheet["junctions"] = [DIODE["junctions"][0] | junction]
    for key in [k for k, v in sheet["junctions"][0].items() if v is None]:
        del sheet["junctions"][0][key]
    return clamp_part(read_sheet(sheet, "parts/test-diode.toml"), "K/A")


def design(topology="T2", **parts) -> Design:
    """A 1 MΩ source at a ±2.5 V amplifier; keyword tables are merged into the sheet."""
    sheet = {
        "title": "Invented input",
        "requirement": {
            "quantity": "voltage",
            "signal_minimum": "-200 mV",
            "signal_maximum": "200 mV",
            "accuracy": "1 mV",
        },
        "source": {"resistance": "1 MΩ"},
        "rails": {"positive": "2.5 V", "negative": "-2.5 V", "minimum_load": "1 mA"},
        "amplifier": {
            "bias_current": "1 pA",
            "offset_voltage": "0 V",
            "bias_kind": "measured",
            "guard_offset": "250 µV",
            "pin_current_maximum": "10 mA",
        },
        "network": {
            "topology": topology,
            "outer_resistor": {"value": "100 kΩ", "count": 2},
            "clamp": "test-diode K/A",
        },
    }
    if topology in ("T5", "T6"):
        sheet["network"]["inner_resistor"] = {"value": "10 kΩ"}
    if topology == "T5":
        sheet["network"]["guard_resistor"] = {"value": "4.7 kΩ"}
    for key, value in parts.items():
        sheet[key] = sheet[key] | value if isinstance(value, dict) and key in sheet else value
    return Design.model_validate(sheet)
