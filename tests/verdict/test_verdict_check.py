"""`check` and its terms on small designs: signs, corners, allowances, monotone and mirrored."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_designs import design, diode, leak

from clampwright.errors import InputError
from clampwright.network.topologies import TOPOLOGIES
from clampwright.verdict.check import (
    PROTECTION,
    allowances,
    check_design,
    judge_sides,
)
from clampwright.verdict.corners import corners
from clampwright.verdict.error_terms import (
    ErrorTerms,
    Interval,
    bias_current,
    error_terms,
    with_series_resistance,
)
from clampwright.verdict.rank import accuracy
from clampwright.verdict.results import Verdict
from clampwright.verdict.terms_at import amplifier_offset
from clampwright.verdict.window import resistor_window

CLAMP = diode([leak("10 pA")])
TOPOLOGY = {"T1": None, "T2": CLAMP, "T5": CLAMP, "T6": CLAMP}


def protection(case, clamp=CLAMP):
    return next(j for j in check_design(case, clamp).judgements if j.name == PROTECTION)


def test_bias_of_a_data_sheet_flows_into_the_pin():
    """1 pA into the pin on 1 MΩ + 200 kΩ: −1.2 µV (Ohm; sign: current into the node is positive)."""
    board = {"temperature_minimum": "25 °C", "temperature_maximum": "25 °C"}
    found = protection(design("T1", board=board), None)
    assert found.error == pytest.approx(-1e-12 * 1.2e6, rel=1e-9, abs=0)
    assert found.low == found.high == pytest.approx(found.error, rel=1e-9, abs=0)
    assert found.verdict is Verdict.PASS


def test_bias_of_a_fet_input_doubles_every_ten_kelvin():
    """Common practice, no source; bipolar inputs stay as stated."""
    amplifier = design().amplifier
    heat = np.array([298.15, 308.15, 328.15])
    assert bias_current(amplifier, heat) == pytest.approx([1e-12, 2e-12, 8e-12], rel=1e-9, abs=0)
    bipolar = amplifier.model_copy(update={"family": "bipolar precision"})
    assert bias_current(bipolar, heat) == pytest.approx([1e-12] * 3, rel=1e-9, abs=0)


def test_an_unstated_bias_is_not_measured():
    case = design("T1", amplifier={"bias_current": None})
    assert check_design(case, None).verdict is Verdict.NOT_MEASURED


def test_a_guard_without_stated_offset_is_refused():
    with pytest.raises(InputError, match="offset of the guard follower is not stated"):
        check_design(design("T5", amplifier={"guard_offset": None}), CLAMP)


def test_a_clamp_of_which_nothing_is_known_is_not_measured():
    assert check_design(design("T5"), diode()).verdict is Verdict.NOT_MEASURED


def test_allowed_leakage():
    """I = f·E/R: 1 mV and a third on 1 MΩ is 333 pA, with 200 kΩ in series 278 pA (Ohm)."""
    found = allowances(design())[-1]
    assert found.leakage == pytest.approx(1e-3 / 3 / 1e6, rel=1e-9, abs=0)
    assert found.leakage_with_series_resistance == pytest.approx(1e-3 / 3 / 1.2e6, rel=1e-9, abs=0)


def test_offset_and_drift_count_from_the_calibration():
    amplifier = {"offset_voltage": "150 µV", "offset_drift": "1 µV/K"}
    assert amplifier_offset(design(amplifier=amplifier), 318.15) == pytest.approx(
        170e-6, rel=1e-9, abs=0
    )
    trimmed = design(amplifier=amplifier, requirement={"calibration_temperature": "35 °C"})
    assert amplifier_offset(trimmed, 318.15) == pytest.approx(10e-6, rel=1e-9, abs=0)
    assert amplifier_offset(trimmed, 308.15) == 0.0


def test_two_legs_double_the_noise_of_the_resistors_but_not_of_the_amplifier():
    """Two legs of 175 Ω + 4.7 kΩ at 23 °C and 8 nV/√Hz of the amplifier: 15 nV/√Hz (4kTR, Nyquist)."""
    case = design(
        "T1",
        source={"resistance": "175 Ω"},
        amplifier={"voltage_noise": "8 nV/√Hz", "bias_current": "1 nA"},
        network={"outer_resistor": {"value": "4.7 kΩ"}, "pair": True},
        requirement={"bandwidth": "100 Hz"},
    )
    found = check_design(case, None).dynamics
    expected = np.sqrt(2 * 4 * 1.380649e-23 * 296.15 * 4875 + 8e-9**2)
    assert found.noise_density == pytest.approx(expected, rel=1e-9, abs=0)
    assert found.noise_density == pytest.approx(15.0e-9, rel=0.01, abs=0)
    assert found.integrated_noise == pytest.approx(expected * 10, rel=1e-3, abs=0)


def interval(value, low, high):
    return Interval(*(np.array(x, float) for x in (value, low, high)))


def test_a_corner_that_surely_fails_decides_over_one_that_reaches_further():
    """[1.2, 1.3] of the allowance at one corner fails, whatever [0.5, 3] at another may be."""
    case = design()
    grid, unit = corners(case), 1e-3 / 3
    zero = interval([0, 0], [0, 0], [0, 0])
    clamp = interval([1.25 * unit, unit], [1.2 * unit, 0.5 * unit], [1.3 * unit, 3 * unit])
    nothing = np.zeros(2)
    sides = [ErrorTerms("upper", clamp, zero, zero, clamp.value, zero, nothing, nothing, 0.0)]
    found = next(j for j in judge_sides(case, CLAMP, grid, sides) if j.name == PROTECTION)
    assert found.verdict is Verdict.FAIL
    assert found.corner.signal == pytest.approx(grid.signal[0], rel=1e-9, abs=0)


@pytest.mark.parametrize("name", TOPOLOGY)
@pytest.mark.parametrize("amount", ["1 pA", "100 pA", "3 nA"])
def test_ranking_judges_like_check(name, amount):
    clamp = diode([leak(amount)]) if TOPOLOGY[name] else None
    case = design(name, board={"temperature_minimum": "0 °C", "temperature_maximum": "70 °C"})
    outer = np.array([1e4, 2e5, 1e7])
    for ohms, ours in zip(outer, accuracy(case, TOPOLOGIES[name], clamp, outer), strict=True):
        expected = protection(with_series_resistance(case, ohms), clamp)
        assert ours.verdict is expected.verdict
        assert ours.error == pytest.approx(expected.error, rel=1e-9, abs=0)
        assert (ours.low, ours.high) == pytest.approx(
            (expected.low, expected.high), rel=1e-9, abs=0
        )


@pytest.mark.parametrize("name", ["T2", pytest.param("T5", marks=pytest.mark.long)])
def test_just_inside_a_wall_passes_and_just_outside_does_not(name):
    limits = {"accuracy": "3 mV", "settle_time": "30 ms", "noise": "20 µV", "bandwidth": "20 Hz"}
    case = design(name, requirement=limits, source={"cable_capacitance": "1 nF"})
    window = resistor_window(case, CLAMP)
    found = {}
    for wall in (w for w in window.walls if w.value is not None):
        inside = check_design(with_series_resistance(case, wall.value * 0.99), CLAMP)
        outside = check_design(with_series_resistance(case, wall.value * 1.01), CLAMP)
        found[wall.name] = {
            "error of the protection": lambda r: (
                next(j for j in r.judgements if j.name == PROTECTION).verdict is Verdict.PASS
            ),
            "bandwidth": lambda r: r.dynamics.bandwidth >= 20.0,
            "settling": lambda r: r.dynamics.settling_time <= 30e-3,
            "noise": lambda r: r.dynamics.integrated_noise <= 20e-6,
        }[wall.name]
        assert found[wall.name](inside), wall.name
        assert not found[wall.name](outside), wall.name
    assert len(found) >= 3
    assert window.maximum == min(w.value for w in window.walls if w.value is not None)


def test_a_requirement_that_no_resistor_meets_closes_the_window():
    case = design(requirement={"bandwidth": "1 MHz"}, source={"cable_capacitance": "1 nF"})
    window = resistor_window(case, CLAMP)
    assert not window.open
    assert window.reason.startswith("no resistor serves: bandwidth, not met by any value")


def sizes(case, clamp=CLAMP):
    topology = TOPOLOGIES[case.network.topology]
    return [s.clamp.value for s in error_terms(case, topology, clamp, corners(case))]


kelvin = st.floats(-20, 80)


@settings(max_examples=8, deadline=None)
@given(kelvin, st.floats(1, 40), st.sampled_from(["T2", "T5", "T6"]))
def test_error_grows_with_heat_of_the_board(celsius, more, name):
    hot = f"{celsius + more} °C"
    board = {"temperature_minimum": f"{celsius} °C", "temperature_maximum": hot}
    case = design(name, board=board)
    grid = corners(case)
    for values in sizes(case):
        cold = np.abs(values[grid.board_temperature == grid.board_temperature.min()])
        assert (np.abs(values[grid.board_temperature == grid.board_temperature.max()]) > cold).all()


@settings(max_examples=8, deadline=None)
@given(
    st.floats(4, 10).map(lambda k: 10.0**k),
    st.floats(1.1, 100),
    st.sampled_from(["T2", "T5", "T6"]),
)
def test_error_grows_with_source_resistance(ohms, factor, name):
    less = sizes(design(name, source={"resistance": f"{ohms} Ω"}))
    more = sizes(design(name, source={"resistance": f"{ohms * factor} Ω"}))
    for a, b in zip(less, more, strict=True):
        assert (np.abs(b) >= np.abs(a) * (1 - 1e-9)).all()


@settings(max_examples=8, deadline=None)
@given(st.floats(-2, 1.9), st.floats(0.1, 0.5), st.floats(2.5, 6), st.floats(-6, -2.5))
def test_a_mirrored_design_mirrors_the_error(low, span, positive, negative):
    def of(low, high, positive, negative):
        ends = {"signal_minimum": f"{low} V", "signal_maximum": f"{high} V"}
        rails = {"positive": f"{positive} V", "negative": f"{negative} V"}
        return sizes(design("T2", requirement=ends, rails=rails))

    upper, lower = of(low, low + span, positive, negative)
    mirrored = of(-low - span, -low, -negative, -positive)
    assert mirrored[1] == pytest.approx(-upper[::-1], rel=1e-9, abs=0)
    assert mirrored[0] == pytest.approx(-lower[::-1], rel=1e-9, abs=0)


@settings(max_examples=8, deadline=None)
@given(st.floats(0.01, 1.0), st.floats(1.0, 30.0), st.floats(-3, 3).map(lambda k: 10.0**k))
def test_a_less_certain_law_never_passes_more(narrow, wider, picoamperes):
    clamp = diode([leak(f"{picoamperes} pA")])
    fitted = clamp.fitted

    def verdict(scale):
        law = replace(fitted, covariance=fitted.covariance * scale)
        return protection(design(), replace(clamp, fitted=law)).verdict

    before, after = verdict(narrow), verdict(narrow * wider)
    assert after is not Verdict.PASS or before is Verdict.PASS
    assert after is not Verdict.FAIL or before is Verdict.FAIL
