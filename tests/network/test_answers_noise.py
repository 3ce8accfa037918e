"""Noise of any circuit against 4kTR (Nyquist 1928), 2qI (Schottky 1918), kT/C and noise bandwidths.

Noise bandwidth over −3 dB bandwidth of equal real poles and of Butterworth low-passes: closed forms,
handbook values 1.57, 1.22, 1.155 and 1.57, 1.11 (Motchenbacher and Connelly, Low-Noise Electronic
System Design). Photodiode figures: our invented demonstration, recomputed here by hand.
"""

from dataclasses import replace
from math import inf, pi, sqrt

import numpy as np
import pytest

from clampwright.errors import InputError
from clampwright.network.circuit import (
    Capacitor,
    Circuit,
    ClampBranch,
    CurrentInto,
    Driven,
    Resistor,
)
from clampwright.network.linearise import linearise, released
from clampwright.network.noise_at import (
    NoiseCurrent,
    NoiseVoltage,
    clamp_currents,
    noise_power,
    resistor_currents,
    terminal_noise_power,
)
from clampwright.network.noise_band import noise_in_band
from clampwright.network.rest_point import rest_point
from clampwright.network.settling import bandwidth, time_constants
from clampwright.network.solve import Values, solve
from clampwright.network.virtual_ground import (
    AmplifierNoise,
    Feedback,
    noise_gain,
    virtual_ground_noise,
)
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope

K, Q, T = 1.380649e-23, 1.602176634e-19, 300.0  # SI 2019
R, C = 1e6, 1e-10


def near(value, rel=1e-9):
    """Relative agreement alone: every number here is far below the usual absolute slack of 1e-12."""
    return pytest.approx(value, rel=rel, abs=0)


def ladder(resistances, farads):
    """Source – R0 – node 1 – R1 – node 2 …, a capacitor to ground at each node (0: none)."""
    n = len(resistances)
    names = ["source", *(f"node {k}" for k in range(1, n)), "pin"]
    circuit = Circuit(
        fixed=("source",),
        resistors=tuple(Resistor(f"R{k}", names[k], names[k + 1]) for k in range(n)),
        capacitors=tuple(Capacitor(f"C{k}", names[k + 1]) for k in range(n)),
    )
    values = Values({"source": 0.0}, {f"R{k}": r for k, r in enumerate(resistances)}, {}, {}, {})
    capacitances = {f"C{k}": c for k, c in enumerate(farads) if c}
    return circuit, values, linearise(circuit, values, None, capacitances)


def thermal(circuit, values, kelvin=T):
    return resistor_currents(circuit, values, {r.name: kelvin for r in circuit.resistors})


@pytest.mark.parametrize(
    ("ohms", "nanovolts"),
    [(1e3, 4.0577851), (1e5, 40.577851069271766), (1e9, 4057.785106927177)],
)
def test_density_of_a_resistor(ohms, nanovolts):
    """4.06 nV/√Hz for 1 kΩ at 298.15 K; 4kTR by computation."""
    circuit, values, network = ladder([ohms], [0])
    found = noise_power(network, "pin", [0.0, 1e3], thermal(circuit, values, 298.15))
    assert found.density[0] == near([nanovolts * 1e-9] * 2, 1e-7)


def test_each_resistor_at_its_own_temperature():
    """A cold source and a warm board: √(4k(T1·R1 + T2·R2)) at DC."""
    circuit, values, network = ladder([4e5, 6e5], [0, C])
    heat = resistor_currents(circuit, values, {"R0": 278.15, "R1": 318.15})
    found = noise_power(network, "pin", 0.0, heat)
    assert found.density[0, 0] == near(sqrt(4 * K * (278.15 * 4e5 + 318.15 * 6e5)))
    assert found.by_source["R0"][0, 0] == near(4 * K * 278.15 * 4e5)


@pytest.mark.parametrize("ohms", [1.0, 1e6, 1e12])
@pytest.mark.parametrize(("farads", "microvolts"), [(1e-12, 64.35795988), (1e-10, 6.435795988)])
def test_all_the_noise_of_a_resistor_is_kt_over_c(ohms, farads, microvolts):
    """√(kT/C) at 300 K whatever the resistor: in a brick wall of 10 decades and by one far pole."""
    circuit, values, network = ladder([ohms], [farads])
    pole = 1 / (2 * pi * ohms * farads)

    def power(f):
        return noise_power(network, "pin", f, thermal(circuit, values)).total

    wall = noise_in_band(power, 1e10 * pole, "brick wall", slowest=pole)
    assert wall[0] == near(microvolts * 1e-6, 1e-9)
    one_pole = noise_in_band(power, 1e10 * pole, "one pole", slowest=pole)
    assert one_pole[0] == near(microvolts * 1e-6, 1e-8)


def test_a_ladder_obeys_equipartition():
    """Three sections at one temperature: ½·C·v² = ½·kT at the last capacitor, whatever the rest."""
    circuit, values, network = ladder([1e5, 3e6, 2e4], [3e-10, 1e-11, 2e-9])
    slowest = 1 / (2 * pi * abs(time_constants(network)[0][0]))
    found = noise_in_band(
        lambda f: noise_power(network, "pin", f, thermal(circuit, values)).total,
        1e12,
        "brick wall",
        slowest=slowest,
    )
    assert found[0] == near(sqrt(K * T / 2e-9), 1e-6)


@pytest.mark.parametrize(
    ("order", "ratio"), [(1, 1.5707963267948963), (2, 1.2203312255379455), (3, 1.155394826219803)]
)
def test_noise_bandwidth_of_equal_poles(order, ratio):
    """White noise through equal RC sections apart by followers: ∫|H|² over the −3 dB bandwidth."""
    circuit = Circuit(
        fixed=("source",),
        resistors=tuple(
            Resistor(f"R{k}", "source" if k == 0 else f"buffer {k}", f"node {k + 1}")
            for k in range(order)
        ),
        driven=tuple(Driven(f"buffer {k}", f"node {k}") for k in range(1, order)),
        capacitors=tuple(Capacitor(f"C{k}", f"node {k + 1}") for k in range(order)),
    )
    values = Values(
        {"source": 0.0},
        {f"R{k}": R for k in range(order)},
        {},
        {},
        {f"buffer {k}": (1.0, 0.0) for k in range(1, order)},
    )
    network = linearise(circuit, values, None, {f"C{k}": C for k in range(order)})
    assert _noise_bandwidth(network, f"node {order}") == near(ratio, 1e-8)


def test_noise_bandwidth_of_a_butterworth_low_pass():
    """Second order, two equal resistors round a follower, C1 = 2·C2: 1.1107."""
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("R0", "source", "middle"), Resistor("R1", "middle", "pin")),
        driven=(Driven("buffer", "pin"),),
        capacitors=(Capacitor("C1", "middle", "buffer"), Capacitor("C2", "pin")),
    )
    values = Values({"source": 0.0}, {"R0": R, "R1": R}, {}, {}, {"buffer": (1.0, 0.0)})
    network = linearise(circuit, values, None, {"C1": 2 * C, "C2": C})
    assert _noise_bandwidth(network, "buffer") == near(1.1107207345395915, 1e-8)


def _noise_bandwidth(network, node):
    """Noise in a wide brick wall of 1 A²/Hz into the first node's resistor, over −3 dB bandwidth."""
    first = network.nodes[0]
    white = [NoiseCurrent("white", "source", first, 1 / R**2)]  # 1 V/√Hz behind R

    def power(f):
        return noise_power(network, node, f, white).total

    corner = bandwidth(network, "source", node)[0]
    total = noise_in_band(power, 1e9 * corner, "brick wall", slowest=corner)[0]
    return total**2 / corner


def test_brick_wall_and_one_pole_differ_by_half_pi():
    """White noise: π/2 of the edge, and each shape keeps a start above zero."""
    circuit, values, network = ladder([1e9], [0])

    def power(f):
        return noise_power(network, "pin", f, thermal(circuit, values)).total

    density = sqrt(4 * K * T * 1e9)
    assert noise_in_band(power, 10.0, "brick wall")[0] == near(density * sqrt(10))
    assert noise_in_band(power, 10.0, "one pole")[0] == near(density * sqrt(5 * pi), 1e-8)
    assert noise_in_band(power, 10.0, "brick wall", start=0.1)[0] == near(density * sqrt(9.9))


def test_flicker_noise_needs_a_start():
    """∫(1 + f_c/f)df = (f2 − f1) + f_c·ln(f2/f1)."""
    network = ladder([1e3], [0])[2]
    voltage = [NoiseVoltage("amplifier voltage noise", 8e-9, corner=5.0)]

    def power(f):
        return noise_power(network, "pin", f, [], voltage).total

    found = noise_in_band(power, 100.0, "brick wall", start=0.1)[0]
    assert found == near(8e-9 * sqrt(99.9 + 5 * np.log(1e3)))
    with pytest.raises(InputError, match="no density at 0 Hz"):
        noise_power(network, "pin", 0.0, [], voltage)
    with pytest.raises(InputError, match="empty"):
        noise_in_band(power, 100.0, "brick wall", start=100.0)


def rail_clamps(law, source=0.0):
    circuit = Circuit(
        fixed=("source", "rail positive", "rail negative"),
        resistors=(Resistor("R", "source", "pin"),),
        clamps=(
            ClampBranch("upper", "pin", "rail positive"),
            ClampBranch("lower", "rail negative", "pin"),
        ),
        currents=(CurrentInto("bias", "pin"),),
    )
    potentials = {"source": source, "rail positive": 15.0, "rail negative": -15.0}
    return circuit, Values(potentials, {"R": R}, {"upper": law, "lower": law}, {"bias": 0.0}, {})


def test_shot_noise_adds_although_the_currents_cancel():
    """1 nA up and 1 nA down: no offset, but √(2·2q·1 nA)·R of noise (Schottky 1918)."""
    flat = ClampLaw(diffusion_current=1e-9, reference_temperature=T)
    circuit, values = rail_clamps(at_conditions(flat, T))
    solution = solve(circuit, values)
    assert solution.deviation["pin"][0] == 0.0
    network = linearise(circuit, values, solution)
    found = noise_power(network, "pin", 0.0, clamp_currents(circuit, values, network.clamps))
    assert found.density[0, 0] == near(sqrt(2) * 1.790070743853438e-14 * R)


def test_a_clamp_at_zero_volts_is_as_noisy_as_its_resistance():
    """Nyquist: 4kT·g, the series resistance included, at any light-free bias of 0 V."""
    law = at_conditions(ClampLaw(generation_current=1e-6, series_resistance=3e4), T)
    slope = current_and_slope(0.0, law)[1]
    assert terminal_noise_power(rest_point(0.0, law), law) == near(4 * K * T / (1 / slope + 3e4))


@pytest.mark.parametrize("source", [-60.0, -1.0, 1e-6, 0.3, 5.0])
def test_a_solved_clamp_rests_where_its_current_says(source):
    """Blocking, in breakdown and hot: the known current gives the junction that is searched without."""
    law = ClampLaw(1e-12, generation_current=1e-10, series_resistance=300.0, breakdown_voltage=40.0)
    law = at_conditions(replace(law, zero_bias_capacitance=1e-11, transit_time=1e-9), T)
    circuit = Circuit(("source", "ground"), (Resistor("R", "source", "pin"),),
                      clamps=(ClampBranch("clamp", "pin", "ground"),))  # fmt: skip
    solved = solve(
        circuit, Values({"source": source, "ground": 0.0}, {"R": 1e3}, {"clamp": law}, {}, {})
    )
    across = solved.clamp_voltage["clamp"]
    known, searched = (
        rest_point(across, law, solved.clamp_current["clamp"]),
        rest_point(across, law),
    )
    for name, value in vars(searched).items():
        assert getattr(known, name) == near(value, 1e-10), name


def test_noise_of_a_follower_comes_through_its_shield():
    """A shield of 100 pF on a follower of 20 nV/√Hz: e·ωRC at the pin, whose own follower cancels it.

    (V − V·1 − e)·sC + V/R = 0 gives V = e·sRC.
    """
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("R", "source", "pin"),),
        driven=(Driven("shield", "pin"),),
        capacitors=(Capacitor("C", "pin", "shield"),),
    )
    values = Values({"source": 0.0}, {"R": R}, {}, {}, {"shield": (1.0, 0.0)})
    network = linearise(circuit, values, None, {"C": C})
    voltage = [NoiseVoltage("guard follower", 20e-9, at="shield")]
    for f in (10.0, 1e5):
        found = noise_power(network, "pin", f, [], voltage).density[0, 0]
        assert found == near(20e-9 * 2 * pi * f * R * C)


def test_noise_of_a_batch_of_cases_is_that_of_each():
    """Cases side by side: resistors, a follower's offset, frequencies."""
    ohms = np.array([1e5, 1e7])
    circuit, values, network = ladder([ohms, 1e6], [1e-9, 1e-10])
    f = np.array([0.0, 10.0, 1e4])
    together = noise_power(network, "pin", f, thermal(circuit, values)).total
    for k, r in enumerate(ohms):
        circuit, values, network = ladder([r, 1e6], [1e-9, 1e-10])
        alone = noise_power(network, "pin", f, thermal(circuit, values)).total
        assert together[k] == near(alone[0], 1e-13)


# The transimpedance input of our own demonstration: photodiode 50 MΩ ‖ 400 pF at 45 °C, 100 kΩ in
# front, two clamps, feedback 1 GΩ ‖ 5 pF, amplifier 6 nV/√Hz.
HOT = 318.15
FEEDBACK = Feedback(1e9, HOT, 5e-12)
AMPLIFIER = AmplifierNoise(6e-9)


def summing_node(zero_bias_resistance, offset=35e-6, shunt=50e6, outer=1e5):
    """Circuit with the held node, values, and the network with it let go."""
    current = K * HOT / Q / (zero_bias_resistance)  # ideality 1
    law = at_conditions(
        replace(ClampLaw(), diffusion_current=current, reference_temperature=HOT), HOT
    )
    circuit = Circuit(
        fixed=("ground", "pin"),
        resistors=(Resistor("R_S", "ground", "connector"), Resistor("R_outer", "connector", "pin")),
        clamps=(ClampBranch("forward", "pin", "ground"), ClampBranch("backward", "ground", "pin")),
        base="ground",
        capacitors=(Capacitor("C_source", "connector"),),
    )
    values = Values(
        {"ground": 0.0, "pin": offset},
        {"R_S": shunt, "R_outer": outer},
        {"forward": law, "backward": law},
        {},
        {},
    )
    solution = solve(circuit, values)
    network = linearise(released(circuit, "pin"), values, solution, {"C_source": 400e-12})
    return circuit, values, solution, network


def _referred(zero_bias_resistance, frequency=0.0):
    circuit, values, _, network = summing_node(zero_bias_resistance)
    currents = thermal(circuit, values, HOT) + clamp_currents(circuit, values, network.clamps)
    found = virtual_ground_noise(network, "pin", FEEDBACK, frequency, currents, AMPLIFIER)
    return {name: np.sqrt(p[0, 0]) / 1e9 for name, p in found.by_source.items()}, found


def test_noise_gain_and_current_noise_of_a_virtual_ground():
    """Glass pair of 7.3 MΩ: noise gain 157–158 and 49 fA/√Hz; the feedback resistor 4.19 fA/√Hz.

    Our demonstration's check values; 1 + R_f·(1/R_sh + 1/r_0) and √(4kT/r_0) by hand.
    """
    _, _, _, network = summing_node(14.6e6)
    gain = noise_gain(network, "pin", FEEDBACK, 0.0)[0, 0].real
    # the clamps sit at 35 µV, not at zero: their slope differs by the second order of V/V_T
    assert gain == near(1 + 1e9 * (1 / (50e6 + 1e5) + 1 / 7.3e6), 1e-5)
    assert 157 <= gain <= 158
    parts, _ = _referred(14.6e6)
    pair = np.hypot(parts["forward"], parts["backward"])
    assert pair == near(sqrt(4 * K * HOT / 7.3e6), 1e-6)
    assert pair * 1e15 == near(49, 0.01)
    assert parts["feedback resistor"] * 1e15 == near(4.19, 2e-3)


def test_total_noise_of_the_quiet_pair_by_hand():
    """2.8 GΩ pair in brick-wall 1 Hz and with one pole: stated as 19.4 and 24.4 fA.

    The photodiode's 50 MΩ behind 100 kΩ, the pair, the feedback resistor and the amplifier's noise.
    """
    circuit, values, _, network = summing_node(5.6e9)
    currents = thermal(circuit, values, HOT) + clamp_currents(circuit, values, network.clamps)

    def power(f):
        total = virtual_ground_noise(network, "pin", FEEDBACK, f, currents, AMPLIFIER).total
        return total / 1e18

    assert noise_in_band(power, 1.0, "brick wall")[0] * 1e15 == near(19.4, 5e-3)
    flat = sqrt(4 * K * HOT * (1 / 50.1e6 + 1 / 2.8e9 + 1e-9) + (6e-9 * 21.3 / 1e9) ** 2)
    assert sqrt(power(np.array([0.0]))[0, 0]) == near(flat, 1e-3)


def test_a_slow_amplifier_and_a_capacitive_source_peak():
    """Noise gain at high frequency tends to 1 + C_in/C_f; a finite gain-bandwidth ends it."""
    network = summing_node(5.6e9, outer=1.0)[3]
    assert abs(noise_gain(network, "pin", FEEDBACK, 1e6)[0, 0]) == near(1 + 400 / 5, 1e-4)
    slow = Feedback(1e9, HOT, 5e-12, gain_bandwidth=1e6)
    fast, limited = (
        virtual_ground_noise(network, "pin", f, 1e6 / 81, [], AMPLIFIER).by_source
        for f in (FEEDBACK, slow)
    )
    name = "amplifier voltage noise"
    assert limited[name][0, 0] / fast[name][0, 0] == near(0.5, 1e-2)
    assert FEEDBACK.gain_bandwidth == inf
