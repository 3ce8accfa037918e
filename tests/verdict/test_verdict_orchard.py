"""The packaged demonstration end to end: its hand-computed check values lie inside our intervals.

The scenario is invented; the hand values come from the hidden truth by Ohm's law (clamp only, dark,
worst single side, 45 °C box, 8 °C soil) and are compared with what the noisy readings give.
"""

import pytest

from clampwright import actions
from clampwright.network.topologies import TOPOLOGIES
from clampwright.verdict.results import Verdict


@pytest.fixture(scope="module")
def workspace(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo") / "demo"
    actions.demo_workspace(folder)
    return folder


def opened(workspace, name):
    return actions.open_case(workspace / "designs" / f"{name}.toml")


@pytest.fixture(scope="module")
def guarded(workspace):
    return actions.check(opened(workspace, "orchard-probe"))


def judgement(result, name):
    return next(j for j in result.judgements if j.name == name)


def test_allowed_leakage_cold_and_warm(guarded):
    """0.05 pH / 3 on glass of 218 MΩ (8 °C) and 50 MΩ (25 °C): 4.3 pA and 19.7 pA."""
    found = {round(a.sensor_temperature - 273.15): a for a in guarded.allowances}
    assert f"{found[25].leakage:.3g}" == "1.97e-11"
    assert f"{found[8].leakage:.2g}" == "4.3e-12"
    assert found[8].source_resistance == pytest.approx(218.1e6, rel=1e-3, abs=0)
    assert f"{found[8].error:.2g}" == "0.00093"


@pytest.mark.parametrize(
    ("name", "volts", "digits", "verdict"),
    [
        ("orchard-rails-npn", 3.7e-3, 2, Verdict.FAIL),
        ("orchard-rails-jfet", 0.81e-3, 1, Verdict.UNDECIDED),
        ("orchard-probe", 19.3e-6, 1, Verdict.PASS),
        ("orchard-guard-glass", 7.42e-3, 1, Verdict.FAIL),
    ],
)
def test_clamp_alone_in_the_dark(workspace, name, volts, digits, verdict):
    found = judgement(actions.check(opened(workspace, name)), "clamp alone, dark")
    low, high = sorted((abs(found.low), abs(found.high)))
    assert low < volts < high
    assert abs(found.error) == pytest.approx(volts, rel=0.1, abs=0)
    assert f"{abs(found.error):.{digits}g}" == f"{volts:.{digits}g}"
    assert found.verdict is verdict
    assert found.corner.board_temperature == pytest.approx(318.15, rel=1e-9, abs=0)
    assert found.corner.sensor_temperature == pytest.approx(281.15, rel=1e-9, abs=0)


def test_the_bias_current_is_named_as_the_larger_term(guarded):
    """80 fA at 45 °C on 218 MΩ make 17 µV typical, more than the clamp's upper end by its spread."""
    found = judgement(guarded, "protection: clamp, light and bias current")
    assert found.verdict is Verdict.PASS
    bias = next(t for t in found.terms if t.group == "bias")
    assert bias.value == pytest.approx(-17.5e-6, rel=0.03, abs=0)
    assert "the amplifier's bias current is the larger term" in found.reason


def test_solutions_leave_no_residual(guarded):
    assert guarded.residual < 1e-10


def test_the_gate_is_amber_and_held_because_the_soil_is_wet(guarded):
    assert (guarded.gate.level, guarded.gate.held) == ("amber", True)
    assert len(guarded.gate.reasons) == 1
    assert "fault F2" in guarded.gate.reasons[0]


def test_faults_through_940_kilohm(workspace):
    """F1: 15 V less rail and drops, 12.7 µA; F2: 34 V peak, 32.9 µA (Ohm)."""
    found = actions.faults(opened(workspace, "orchard-probe"))
    currents = {c.name: c.fault_current for c in found.cases}
    assert currents["F1"] == pytest.approx(12.7e-6, abs=0.06e-6)
    assert currents["F2"] == pytest.approx(32.9e-6, rel=0.005, abs=0)
    assert currents["F5"] == pytest.approx(currents["F1"], rel=1e-9, abs=0)
    assert all(c.rail_settles_at is None for c in found.cases)  # 60 µA of load take it
    impulse = next(c for c in found.cases if c.name == "F3")
    assert impulse.verdict is Verdict.NOT_MEASURED
    assert found.verdict is Verdict.NOT_MEASURED


def test_an_emitter_base_clamp_cannot_stand_off_the_rails(workspace):
    """Span 5 V and a drop against 5–7 V of breakdown: rejected whatever it leaks."""
    case = opened(workspace, "orchard-rails-npn")
    network = case.design.network.model_copy(update={"clamp": "npn-small C+B/E"})
    design = case.design.model_copy(update={"network": network})
    found = actions.check(actions.Case(design, case.design_hash, case.workspace))
    assert found.verdict is Verdict.FAIL
    assert "must stand off 5.60" in found.reason


@pytest.fixture(scope="module")
def few(tmp_path_factory):
    """The demonstration with one part only, so that ranking takes a moment."""
    workspace = tmp_path_factory.mktemp("few") / "demo"
    actions.demo_workspace(workspace)
    for sheet in (workspace / "parts").glob("*.toml"):
        if sheet.stem != "npn-small":
            sheet.unlink()
    case = opened(workspace, "orchard-probe")
    return case, actions.rank(case)


def test_every_wiring_and_topology_appears_once(few):
    case, found = few
    expected = {("none", "", "T1")}
    for option in case.options():
        clamped = [t.name for t in TOPOLOGIES.values() if t.has_clamp]
        expected |= {(option.part, option.wiring.name, t) for t in clamped}
    shown = [(c.part, c.wiring, c.topology) for c in found.candidates]
    assert len(shown) == len(set(shown))
    assert set(shown) == expected


def test_candidates_are_sorted_and_rejected_ones_say_why(few):
    _, found = few
    order = ["PASS", "UNDECIDED", "NOT MEASURED", "FAIL"]
    accepted = [c for c in found.candidates if not c.rejected]
    keys = [
        (order.index(c.verdict), -min(c.accuracy_margin or 0, c.survivability or 0))
        for c in accepted
    ]
    assert keys == sorted(keys)
    assert list(found.candidates[: len(accepted)]) == accepted
    for candidate in found.candidates[len(accepted) :]:
        assert candidate.reason
        assert candidate.verdict is None
    reasons = {c.wiring: c.reason for c in found.candidates if c.rejected and c.topology == "T2"}
    assert "must stand off" in reasons["C+B/E"]
    assert "leaks (β+1) times" in reasons["C/E"]


def test_nothing_passes_on_an_assumed_leakage(few):
    _, found = few
    for candidate in (*found.candidates, *found.every_resistor):
        if candidate.verdict is Verdict.PASS:
            assert candidate.leakage_basis in ("measured", "typical", "maximum", "defined")
            assert candidate.leakage_basis != "defined" or candidate.part == "none"
            assert candidate.accuracy_margin >= 1
            assert candidate.survivability is None or candidate.survivability >= 1


def test_the_window_of_the_demonstration_is_open(few):
    _, found = few
    window = found.window
    assert window.open
    assert window.minimum < window.chosen < window.maximum
