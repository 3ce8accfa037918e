"""Errors in the sensor's own unit, and what the record says of pairs and of current inputs."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from sample_results import sample_check, sample_corner, sample_design
from sample_topologies import sample_of

from clampwright.record.budget_plot import budget_plot
from clampwright.record.formulas import FORMULAS, formulas_used
from clampwright.record.look import figure_svg
from clampwright.record.margin import margin_svg
from clampwright.record.network_text import error_place
from clampwright.record.sensor_unit import SensorUnit, allowed_in_units, sensor_unit
from clampwright.record.tables import (
    allowance_heads,
    allowance_rows,
    dynamics_rows,
    judgement_words,
    requirement_rows,
    term_heads,
    term_row,
)
from clampwright.record.terminal import check_text
from clampwright.verdict.check import allowances
from clampwright.verdict.design import Design
from clampwright.verdict.results import CheckResult

PICOAMPERES = SensorUnit("pA", 1e-3)  # 1 mV at the output of 1 GΩ


def with_requirement(design: Design, **changes: object) -> Design:
    need = design.requirement.model_copy(update=changes)
    return design.model_copy(update={"requirement": need})


def dark_box() -> CheckResult:
    """A current input: 1 mV at the output of 1 GΩ is 1 pA, by Ohm's law."""
    check = sample_of("T13")
    design = with_requirement(
        check.design, accuracy=3.0, accuracy_unit="pA", sensitivity=1e-3, signal_law="constant",
        accuracy_of="offset", protection_share=1 / 6,
    )  # fmt: skip
    return check.model_copy(update={
        "design": design, "allowances": allowances(design),
        "judgements": tuple(
            j.model_copy(update={"volts_per_ampere": 1e9}) for j in check.judgements
        ),
        "dynamics": check.dynamics.model_copy(update={"volts_per_ampere": 1e9}),
    })  # fmt: skip


def volts_only(check: CheckResult) -> CheckResult:
    """The same with an accuracy in a unit that is no current, of the same size."""
    return check.model_copy(update={
        "design": with_requirement(check.design, accuracy_unit="mol/l"),
        "judgements": tuple(
            j.model_copy(update={"volts_per_ampere": None}) for j in check.judgements
        ),
        "dynamics": check.dynamics.model_copy(update={"volts_per_ampere": None}),
    })  # fmt: skip


@pytest.mark.parametrize(
    ("volts", "text"),
    [  # divided by hand
        (12.3e-6, "+0.0123\u2009pA"),
        (-1.52e-3, "−1.52\u2009pA"),
        (0.0, "0\u2009pA"),
        (1.234, "+1\u2009230\u2009pA"),
        (3e-8, "<0.0001\u2009pA"),
    ],
)
def test_a_voltage_in_the_sensor_unit(volts: float, text: str) -> None:
    assert PICOAMPERES.text(volts, signed=True) == text


def test_one_ph_is_the_slope_of_the_electrode_at_its_temperature() -> None:
    """2.303·kT/q with the exact CODATA constants of scipy, at 8 °C."""
    from math import log

    from scipy.constants import elementary_charge, k

    unit = sensor_unit(sample_design(), sample_corner())
    assert unit is not None and unit.name == "pH"
    slope = log(10) * k * 281.15 / elementary_charge
    assert unit.volts == pytest.approx(slope, rel=1e-3, abs=0)  # the sheet states 59.16 mV
    assert unit.number(0.93e-3) == "0.0167"


def test_accuracy_in_volts_needs_no_second_unit() -> None:
    design = with_requirement(sample_design(), accuracy_unit="V", accuracy=1e-3)
    assert sensor_unit(design, sample_corner()) is None
    assert allowed_in_units(design) == ""
    assert term_heads(None) == ("term", "value", "95 % interval", "known", "source")
    check = sample_check("T2").model_copy(update={"design": design})
    assert "that is" not in check_text(check)


def test_a_current_is_told_first_and_its_volts_beside_it() -> None:
    check = dark_box()
    judged = check.judgements[0]
    unit = sensor_unit(check.design, judged.corner)
    assert unit == PICOAMPERES and unit.ohms == pytest.approx(1e9, rel=1e-9, abs=0)
    assert term_heads(unit)[2] == "in volts"
    assert term_row(judged.terms[0], unit)[1:3] == ("+3.70\u2009pA", "+3.70\u2009mV")
    assert len(term_row(judged.terms[0], unit)) == len(term_heads(unit))
    words = judgement_words(judged, unit)
    assert "pA at the input against ± 930\u2009fA" in words
    assert words.endswith("that is +3.85\u2009mV against ± 930\u2009µV")
    rows = dict(dynamics_rows(check.dynamics, unit))
    assert rows["noise, integrated"].startswith("2.30\u2009fA (2.30\u2009µV at the output) rms")
    assert "fA/√Hz (" in rows["noise density"]


def test_tables_carry_both_units() -> None:
    check = volts_only(dark_box())
    judged = check.judgements[0]
    unit = sensor_unit(check.design, judged.corner)
    assert unit is not None and unit.name == "mol/l"
    assert term_heads(unit)[2] == "in mol/l"
    assert term_row(judged.terms[0], unit)[2] == "+3.7"
    assert len(term_row(judged.terms[0], unit)) == len(term_heads(unit))
    words = judgement_words(judged, unit)
    assert "that is +3.85\u2009mol/l (+3 … +4.7) against ± 0.93\u2009mol/l" in words
    assert "in mol/l" in check_text(check)
    assert (
        "= 0.0023\u2009mol/l rms" in dict(dynamics_rows(check.dynamics, unit))["noise, integrated"]
    )


def test_a_summing_node_may_leak_the_same_at_every_source_resistance() -> None:
    """Allowed current = share · accuracy: 3 pA / 6 = 0.5 pA, whatever the shunt of the source."""
    check = dark_box()
    rows = allowance_rows(check)
    assert len(rows) == 3 and len(allowance_heads(check.design)) == 4
    for row in rows:
        assert row[2] == "500\u2009µV = 0.5\u2009pA"
        assert row[3] == "500\u2009fA"


def test_the_chart_has_the_sensor_unit_along_its_top() -> None:
    check = volts_only(dark_box())
    figure = budget_plot(check)
    assert figure is not None
    svg = figure_svg(figure, name="f", title="t", description="d")
    words = ["".join(n.itertext()) for n in ElementTree.fromstring(svg).iter()]
    assert any(w == "in mol/l" for w in words)
    bottom, top = figure.axes
    assert top.get_xlim() == bottom.get_xlim()
    same = [axes.transData.transform((1e-3, 0))[0] for axes in (bottom, top)]
    assert same[0] == pytest.approx(same[1], rel=1e-9, abs=0)  # 1 mV stands above 1 mV
    labels = [label.get_text() for label in top.get_xticklabels()]
    places = top.get_xticks()
    for place, label in zip(places, labels, strict=True):
        number = float(label.replace("−", "-").replace("\u2009", ""))
        assert number * 1e-3 == pytest.approx(place, rel=1e-9, abs=1e-18)
    current = budget_plot(dark_box())
    assert current is not None and len(current.axes) == 1
    assert "current at the input" in current.axes[0].get_xlabel()
    assert any("pA" in label.get_text() for label in current.axes[0].get_xticklabels())
    plain = budget_plot(sample_check("T2").model_copy(
        update={"design": with_requirement(sample_design("T2"), accuracy_unit="V")}
    ))  # fmt: skip
    assert plain is not None and len(plain.axes) == 1


def test_the_margin_bar_carries_both_units_without_overlap() -> None:
    check = volts_only(dark_box())
    judged = check.judgements[0].model_copy(update={"error": 0.8e-3})
    for unit in (None, PICOAMPERES):
        root = ElementTree.fromstring(margin_svg(judged, unit=unit))
        texts = [n for n in root.iter() if n.tag.endswith("text")]
        boxes = []
        for node in texts:
            long, x = 8.0 * len(node.text or ""), float(node.attrib["x"])
            start = {"middle": x - long / 2, "end": x - long}.get(node.attrib["text-anchor"], x)
            boxes.append((start, start + long, float(node.attrib["y"])))
        (a, b, y), (c, d, z) = boxes
        assert y != z or b <= c or d <= a
        height = float(root.attrib["viewBox"].split()[3])
        assert max(y, z) < height
        assert ("pA" in "".join(t.text or "" for t in texts)) == (unit is not None)


@pytest.mark.parametrize("error", [0.0, 1e-9, -1e-9, 1.0])
def test_dot_and_words_of_the_margin_bar_stay_inside_it(error: float) -> None:
    judged = volts_only(dark_box()).judgements[0]
    root = ElementTree.fromstring(margin_svg(judged.model_copy(update={"error": error})))
    width = float(root.attrib["viewBox"].split()[2])
    dot = next(n for n in root.iter() if n.tag.endswith("circle"))
    x, radius = float(dot.attrib["cx"]), float(dot.attrib["r"])
    assert radius < x < width - radius
    for node in root.iter():
        if node.tag.endswith("text") and node.attrib["text-anchor"] == "middle":
            half = 8.0 * len(node.text or "") / 2
            assert half + 4 <= float(node.attrib["x"]) <= width - half - 4


def test_the_requirement_says_what_a_pair_and_a_calibration_need() -> None:
    design = with_requirement(
        sample_of("T2", pair=True).design, signal_minimum=2.495, signal_maximum=2.505,
        calibration_temperature=296.15, common_mode_rejection=80.0, noise=5e-7,
        noise_bandwidth=1.0, settle_time=None,
    )  # fmt: skip
    rails = design.rails.model_copy(update={"shunt_voltage": 5.6})
    twice = (design.faults[0].model_copy(update={"channels": 2}), *design.faults[1:])
    rows = dict(requirement_rows(design.model_copy(update={"rails": rails, "faults": twice})))
    assert rows["signal at each pin"] == "+2.49500\u2009V to +2.50500\u2009V"
    assert rows["zero taken once"] == "at 23.0\u2009°C, in the dark"
    assert rows["common-mode rejection"] == "at least 80 dB at 50\u2009Hz"
    assert rows["noise allowed"] == "500\u2009nV rms in 1\u2009Hz"
    assert rows["settle to"].endswith("no time stated")
    assert "shunt on the rail at 5.6\u2009V" in rows["rails"]
    assert "2 inputs at once" in rows["faults"]
    assert "absolute temperature" in rows["sensitivity"]


def test_the_error_is_counted_where_the_circuit_counts_it() -> None:
    assert error_place(sample_design("T2")) == "error at the pin"
    assert error_place(dark_box().design) == "error at the output"
    assert error_place(sample_of("T2", pair=True).design) == "error between the pins"


def test_formulas_follow_the_circuit() -> None:
    def names(check: CheckResult) -> set[str]:
        return {f.name for f in formulas_used(check)}

    pair = names(sample_of("T2", pair=True))
    assert {"two legs", "common-mode rejection"} <= pair
    assert not {"two legs", "after the zero"} & names(sample_of("T2"))
    current = names(dark_box())
    assert {"noise gain of a summing node", "clamp at the amplifier's offset voltage"} <= current
    assert not {"error at the pin, two resistors", "bandwidth and settling"} & current
    zeroed = sample_of("T2")
    design = with_requirement(zeroed.design, calibration_temperature=296.15)
    assert "after the zero" in names(zeroed.model_copy(update={"design": design}))
    for name in (f"T{n}" for n in range(1, 19)):
        assert len(names(sample_of(name))) >= 7
    assert len({f.name for f in FORMULAS}) == len(FORMULAS)
