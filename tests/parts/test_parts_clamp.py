"""A part sheet wired as a clamp: figures, lot, notes and the fit of its own readings together."""

import tomllib
from importlib import resources

import numpy as np
import pytest

from clampwright.errors import InputError
from clampwright.parts.clamp_part import clamp_part, sheet_figures
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.law_interval import leakage_interval
from clampwright.parts.sheet import read_sheet
from clampwright.parts.wirings import wiring_named

DEMO = resources.files("clampwright.workspace").joinpath("demo_data", "orchard", "parts")
ROOM = 296.15  # [K]


def demo(name):
    text = DEMO.joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return read_sheet(tomllib.loads(text), f"{name}.toml")


# Invented demo parts: leakage (A) at 5 V, 23 °C in the dark.
TRUTH = {
    ("npn-small", "C/B+E"): 3.7e-12,
    ("npn-small", "C+B/E"): 1.9e-12,
    ("jfet-small", "G/D+S"): 0.8e-12,
    ("glass-diode", "K/A"): 2.1e-9,
    ("esd-array", "IO1/V-"): 38e-12,
    ("schottky-small", "K/A"): 420e-9,
    ("led-red", "K/A"): 0.05e-12,
}


@pytest.mark.parametrize(("part", "wiring"), TRUTH, ids="_".join)
def test_sheet_alone_is_a_bound_far_above_and_a_class_around_the_truth(part, wiring):
    """Common practice, no source: a data-sheet maximum is 10²–10⁴ times a typical room value
    (more for the LED); it never becomes an estimate."""
    clamp = clamp_part(demo(part), wiring)
    assert clamp.fitted.basis == "maximum"
    truth = TRUTH[part, wiring]
    interval = leakage_interval(clamp.fitted, 5.0, ROOM)
    assert interval.low < truth < interval.high
    if part != "led-red":
        assert 90 < interval.high / truth < 3e4


@pytest.mark.parametrize(("part", "wiring"), TRUTH, ids="_".join)
def test_lot_of_the_wiring_is_found(part, wiring):
    clamp = clamp_part(demo(part), wiring)
    expected = {
        "npn-small C/B+E": (8, 0.35),
        "npn-small C+B/E": (5, 0.45),
        "jfet-small G/D+S": (6, 0.30),
        "glass-diode K/A": (10, 0.25),
        "esd-array IO1/V-": (5, 0.50),
        "schottky-small K/A": (4, 0.20),
    }.get(clamp.name)
    found = clamp.lot and (clamp.lot.count, clamp.lot.log_standard_deviation)
    assert found == expected


def orchard(volts, celsius, microvolts, s, lux=0.0):
    """One invented reading: 1 mV/nA ± 1 %, zero 12.4 µV with s 1.1 µV, ten of each."""
    current = (microvolts - 12.4e0) * 1e-12  # 1 µV is 1 pA
    u = np.sqrt((s**2 + 1.1**2) / 10 + 0.3**2) * 1e-12
    return EvidencePoint(
        volts, celsius + 273.15, lux, current, u, 0.01, "orchard", 1.0, source="orchard-bench"
    )


def test_bench_readings_of_the_small_transistor_give_its_hidden_truth():
    """Invented readings made from 3.7 pA, 0.66 eV, 4 fA/lx: each lies inside its own 95 %."""
    readings = [
        orchard(5, 23, 16.1, 1.3),
        orchard(5, 45, 34.3, 1.5),
        orchard(5, 60, 78.5, 2.0),
        orchard(5, 70, 139, 3),
        orchard(5, 23, 20.0, 1.3, 1000.0),
    ]
    clamp = clamp_part(demo("npn-small"), "B+E/C", readings)
    fitted = clamp.fitted
    assert fitted.basis == "measured"
    assert fitted.flags == ()
    interval = leakage_interval(fitted, 5.0, ROOM)
    assert interval.low < 3.7e-12 < interval.high
    assert interval.high / interval.low < 2
    deviation = np.sqrt(np.diag(fitted.covariance))
    energy = fitted.names.index("generation_activation_energy")
    light = fitted.names.index("responsivity")
    assert abs(fitted.values[energy] - 0.66) < 1.96 * deviation[energy]
    assert abs(fitted.values[light] - np.log(4e-15)) < 1.96 * deviation[light]


def test_hot_readings_of_the_jfet_carry_the_undetected_cold_one():
    readings = [
        orchard(5, 23, 13.2, 1.2),
        orchard(5, 45, 16.8, 1.3),
        orchard(5, 60, 25.6, 1.5),
        orchard(5, 70, 37.0, 1.8),
    ]
    clamp = clamp_part(demo("jfet-small"), "G/D+S", readings)
    interval = leakage_interval(clamp.fitted, 5.0, ROOM)
    assert interval.low < 0.8e-12 < interval.high
    assert interval.high / interval.low < 3


def test_rejected_wiring_is_refused_with_its_reason():
    with pytest.raises(InputError, match=r"npn-small C/E is no clamp: collector.*I_CBO"):
        clamp_part(demo("npn-small"), "C/E")


def test_figures_belong_to_their_wiring():
    sheet = demo("npn-small")
    assert sheet_figures(sheet, wiring_named(sheet, "C+E/B")) == ((), ())
    _, maxima = sheet_figures(sheet, wiring_named(sheet, "C/B+E"))
    assert [m.leakage for m in maxima] == pytest.approx([15e-9], abs=0, rel=1e-9)


def test_antiparallel_pair_is_told_apart():
    clamp = clamp_part(demo("esd-array"), "IO1/V-+V+")
    assert any("one direction" in note for note in clamp.notes)


def test_capacitance_and_breakdown_come_from_the_sheet():
    clamp = clamp_part(demo("npn-small"), "C/B+E")
    assert clamp.fitted.law.zero_bias_capacitance == pytest.approx(4e-12, abs=0, rel=1e-9)
    assert clamp.wiring.forward_current_maximum == pytest.approx(0.1, abs=0, rel=1e-9)
