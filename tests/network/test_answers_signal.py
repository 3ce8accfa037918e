"""Error over the signal range, harmonics and rectified hum, against hand, integration and averages.

Abramowitz and Stegun 9.6.16 (mean of exp(x·cos φ)); scipy's ODE solver and special functions as
references; Sze, Physics of Semiconductor Devices (junction capacitance and its derivative).
"""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.special import ive

from clampwright.errors import InputError
from clampwright.network.adjoint import steady_transimpedance, transfer
from clampwright.network.circuit import (
    Capacitor,
    Circuit,
    ClampBranch,
    CurrentInto,
    Driven,
    Resistor,
)
from clampwright.network.distortion import (
    capacitance_slope,
    curvature,
    second_harmonic,
)
from clampwright.network.hum import (
    bessel_excess,
    mean_current_shift,
    rectified_share,
)
from clampwright.network.linearise import linearise
from clampwright.network.signal_transfer import (
    clamp_slopes,
    drift,
    error_at,
    leak_free_error,
    signal_transfer,
)
from clampwright.network.solve import Values, solve
from clampwright.physics.charge import stored_charge
from clampwright.physics.clamp import ClampLaw, at_conditions, capacitance, current_and_slope

T0 = 298.15
R = 1e8
RAIL = 2.5


def near(value, rel=1e-9, size=0.0):
    """Relative agreement; `size` is an absolute slack of our own choosing, never the usual 1e-12."""
    return pytest.approx(value, rel=rel, abs=size)


def rails(upper, lower, *, shunt=None, bias=0.0, source=0.0):
    resistors = [Resistor("R", "source", "pin")]
    resistances = {"R": R}
    if shunt:
        resistors.append(Resistor("R_shunt", "pin", "ground"))
        resistances["R_shunt"] = shunt
    circuit = Circuit(
        fixed=("source", "rail positive", "rail negative", "ground"),
        resistors=tuple(resistors),
        clamps=(
            ClampBranch("upper", "pin", "rail positive"),
            ClampBranch("lower", "rail negative", "pin"),
        ),
        currents=(CurrentInto("bias", "pin"),),
        capacitors=(Capacitor("C_input", "pin"),),
    )
    potentials = {"source": source, "rail positive": RAIL, "rail negative": -RAIL, "ground": 0.0}
    laws = {"upper": upper, "lower": lower}
    return circuit, Values(potentials, resistances, laws, {"bias": bias}, {})


def film(siemens):
    return at_conditions(ClampLaw(film_conductance=siemens), T0)


SIGNALS = np.linspace(-0.2, 0.3, 11)


def test_ohmic_clamps_give_a_straight_line():
    """Films g1, g2 to ±2.5 V: pin = (V/R + 2.5·(g1 − g2) + I)/(1/R + g1 + g2), by hand."""
    circuit, values = rails(film(3e-12), film(1e-12), bias=2e-13)
    found = signal_transfer(circuit, values, "source", SIGNALS, "pin")
    total = 1 / R + 4e-12
    assert found.gain_error[0] == near(-4e-12 / total)
    # 3e-12 S is the upper clamp's film, to +2.5 V
    middle = (2.5 * 2e-12 + 2e-13 - 4e-12 * SIGNALS.mean()) / total
    assert found.offset[0] == near(middle)
    assert found.nonlinearity[0] < 1e-13 * abs(middle)


def test_the_bow_of_a_generation_current():
    """√(1 + V_R/V_bi) bends: offset, slope and bow of R·I(V) by numpy's own polynomial fit."""
    law = at_conditions(ClampLaw(generation_current=1e-12), T0)
    circuit, values = rails(law, film(0.0))
    found = signal_transfer(circuit, values, "source", SIGNALS, "pin")
    flat = -R * np.array([current_and_slope(v - RAIL, law)[0] for v in SIGNALS])
    line = np.polynomial.Polynomial.fit(SIGNALS, flat, 1)
    assert found.error[0] == near(flat, 2e-4)  # R·g is 3e-5: the loop is barely closed
    assert found.nonlinearity[0] == near(np.abs(flat - line(SIGNALS)).max(), 1e-2)
    assert found.offset[0] > 0  # the upper clamp leaks from the rail into the node


def test_a_loaded_source_is_a_gain_error():
    """R/(R + R_shunt) = 0.2 % is part of the error and keeps its digits at any level."""
    shunt = R * 499
    circuit, values = rails(film(0.0), film(0.0), shunt=shunt, source=7.0)
    assert leak_free_error(circuit, values, "source", "pin")[0] == near(-7.0 / 500, 1e-14)
    found = signal_transfer(circuit, values, "source", SIGNALS, "pin")
    assert found.gain_error[0] == near(-1 / 500, 1e-12)


def test_a_follower_s_own_error_counts():
    """Read behind a follower: offset + (gain − 1)·V, with nothing else in the circuit."""
    circuit = Circuit(
        fixed=("source",),
        resistors=(Resistor("R", "source", "pin"), Resistor("load", "buffer", "end")),
        clamps=(ClampBranch("clamp", "end", "source"),),
        driven=(Driven("buffer", "pin"),),
    )
    values = Values({"source": 2.0}, {"R": R, "load": 1.0}, {"clamp": film(1e-15)}, {},
                    {"buffer": (0.9999, 3e-6)})  # fmt: skip
    assert error_at(circuit, values, "source", "buffer")[0] == near(3e-6 - 2e-4, 1e-9)


def test_cases_and_signals_do_not_mix():
    """Two cases at once equal each alone."""
    laws = ClampLaw(generation_current=np.array([1e-12, 5e-12]))
    circuit, values = rails(at_conditions(laws, T0), film(1e-13))
    both = signal_transfer(circuit, values, "source", SIGNALS, "pin")
    for k, current in enumerate((1e-12, 5e-12)):
        one = at_conditions(ClampLaw(generation_current=current), T0)
        circuit, values = rails(one, film(1e-13))
        alone = signal_transfer(circuit, values, "source", SIGNALS, "pin")
        assert both.error[k] == near(alone.error[0], 1e-12)
    with pytest.raises(InputError, match="two different"):
        signal_transfer(circuit, values, "source", [0.1, 0.1], "pin")


def test_drift_of_a_leakage():
    """d ln I/dT = E/kT² of an Arrhenius current: 8.3 %/K at 25 °C for 0.62 eV."""
    law = ClampLaw(generation_current=1e-13, generation_activation_energy=0.62)

    def values_at(kelvin):
        return rails(at_conditions(law, kelvin), film(0.0))[1]

    circuit = rails(film(0.0), film(0.0))[0]
    error, slope = drift(circuit, values_at, "source", "pin", [T0, 318.15])
    k = 1.380649e-23 / 1.602176634e-19
    expected = 0.62 / (k * np.array([T0, 318.15]) ** 2)
    assert slope / error == near(expected, 2e-3)
    assert 100 * expected[0] == near(8.1, 0.03)


def test_slopes_where_a_clamp_sits_and_at_zero():
    law = at_conditions(ClampLaw(diffusion_current=1e-12), T0)
    circuit, values = rails(law, law)
    found = clamp_slopes(circuit, values, solve(circuit, values))["upper"]
    thermal = 1.380649e-23 * T0 / 1.602176634e-19
    assert found.zero_bias_resistance[0] == near(thermal / 1e-12)
    assert found.voltage[0] == near(-RAIL)
    assert found.current[0] == near(-1e-12)
    assert 0 <= found.slope[0] < 1e-40


# --- second harmonic -----------------------------------------------------------------------------

JUNCTION = ClampLaw(zero_bias_capacitance=20e-12, built_in_voltage=0.7, grading=0.5)


def test_derivatives_against_differences():
    state = at_conditions(replace(JUNCTION, generation_current=1e-9), T0)
    for v in (-5.0, -0.3, 0.2):
        h = 1e-5
        slope = (capacitance(v + h, state) - capacitance(v - h, state)) / (2 * h)
        assert capacitance_slope(v, state) == near(slope, 1e-8)
    diffusion = at_conditions(ClampLaw(diffusion_current=1e-12), T0)
    thermal = diffusion.thermal_voltage
    assert curvature(-0.01, diffusion) == near(1e-12 * np.exp(-0.01 / thermal) / thermal**2, 1e-6)


def _integrated_second_harmonic(resistance, peak, frequency, bias, state):
    """R charging C(V): integrate the charge over some periods and take the Fourier sums of the last."""
    omega = 2 * pi * frequency

    def slope(t, v):
        return (peak * np.sin(omega * t) - v) / (resistance * capacitance(v - bias, state))

    last = np.arange(256) / 256 / frequency + 5 / frequency
    run = solve_ivp(slope, (0, 6 / frequency), [0.0], "LSODA", last, rtol=1e-11, atol=1e-15)
    harmonics = np.abs(np.fft.rfft(run.y[0]))
    return harmonics[2] / harmonics[1]


def test_second_harmonic_against_time_integration():
    """½·ωR·C′·V_pk (ωRC ≪ 1) and the network's own answer, against the integrated waveform."""
    resistance, peak, frequency, bias = 1e5, 0.02, 2e3, 2.5
    state = at_conditions(JUNCTION, T0)
    circuit, values = rails(state, film(0.0))
    values = replace(values, resistances={"R": resistance})
    network = linearise(circuit, values, solve(circuit, values))
    found = second_harmonic(
        circuit, values, solve(circuit, values), network, "source", "pin", peak, frequency
    )[0]
    reference = _integrated_second_harmonic(resistance, peak, frequency, bias, state)
    assert found == near(reference, 1e-3)
    slope = capacitance_slope(-bias, state)
    rule = 0.5 * 2 * pi * frequency * resistance * slope * peak
    assert found == near(rule, 1e-3)


def test_second_harmonic_cancels_between_equal_rail_clamps():
    """At mid-supply the upper and lower derivatives oppose; off the middle they do not."""
    state = at_conditions(replace(JUNCTION, generation_current=1e-10), T0)

    def at(signal):
        circuit, values = rails(state, state, source=signal)
        values = replace(values, resistances={"R": 1e5})
        solution = solve(circuit, values)
        network = linearise(circuit, values, solution)
        return second_harmonic(
            circuit, values, solution, network, "source", "pin", 0.02, 2e3
        )[0]  # fmt: skip

    assert at(0.0) < 1e-9 * at(1.0)


def test_second_harmonic_of_a_leaking_junction():
    """R·¼·I″·V² at low frequency: diffusion current at zero bias, ¼·R·I_0·V_pk/V_T²."""
    law = at_conditions(ClampLaw(diffusion_current=1e-15), T0)
    circuit = Circuit(
        fixed=("source", "ground"),
        resistors=(Resistor("R", "source", "pin"),),
        clamps=(ClampBranch("clamp", "pin", "ground"),),
    )
    values = Values({"source": 0.0, "ground": 0.0}, {"R": 1e9}, {"clamp": law}, {}, {})
    solution = solve(circuit, values)
    network = linearise(circuit, values, solution)
    found = second_harmonic(circuit, values, solution, network, "source", "pin", 1e-3, 1.0)[0]
    assert found == near(0.25 * 1e9 * 1e-15 * 1e-3 / law.thermal_voltage**2, 2e-4)


def test_stored_charge_has_that_second_harmonic_too():
    """The same from the charge: 2f part of Q(V_pk·cos φ − 2.5 V) is ½·½·C′·V_pk², by averaging."""
    state = at_conditions(JUNCTION, T0)
    phase = (np.arange(4096) + 0.5) * pi / 4096
    part = 2 * np.mean(stored_charge(0.05 * np.cos(phase) - 2.5, state) * np.cos(2 * phase))
    assert part == near(0.25 * capacitance_slope(-2.5, state) * 0.05**2, 1e-3)


# --- rectified hum ---------------------------------------------------------------------------------


def test_bessel_excess():
    """I₀(x) − 1 against scipy, from 1e-9 (where 1 + x²/4 is lost in a double) to 30."""
    x = np.array([1e-9, 1e-3, 0.3, 0.999, 1.0, 5.0, 30.0])
    assert bessel_excess(x[2:]) == near(ive(0, x[2:]) * np.exp(x[2:]) - 1, 1e-13)
    assert bessel_excess(x[:2]) == near(x[:2] ** 2 / 4 * (1 + x[:2] ** 2 / 16), 1e-12)


@pytest.mark.parametrize(("ideality", "percent"), [(1.0, 38), (2.0, 8.8)])
def test_thirty_millivolts_of_hum(ideality, percent):
    """38 % and 8.8 % of the saturation current at 23 °C; the mean over a period by quadrature."""
    thermal = 1.380649e-23 * 296.15 / 1.602176634e-19
    found = rectified_share(0.03, ideality, thermal)
    mean = quad(lambda x: np.expm1(0.03 * np.cos(x) / (ideality * thermal)), 0, pi)[0] / pi
    assert found == near(mean, 1e-10)
    assert 100 * found == near(percent, 0.01)


def test_the_closed_form_is_the_mean_of_the_law():
    law = at_conditions(
        ClampLaw(diffusion_current=1e-12, generation_current=3e-12, grading=0.0), T0
    )
    for v in (-0.02, 0.0, 0.01):
        for peak in (1e-3, 0.03, 0.1):
            closed = sum(  # Abramowitz and Stegun 9.6.16 for each exponential
                current * np.exp(v / scale) * bessel_excess(peak / scale)
                for current, scale in (
                    (law.diffusion_current, law.diffusion_ideality * law.thermal_voltage),
                    (law.generation_current, law.generation_ideality * law.thermal_voltage),
                )
            )
            assert closed == near(float(mean_current_shift(v, peak, law)), 1e-9)


def test_hum_in_a_bootstrapped_pair_against_time_integration():
    """Hum couples in by 0.1 pF; only the mismatch of the pair leaves a steady error.

    Reference: the node's voltage integrated over some periods until its mean is steady.
    """
    mismatch, cable, coupling, resistance, frequency, peak = 1.2, 20e-12, 1e-13, 1e9, 50.0, 6.0
    forward, backward = (
        at_conditions(ClampLaw(diffusion_current=i), T0) for i in (mismatch * 1e-13, 1e-13)
    )
    circuit = Circuit(
        fixed=("source", "mains"),
        resistors=(Resistor("R", "source", "pin"),),
        clamps=(ClampBranch("forward", "pin", "guard"), ClampBranch("backward", "guard", "pin")),
        driven=(Driven("guard", "pin"),),
        capacitors=(Capacitor("C_mains", "mains", "pin"), Capacitor("C_cable", "pin")),
    )
    values = Values({"source": 0.0, "mains": 0.0}, {"R": resistance},
                    {"forward": forward, "backward": backward}, {}, {"guard": (0.0, 0.0)})  # fmt: skip
    solution = solve(circuit, values)
    network = linearise(circuit, values, solution, {"C_mains": coupling, "C_cable": cable})
    across = peak * abs(transfer(network, "mains", "pin", frequency)[0, 0])
    shift = mean_current_shift(0.0, across, forward) - mean_current_shift(0.0, across, backward)
    found = -float(shift) * steady_transimpedance(network, "pin")[0, 0]

    omega = 2 * pi * frequency

    def slope(t, v):
        into = -v / resistance + coupling * peak * omega * np.cos(omega * t)
        into -= current_and_slope(v, forward)[0] - current_and_slope(-v, backward)[0]
        return into / (coupling + cable)

    times = np.linspace(0.6, 0.8, 2001)[:-1]
    run = solve_ivp(slope, (0.0, 0.8), [0.0], "LSODA", times, rtol=1e-10, atol=1e-14)
    assert found == near(run.y[0].mean(), 0.02)
    assert abs(found) > 1e-7
