"""Every topology in normal use: against 50 digits, against scipy, and by hand in its valid limit."""

import numpy as np
import pytest
from mpmath import mpf
from scipy.optimize import root
from topology_cases import case, case_of, junction, legs, solved, values
from topology_equations import EQUATIONS, NODES, error, in_50_digits, in_doubles

from clampwright.network.topologies import CATALOGUE, error_terms, error_voltage
from clampwright.physics.clamp import current_and_slope

LEAKAGES = (1e-15, 1e-12, 1e-9)
SOURCES = (1e3, 1e8, 1e13)


def nodes(name, solution, c):
    """The solved voltages in the order of the hand-written equations."""
    output = solution.reference["pin"] + solution.deviation["pin"] if name == "T4" else [0.0]
    return [output[0] if n == "output" else solution.voltage(n)[0] for n in NODES[name]]


@pytest.mark.parametrize("leakage", LEAKAGES)
@pytest.mark.parametrize("source", SOURCES)
@pytest.mark.parametrize("name", CATALOGUE)
def test_error_agrees_with_50_digits(name, source, leakage):
    """1 fA…1 nA on 1 kΩ…10 TΩ: the error voltage itself, to 1e-9 of its value."""
    c = case_of(name, leakage, source)
    solution, found = solved(name, c)
    expected = in_50_digits(name, c, nodes(name, solution, c))
    assert float(abs((mpf(float(found[0])) - expected) / expected)) < 1e-9
    assert solution.residual.max() < 1e-10


@pytest.mark.parametrize("name", CATALOGUE)
def test_error_agrees_with_scipy(name):
    """The full nodal equations in absolute voltages, where doubles resolve them: 3 nA on 1 MΩ."""
    c = case_of(name, 3e-9, 1e6)
    plain, equations = in_doubles(c), EQUATIONS[name]
    signal = 0.0 if name == "T13" else (0.232 if name == "T15" else 0.237)
    answer = root(
        lambda x: np.array(equations(x, plain)) * 1e6,
        np.full(len(NODES[name]), signal),
        options={"xtol": 1e-14},
    )
    by_hand = error(name, answer.x, plain)
    assert np.max(np.abs(equations(answer.x, plain))) < 1e-15
    assert solved(name, c)[1][0] == pytest.approx(by_hand, rel=3e-6, abs=0)


LINE = 1e6 + 1e5  # [Ω] source and outer resistor of the hand equations
SLOPE = float(current_and_slope(0.0, junction(1e-12))[1])  # [S] of one clamp at 0 V


def small(name, leakage=1e-12, source=1e6, **more):
    """Error and its parts where the drops are tiny, so that Ohm's law alone gives them."""
    quiet = {"bias": 0.0, "other_bias": 0.0, "gate": 0.0, "thermal": 0.0, "gain": 1.0}
    same = {side: junction(leakage) for side in ("upper", "lower", "forward", "backward")}
    c = case(leakage, source, **{**quiet, **same, **more})
    return solved(name, c)[1][0], c


def amperes(state, volts):
    return float(current_and_slope(volts, state)[0])


def by_rails(c, signal, positive=2.5, negative=-2.5):
    """I_upper − I_lower as magnitudes: positive into the node."""
    return -amperes(c.upper, signal - positive) + amperes(c.lower, negative - signal)


@pytest.mark.parametrize("name", ["T1", "T18"])
def test_a_resistor_alone_costs_bias_times_resistance(name):
    found, _ = small(name, bias=-20e-15)
    assert found == pytest.approx(-20e-15 * (LINE + 1e4), rel=1e-12, abs=0)


@pytest.mark.parametrize("name", ["T2", "T6", "T7", "T10", "T11"])
def test_rail_clamps_cost_net_leakage_times_resistance(name):
    found, c = small(name, bias=-1e-13)
    extra = 300.0 if name in ("T7", "T10", "T11") else 0.0
    expected = (LINE + extra) * (by_rails(c, 0.237) - 1e-13) - 1e4 * 1e-13
    assert found == pytest.approx(expected, rel=1e-5, abs=0)


def test_gate_leakage_of_a_limiter_joins_the_signal():
    quiet, loud = small("T7")[0], small("T7", gate=2e-13)[0]
    assert loud - quiet == pytest.approx(2e-13 * (LINE + 300.0), rel=1e-5, abs=0)


def test_contact_voltage_adds_to_the_signal():
    quiet, loud = small("T11")[0], small("T11", thermal=5e-6)[0]
    assert loud - quiet == pytest.approx(5e-6, rel=1e-5, abs=0)


def test_clamp_rails_leak_less_and_cross_talk_by_slope_times_resistance():
    """Crosstalk between channels of one clamp rail: ΔV_CR·g·R."""
    found, c = small("T3")
    assert found == pytest.approx(LINE * by_rails(c, 0.237, 1.8, -1.8), rel=1e-5, abs=0)
    assert abs(amperes(c.upper, 0.237 - 1.8)) < abs(amperes(c.upper, 0.237 - 2.5))
    step = 1e-3
    moved = (small("T3", clamp_positive=1.8 + step)[0] - found) / step
    slope = float(current_and_slope(0.237 - 1.8, c.upper)[1])
    assert moved == pytest.approx(LINE * slope, rel=1e-3, abs=0)


def test_clamps_across_the_inputs_see_the_offset_only():
    """I = V_os·2/r_0 through source, series and feedback resistors."""
    found, _ = small("T4", offset=20e-6)
    assert found == pytest.approx(20e-6 * 2 * SLOPE * (LINE + 3e5), rel=1e-3, abs=0)


def test_equal_resistors_balance_equal_bias_currents_across_the_inputs():
    """The other input's bias in the feedback resistor cancels the pin's in source and series."""
    found, _ = small(
        "T4", offset=0.0, bias=1e-12, other_bias=1e-12, feedback=LINE + 1e4, leakage=1e-20
    )
    assert abs(found) < 1e-6 * 1e-12 * LINE


def test_a_guarded_pair_costs_guard_offset_times_slopes():
    found, _ = small("T5", offset=20e-6)
    assert found == pytest.approx(20e-6 * 2 * SLOPE * LINE, rel=1e-3, abs=0)


def test_insulation_of_a_capacitor_is_a_gain_error():
    quiet, loud = small("T8", insulation=1e18)[0], small("T8", insulation=1e12)[0]
    assert loud - quiet == pytest.approx(-0.237 * LINE / 1e12, rel=1e-4, abs=0)


def test_insulation_of_a_gas_tube_sees_the_source_only():
    quiet, loud = small("T12", insulation=1e18)[0], small("T12", insulation=1e12)[0]
    assert loud - quiet == pytest.approx(-0.237 * 1e6 / 1e12, rel=1e-4, abs=0)


def test_a_suppressor_shifts_its_middle_node_by_its_leakage_in_the_bias():
    """V_M = V_bias − I·R_M, and the signal sees only the junctions at the signal less V_M."""
    suppressor = junction(1e-9)
    c = case(1e-12, 1e6, suppressor=suppressor, bias=0.0, signal=0.2, forward=junction(1e-12))
    c.backward = c.forward
    solution, found = solved("T9", c)
    shift = solution.voltage("middle")[0] - 0.2
    expected = -1e6 * amperes(suppressor, solution.voltage("middle")[0])
    assert shift == pytest.approx(expected, rel=1e-3, abs=0)
    across = 0.2 - solution.voltage("middle")[0]
    through = amperes(c.forward, across) - amperes(c.forward, -across)
    assert found[0] == pytest.approx(-LINE * through, rel=1e-3, abs=0)


def test_virtual_ground_error_noise_gain_and_lost_current():
    """R_f·(I_clamps − I_B) + V_os·(NG − 1) + R_f·I·R_P/(R_sh + R_P), NG = 1 + R_f(1/R + 2/r_0)."""
    shunt, feedback, light, bias, offset = 5e7, 1e9, 2e-9, 3e-13, 35e-6
    found, _ = small("T13", source=shunt, feedback=feedback, light=light, bias=bias, offset=offset)
    gain = 1 + feedback * (1 / (shunt + 1e5) + 2 * SLOPE)
    lost = feedback * light * 1e5 / (shunt + 1e5)
    expected = offset * (gain - 1) - feedback * bias + lost
    assert found == pytest.approx(expected, rel=1e-3, abs=0)
    assert lost / (feedback * light) == pytest.approx(2e-3, rel=1e-2, abs=0)  # 0.2 % of 100 kΩ
    higher, _ = small(
        "T13", source=shunt, feedback=feedback, light=light, bias=bias, offset=offset + 1e-6
    )
    assert (higher - found) / 1e-6 == pytest.approx(gain - 1, rel=1e-3, abs=0)


def test_virtual_ground_terms_name_their_causes():
    c = case(1e-12, 5e7, feedback=1e9, light=2e-9, offset=35e-6)
    solution, found = solved("T13", c)
    terms = error_terms(CATALOGUE["T13"], solution, values("T13", c))
    assert set(terms) == {"forward", "backward", "R_S", "bias"}
    assert sum(t[0] for t in terms.values()) == pytest.approx(found[0], rel=1e-14, abs=0)
    assert terms["bias"][0] == pytest.approx(0.3e-12 * 1e9, rel=1e-14, abs=0)


def test_a_driven_shield_leaves_guard_offset_over_insulation():
    found, _ = small("T14", offset=20e-6, insulation=1e10, leakage=1e-20)
    assert found == pytest.approx(20e-6 / 1e10 * 1e6, rel=1e-3, abs=0)


def test_a_pair_keeps_the_difference_of_its_legs():
    """R·ΔI + I·ΔR, here as the difference of two single legs."""
    pair = legs(1e-12, 1e6)
    found = solved("T15", pair)[1][0]
    one = solved("T2", pair.plus, inner=False)[1][0]
    other = solved("T2", pair.minus, inner=False)[1][0]
    assert found == pytest.approx(one - other, rel=1e-12, abs=0)


def test_a_divider_sees_leakage_in_its_parallel_resistance():
    found, c = small("T16", source=1e3)
    upper, lower = 1e3 + 1e5, 2.2e5
    divided = 0.237 * lower / (upper + lower)
    parallel = upper * lower / (upper + lower)
    assert found == pytest.approx(parallel * by_rails(c, divided), rel=1e-4, abs=0)


def test_stacked_junctions_share_the_signal():
    """n junctions of one law carry at V what one carries at V/n, in both ways."""
    found, c = small("T17")
    through = amperes(c.forward, 0.1185) - amperes(c.forward, -0.1185)
    assert found == pytest.approx(-LINE * through, rel=2e-2, abs=0)  # 1.1 MΩ moves it by 1 %
    solution, _ = solved("T17", c)
    assert solution.voltage("forward node 1")[0] == pytest.approx(
        solution.voltage("pin")[0] / 2, rel=1e-9, abs=0
    )


@pytest.mark.parametrize("name", CATALOGUE)
def test_a_batch_gives_what_single_cases_give(name):
    sources = (1e6, 1e9, 1e12)
    apart = [solved(name, case_of(name, 1e-12, s))[1][0] for s in sources]
    c = case_of(name, 1e-12, np.array(sources)) if name != "T13" else case(1e-12, np.array(sources))
    if name == "T13":
        c.light = 30e-12
    given = values(name, c)
    solution, found = solved(name, c)
    assert found == pytest.approx(np.array(apart), rel=1e-12, abs=0)
    assert error_voltage(CATALOGUE[name], solution, given).shape == (3,)
