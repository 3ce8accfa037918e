"""Every topology under a fault: the current by hand along the one path it can take.

By hand: volts = current · (sum of resistances) + the drop of every junction in the path, solved for
the current by bisection in each test's own closed form. Junctions off the path are taken away.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from clampwright.network.equivalents import (
    arc_law,
    leak_law,
    limiter_law,
    tripped_resistance,
)
from clampwright.network.solve import Values, require_converged, solve_plain
from clampwright.network.topologies import CATALOGUE, chained, fault_circuit, stacked
from clampwright.physics.clamp import ClampLaw, at_conditions

ROOM = 296.15  # [K] the laws are stated there too
KT_Q = 8.617333262e-5 * ROOM  # [V] CODATA 2018
RAILS = {"rail positive": 5.0, "rail negative": -5.0, "ground": 0.0}
SATURATION = 1e-12  # [A]
CLAMP = ClampLaw(diffusion_current=SATURATION, reference_temperature=ROOM)
NOTHING = ClampLaw()
OHMS = {
    "R_fault": 1.0,
    "R_outer": 1e4,
    "R_inner": 1e3,
    "R_guard": 4.7e3,
    "R_feedback": 2e4,
    "R_middle": 1e12,
    "R_lower": 1e4,
    "R_bias positive": 1e12,
    "R_bias negative": 1e12,
}


def drop(current):
    """Forward voltage (V) of CLAMP at a current (A)."""
    return KT_Q * np.log1p(current / SATURATION)


def along(volts, ohms, *drops):
    """Current (A) through resistances in a row and the drops given, at `volts` over all."""
    return brentq(
        lambda i: volts - i * ohms - sum(d(i) for d in drops), 0.0, volts / ohms, xtol=1e-18
    )


def under(topology, volts, laws, *, stage="", present=(), inner=False, ohms=None, **potentials):
    """Solve one stage with only the clamps named present."""
    if isinstance(topology, str):
        topology = CATALOGUE[topology]
    circuit = fault_circuit(topology, inner=inner, present=present, stage=stage)
    given = {c.name: at_conditions(laws.get(c.name, NOTHING), ROOM) for c in circuit.clamps}
    fixed = {"fault": volts, **RAILS, **potentials}
    values = Values(fixed, OHMS | (ohms or {}), given, {}, {})
    return require_converged(solve_plain(circuit, values), topology.name)


def flowing(solution):
    return solution.resistor_current["R_fault"][0]


@pytest.mark.parametrize(("side", "sign"), [("upper", 1), ("lower", -1)])
@pytest.mark.parametrize("name", ["T2", "T6", "T8", "T10", "T11", "T12"])
def test_rail_clamps_take_the_fault_over_its_resistance(name, side, sign):
    """I = (|V| − V_rail − V_f)/R with either sign."""
    ohms = {"R_fuse": 50.0, "R_contact": 50.0}
    found = under(name, 30.0 * sign, {side: CLAMP}, ohms=ohms)
    extra = 50.0 if name in ("T10", "T11") else 0.0
    assert flowing(found) * sign == pytest.approx(
        along(25.0, 10001.0 + extra, drop), rel=1e-9, abs=0
    )


@pytest.mark.parametrize(("junction", "sign"), [("pin upper", 1), ("pin lower", -1)])
def test_without_a_clamp_the_pin_takes_all(junction, sign):
    found = under("T1", 30.0 * sign, {junction: CLAMP}, inner=True)
    assert flowing(found) * sign == pytest.approx(along(25.0, 11001.0, drop), rel=1e-9, abs=0)
    assert found.clamp_current[junction][0] == pytest.approx(flowing(found) * sign, rel=1e-9, abs=0)


def test_an_inner_resistor_limits_the_pin():
    """I_pin = (V_clamp − V_rail − V_pin)/R_inner, the pin with a hundredth of the clamp's current."""
    found = under("T6", 30.0, {"upper": CLAMP, "pin upper": CLAMP}, inner=True)
    pin = found.clamp_current["pin upper"][0]
    across = found.voltage("clamp node")[0] - 5.0
    assert pin == pytest.approx((across - drop(pin)) / 1e3, rel=1e-6, abs=0)
    assert pin < 0.1 * found.clamp_current["upper"][0]


@pytest.mark.parametrize(("sign", "side"), [(1, "positive"), (-1, "negative")])
def test_a_clamp_rail_holds_by_its_shunt_with_the_supplies_off(sign, side):
    """The zener alone: level V_Z + V_f, all current in the shunt."""
    shunt = ClampLaw(generation_current=1e-9, breakdown_voltage=5.1)
    laws = {"upper": CLAMP, "lower": CLAMP, f"shunt {side}": shunt}
    found = under("T3", 30.0 * sign, laws, **{"rail positive": 0.0, "rail negative": 0.0})
    clamp = {1: "upper", -1: "lower"}[sign]
    level = found.voltage(f"clamp rail {side}")[0]
    assert abs(level) == pytest.approx(5.1, rel=0.02, abs=0)
    expected = along(30.0 - abs(level), 10001.0, drop)
    assert flowing(found) * sign == pytest.approx(expected, rel=1e-9, abs=0)
    taken = -found.clamp_current[f"shunt {side}"][0]
    assert taken == pytest.approx(found.clamp_current[clamp][0], rel=1e-6, abs=0)


@pytest.mark.parametrize(("sign", "side"), [(1, "forward"), (-1, "backward")])
def test_across_the_inputs_the_feedback_resistor_limits_too(sign, side):
    """I = (|V| − V_f − V_out)/(R_outer + R_feedback) into a saturated output."""
    found = under("T4", 30.0 * sign, {side: CLAMP}, output=4.5 * sign)
    expected = along(25.5, 30001.0, drop)
    assert flowing(found) * sign == pytest.approx(expected, rel=1e-9, abs=0)
    assert found.resistor_current["R_feedback"][0] * sign == pytest.approx(
        -expected, rel=1e-9, abs=0
    )


def test_a_guard_takes_the_fault_through_its_resistor():
    found = under("T5", 30.0, {"forward": CLAMP}, guard=5.0)
    assert flowing(found) == pytest.approx(along(25.0, 14701.0, drop), rel=1e-9, abs=0)


def limiter(limit=1e-3, on=500.0, breakdown=np.inf):
    law = limiter_law(limit, on, ROOM, breakdown)
    return {"limiter towards source": law, "limiter towards pin": law}


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("volts", [6.0, 7.0, 30.0, 325.0])
def test_a_limiter_carries_the_tanh_of_its_voltage(volts, sign):
    """I = I_limit·tanh(V/(R_on·I_limit)), V from the solved nodes on either side."""
    laws = {"upper": CLAMP, "lower": CLAMP, **limiter()}
    found = under("T7", volts * sign, laws, ohms={"R_outer": 100.0})
    across = found.voltage("limited node")[0] - found.voltage("pin")[0]
    assert flowing(found) == pytest.approx(1e-3 * np.tanh(across / 0.5), rel=1e-9, abs=0)
    expected = 1e-3  # 0.5·artanh(i/I_limit) above 9 V: saturated to the last digit of a double
    if volts < 10:
        expected = brentq(
            lambda i: volts - 5.0 - 101.0 * i - drop(i) - 0.5 * np.arctanh(i / 1e-3),
            0.0,
            1e-3 * (1 - 1e-16),
            xtol=1e-18,
        )
    assert flowing(found) * sign == pytest.approx(expected, rel=1e-7, abs=0)


def test_a_limiter_of_steep_law_still_converges():
    """100 Ω and 10 mA: half a volt saturates it, a thousand thermal voltages stand across."""
    found = under("T7", 325.0, {"upper": CLAMP, **limiter(1e-2, 100.0)}, ohms={"R_outer": 10.0})
    assert flowing(found) == pytest.approx(1e-2, rel=1e-9, abs=0)


def test_a_limiter_breaks_down_past_its_rating():
    """Beyond breakdown the current is no longer limited: the outer resistor alone counts."""
    laws = {"upper": CLAMP, **limiter(breakdown=100.0)}
    found = under("T7", 325.0, laws, ohms={"R_outer": 1e4})
    assert flowing(found) == pytest.approx((325 - 5 - 100) / 1e4, rel=0.05, abs=0)
    assert flowing(found) > 1.5e-2


def test_a_tolerant_amplifier_limits_by_itself():
    found = under("T18", 40.0, {"pin upper": CLAMP, **limiter(2e-3, 1e3)}, ohms={"R_outer": 10.0})
    assert flowing(found) == pytest.approx(2e-3, rel=1e-6, abs=0)
    assert found.voltage("pin")[0] == pytest.approx(40.0 - 11.0 * 2e-3, rel=1e-9, abs=0)


def test_a_suppressor_behind_junctions_clamps_at_the_sum():
    """Level V_suppressor + V_f: the current flows through the junction into the suppressor."""
    suppressor = ClampLaw(
        symmetric_current=1e-3,
        symmetric_voltage=6.0,
        symmetric_exponent=40.0,
        film_conductance=1e-10,
    )
    found = under("T9", 100.0, {"forward": CLAMP, "suppressor": suppressor}, **{"middle bias": 0.2})
    expected = along(100.0, 10001.0, drop, lambda i: 6.0 * (i / 1e-3) ** (1 / 40))
    assert flowing(found) == pytest.approx(expected, rel=1e-6, abs=0)


def test_a_tripped_fuse_holds_its_power():
    """After the trip V·I of the fuse is the holding power."""
    resistance = tripped_resistance(24.0 - 5.0 - 0.6, 101.0, 0.1)
    laws, ohms = {"upper": CLAMP}, {"R_outer": 100.0}
    found = under("T10", 24.0, laws, stage="after trip", ohms={**ohms, "R_fuse": resistance})
    current = flowing(found)
    assert current**2 * resistance == pytest.approx(0.1, rel=0.02, abs=0)
    cold = under("T10", 24.0, laws, stage="before trip", ohms={**ohms, "R_fuse": 50.0})
    assert flowing(cold) == pytest.approx(along(19.0, 151.0, drop), rel=1e-9, abs=0)
    assert current < flowing(cold) / 10


def test_the_tripped_state_satisfies_its_own_equation_or_is_refused():
    volts, series, power = 30.0, 200.0, 0.8
    r = tripped_resistance(volts, series, power)
    current = volts / (series + r)
    assert current**2 * r == pytest.approx(power, rel=1e-12, abs=0)
    assert current < volts / (2 * series)  # the stable branch
    assert np.isnan(tripped_resistance(10.0, 200.0, 0.8))


@pytest.mark.parametrize("name", ["T10", "T11"])
def test_an_opened_line_leaks_through_its_insulation(name):
    present = ["off leakage"] if name == "T10" else []
    laws = {"upper": CLAMP, "off leakage": leak_law(1e8)}
    found = under(name, 105.0, laws, stage="open", present=present)
    assert flowing(found) == pytest.approx(along(100.0, 1e8 + 10001.0, drop), rel=1e-9, abs=0)


def test_a_fired_tube_holds_the_connector():
    """20 V of arc at the connector; the line behind it sees that alone."""
    laws = {"upper": CLAMP, "tube arc": arc_law(20.0, 1.0)}
    found = under("T12", 600.0, laws, stage="fired", ohms={"R_fault": 10.0})
    connector = found.voltage("connector")[0]
    arc = (600.0 - connector) / 10.0 - found.clamp_current["upper"][0]
    assert connector == pytest.approx(20.0 * arc ** (1 / 30), rel=1e-6, abs=0)
    assert found.clamp_current["upper"][0] == pytest.approx(
        along(connector - 5.0, 1e4, drop), rel=1e-9, abs=0
    )
    unfired = under("T12", 600.0, laws, stage="unfired")
    assert flowing(unfired) == pytest.approx(along(595.0, 10001.0, drop), rel=1e-9, abs=0)


def test_a_virtual_ground_is_held_by_its_clamp_alone():
    """I_F = (V − V_f)/R_outer into the clamp; the open loop's resistor adds (V_f − V_out)/R_f."""
    found = under("T13", 15.0, {"forward": CLAMP}, ohms={"R_feedback": 1e9}, output=-4.9)
    assert flowing(found) == pytest.approx(along(15.0, 10001.0, drop), rel=1e-5, abs=0)
    low = under("T13", -15.0, {"backward": CLAMP}, ohms={"R_feedback": 1e9}, output=4.9)
    assert flowing(low) == pytest.approx(-flowing(found), rel=1e-9, abs=0)


def test_a_fault_on_the_guard_goes_through_its_resistor_and_clamps():
    fitted = {"stage": "fault on the guard", "present": ("guard upper", "guard lower")}
    found = under("T14", 30.0, {"guard upper": CLAMP}, ohms={"R_fault": 1e3}, guard=2.0, **fitted)
    end = found.voltage("guarded end")[0]
    assert found.resistor_current["R_guard"][0] == pytest.approx(
        (end - 2.0) / 4.7e3, rel=1e-9, abs=0
    )
    clamp = found.clamp_current["guard upper"][0]
    assert end - 5.0 == pytest.approx(drop(clamp), rel=1e-9, abs=0)
    assert flowing(found) == pytest.approx(clamp + (end - 2.0) / 4.7e3, rel=1e-9, abs=0)
    signal = under("T14", 30.0, {"pin upper": CLAMP, "insulation": leak_law(1e15)}, guard=5.0)
    assert flowing(signal) == pytest.approx(along(25.0, 10001.0, drop), rel=1e-6, abs=0)


def test_a_pair_takes_a_fault_on_one_lead_alone():
    """The other leg keeps its own signal and source in place of the fault."""
    sides = ("upper plus", "upper minus", "lower plus", "lower minus")
    found = under(
        "T15",
        0.0,
        dict.fromkeys(sides, CLAMP),
        ohms={"R_fault plus": 1.0, "R_outer plus": 4700.0, "R_fault minus": 175.0,
              "R_outer minus": 4700.0},
        **{"fault plus": 30.0, "fault minus": 2.5},
    )  # fmt: skip
    assert found.resistor_current["R_fault plus"][0] == pytest.approx(
        along(25.0, 4701.0, drop), rel=1e-9, abs=0
    )
    assert found.voltage("pin minus")[0] == pytest.approx(2.5, abs=1e-6)


def test_a_divider_limits_by_its_upper_resistor():
    """Thevenin: V·R2/(R1 + R2) behind the parallel resistance, then the clamp."""
    found = under("T16", 1000.0, {"upper": CLAMP}, ohms={"R_outer": 1e6, "R_lower": 1e5})
    upper = 1e6 + 1.0
    behind, parallel = 1000.0 * 1e5 / (upper + 1e5), upper * 1e5 / (upper + 1e5)
    expected = along(behind - 5.0, parallel, drop)
    assert found.clamp_current["upper"][0] == pytest.approx(expected, rel=1e-9, abs=0)


@pytest.mark.parametrize("count", [1, 2, 4])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_stack_clamps_at_its_number_of_drops(count, sign):
    topology = stacked(count)
    found = under(topology, 30.0 * sign, dict.fromkeys(topology.sides, CLAMP))
    expected = along(30.0, 10001.0, lambda i: count * drop(i))
    assert flowing(found) * sign == pytest.approx(expected, rel=1e-9, abs=0)


def test_a_stack_works_with_the_supplies_off():
    found = under(
        "T17", 30.0, dict.fromkeys(CATALOGUE["T17"].sides, CLAMP),
        **{"rail positive": 0.0, "rail negative": 0.0},
    )  # fmt: skip
    assert flowing(found) == pytest.approx(along(30.0, 10001.0, drop, drop), rel=1e-9, abs=0)


def test_a_tube_stage_then_a_two_resistor_stage():
    """Fired: the arc feeds both resistors in a row."""
    row = chained(CATALOGUE["T12"], CATALOGUE["T6"])
    laws = {"upper 2": CLAMP, "tube arc": arc_law(20.0, 1.0)}
    ohms = {"R_fault": 10.0, "R_outer 2": 1e3, "R_inner 2": 1e3}
    found = under(row, 600.0, laws, stage="fired", ohms=ohms, present=["R_inner 2"])
    connector = found.voltage("connector")[0]
    assert 20.0 < connector < 24.0
    assert found.clamp_current["upper 2"][0] == pytest.approx(
        along(connector - 5.0, 1.1e4, drop), rel=1e-9, abs=0
    )
