"""Part sheets: what is read, what is refused and in which words."""

import tomllib
from importlib import resources

import pytest

from clampwright.errors import InputError
from clampwright.parts.sheet import PartSheet, read_sheet

DEMO = resources.files("clampwright.workspace").joinpath("demo_data", "orchard", "parts")
SHEETS = sorted((f for f in DEMO.iterdir() if f.name.endswith(".toml")), key=lambda f: f.name)

SMALL = """
id = "diode-x"
title = "Some diode"
kind = "diode"
leads = ["K", "A"]
[package]
name = "SOD-323"
light = "opaque plastic"
[[junctions]]
name = "diode"
anode = "A"
cathode = "K"
class = "plastic switching diode"
breakdown_minimum = "75 V"
[[figures]]
quantity = "reverse leakage"
of = "diode"
kind = "maximum"
value = "5 µA"
voltage = "75 V"
temperature = "25 °C"
"""


def small(old: str = "", new: str = "") -> PartSheet:
    """The small sheet with one text replaced."""
    assert old in SMALL
    return read_sheet(tomllib.loads(SMALL.replace(old, new)), "parts/diode-x.toml")


@pytest.mark.parametrize("file", SHEETS, ids=lambda f: f.name)
def test_demo_sheet_is_read_and_named_like_its_file(file):
    sheet = read_sheet(tomllib.loads(file.read_text(encoding="utf-8")), file.name)
    assert file.name == f"{sheet.id}.toml"


def test_quantities_are_read_into_si():
    sheet = small()
    assert sheet.junctions[0].breakdown_minimum == 75.0
    assert sheet.figures[0].value == pytest.approx(5e-6, abs=0, rel=1e-9)
    assert sheet.figures[0].temperature == pytest.approx(298.15, abs=0, rel=1e-9)


def test_sheet_survives_json():
    sheet = small()
    assert PartSheet.model_validate_json(sheet.model_dump_json()) == sheet


@pytest.mark.parametrize("line", ['voltage = "75 V"\n', 'temperature = "25 °C"\n'])
def test_leakage_without_conditions_is_refused_with_advice(line):
    with pytest.raises(InputError) as refused:
        small(line, "")
    sentence = refused.value.sentence()
    assert "has no voltage or no temperature; add both from the same line" in sentence
    assert sentence.startswith("parts/diode-x.toml, figures.1: ")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('anode = "A"', 'anode = "X"', 'uses lead "X", which is not among the leads K, A'),
        ('kind = "maximum"', 'kind = "max"', "'maximum', 'typical', 'minimum' or 'measured'"),
        ('value = "5 µA"', 'value = "5 V"', "figures.1"),
        ('value = "5 µA"', "value = 5", "has no unit"),
        ('value = "5 µA"', 'value = "0 A"', "must be above 0 A"),
        ('quantity = "reverse leakage"', 'quantity = "leak"', "expected one of reverse leakage"),
        ('title = "Some diode"', "", "title: this field is missing"),
        ('title = "Some diode"', 'title = "x"\ncolour = "red"', "colour: unknown field"),
        ('class = "plastic', 'class = "plastc', "junctions.1.class: no class"),
        ('of = "diode"', 'of = "K/B"', 'figures.1.of: part diode-x has no wiring "K/B"'),
        ('leads = ["K", "A"]', 'leads = ["K", "K"]', "each with its own name"),
        ('breakdown_minimum = "75 V"', 'breakdown_minimum = "-75 V"', "breakdown_minimum"),
        ('breakdown_minimum = "75 V"', 'breakdown_minimum = "75"', "breakdown_minimum"),
    ],
)
def test_wrong_input_is_one_sentence_that_names_the_place(old, new, words):
    with pytest.raises(InputError) as refused:
        small(old, new)
    sentence = refused.value.sentence()
    assert words in sentence
    assert sentence.startswith("parts/diode-x.toml")
    assert "\n" not in sentence
