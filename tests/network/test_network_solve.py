"""The solver against 50 digits, against scipy on hand-written nodal equations, and in its limits."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mpmath import mpf
from nodal_reference import Junction, guard_error, rail_clamp_error
from scipy.optimize import root

from clampwright.errors import InputError, InternalError
from clampwright.network.circuit import Circuit, ClampBranch, CurrentInto, Driven, Resistor
from clampwright.network.compiled import solve_compiled
from clampwright.network.solve import Solution, Values, require_converged, solve_plain
from clampwright.network.topologies import TOPOLOGIES, fault_circuit, signal_circuit
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope

ROOM = 296.15
RAILS = (2.5, -2.5)
ABSENT = at_conditions(ClampLaw(), ROOM)
LEAKAGES = (1e-15, 1e-12, 1e-9, 1e-6)
SOURCES = tuple(10.0**k for k in range(3, 14))


def junction(leakage, temperature=ROOM, illuminance=0.0, **more):
    """A state whose generation current at zero widening is `leakage`."""
    law = ClampLaw(generation_current=leakage, diffusion_current=leakage / 1e3, **more)
    return at_conditions(law, temperature, illuminance)


def in_use(name, states, source, outer=1e5, *, inner=1e4, guard=4.7e3, signal=0.237, **more):
    """A topology in normal use, solved for one or many cases."""
    topology = TOPOLOGIES[name]
    has_inner = topology.needs_inner or topology.needs_guard
    values = Values(
        potentials={"source": signal, "rail positive": RAILS[0], "rail negative": RAILS[1]},
        resistances={"R_S": source, "R_outer": outer, "R_inner": inner, "R_guard": guard},
        laws=dict(zip(topology.sides, states, strict=True)),
        currents={"bias": more.get("bias", 0.0)},
        driven={"guard": (more.get("gain", 1.0), more.get("offset", 0.0))},
    )
    solution = solve_plain(signal_circuit(topology, inner=has_inner), values)
    return require_converged(solution, name)


def relative(found, expected):
    return float(abs((mpf(float(found)) - expected) / expected))


@pytest.mark.parametrize("leakage", LEAKAGES)
@pytest.mark.parametrize("source", SOURCES)
def test_rail_clamps_agree_with_50_digits(leakage, source):
    """T2 and T6 down to 1 fA and up to 10 TΩ, where the node ends on a conducting clamp."""
    upper, lower = junction(leakage), junction(0.6 * leakage, film_conductance=leakage / 50)
    for name, inner in (("T2", 0.0), ("T6", 1e4)):
        bias = -0.3 * leakage
        found = in_use(name, (upper, lower), source, inner=inner or 1.0, bias=bias)
        expected = rail_clamp_error(
            0.237, RAILS, Junction(upper), Junction(lower), source + 1e5, inner, bias
        )
        assert relative(found.deviation["pin"][0], expected) < 1e-12
        assert found.residual.max() < 1e-10


@pytest.mark.parametrize("leakage", LEAKAGES)
@pytest.mark.parametrize("source", SOURCES)
def test_guarded_pair_agrees_with_50_digits(leakage, source):
    state = junction(leakage)
    found = in_use("T5", (state, state), source, offset=250e-6, gain=0.9999, bias=0.1 * leakage)
    pair = Junction(state), Junction(state)
    expected = guard_error(0.237, pair, source + 1e5, 1e4, 4.7e3, 0.9999, 250e-6, 0.1 * leakage)
    assert relative(found.deviation["pin"][0], expected) < 1e-11


@pytest.mark.parametrize("source", SOURCES)
def test_series_resistor_alone_is_ohms_law(source):
    found = in_use("T1", (), source, bias=-20e-15)
    assert found.deviation["pin"][0] == pytest.approx(-20e-15 * (source + 1e5), rel=1e-15, abs=0)


def test_no_conductance_is_added_anywhere():
    """A clamp of 1e-20 A on 10 TΩ makes 0.1 µV per its own law, not a volt of an artificial shunt."""
    state = junction(1e-20)
    found = in_use("T2", (state, ABSENT), 1e13)
    through = Junction(state)(mpf(0.237) - mpf(2.5))
    assert relative(found.deviation["pin"][0], -through * (mpf(10) ** 13 + mpf(10) ** 5)) < 1e-7


def test_one_batch_gives_what_single_cases_give():
    sources = np.array(SOURCES)
    state = junction(1e-12)
    together = in_use("T2", (state, state), sources).deviation["pin"]
    apart = [in_use("T2", (state, state), s).deviation["pin"][0] for s in sources]
    assert together == pytest.approx(np.array(apart), rel=1e-13, abs=0)


def clamp(state):
    return lambda volts: float(current_and_slope(volts, state)[0])


def found_by_scipy(equations, start):
    """Solve node equations (A) with scipy's hybrid method, each scaled by its own conductance."""
    answer = root(equations, start, method="hybr", options={"xtol": 1e-13, "factor": 0.1})
    assert np.max(np.abs(equations(answer.x))) < 1e-9
    return answer.x


NORMAL = {"leakage": 3e-9, "source": 1e6, "outer": 1e5, "signal": 0.237, "bias": -2e-10}


def test_normal_use_agrees_with_scipy():
    """Full nodal equations in absolute voltages; 3 nA on 1 MΩ so that doubles resolve the error."""
    state, n = junction(NORMAL["leakage"]), NORMAL
    i = clamp(state)

    def rails(x):
        connector, node, pin = x
        return [
            (n["signal"] - connector) / 1e6 * 1e6 + (node - connector) / 1e5 * 1e6,
            ((connector - node) / 1e5 + (pin - node) / 1e4 - i(node - 2.5) + i(-2.5 - node)) * 1e6,
            ((node - pin) / 1e4 + n["bias"]) * 1e6,
        ]

    def guarded(x):
        connector, node, pin, end = x
        pair = i(node - end) - i(end - node)
        return [
            (n["signal"] - connector) / 1e6 * 1e6 + (node - connector) / 1e5 * 1e6,
            ((connector - node) / 1e5 + (pin - node) / 1e4 - pair) * 1e6,
            ((node - pin) / 1e4 + n["bias"]) * 1e6,
            ((pin + 2e-3 - end) / 4.7e3 + pair) * 1e6,
        ]

    by_hand = found_by_scipy(rails, [0.237] * 3)[2] - 0.237
    ours = in_use("T6", (state, state), 1e6, bias=n["bias"]).deviation["pin"][0]
    assert ours == pytest.approx(by_hand, rel=1e-6, abs=0)
    by_hand = found_by_scipy(guarded, [0.237] * 4)[2] - 0.237
    ours = in_use("T5", (state, state), 1e6, bias=n["bias"], offset=2e-3).deviation["pin"][0]
    assert ours == pytest.approx(by_hand, rel=1e-6, abs=0)


PIN = at_conditions(ClampLaw(diffusion_current=1e-14), ROOM)
STRONG = at_conditions(ClampLaw(diffusion_current=1e-13, generation_current=1e-11), ROOM)


def under_fault(name, volts, outer=4.7e3, rails=RAILS, pin=PIN, **more) -> Solution:
    """A topology with a fault at its connector."""
    topology = TOPOLOGIES[name]
    inner = topology.needs_inner
    values = Values(
        potentials={
            "fault": volts,
            "rail positive": rails[0],
            "rail negative": rails[1],
            "guard": np.clip(volts, rails[1], rails[0]),
        },
        resistances={"R_fault": 50.0, "R_outer": outer, "R_inner": 1e3, "R_guard": 100.0},
        laws=dict.fromkeys(topology.sides, STRONG) | {"pin upper": pin, "pin lower": pin},
        currents={},
        driven={},
    )
    return require_converged(solve_plain(fault_circuit(topology, inner=inner), values), name)


@pytest.mark.parametrize("volts", [-60.0, -15.0, 0.4, 15.0, 60.0])
@pytest.mark.parametrize("name", ["T1", "T2", "T5", "T6"])
def test_faults_agree_with_scipy(name, volts):
    """All node equations of each topology written out, started near where the clamps turn on."""
    i, p = clamp(STRONG), clamp(PIN)
    guard = min(max(volts, -2.5), 2.5)
    through = max((abs(volts) - 3.1) / 4750, 0.0)
    saturation = {"T1": 1e-14, "T2": 1.1e-13}.get(name, 1e-13)
    start = guard + np.sign(volts) * 0.02552 * np.log1p(through / saturation)
    connector, lift = volts - 50 * np.sign(volts) * through, 100 * np.sign(volts) * through

    def pin_junctions(v):
        return p(v - 2.5) - p(-2.5 - v)

    def rail_clamps(v):
        return i(v - 2.5) - i(-2.5 - v)

    def outer(connector, node):
        return (volts - connector) / 50 - (connector - node) / 4.7e3

    def t1(x):
        return [outer(*x), (x[0] - x[1]) / 4.7e3 - pin_junctions(x[1])]

    def t2(x):
        return [outer(*x), (x[0] - x[1]) / 4.7e3 - pin_junctions(x[1]) - rail_clamps(x[1])]

    def t5(x):
        connector, pin, end = x
        pair = i(pin - end) - i(end - pin)
        node = (connector - pin) / 4.7e3 - pin_junctions(pin) - pair
        return [outer(connector, pin), node, pair + (guard - end) / 100]

    def t6(x):
        connector, node, pin = x
        into = (node - pin) / 1e3
        clamps = (connector - node) / 4.7e3 - rail_clamps(node) - into
        return [outer(connector, node), clamps, into - pin_junctions(pin)]

    equations = {"T1": t1, "T2": t2, "T5": t5, "T6": t6}[name]
    nodes = {"T1": ["connector", "pin"], "T2": ["connector", "pin"]}
    nodes |= {"T5": ["connector", "pin", "guarded end"], "T6": ["connector", "clamp node", "pin"]}
    first = {"T5": [connector, start + lift, guard + lift], "T6": [connector, start, start]}
    by_hand = found_by_scipy(equations, first.get(name, [connector, start]))
    ours = under_fault(name, volts)
    for node, expected in zip(nodes[name], by_hand, strict=True):
        assert ours.voltage(node)[0] == pytest.approx(expected, abs=1e-8)


def test_hand_equation_of_offset_and_gain():
    """E = R·(I_net + I_B) and gain −R·g while the drop is small against the rails (Ohm)."""
    state, resistance, step = junction(1e-12), 1.1e6, 1e-3
    i = Junction(state)

    def net(volts):
        return i(-2.5 - mpf(volts)) - i(mpf(volts) - mpf(2.5))

    low, mid, high = in_use(
        "T2", (state, state), 1e6, signal=np.array([0.5 - step, 0.5, 0.5 + step]), bias=-1e-13
    ).deviation["pin"]
    assert mid == pytest.approx(float(resistance * (net(0.5) - mpf(10) ** -13)), rel=1e-5, abs=0)
    slope = float((net(0.5 + step) - net(0.5 - step)) / (2 * step))
    assert (high - low) / (2 * step) == pytest.approx(resistance * slope, rel=1e-4, abs=0)
    assert slope < 0  # both clamps load the node


def test_hand_equation_of_a_guarded_pair():
    """E = V_g·(2/r_0)·R for an offset far below kT/q (1.7 MΩ on 2/r_0 of some 1e-10 S)."""
    state = junction(1e-12)
    slope = float(current_and_slope(0.0, state)[1])
    found = in_use("T5", (state, state), 1.6e6, offset=20e-6).deviation["pin"][0]
    assert found == pytest.approx(20e-6 * 2 * slope * 1.7e6, rel=1e-3, abs=0)


def test_hand_equation_of_the_fault_current():
    """I = (|V_F| − V_clamp)/R, and like junctions on clamp node and pin share it half and half."""
    found = under_fault("T2", 30.0, pin=STRONG)
    level = found.voltage("pin")[0]
    assert found.resistor_current["R_fault"][0] == pytest.approx(
        (30 - level) / 4750, rel=1e-9, abs=0
    )
    carried = found.clamp_current
    assert carried["upper"][0] == pytest.approx(carried["pin upper"][0], rel=1e-12, abs=0)
    total = sum(carried[s][0] for s in ("upper", "pin upper")) - sum(
        carried[s][0] for s in ("lower", "pin lower")
    )
    assert total == pytest.approx(found.resistor_current["R_outer"][0], rel=1e-12, abs=0)


def test_inner_resistor_keeps_the_fault_out_of_the_pin():
    """Pin current = (clamp node − pin node)/R_inner, far below the half of T2."""
    found = under_fault("T6", 30.0, pin=STRONG)
    drop = found.voltage("clamp node")[0] - found.voltage("pin")[0]
    assert found.clamp_current["pin upper"][0] == pytest.approx(drop / 1e3, rel=1e-6, abs=0)
    assert found.clamp_current["pin upper"][0] < 0.1 * found.clamp_current["upper"][0]


positive = st.floats(-17, -7).map(lambda k: 10.0**k)
ohms = st.floats(3, 12).map(lambda k: 10.0**k)


@given(positive, ohms, st.floats(1.01, 1e3), st.floats(-2.4, 2.4))
def test_error_grows_with_source_resistance_and_leakage(leakage, source, factor, signal):
    def size(amount, resistance):
        found = in_use("T2", (ABSENT, junction(amount)), resistance, signal=signal)
        return abs(found.deviation["pin"][0])

    before = size(leakage, source)
    slack = 1 + 1e-12  # of rounding, where the node already lies on the rail
    assert size(leakage, source * factor) * slack >= before
    assert size(leakage * factor, source) * slack >= before


@given(positive, ohms, st.floats(243, 353), st.floats(1, 70), st.floats(-2.4, 2.4))
def test_error_grows_with_temperature(leakage, source, cold, warmer, signal):
    def size(temperature):
        found = in_use("T2", (junction(leakage, temperature), ABSENT), source, signal=signal)
        return abs(found.deviation["pin"][0])

    lit = 2.0 * 8.7e-5 * warmer * 40  # [V] a node held by a conducting clamp sits kT/q lower
    assert size(cold + warmer) > size(cold) or size(cold) > 2.5 - abs(signal) - lit


@given(positive, positive, ohms, st.floats(-2.4, 2.4), st.floats(-1e-12, 1e-12))
def test_mirrored_circuit_mirrors_the_error(one, other, source, signal, bias):
    ours = in_use("T2", (junction(one), junction(other)), source, signal=signal, bias=bias)
    mirror = in_use("T2", (junction(other), junction(one)), source, signal=-signal, bias=-bias)
    assert mirror.deviation["pin"][0] == pytest.approx(-ours.deviation["pin"][0], rel=1e-9, abs=0)


@given(ohms, st.floats(1.01, 1e3), st.floats(3.5, 1e3), st.sampled_from(["T1", "T2", "T5", "T6"]))
def test_fault_current_falls_with_series_resistance(outer, factor, volts, name):
    found = under_fault(name, volts, outer=np.array([outer, outer * factor]))
    less, more = found.resistor_current["R_fault"][::-1]
    assert 0 < less < more


def test_a_floating_node_is_named_in_one_sentence():
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("a", "source", "pin"), Resistor("b", "island", "shore")),
    )
    with pytest.raises(InputError, match='node "island"') as caught:
        circuit.check("network")
    assert "\n" not in str(caught.value)


def test_a_node_held_only_by_its_own_follower_floats():
    circuit = Circuit(
        fixed=("source", "other"),
        resistors=(Resistor("a", "source", "other"), Resistor("b", "follower", "pin")),
        driven=(Driven("follower", "pin"),),
    )
    with pytest.raises(InputError, match='node "pin"'):
        circuit.check()


def test_a_missing_base_is_named_in_one_sentence():
    circuit = Circuit(fixed=("ground",), resistors=(), base="sensor")
    with pytest.raises(InputError, match=r'"sensor" is not among.*ground'):
        circuit.check()


@pytest.mark.parametrize(
    ("kind", "name"), [("resistances", "R"), ("laws", "D"), ("currents", "I"), ("driven", "F")]
)
def test_a_missing_value_is_named(kind, name):
    circuit = Circuit(
        fixed=("source", "rail"),
        resistors=(Resistor("R", "source", "pin"), Resistor("G", "F", "end")),
        clamps=(ClampBranch("D", "pin", "rail"), ClampBranch("E", "pin", "end")),
        currents=(CurrentInto("I", "pin"),),
        driven=(Driven("F", "pin"),),
    )
    given_values = {
        "potentials": {"source": 0.0, "rail": 1.0},
        "resistances": {"R": 1e3, "G": 1e3},
        "laws": {"D": STRONG, "E": STRONG},
        "currents": {"I": 1e-12},
        "driven": {"F": (1.0, 0.0)},
    }
    assert solve_plain(circuit, Values(**given_values)).converged.all()
    del given_values[kind][name]
    with pytest.raises(InputError, match=f'"{name}" is missing'):
        solve_plain(circuit, Values(**given_values))


def test_a_resistor_of_nothing_is_refused():
    with pytest.raises(InputError, match='resistor "R_outer" is not positive'):
        in_use("T2", (ABSENT, ABSENT), 1e6, outer=0.0)


def test_unconverged_cases_give_no_number():
    good = in_use("T2", (ABSENT, ABSENT), 1e6)
    lost = Solution(**(vars(good) | {"converged": np.array([False])}))
    with pytest.raises(InternalError, match="1 of 1 cases of this did not converge"):
        require_converged(lost, "this")


BARE = ClampLaw(symmetric_current=1e-3, symmetric_voltage=20.0, symmetric_exponent=30.0)


@pytest.mark.parametrize("path", [solve_plain, solve_compiled])
def test_a_varistor_without_film_is_solved_behind_a_resistor(path):
    """Exact inverse: the source that makes a chosen pin voltage is v + R·I0·(v/V0)^α below the knee."""
    pin = np.concatenate([-np.geomspace(24.0, 1e-3, 50), np.geomspace(1e-3, 24.0, 50)])
    resistance = 1e4
    current = np.sign(pin) * 1e-3 * (np.abs(pin) / 20.0) ** 30.0
    circuit = Circuit(
        ("source", "ground"),
        (Resistor("R", "source", "pin"),),
        (ClampBranch("varistor", "pin", "ground"),),
    )
    law = at_conditions(BARE, 298.15)
    source = pin + resistance * current
    values = Values({"source": source, "ground": 0.0}, {"R": resistance}, {"varistor": law}, {}, {})
    solution = path(circuit, values)
    assert solution.converged.all()
    assert solution.voltage("pin") == pytest.approx(pin, rel=1e-12, abs=0)


@pytest.mark.parametrize("path", [solve_plain, solve_compiled])
def test_a_node_that_only_bare_varistors_hold_is_named(path):
    circuit = Circuit(
        ("source", "ground"),
        (),
        (ClampBranch("outer", "source", "middle"), ClampBranch("inner", "middle", "ground")),
    )
    law, leaky = (
        at_conditions(ClampLaw(**(vars(BARE) | {"film_conductance": g})), 298.15)
        for g in (0.0, 1e-9)
    )
    values = Values({"source": 10.0, "ground": 0.0}, {}, {"outer": law, "inner": law}, {}, {})
    with pytest.raises(InputError, match='node "middle" is held only by clamp "outer"'):
        path(circuit, values)
    solved = path(circuit, replace(values, laws={"outer": law, "inner": leaky}))
    assert solved.converged.all()
