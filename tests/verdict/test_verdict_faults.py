"""Stress under a fault against worked figures and hand equations; ratings of the resistor."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small_designs import design, diode, leak

from clampwright.network.topologies import TOPOLOGIES
from clampwright.physics.noise import resistor_voltage_noise
from clampwright.quantities import series_values, write
from clampwright.verdict.design import Fault, Resistor
from clampwright.verdict.fault_solution import solve_fault
from clampwright.verdict.faults import faults_of_design, survivability
from clampwright.verdict.resistor import CHIP_RATINGS, resistor_rating
from clampwright.verdict.results import Verdict
from clampwright.verdict.stress import pin_current
from clampwright.verdict.window import fault_wall

KELVIN = 273.15
CLAMP = diode([leak("10 pA")])
STRONG_RESISTOR = {"working_voltage": "2 kV", "power_rating": "10 W"}


def solved(topology="T2", clamp=CLAMP, sign=None, **parts):
    """The cases of a design with one fault; the one of `sign` where asked for."""
    result = faults_of_design(design(topology, **parts), clamp)
    if sign is None:
        return result.cases[0]
    return next(c for c in result.cases if np.sign(c.voltage) == sign)


def line(case, part, quantity):
    return next(s for s in case.stresses if (s.part, s.quantity) == (part, quantity))


# Thick-film chip resistors at 70 °C, by size: regular and, where printed, raised power (W) and
# working voltage (V). Source: vendor tables.
CHIPS = {
    "0201": ({0.05}, 25),
    "0402": ({0.0625}, 50),
    "0603": ({0.0625, 0.1}, 50),
    "0805": ({0.1, 0.125}, 150),
    "1206": ({0.125, 0.25}, 200),
    "1210": ({0.25, 1 / 3}, 200),
    "1812": ({0.5}, 200),
    "2010": ({0.5, 0.75}, 200),
    "2512": ({1.0}, 200),
}


def test_chip_table():
    assert set(CHIP_RATINGS) == set(CHIPS)
    for size, (powers, volts) in CHIPS.items():
        assert CHIP_RATINGS[size][0] in powers
        assert CHIP_RATINGS[size][1] == volts


@pytest.mark.parametrize(
    ("celsius", "share"), [(-40, 1), (25, 1), (70, 1), (112.5, 0.5), (155, 0), (200, 0)]
)
def test_power_falls_from_70_to_155_degrees(celsius, share):
    """Linear from the knee to zero (thick film; common practice, no source)."""
    rating = resistor_rating(Resistor(value="1 kΩ", package="2512"), celsius + KELVIN)
    assert rating.power == pytest.approx(share * 1.0, rel=1e-9, abs=0)
    assert rating.working_voltage == 200
    assert rating.assumed


def test_stated_ratings_win_and_an_unknown_size_is_said():
    stated = Resistor(value="1 kΩ", package="0603", **STRONG_RESISTOR)
    rating = resistor_rating(stated, 300.0)
    assert (rating.power, rating.working_voltage, rating.assumed) == (10.0, 2000.0, False)
    said = resistor_rating(Resistor(value="1 kΩ", package="9"), 300.0).words
    assert "1206 taken, 9 is not known" in said


BRIDGE = {
    "rails": {"positive": "5.6 V", "negative": "0 V", "minimum_load": "0.9 mA", "can_sink": True},
    "source": {"resistance": "350 Ω"},
    "faults": [{"name": "F", "voltage": "30 V"}],
}


def bridge(ohms, sign, topology="T6", **changes):
    outer = {"value": ohms, "package": "1206"} | changes
    return solved(topology, sign=sign, network={"outer_resistor": outer}, **BRIDGE)


def test_bridge_fault_currents():
    """30 V into 4.7 kΩ and rails of 5.6 V/0 V: 5.2 mA less the drop of one clamp (Ohm)."""
    case = bridge("4.7 kΩ", +1)
    drop = case.clamp_node_voltage - 5.6
    assert 0.5 < drop < 0.85
    assert case.fault_current == pytest.approx((30 - 5.6 - drop) / 4700, rel=1e-6, abs=0)
    assert case.fault_current == pytest.approx(5.2e-3, rel=0.04, abs=0)


@pytest.mark.parametrize(("ohms", "watts"), [(1e3, 0.858), (2.2e3, 0.390), (4.7e3, 0.184)])
def test_bridge_powers_at_minus_30_volts(ohms, watts):
    """(30 V − drop)²/R: 858, 390 and 184 mW (hand figures with a drop of 0.6 to 0.7 V)."""
    case = bridge(f"{ohms} Ω", -1)
    across = 30 + case.clamp_node_voltage
    assert case.resistor_power == pytest.approx(across**2 / ohms, rel=1e-5, abs=0)
    assert case.resistor_power == pytest.approx(watts, rel=0.02, abs=0)
    assert case.resistor_voltage == pytest.approx(across, rel=1e-6, abs=0)


@pytest.mark.parametrize(("package", "verdict"), [("0603", "FAIL"), ("2512", "PASS")])
def test_a_chip_size_decides(package, verdict):
    """184 mW fail 100 mW and pass half of 1 W."""
    assert line(bridge("4.7 kΩ", -1, package=package), "outer resistor", "power").verdict == verdict


def test_equal_resistors_share_voltage_and_power():
    one, two = bridge("4.7 kΩ", -1), bridge("2.35 kΩ", -1, count=2)
    assert two.fault_current == pytest.approx(one.fault_current, rel=1e-9, abs=0)
    assert two.resistor_power == pytest.approx(one.resistor_power / 2, rel=1e-9, abs=0)
    assert two.resistor_voltage == pytest.approx(one.resistor_voltage / 2, rel=1e-9, abs=0)


def test_the_source_of_a_fault_takes_its_own_share():
    """200 V behind 1 MΩ: 0.18 mA through 100 kΩ make 18 V and 3.3 mW there, not 200 V."""
    case = solved(
        "T2",
        sign=1,
        network={"outer_resistor": {"value": "100 kΩ"}},
        faults=[{"name": "F", "voltage": "200 V", "source_resistance": "1 MΩ"}],
    )
    assert case.fault_current == pytest.approx((200 - 2.5 - 0.6) / 1.1e6, rel=2e-3, abs=0)
    assert case.resistor_voltage == pytest.approx(case.fault_current * 1e5, rel=1e-9, abs=0)
    assert case.resistor_power == pytest.approx(case.fault_current**2 * 1e5, rel=1e-9, abs=0)
    stress = line(case, "outer resistor", "voltage").stress
    assert stress == pytest.approx(case.resistor_voltage, rel=1e-9, abs=0)


def series_wall(fault, limit, **resistor):
    """Smallest series resistor at rails of ±15 V where the pin current is the only limit."""
    rating = f"{limit / 0.2} A" if fault.get("duration") is None else f"{limit / 0.5} A"
    case = design(
        "T1",
        rails={"positive": "15 V", "negative": "-15 V", "can_sink": True},
        amplifier={"bias_current": "1 pA", "pin_current_maximum": rating},
        network={"outer_resistor": {"value": "10 kΩ"} | STRONG_RESISTOR | resistor},
        faults=[{"name": "F"} | fault],
    )
    return fault_wall(case, None, case.faults[0]).value


def test_series_resistor_for_60_volts():
    """(60 − 15 − 0.7)/5 mA = 8860 Ω, next E96 8870 Ω, 221 mW (formula of amplifier data sheets).

    Our pin junction drops 0.74 V at 5 mA, so the wall lies a little lower.
    """
    found = series_wall({"voltage": "60 V"}, 5e-3)
    assert found == pytest.approx(8860, rel=2e-3, abs=0)
    assert next(v for v in series_values("E96", 1e3, 1e5) if v >= 8860) == 8870
    case = solved(
        "T1",
        None,
        sign=1,
        rails={"positive": "15 V", "negative": "-15 V", "can_sink": True},
        network={"outer_resistor": {"value": "8870 Ω"}},
        faults=[{"name": "F", "voltage": "60 V"}],
    )
    assert case.fault_current == pytest.approx(4.994363e-3, rel=2e-3, abs=0)
    assert case.resistor_power == pytest.approx(0.22125028, rel=3e-3, abs=0)
    assert resistor_voltage_noise(8870.0, 298.15) == pytest.approx(12.0851168e-9, rel=1e-6, abs=0)


def test_series_resistor_for_mains():
    """(325.27 − 15 − 0.7)/1 mA = 309.57 kΩ at the peak of 230 V rms; one 200 V chip is too short."""
    mains = {"kind": "mains-frequency", "voltage": "230 V"}
    assert series_wall(mains, 1e-3) == pytest.approx(309569.119, rel=1e-3, abs=0)
    for count, verdict in ((1, "FAIL"), (2, "PASS")):
        case = solved(
            "T1",
            None,
            rails={"positive": "15 V", "negative": "-15 V", "can_sink": True},
            network={"outer_resistor": {"value": f"{316 / count} kΩ", "count": count}},
            faults=[{"name": "F"} | mains],
        )
        assert case.fault_current == pytest.approx(0.000979649, rel=1e-3, abs=0)
        voltage = line(case, "outer resistor", "voltage")
        assert voltage.stress == pytest.approx(309.569 / count, rel=1e-3, abs=0)
        assert voltage.verdict == verdict


def test_like_junctions_share_the_fault_and_an_inner_resistor_keeps_it_out():
    """Without R_inner half is taken into the pin (common practice, no source)."""
    fault = {"faults": [{"name": "F", "voltage": "30 V"}]}
    together, apart = solved("T2", sign=1, **fault), solved("T6", sign=1, **fault)
    assert together.pin_current >= 0.5 * together.fault_current
    across = apart.clamp_node_voltage - apart.pin_voltage
    assert apart.pin_current == pytest.approx(across / 1e4, rel=1e-4, abs=0)
    assert apart.pin_current < 0.1 * apart.fault_current


def pumped(power="asleep", sign=1, clamp=CLAMP, **rails):
    case = {"positive": "5 V", "negative": "0 V", "minimum_load": "0.9 mA", "load": "14 mA"}
    case |= {"capacitance": "47 µF", "absolute_maximum": "6 V"} | rails
    return solved(
        "T6",
        clamp,
        sign=sign,
        rails=case,
        network={"outer_resistor": {"value": "2.35 kΩ"} | STRONG_RESISTOR},
        faults=[{"name": "F", "voltage": "30 V", "power": power}],
    )


def test_a_rail_that_cannot_sink_is_pumped():
    """dV/dt = (10.3 − 0.9) mA/47 µF = 200 V/s asleep; taken by 14 mA of load awake (I = C·dV/dt)."""
    case = pumped()
    assert case.rail_rate == pytest.approx((case.rail_current - 0.9e-3) / 47e-6, rel=1e-12, abs=0)
    assert case.rail_rate == pytest.approx(200, rel=0.05, abs=0)
    # it settles where what still flows equals the load: 30 V − 0.9 mA · 2.35 kΩ less one drop
    assert case.rail_settles_at == pytest.approx(30 - 0.9e-3 * 2350 - 0.6, rel=0.01, abs=0)
    assert line(case, "positive rail", "supply span after pumping").verdict is Verdict.FAIL
    awake = pumped("on")
    assert awake.rail_rate == 0.0
    assert awake.rail_settles_at is None
    assert line(awake, "positive rail", "pushed-in current").verdict is Verdict.PASS


def test_each_stress_is_at_the_worse_of_both_states_of_a_rail():
    """Settled, 0.9 mA flow at all: rail and drop are 30 V − 0.9 mA · 2.35 kΩ = 27.9 V (Kirchhoff), which
    the idle clamp to ground stands off. The current is that of the rail at 5 V, less about 0.7 V of drop.
    """
    case = pumped()
    reverse = line(case, "test-diode K/A", "reverse voltage")
    assert case.clamp_node_voltage == pytest.approx(27.9, rel=3e-3, abs=0)
    assert reverse.stress == pytest.approx(27.9, rel=3e-3, abs=0)
    assert reverse.note == f"with the rail at {write(case.rail_settles_at, 'voltage')}"
    forward = line(case, "test-diode K/A", "forward current")
    assert case.fault_current == pytest.approx((30 - 5.7) / 2350, rel=0.01, abs=0)
    assert forward.note == "before the rail rises"
    fails = line(pumped(clamp=diode([leak("10 pA")], breakdown_minimum="20 V")),
                 "test-diode K/A", "reverse voltage")  # fmt: skip
    assert fails.verdict is Verdict.FAIL  # 14 V are usable: 5.7 V would have passed


def test_a_mains_period_lifts_both_rails():
    """Both rails end alike, so the span is twice one of them and an idle clamp sees one drop more."""
    fault = {"name": "F", "kind": "mains-frequency", "voltage": "24 V", "power": "asleep"}
    rails = {"positive": "2.5 V", "negative": "-2.5 V", "minimum_load": "10 µA"}
    case = solved("T6", sign=1, faults=[fault], rails=rails | {"absolute_maximum": "6 V"})
    span = line(case, "positive rail", "supply span after pumping").stress
    assert case.rail_settles_at > 10
    assert span == pytest.approx(2 * case.rail_settles_at, rel=1e-9, abs=0)
    reverse = line(case, "test-diode K/A", "reverse voltage").stress
    assert 0.4 < reverse - span < 0.8


def test_inputs_that_fail_together_are_told():
    several = {"name": "F", "voltage": "30 V", "channels": 2}
    assert "2 inputs at once" in solved(faults=[several]).words
    assert "at once" not in solved(faults=[several | {"channels": 1}]).words


def test_ground_and_a_sinking_supply_are_not_pumped():
    """−30 V pulls its current out of ground; nothing rises."""
    for case in (pumped(sign=-1), pumped(can_sink=True)):
        assert case.rail_settles_at is None
        assert not [s for s in case.stresses if "rail" in s.part]


def test_an_unstated_load_is_not_measured():
    case = pumped("asleep", minimum_load=None)
    assert line(case, "positive rail", "pushed-in current").verdict is Verdict.NOT_MEASURED
    assert case.verdict in (Verdict.NOT_MEASURED, Verdict.FAIL)


def test_a_missing_rating_is_not_measured():
    bare = diode([leak("10 pA")], forward_current_maximum=None)
    stress = line(solved("T6", bare, faults=[{"name": "F", "voltage": "30 V"}]), "test-diode K/A",
                  "forward current")  # fmt: skip
    assert (stress.rating, stress.verdict) == (None, Verdict.NOT_MEASURED)


def test_the_idle_clamp_stands_off_the_rail_span():
    """The other clamp sees the span and one forward drop, at most 70 % of its breakdown."""
    case = solved("T6", sign=1, faults=[{"name": "F", "voltage": "30 V"}])
    stress = line(case, "test-diode K/A", "reverse voltage")
    assert stress.stress == pytest.approx(case.clamp_node_voltage + 2.5, rel=1e-9, abs=0)
    assert stress.ratio == pytest.approx(0.7 * 100 / stress.stress, rel=1e-9, abs=0)


def test_mains_frequency_pushes_both_rails_even_when_one_sign_is_asked_for():
    fault = {"name": "F", "kind": "mains-frequency", "voltage": "24 V", "both_signs": False}
    found = faults_of_design(design("T6", faults=[fault]), CLAMP).cases
    assert {c.rail for c in found} == {"positive", "negative"}
    peak = 24 * np.sqrt(2)
    for case in found:
        assert case.fault_current == pytest.approx((peak - 3.0) / 2e5, rel=5e-3, abs=0)


def test_pin_rating_is_used_to_a_fifth_when_continuous():
    """Half of a stated pin current, a fifth when continuous (common practice, no source)."""
    for duration, share in (("continuous", 0.2), ("1 s", 0.5)):
        fault = {"name": "F", "voltage": "30 V", "duration": duration}
        stress = line(solved("T6", faults=[fault]), "amplifier pin", "current")
        assert stress.derating == share


def test_an_impulse_is_not_measured():
    case = solved(faults=[{"name": "F", "kind": "esd", "voltage": "8 kV"}])
    assert case.verdict is Verdict.NOT_MEASURED
    assert "arcs over" in case.reason


def test_no_fault_listed_is_not_measured():
    assert faults_of_design(design(), CLAMP).verdict is Verdict.NOT_MEASURED


@settings(max_examples=12, deadline=None)
@given(
    st.floats(2, 7).map(lambda k: 10.0**k),
    st.floats(1.01, 100),
    st.floats(5, 500),
    st.sampled_from(["T1", "T2", "T5", "T6"]),
    st.sampled_from([1.0, -1.0]),
)
def test_more_series_resistance_never_stresses_more(ohms, factor, volts, name, sign):
    case, topology = design(name), TOPOLOGIES[name]
    outer = np.array([ohms, ohms * factor])
    fault = Fault(name="F", voltage=f"{volts} V")
    found = solve_fault(case, topology, CLAMP.fitted.law, fault, sign, 300.0, outer)
    more, less = np.abs(found.fault_current[:, 0])
    assert less < more
    more, less = pin_current(topology, found)
    assert less <= more


def test_walls_of_the_window_agree_with_the_stresses():
    """Just above a wall every stress passes, just below one fails.

    Far below it the load cannot take the current, and no supply limit is stated.
    """
    case = design("T6", faults=[{"name": "F", "voltage": "60 V"}])
    wall = fault_wall(case, CLAMP, case.faults[0]).value
    found = survivability(case, TOPOLOGIES["T6"], CLAMP, wall * np.array([0.999, 1.001]))
    assert found.ratio[0] < 1 <= found.ratio[1]
    found = survivability(case, TOPOLOGIES["T6"], CLAMP, np.array([1e4, 1e6]))
    assert found.unrated[0].endswith("rail, supply span after pumping")
    assert found.unrated[1] == ""
