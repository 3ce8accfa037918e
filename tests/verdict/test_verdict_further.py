"""Further answers against closed forms, and what of them must stand in the budget.

References: scipy's Bessel function and quadrature; Ohm, Kirchhoff, Arrhenius; a published low-current
guide (15 V on 1 GΩ is 15 nA, guarded to 200 µV it is 0.2 pA; from memory); the invented scenarios'
hand calculations. Usual figures of dielectrics: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, log, pi

import numpy as np
import pytest
from further_cases import (
    BOLTZMANN,
    CLAMP,
    ELEMENTARY,
    OUTER,
    ROOM,
    SOURCE,
    THERMAL,
    answers,
    changed,
    figure,
    found,
    near,
    protection,
    term,
)
from scipy.integrate import quad
from scipy.special import i0
from small_designs import design

from clampwright import actions
from clampwright.network.hum import mean_current_shift
from clampwright.network.settling import Soakage
from clampwright.physics.clamp import at_conditions, capacitance, current_and_slope
from clampwright.verdict.added_terms import HUM_PHASES, loaded
from clampwright.verdict.check import PROTECTION, check_design
from clampwright.verdict.corners import corners
from clampwright.verdict.further import net_leakage
from clampwright.verdict.further_stated import summing_node_settling, tail_size
from clampwright.verdict.layout import topology_of
from clampwright.verdict.results import CheckResult, Verdict
from clampwright.verdict.stated import ABSORPTION

# --- everything has an answer ----------------------------------------------------------------------


WANTED = {
    "T3": {"values": {"clamp rail positive": "1.5 V", "clamp rail negative": "-1.5 V"}},
    "T9": {"values": {"middle bias": "0 V"}, "classes": {"suppressor": "suppressor 12 V"}},
    "T11": {"values": {"source with contact voltage": "1 µV"}},
    "T12": {"values": {"spark-over voltage": "90 V"}},
    "T13": {"values": {"R_feedback": "1 GΩ"}},
    "T14": {"guard_resistor": {"value": "1 kΩ"}},
    "T18": {"values": {"limiting current": "10 mA"}},
}
STATED = {
    "board": {"surface_resistance": "1 TΩ", "film_squares": 0.1, "neighbour_voltage": "2.5 V"},
    "source": {"hum_peak": "5 mV"},
    "amplifier": {"feedback_capacitance": "5 pF"},
    "network": {
        "node_capacitance": "1 nF",
        "capacitor_dielectric": "C0G",
        "thermal_joints": 2,
        "joint_coefficient": "3 µV/K",
        "joint_temperature_difference": "2 K",
    },
}


@pytest.mark.parametrize("stated", [False, True])
@pytest.mark.parametrize("topology", [f"T{number}" for number in range(1, 19)])
def test_every_answer_has_figures_or_says_why_not(topology, stated):
    more = {key: dict(table) for key, table in STATED.items()} if stated else {}
    more["network"] = WANTED.get(topology, {}) | more.get("network", {})
    sheet = design(topology, **more)
    clamp = CLAMP if topology_of(sheet).has_clamp else None
    found = answers(sheet, clamp)
    assert all(a.figures or a.note for a in found.values())
    assert not [a.note for a in found.values() if "not solved" in a.note]
    assert not [f for a in found.values() for f in a.figures if np.isnan(f.value)]
    for key in ("joints", "film", "soakage"):
        assert bool(found[key].figures) == stated, key
    assert bool(found["rejection"].figures) == (topology == "T15")


def test_nothing_is_made_up_for_what_is_not_stated():
    found = answers(design("T2", network={"node_capacitance": "1 nF"}))
    assert found["hum"].note == "not stated: give source.hum_peak or network.clamp_hum_peak"
    assert "network.thermal_joints" in found["joints"].note
    assert "board.surface_resistance" in found["film"].note
    assert "network.capacitor_dielectric" in found["soakage"].note


def test_asked_for_or_not_the_verdict_is_the_same(press):
    quick, whole = actions.check(press, further=False), actions.check(press)
    assert quick.further == () and len(whole.further) > 12
    assert (whole.verdict, whole.reason) == (quick.verdict, quick.reason)
    for one, other in zip(whole.judgements, quick.judgements, strict=True):
        assert one.error == near(other.error, 1e-6)  # the compiled solver may come in between
    assert CheckResult.model_validate_json(whole.model_dump_json()) == whole


# --- hum -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ideality", "percent"), [(1.0, 38.0), (2.0, 8.8)])
def test_hum_of_thirty_millivolts_across_a_bootstrapped_clamp(ideality, percent):
    """I₀(a/nV_T) − 1 at 23 °C is 38 % and 8.8 %; half of one clamp's shift is left of the pair."""
    law = replace(CLAMP.fitted.law, generation_ideality=ideality, diffusion_current=0.0)
    clamp = replace(CLAMP, fitted=replace(CLAMP.fitted, law=law))
    sheet = design("T5", network={"clamp_hum_peak": "30 mV"})
    hum = answers(sheet, clamp)["hum"]
    share = figure(hum, "shift of its saturation current")
    assert share == near(i0(0.03 / (ideality * THERMAL)) - 1)
    assert 100 * share == pytest.approx(percent, abs=0.6 if ideality == 1 else 0.06)
    saturation = float(at_conditions(law, ROOM).generation_current)
    widened = figure(hum, "rectified there") / (share * saturation)
    assert 0.85 < widened < 1.0  # the half-wave in reverse widens the depletion layer
    hummed = figure(hum, "rectified there") * (SOURCE + OUTER) / 2
    assert abs(figure(hum, "error")) == near(hummed, 1e-3)
    assert term(protection(sheet, clamp), "hum").high == near(figure(hum, "at most"))


def test_hum_of_the_source_reaches_rail_clamps_and_is_in_the_budget():
    """All the hum lies across a rail clamp; it bends the reverse current by a²/4 · I″ (Taylor)."""
    sheet = design("T2", source={"hum_peak": "0.1 V"}, requirement={"signal_minimum": "-2 V"})
    hum = answers(sheet)["hum"]
    assert figure(hum, "peak across the clamp") == near(0.1, 1e-2)
    state = at_conditions(CLAMP.fitted.law, ROOM)
    volts = -2.5 - hum.corner.signal  # of the lower clamp, at its lowest signal
    above, below = (current_and_slope(volts + d, state)[1] for d in (1e-3, -1e-3))
    bent = 0.1**2 / 4 * float(above - below) / 2e-3
    assert figure(hum, "rectified there") == near(bent, 0.05)
    assert abs(figure(hum, "error")) == near(abs(bent) * (SOURCE + OUTER), 0.05)
    counted = [t for t in protection(sheet).terms if "hum" in t.name]
    assert len(counted) == 1 and 0 < abs(counted[0].value) <= abs(figure(hum, "error"))
    plain = protection(design("T2", requirement={"signal_minimum": "-2 V"}))
    assert not [t for t in plain.terms if "hum" in t.name]


@pytest.mark.parametrize("volts", [-4.5, -0.1, 0.0, 250e-6])
@pytest.mark.parametrize("peak", [1e-3, 0.03, 0.3])
def test_the_quick_average_over_a_period_agrees_with_quadrature(volts, peak):
    state = at_conditions(CLAMP.fitted.law, ROOM)

    def current(phase):
        return float(current_and_slope(volts + peak * np.cos(phase), state)[0])

    size = 1e-10 * abs(current(0.0))  # the halves of a period nearly cancel
    mean = quad(current, 0.0, pi, epsabs=size, epsrel=1e-10, limit=400)[0] / pi
    still = float(current_and_slope(volts, state)[0])
    quick = float(mean_current_shift(volts, peak, state, HUM_PHASES))
    assert quick == pytest.approx(mean - still, rel=1e-4, abs=1e-9 * abs(still) + size)


# --- film, insulation, joints ----------------------------------------------------------------------


def test_the_published_guard_example():
    """15 V on 1 GΩ is 15 nA; guarded to 200 µV it is 0.2 pA."""
    board = {"insulation_resistance": "1 GΩ", "neighbour_voltage": "15 V"}
    sheet = design("T5", board=board, amplifier={"guard_offset": "200 µV"})
    film = answers(sheet)["film"]
    leaks = [f.value for f in film.figures if f.name == "from a leakage of"]
    assert leaks[0] == near(15e-9, 0.02)  # less what the node itself gives way
    assert leaks[1] == near(0.2e-12, 0.01)


def test_film_without_a_ring_is_a_divider_and_fails_the_budget():
    """V·R/(R + R_film): 2.5 V beside a node of 1.2 MΩ on 10 GΩ per square, a tenth of a square."""
    film = {"surface_resistance": "10 GΩ", "film_squares": 0.1, "neighbour_voltage": "2.5 V"}
    sheet = design("T1", board=film)
    judged = protection(sheet, None)
    above = 2.5 + 0.2 - 1e-12 * 1.2e6 * -1  # at the lowest signal; the bias current is nothing here
    assert term(judged, "film").value == near(above * 1.2e6 / (1e9 + 1.2e6), 1e-5)
    assert judged.verdict == Verdict.FAIL
    ringed = design("T1", board=film | {"guard_ring": True})
    kept = protection(ringed, None)
    assert kept.verdict != Verdict.FAIL
    assert term(kept, "film").high == near(250e-6 * 1.2e6 / (1e9 + 1.2e6), 1e-5)


def test_thermal_emf_arrives_whole_and_counts():
    joints = {
        "thermal_joints": 2,
        "joint_coefficient": "3 µV/K",
        "joint_temperature_difference": "2 K",
    }
    emf = term(protection(design("T2", network=joints)), "thermal EMF")
    assert (emf.value, emf.low, emf.high) == (0.0, near(-12e-6, 1e-3), near(12e-6, 1e-3))
    failing = design("T2", network=joints | {"joint_coefficient": "3 mV/K"})
    assert protection(failing).verdict != Verdict.PASS
    assert "network.joint_coefficient" in answers(design("T2", network={"thermal_joints": 2}))[
        "joints"
    ].note  # fmt: skip


def test_thermal_emf_at_a_summing_node(folders):
    """R_f·E/(R_S + R_P): 1 GΩ · 12 µV over 49.6 MΩ and 102 kΩ at 45 °C."""
    case = changed(
        actions.open_case(folders["darkbox"]),
        thermal_joints=2,
        joint_coefficient=3e-6,
        joint_temperature_difference=2.0,
    )
    joints = found(case)["joints"]
    shunt = 5e8 * 2 ** (-20 / 6)
    assert figure(joints, "error ±") == near(1e9 * 12e-6 / (shunt + 102e3), 1e-6)
    judged = next(j for j in actions.check(case).judgements if j.name == PROTECTION)
    assert term(judged, "thermal EMF").high == near(figure(joints, "error ±"))


def test_damp_board_of_the_demonstration_with_and_without_a_ring(folders):
    """2.67 V on 1 TΩ through 218 MΩ and 0.95 MΩ is 584 µV; 250 µV instead leaves 55 nV."""
    case = actions.open_case(folders["orchard"].with_name("orchard-damp.toml"))
    resistance = 5e7 * 2 ** (17 / 8) + 0.95e6
    film = found(case)["film"]
    held = 2.5 + 0.177 * 281.15 / 298.15
    assert figure(film, "error without a ring") == near(
        held * resistance / (1e12 + resistance), 1e-3
    )
    assert figure(film, "error with a ring") == near(250e-6 * resistance / 1e12, 2e-3)
    result = actions.check(case)
    assert result.verdict == Verdict.UNDECIDED and "board film" in result.reason
    ringed = case.design.board.model_copy(update={"guard_ring": True})
    kept = replace(case, design=case.design.model_copy(update={"board": ringed}))
    assert actions.check(kept).verdict == Verdict.PASS


# --- soakage ---------------------------------------------------------------------------------------


def test_what_comes_back_is_the_stated_absorption():
    """The method: 3600 s charged, 10 s shorted, 900 s open; both tails integrated by quadrature."""
    beta = tail_size(ABSORPTION["polypropylene"])
    recovered = quad(lambda t: beta / t - beta / (t + 3600.0), 10.0, 910.0)[0]
    assert recovered == near(5e-4)


def test_settling_with_soakage_where_the_tail_decides():
    """t = β·R·C/ε once the exponentials have died: 1 nF of polyester behind 1.2 MΩ, to 10 ppm."""
    network = {"node_capacitance": "1 nF", "capacitor_dielectric": "polyester"}
    sheet = design("T1", network=network, requirement={"settle_to": 1e-5})
    soaked = answers(sheet, None)["soakage"]
    late = tail_size(5e-3) * 1.2e6 * 1e-9 / 1e-5
    assert figure(soaked, "to 10.0 ppm") == near(late, 0.01)
    assert figure(soaked, "without soakage") == near(1.2e6 * 1.005e-9 * log(1e5), 0.01)
    own = design("T1", network=network | {"capacitor_absorption": "0.05 %"})
    assert figure(answers(own, None)["soakage"], "absorption") == near(5e-4)


def test_settling_at_a_summing_node_with_soakage():
    """exp(−t/RC) + β·R·C/t is the limit at the time told."""
    tail = Soakage("pin", 5e-12, tail_size(6e-3), 1.0)
    time = summing_node_settling(1e9, tail, 1e-4)
    assert exp(-time / 5e-3) + tail.beta * 5e-3 / time == near(1e-4)


# --- harmonics, slopes, drift, capacitance ---------------------------------------------------------


def test_second_harmonic_of_the_junction_capacitance():
    """½ωR·(C′ of one clamp − C′ of the other)·V_pk; equal at mid-supply, where they cancel."""
    range_ = {"signal_minimum": "0.9 V", "signal_maximum": "1.1 V", "bandwidth": "100 Hz"}
    found = answers(design("T2", requirement=range_))["second harmonic"]
    state = at_conditions(CLAMP.fitted.law, ROOM)
    m, zero, c_0 = (float(x) for x in (state.grading, state.built_in_voltage,
                                       state.zero_bias_capacitance))  # fmt: skip
    slopes = [c_0 * m / zero * (1 + v / zero) ** (-m - 1) for v in (1.5, 3.5)]
    by_formula = 0.5 * 2 * pi * 100 * (SOURCE + OUTER) * (slopes[0] - slopes[1]) * 0.1
    assert c_0 > 0
    assert figure(found, "", "1") == near(by_formula, 0.02)
    assert figure(found, "", "dB") == near(20 * np.log10(figure(found, "", "1")))
    middle = answers(design("T2", requirement={"bandwidth": "100 Hz"}))["second harmonic"]
    assert figure(middle, "", "1") < 1e-3 * by_formula


def test_slopes_at_zero_and_in_reverse():
    """1/r_0 = I_S/V_T + I_G/nV_T; deep in reverse m·I/(V_R + V_bi), a film aside."""
    slopes = answers(design("T2"))["slopes"]
    state = at_conditions(CLAMP.fitted.law, ROOM)
    by_formula = float(state.diffusion_current) / (float(state.diffusion_ideality) * THERMAL)
    by_formula += float(state.generation_current) / (float(state.generation_ideality) * THERMAL)
    by_formula += float(state.film_conductance)
    assert figure(slopes, "at 0 V") == near(1 / by_formula)
    volts = figure(slopes, next(f.name for f in slopes.figures if "sits at" in f.name))
    current = abs(float(current_and_slope(volts, state)[0]))
    deep = float(state.grading) * current / (-volts + float(state.built_in_voltage))
    assert 1 / figure(slopes, "there") == near(deep, 0.1)


def test_drift_of_leakage_and_of_the_error():
    """d ln I/dT = E_a/kT² − 1/T of V_guard·2/r_0, as 1/r_0 carries 1/V_T (Arrhenius)."""
    sheet = design("T5")
    found = answers(sheet)
    law = CLAMP.fitted.law
    energy = float(law.generation_activation_energy) * ELEMENTARY
    by_formula = energy / (BOLTZMANN * ROOM**2) - 1 / ROOM
    drift, leakage = found["leakage drift"], found["offset drift"]
    relative = figure(drift, "") / figure(drift, "net leakage")
    assert relative == near(by_formula, 0.01)
    case = loaded(sheet, topology_of(sheet), CLAMP, corners(sheet))
    assert figure(drift, "net leakage") == near(float(net_leakage(case)[0]), 1e-3)
    own = figure(drift, "") * (SOURCE + OUTER)
    doubling = -1e-12 * log(2) / 10 * (SOURCE + OUTER + 1e4)  # the bias current, ×2 for 10 K
    cooled = 2.0 ** (-0.2)  # at 23 °C
    assert figure(leakage, "per kelvin of the board") == near(own + doubling * cooled, 0.01)


def test_capacitance_at_the_node_counts_the_clamps_where_they_sit():
    state = at_conditions(CLAMP.fitted.law, ROOM)
    rails = check_design(design("T2"), CLAMP).dynamics
    at_rails = sum(float(capacitance(v, state)) for v in (-2.3, -2.7))
    assert rails.clamp_capacitance == near(at_rails, 1e-3)
    assert rails.capacitance == near(5e-12 + at_rails, 1e-3)
    guarded = check_design(design("T5"), CLAMP).dynamics
    assert guarded.clamp_capacitance == near(2 * float(capacitance(0.0, state)), 1e-2)
    assert (guarded.clamp_loading, guarded.capacitance) == (0.0, near(5e-12))
