"""Linearised circuits: stamps, transfers and settling against closed forms and 50 digits.

Closed forms of any network text: 1/(2πRC), ln(1/ε), (1 + t/τ)·exp(−t/τ) for two equal poles; the
Butterworth low-pass of two equal resistors round a follower (Sallen and Key 1955).
"""

from dataclasses import replace
from itertools import pairwise
from math import exp, log, pi, sqrt

import mpmath
import numpy as np
import pytest
from random_networks import random_circuit, random_values
from scipy.optimize import brentq
from scipy.special import gammaincc

from clampwright.errors import InputError
from clampwright.network.adjoint import (
    missing,
    steady_transimpedance,
    transfer,
    transimpedance,
    transimpedance_compiled,
    transimpedance_plain,
)
from clampwright.network.circuit import (
    Capacitor,
    Circuit,
    ClampBranch,
    CurrentInto,
    Driven,
    Resistor,
)
from clampwright.network.linearise import linearise as linearise_circuit
from clampwright.network.settling import (
    Soakage,
    bandwidth,
    falls_compiled,
    falls_plain,
    settling_time,
    step_responses,
    time_constants,
)
from clampwright.network.solve import Values, solve, solve_plain
from clampwright.physics.clamp import ClampLaw, at_conditions, capacitance, current_and_slope

R, C = 1e6, 1e-10
LAW = at_conditions(
    ClampLaw(generation_current=1e-12, zero_bias_capacitance=2e-12, diffusion_current=1e-15), 298.15
)


def linearise(circuit, values, solution=None, capacitors=()):
    """Capacitors as (name, node, node, farads)."""
    fitted = replace(circuit, capacitors=tuple(Capacitor(*c[:3]) for c in capacitors))
    return linearise_circuit(fitted, values, solution, {c[0]: c[3] for c in capacitors})


def near(value, rel=1e-9):
    """Relative agreement alone: the usual absolute slack of 1e-12 would hide picoamperes."""
    return pytest.approx(value, rel=rel, abs=0)


def chain(*resistors, fixed=("source", "ground"), driven=()):
    parts = tuple(Resistor(f"R{k}", a, b) for k, (a, b) in enumerate(resistors))
    return Circuit(fixed=fixed, resistors=parts, driven=tuple(Driven(*d) for d in driven))


def values_of(circuit, resistances, **driven):
    return Values(
        potentials=dict.fromkeys(circuit.fixed, 0.0),
        resistances={r.name: v for r, v in zip(circuit.resistors, resistances, strict=True)},
        laws={},
        currents={},
        driven=driven,
    )


def one_pole(resistance=R, farads=C):
    circuit = chain(("source", "pin"))
    cap = ("C", "pin", "ground", farads)
    return linearise(circuit, values_of(circuit, [resistance]), None, [cap])


def test_one_pole_for_a_batch_of_resistors():
    ohms = np.array([1e3, 1e6, 1e9, 1e13])
    network = one_pole(ohms)
    assert bandwidth(network, "source", "pin") == near(1 / (2 * pi * ohms * C))
    for error in (1e-2, 1e-3, 1e-6, 2.0**-21):
        expected = log(1 / error) * ohms * C
        assert settling_time(network, "source", "pin", error) == near(expected, 1e-8)


def test_settling_grows_with_the_wanted_accuracy():
    """9.2103 and 13.8155 time constants to 100 ppm and 1 ppm (−ln ε)."""
    found = [settling_time(one_pole(), "source", "pin", e)[0] / (R * C) for e in (1e-4, 1e-6)]
    assert found == near([9.210340371976182, 13.815510557964274], 1e-8)


def equal_poles(order):
    """`order` equal RC sections, each behind the follower of the one before."""
    resistors = [("source" if k == 0 else f"buffer {k}", f"node {k + 1}") for k in range(order)]
    driven = [(f"buffer {k}", f"node {k}") for k in range(1, order)]
    circuit = chain(*resistors, driven=driven)
    caps = [(f"C{k}", f"node {k + 1}", "ground", C) for k in range(order)]
    gains = {name: (1.0, 0.0) for name, _ in driven}
    return linearise(circuit, values_of(circuit, [R] * order, **gains), None, caps)


@pytest.mark.parametrize("order", [1, 2, 3])
def test_equal_poles(order):
    """−3 dB at √(2^(1/n) − 1)/(2πRC); step error exp(−x)·Σ x^k/k! = Q(n, x), x = t/RC."""
    network, node = equal_poles(order), f"node {order}"
    expected = sqrt(2 ** (1 / order) - 1) / (2 * pi * R * C)
    assert bandwidth(network, "source", node)[0] == near(expected)
    for error in (1e-2, 1e-4):
        x = brentq(lambda x, e=error: float(gammaincc(order, x)) - e, 0, 50)
        found = settling_time(network, "source", node, error)[0]
        assert found == near(x * R * C, 1e-4)


def butterworth(r=1e5, c1=2e-9, c2=1e-9):
    """Two equal resistors, C1 = 2·C2 from the follower back to the middle: Q = 1/√2."""
    circuit = chain(("source", "middle"), ("middle", "pin"), driven=[("buffer", "pin")])
    caps = [("C1", "middle", "buffer", c1), ("C2", "pin", "ground", c2)]
    return linearise(circuit, values_of(circuit, [r, r], buffer=(1.0, 0.0)), None, caps)


def test_complex_poles_of_a_bootstrapped_capacitor():
    """f0 = 1/(2πR√(C1·C2)); Butterworth |H|² = 1/(1 + (f/f0)⁴) and its overshoot exp(−π)."""
    f0 = 1 / (2 * pi * 1e5 * sqrt(2e-18))
    network = butterworth()
    assert bandwidth(network, "source", "buffer")[0] == near(f0)
    f = np.array([0.1, 1.0, 3.0]) * f0
    assert np.abs(transfer(network, "source", "pin", f)[0]) ** 2 == near(1 / (1 + (f / f0) ** 4))
    response = step_responses(network, "source", "pin")[0]
    peak = pi / (2 * pi * f0 * sqrt(0.5))
    assert response.error(np.array([peak]))[0] == near(exp(-pi))
    assert settling_time(network, "source", "pin", 0.05)[0] < peak  # the overshoot is 4.3 % …
    assert settling_time(network, "source", "pin", 0.04)[0] > peak  # … and counts below that


def test_static_nodes_and_capacitance_between_nodes():
    """A bare node follows at once; C between two nodes of a divider is one pole C·(R1‖R2 …)."""
    circuit = chain(("source", "middle"), ("middle", "pin"))
    series = values_of(circuit, [4e5, 6e5])
    network = linearise(circuit, series, None, [("C", "pin", "ground", C)])
    assert bandwidth(network, "source", "pin")[0] == near(1 / (2 * pi * 1e6 * C))
    assert [len(tau) for tau in time_constants(network)] == [1]
    bridged = linearise(circuit, series, None, [("C", "middle", "pin", C)])
    assert time_constants(bridged)[0] == near([6e5 * C])
    empty = linearise(circuit, series)
    assert bandwidth(empty, "source", "pin")[0] == float("inf")
    assert settling_time(empty, "source", "pin", 1e-6)[0] == 0.0


def test_soakage_outlasts_every_time_constant():
    """β·C·R·t^(−m) = ε − exp(−t/RC), solved by bracketing; with soakage alone t = (βRC/ε)^(1/m)."""
    tail = Soakage("pin", C, beta=1e-3, exponent=0.9)
    error = 1e-7
    found = settling_time(one_pole(), "source", "pin", error, (tail,))[0]
    expected = brentq(lambda t: 1e-3 * C * R * t**-0.9 + exp(-t / (R * C)) - error, 5 * R * C, 1e5)
    assert found == near(expected, 1e-8)
    assert found > 0.9 * (1e-3 * C * R / error) ** (1 / 0.9)
    assert found > 5 * settling_time(one_pole(), "source", "pin", error)[0]


def test_refusals():
    with pytest.raises(InputError, match="cannot be reached"):
        settling_time(one_pole(), "source", "pin", 0.0)
    with pytest.raises(InputError, match="soakage"):
        settling_time(one_pole(), "source", "pin", 1e-3, (Soakage("pun", C, 1e-3, 0.9),))
    with pytest.raises(InputError, match="soakage"):
        settling_time(one_pole(), "source", "pin", 1e-3, (Soakage("pin", C, 1e-3, 0.0),))
    with pytest.raises(InputError, match="no node"):
        transimpedance(one_pole(), "pun", 0.0)
    circuit = chain(("source", "pin"))
    with pytest.raises(InputError, match='no capacitor "C"'):
        linearise_circuit(circuit, values_of(circuit, [1.0]), None, {"C": 1e-9})


def clamp_network(gain):
    """Source – R – pin, a clamp from the pin to a follower of the pin."""
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("R", "source", "pin"),),
        clamps=(ClampBranch("clamp", "pin", "guard"),),
        currents=(CurrentInto("bias", "pin"),),
        driven=(Driven("guard", "pin"),),
    )
    values = Values({"source": 0.1}, {"R": 1e9}, {"clamp": LAW}, {"bias": 0.0},
                    {"guard": (gain, 1e-3)})  # fmt: skip
    return linearise(circuit, values, solve(circuit, values)), solve(circuit, values)


@pytest.mark.parametrize("gain", [0.0, 0.9, 0.99999])
def test_a_follower_leaves_one_minus_its_gain(gain):
    network, solution = clamp_network(gain)
    slope = current_and_slope(solution.clamp_voltage["clamp"], LAW)[1]
    load = capacitance(solution.clamp_voltage["clamp"], LAW)
    assert network.capacitance.excess[0] == near((1 - gain) * load)
    expected = 1 / (1e-9 + (1 - gain) * slope)
    assert steady_transimpedance(network, "pin")[0] == near(expected)
    assert transfer(network, "guard", "pin", 0.0)[0].real == near(slope * expected)


def test_what_is_missing_from_a_gain_of_one_keeps_its_digits():
    """1 − H of 1 kΩ against 1 fS: 1e-12 to all digits, where 1 − H as a difference has four."""
    circuit = chain(("source", "pin"), ("pin", "ground"))
    network = linearise(circuit, values_of(circuit, [1e3, 1e15]))
    assert missing(network, ("source",), 0.0)["pin"][0, 0].real == near(1 / (1 + 1e12), 1e-15)


def test_nearly_floating_networks_against_fifty_digits():
    """Random couplings of 1e-9…1e2 S, leaks of 1e-16…1e-10 S, both ways and at 1 µHz…1 MHz.

    Reference: dense LU of mpmath with 50 digits.
    """
    random = np.random.default_rng(20261125)
    for _ in range(8):
        n = int(random.integers(3, 8))
        names = [f"node {k}" for k in range(n)]
        pairs = [(names[k], names[random.integers(k)]) for k in range(1, n)]
        pairs += [(names[0], names[n - 1]), (names[random.integers(n)], "ground")]
        siemens = 10 ** random.uniform(-9, 2, n + 1)
        siemens[-1] = 10 ** random.uniform(-16, -10)
        circuit = chain(*pairs, fixed=("ground", "source"))
        farads = 10 ** random.uniform(-13, -9, n)
        caps = [(f"C{k}", names[k], "ground", c) for k, c in enumerate(farads)]
        values = values_of(circuit, list(1 / siemens))
        network = linearise(circuit, values, None, caps)
        for f in (0.0, 1e-6, 1.0, 1e6):
            found = transimpedance(network, names[-1], f)[0, 0]
            lanes = transimpedance_compiled(network, names[-1], f)[0, 0]
            assert lanes == near(found, 1e-12)
            matrix = _reference_matrix(circuit, values, network.nodes, caps, f)
            pick = mpmath.matrix([int(name == names[-1]) for name in network.nodes])
            exact = mpmath.lu_solve(matrix.T, pick)
            for here, there in zip(found, exact, strict=True):
                assert complex(here) == near(complex(there), 1e-12)


def _reference_matrix(circuit, values, nodes, caps, frequency):
    mpmath.mp.dps = 50
    place = {name: k for k, name in enumerate(nodes)}
    matrix = mpmath.zeros(len(nodes))
    branches = [(r.a, r.b, 1 / mpmath.mpf(values.resistances[r.name])) for r in circuit.resistors]
    omega = 2 * mpmath.pi * mpmath.mpf(frequency)
    branches += [(a, b, mpmath.mpc(0, omega * mpmath.mpf(farads))) for _, a, b, farads in caps]
    for a, b, y in branches:
        for here, there in ((a, b), (b, a)):
            if here in place:
                matrix[place[here], place[here]] += y
                if there in place:
                    matrix[place[here], place[there]] -= y
    return matrix


def test_compiled_and_plain_agree_for_cases_and_followers():
    """A bootstrapped network, three cases with their own frequencies, more points than lanes."""
    circuit = chain(("source", "middle"), ("middle", "pin"), driven=[("buffer", "pin")])
    caps = [("C1", "middle", "buffer", 2e-9), ("C2", "pin", "ground", np.array([1e-9, 3e-9, 0]))]
    values = values_of(circuit, [np.array([1e4, 1e5, 1e9]), 1e5], buffer=(0.999, 0.0))
    network = linearise(circuit, values, None, caps)
    f = np.geomspace(1e-3, 1e7, 37) * np.array([[1.0], [2.0], [5.0]])
    for node in ("pin", "buffer", "source"):
        plain = transimpedance_plain(network, node, f)
        assert np.allclose(transimpedance_compiled(network, node, f), plain, rtol=1e-12, atol=0)


@pytest.mark.parametrize("seed", range(6))
def test_compiled_and_plain_find_the_same_bandwidth(seed):
    """Ladders of random sections, three cases, to a node and to followers that take the source along."""
    random = np.random.default_rng(seed)
    names = ["source", *(f"node {k}" for k in range(int(random.integers(1, 6))))]
    driven = [("buffer", names[-1]), ("ahead", "source")]
    circuit = chain(*pairwise(names), (names[-1], "ahead"), driven=driven)
    ohms = list(10 ** random.uniform(2, 8, (len(names), 3)))
    caps = [(f"C{k}", n, "ground", 10 ** random.uniform(-12, -8, 3)) for k, n in enumerate(names)]
    values = values_of(circuit, ohms, buffer=(0.999, 0.0), ahead=(0.5, 0.0))
    network = linearise(circuit, values, None, [*caps, ("C", names[-1], "buffer", 1e-9)])
    for node in (names[-1], "buffer", "ahead"):
        plain = falls_plain(network, "source", node, 1e-3, 1e12)
        assert falls_compiled(network, "source", node, 1e-3, 1e12) == near(plain, 1e-12)
        assert np.isfinite(plain).all() == (node != "ahead")


def test_a_bandwidth_may_lie_at_any_place_of_the_frequencies_looked_at():
    """One pole, the first frequency looked at from far below it to just below it."""
    network, pole = one_pole(), 1 / (2 * pi * R * C)
    for below in np.geomspace(1.0001, 1e9, 40):
        assert falls_compiled(network, "source", "pin", pole / below, 1e9 * pole)[0] == near(pole)


@pytest.mark.parametrize("seed", range(6))
def test_slopes_of_random_networks_against_the_nonlinear_solver(seed):
    """Transimpedance to every node, and transfer of source and follower, by differences of solutions.

    A current that moves the node by some 10 µV, both signs: the solver knows nothing of matrices here.
    """
    random = np.random.default_rng(seed)
    circuit = random_circuit(random, int(random.integers(2, 7)))
    values = random_values(random, circuit, 4, extra=False, decades=(2, 8), fault=12.0)
    circuit = replace(
        circuit, currents=(*circuit.currents, *(CurrentInto(f"in {n}", n) for n in circuit.unknown))
    )
    still = {f"in {n}": 0.0 for n in circuit.unknown}
    values = replace(values, currents={**values.currents, **still})
    solution = solve_plain(circuit, values)
    network = linearise_circuit(circuit, values, solution)
    node = circuit.unknown[-1]
    z = steady_transimpedance(network, node)
    for k, name in enumerate(network.nodes):
        step = 1e-5 / steady_transimpedance(network, name)[:, k]
        moved = [
            solve_plain(
                circuit, replace(values, currents={**values.currents, f"in {name}": s * step})
            ).deviation[node]
            for s in (1, -1)
        ]
        size = np.abs(solution.deviation[node]).max() * 1e-14 / step + 1e-12 * z[:, -1]
        assert np.all(np.abs((moved[0] - moved[1]) / (2 * step) - z[:, k]) < 1e-5 * z[:, k] + size)
    _compare_sources(circuit, values, network, node)


def _compare_sources(circuit, values, network, node):
    def voltage(changed):
        solution = solve_plain(circuit, replace(values, **changed))
        return solution.voltage(node)

    for name in circuit.fixed:
        level = values.potentials[name]
        up, down = (
            voltage({"potentials": {**values.potentials, name: level + s * 1e-5}}) for s in (1, -1)
        )
        found = transfer(network, name, node, 0.0)[:, 0].real
        assert found == pytest.approx((up - down) / 2e-5, rel=1e-5, abs=1e-8)
    for driven in circuit.driven:
        gain, offset = values.driven[driven.name]
        up, down = (
            voltage({"driven": {**values.driven, driven.name: (gain, offset + s * 1e-5)}})
            for s in (1, -1)
        )
        found = transfer(network, driven.name, node, 0.0)[:, 0].real
        assert found == pytest.approx((up - down) / 2e-5, rel=1e-5, abs=1e-8)
