"""Further answers of two legs, of supplies off and of a guard; saturation, loose nodes, the command.

References: Ohm and Kirchhoff; common-mode rejection to first order; the invented scenarios' hand
calculations.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
from further_cases import CLAMP, answers, changed, figure, found, near, protection, term
from pydantic import ValidationError
from small_designs import design

from clampwright import actions
from clampwright.errors import InputError
from clampwright.network.signal_transfer import clamp_slopes
from clampwright.verdict.added_terms import Loaded, loaded
from clampwright.verdict.adjust import clamp_mismatch
from clampwright.verdict.check import check_design
from clampwright.verdict.corners import corners
from clampwright.verdict.layout import topology_of
from clampwright.verdict.rank import UNRATED_PIN, Option, rank_design
from clampwright.verdict.results import Verdict

# --- two legs --------------------------------------------------------------------------------------


def ratio_at_rest(case: Loaded, index: int) -> float:
    """1/(ΔR·g + R·Δg) from the slopes of the clamps at one corner: 1/CMRR to first order."""
    network = case.design.network
    slopes = clamp_slopes(case.circuit, case.solved.values, case.solved.solution)
    whole = sum(
        float(np.broadcast_to(slopes[s].slope, (case.grid.count,))[index])
        for s in case.topology.sides
    )
    outer = network.outer_resistor.value * network.outer_resistor.count
    ohms = outer + float(case.grid.source_resistance[index])
    apart = 2 * network.resistor_tolerance * outer
    return 1.0 / (apart * whole + ohms * clamp_mismatch(case.design)[0] * whole)


@pytest.mark.parametrize(("tolerance", "decibels"), [(0.02, 81), (0.05, 75)])
def test_common_mode_rejection_of_the_press(press, tolerance, decibels):
    """81 dB with C0G of 2 %, 75 dB with 5 %; at rest 1/(ΔR·g + R·Δg) of the clamps' slopes."""
    case = changed(press, capacitor_tolerance=tolerance)
    rejection = found(case)["rejection"]
    assert figure(rejection, "and") == pytest.approx(decibels, abs=0.7)
    solved = loaded(
        case.design, topology_of(case.design), case.chosen_clamp(), corners(case.design)
    )
    hot = int(np.argmax(solved.grid.board_temperature))
    assert figure(rejection, "at rest") == pytest.approx(
        20 * np.log10(ratio_at_rest(solved, hot)), abs=0.2
    )


def test_bias_current_of_the_press_before_and_after_the_zero(press):
    """1 nA · 5875 Ω · (50 % + 1 % · √2) = 3.02 µV; with a drift of 2 pA/K 32 K of it remain."""
    each = 1e-9 * 5875 * (0.5 + sqrt(2) * 0.01)
    bias = found(press)["bias of the pair"]
    assert figure(bias, "mismatch makes") == near(each, 1e-3)
    assert figure(bias, "after the zero") == 0.0 and "amplifier.bias_drift" in bias.note
    words = [t.name for j in actions.check(press).judgements for t in j.terms if "bias" in t.name]
    assert words and all("taken away by the zero" in name for name in words)
    own = press.design.amplifier.model_copy(update={"bias_drift": 2e-12})
    drifting = replace(press, design=press.design.model_copy(update={"amplifier": own}))
    left = figure(found(drifting)["bias of the pair"], "after the zero")
    assert left == near(each * 2e-12 * 32 / 1e-9, 1e-3)


def test_t15_is_a_pair_by_definition():
    both = check_design(design("T15"), CLAMP)
    legs = check_design(design("T2", network={"pair": True}), CLAMP)
    assert both.design.network.pair
    assert [j.error for j in both.judgements] == [j.error for j in legs.judgements]
    with pytest.raises(ValidationError, match="T15 is a differential pair"):
        design("T15", network={"pair": False})


def test_a_virtual_ground_is_no_leg_of_a_pair():
    with pytest.raises(ValidationError, match="T13 takes a current at a virtual ground"):
        design("T13", network={"pair": True})


# --- supplies off, guard ---------------------------------------------------------------------------


def test_supplies_off_load_the_bridge(press):
    """(2.5 V − V_f)/R into the dead rail; let go, it rises to what its load of 0.9 mA at 5 V leaves."""
    off = found(press)["off state"]
    drawn = figure(off, "draws from the source")
    assert figure(off, "into the positive rail held at 0 V") == near(drawn, 1e-5)
    assert 0.45 < 2.505 - drawn * (175 + 4700) < 0.7
    volts, current = figure(off, "positive rail let go rises to"), figure(off, "taking")
    assert volts == near(current * 5.0 / 0.9e-3)
    assert current < drawn


def test_guard_that_saturates_loses_the_bootstrap_and_says_so():
    amplifier = {
        "guard_output_minimum": "-2 V",
        "guard_output_maximum": "0.1 V",
        "guard_open_loop_gain": 1e5,
        "guard_unity_gain_frequency": "1 MHz",
        "guard_slew_rate": "0.1 V/µs",
        "guard_output_current": "5 mA",
    }
    sheet = design("T5", amplifier=amplifier)
    guard = answers(sheet)["guard"]
    assert "bootstrap is lost" in guard.note and "not stated" not in guard.note
    assert figure(guard, "to") == near(0.1 - 250e-6)
    assert figure(guard, "slew needed") == near(2 * pi * 10 * 0.2)
    inverse = abs(1e-5 + 1j * 10 / 1e6)
    assert figure(guard, "unguarded at the bandwidth") == near(inverse, 1e-4)
    clamps = term(protection(sheet), "guard")
    assert abs(clamps.value) == near(abs(figure(guard, "bootstrap lost: error")), 0.1)
    follows = design("T5", amplifier=amplifier | {"guard_output_maximum": "2 V"})
    assert abs(term(protection(follows), "guard").value) < 0.1 * abs(clamps.value)
    assert "follows the whole signal" in answers(follows)["guard"].note


# --- saturation, ranking, loose nodes --------------------------------------------------------------


def test_an_error_beyond_the_rails_is_saturation_and_not_a_number(folders):
    case = actions.open_case(folders["darkbox"])
    network = {"values": {"R_feedback": "1 TΩ"}, "clamp": "schottky-small K/A"}
    result = actions.check(changed(case, **network))
    assert result.verdict == Verdict.FAIL
    assert result.reason.startswith("the amplifier saturates: an error has only 5.0")
    from clampwright.record.terminal import check_text

    shown = check_text(result).split("Further answers")[0]
    assert "saturates" in shown and "kV" not in shown and "MV" not in shown


def test_a_signal_outside_the_rails_fails():
    result = check_design(design("T1", requirement={"signal_maximum": "3 V"}), None)
    assert result.verdict == Verdict.FAIL
    assert "the amplifier saturates: the signal lies outside the rails" in result.reason


def test_a_bare_pin_needs_a_published_rating():
    options = [Option("none", "none", CLAMP.wiring, None)]
    for rating, verdict in ((None, Verdict.NOT_MEASURED), ("10 mA", Verdict.PASS)):
        ranked = rank_design(design("T1", amplifier={"pin_current_maximum": rating}), None, options)
        bare = next(c for c in ranked.candidates if c.topology == "T1")
        assert bare.verdict == verdict
        assert (bare.reason == UNRATED_PIN) == (rating is None)


def test_a_node_that_nothing_holds_is_named():
    elements = [
        {"kind": "resistor", "name": "R_outer", "between": ["connector", "pin"], "value": "200 kΩ"},
        {"kind": "clamp", "name": "up", "anode": "pin", "cathode": "rail positive",
         "part": "test-diode K/A"},
        {"kind": "clamp", "name": "aside", "anode": "island", "cathode": "rail negative",
         "part": "test-diode K/A"},
        {"kind": "current", "name": "pushed", "node": "island", "value": "1 pA"},
    ]  # fmt: skip
    outer = {"value": "200 kΩ", "count": 1}
    sheet = design("own", network={"elements": elements, "outer_resistor": outer})
    with pytest.raises(InputError, match='nothing holds node "island"'):
        check_design(sheet, CLAMP)


# --- command line ----------------------------------------------------------------------------------

LINES = {
    "orchard": ("guard follower", "supplies off", "second harmonic", "slopes of the clamp"),
    "press": ("common-mode rejection", "bias current of the pair", "supplies off"),
    "darkbox": ("the summing node stands still", "gain error", "noise density"),
}


@pytest.mark.parametrize("name", LINES)
def test_check_prints_the_further_answers(folders, name):
    line = [sys.executable, "-m", "clampwright.cli", "check", str(folders[name]), "--explain"]
    shown = subprocess.run(line, capture_output=True, text=True, check=False).stdout
    block = shown.split("\nFurther answers\n")[1]
    for words in (*LINES[name], "not stated: give", "drift of the net leakage"):
        assert words in block, words
    explained = shown.split("\nFurther answers\n")[2]
    assert "1/r_0 = I_S/V_T" in explained and "Arrhenius' law" in explained
