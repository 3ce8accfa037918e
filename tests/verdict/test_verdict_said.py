"""What a result says of its own assumptions: chip sizes, doubtful figures, circuits not tried."""

from __future__ import annotations

import pytest
from small_designs import design, diode

from clampwright.verdict.check import check_design
from clampwright.verdict.faults import faults_of_design
from clampwright.verdict.layout import left_out
from clampwright.verdict.rank import rank_design

FAULT = [{"name": "F1", "voltage": "24 V"}]


def sized(package: str, **more: str):
    network = {"outer_resistor": {"value": "100 kΩ", "count": 2, "package": package, **more}}
    return design(network=network, faults=FAULT)


@pytest.mark.parametrize("package", ["9999", "1207"])
def test_an_unknown_chip_size_says_whose_ratings_stand_for_it(package: str) -> None:
    found = faults_of_design(sized(package), diode())
    words = f"chip size 1206 taken, {package} is not known"
    assert any(words in text for text in found.defaults)
    line = next(s for c in found.cases for s in c.stresses if s.part == "outer resistor")
    assert words in line.note and line.basis == "assumed"


def test_a_known_size_or_stated_ratings_are_told_as_such() -> None:
    known = faults_of_design(sized("0805"), diode()).defaults
    assert "resistor ratings are those of chip size 0805" in known
    stated = sized("9999", working_voltage="500 V", power_rating="1 W")
    assert not any("chip size" in text for text in faults_of_design(stated, diode()).defaults)


@pytest.mark.parametrize(("ohms", "meant"), [("50 mΩ", "50.0"), ("0.9 mΩ", None), ("1 Ω", "")])
def test_a_source_of_milliohms_is_doubted(ohms: str, meant: str | None) -> None:
    flags = check_design(design(source={"resistance": ohms}), diode()).flags
    told = [text for text in flags if "its wires have more" in text]
    assert bool(told) == (meant != "")
    if told:
        assert ("did you mean" in told[0]) == (meant is not None)


def test_two_faults_of_one_name_are_refused() -> None:
    with pytest.raises(ValueError, match='two faults are named "F1"'):
        design(faults=FAULT * 2)


def test_ranking_names_every_circuit_that_it_leaves_out() -> None:
    found = rank_design(design("T2"), None, [])
    said = " ".join(found.left_out)
    tried = {c.topology for c in found.candidates}
    named = {w.strip(",:") for w in said.split() if w.startswith("T") and w.strip(",:T").isdigit()}
    assert {f"T{n}" for n in range(1, 19)} <= named | tried | {"T2", "T5", "T6"}
    assert "another amplifier circuit" in said and "values the design does not state" in said
    assert left_out(design("T2"), []) == ()


def test_temperatures_and_light_that_nobody_stated_are_listed() -> None:
    said = check_design(design(), diode()).defaults
    for words in ("the coldest sensor", "the hottest sensor", "the coldest board"):
        assert any(text.startswith(f"{words} is not stated: 23.0") for text in said), words
    assert any(text.startswith("the light at the clamp is not stated: 0") for text in said)
    stated = design(board={"temperature_maximum": "45 °C", "illuminance_maximum": "0 lx"})
    left = check_design(stated, diode()).defaults
    assert not any("the hottest board" in text or "the light" in text for text in left)


@pytest.mark.parametrize(("accuracy", "told"), [("5 V", True), ("0.5 V", True), ("0.3 V", False)])
def test_an_accuracy_wider_than_the_signal_is_flagged(accuracy: str, told: bool) -> None:
    wanted = {"quantity": "voltage", "signal_minimum": "-200 mV", "signal_maximum": "200 mV"}
    flags = check_design(design(requirement={**wanted, "accuracy": accuracy}), diode()).flags
    assert any("wider than the whole signal" in text for text in flags) == told
