"""Bandwidth, settling and noise against closed forms of textbooks (RC pole, two-section ladder).

Noise: Nyquist 1928 (4kTR), Schottky 1918 (2qI); noise bandwidth π/2 of one pole and kT/C from any
text on electronic noise, for example Motchenbacher and Connelly, Low-Noise Electronic System Design.
"""

from math import log, pi, sqrt

import numpy as np
import pytest
from scipy.optimize import brentq

from clampwright.network.small_signal import (
    Ladder,
    bandwidth,
    noise,
    settling_time,
    transfer,
)

K, Q, T = 1.380649e-23, 1.602176634e-19, 300.0  # SI 2019
R, C = 1e6, 1e-10
POLE = 1 / (2 * pi * R * C)


def one_pole(resistance=R, capacitance=C):
    g = np.array([[1 / resistance]])
    return Ladder(g, np.array([[capacitance]]), g[0], 0)


def two_sections(r1, c1, r2, c2):
    g = np.array([[1 / r1 + 1 / r2, -1 / r2], [-1 / r2, 1 / r2]])
    return Ladder(g, np.diag([c1, c2]), np.array([1 / r1, 0.0]), 1)


def thermal(resistance):
    """Current noise density of a resistor (A/√Hz)."""
    return sqrt(4 * K * T / resistance)


@pytest.mark.parametrize("resistance", [1e3, 1e6, 1e9, 1e13])
def test_one_pole_bandwidth(resistance):
    expected = 1 / (2 * pi * resistance * C)
    assert bandwidth(one_pole(resistance)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("error", [1e-2, 1e-3, 1e-4, 1e-6, 2.0**-17, 2.0**-21])
def test_one_pole_settling(error):
    """ln(1/ε) time constants: 4.61, 6.91, 9.21 … (single-pole settling)."""
    assert settling_time(one_pole(), error) == pytest.approx(log(1 / error) * R * C, rel=1e-6)


def test_two_section_ladder():
    """H = 1/(1 + s·(R1C1 + R2C2 + R1C2) + s²·R1R2C1C2): its −3 dB point and step response."""
    r1, c1, r2, c2 = 1e6, 1e-9, 3e5, 2e-9
    ladder = two_sections(r1, c1, r2, c2)
    first, second = r1 * c1 + r2 * c2 + r1 * c2, r1 * r2 * c1 * c2

    def size(frequency):
        s = 2j * pi * frequency
        return abs(1 / (1 + s * first + s * s * second))

    frequencies = np.array([1.0, 10.0, 100.0, 1e3])
    assert np.abs(transfer(ladder, frequencies)) == pytest.approx(
        [size(f) for f in frequencies], rel=1e-12
    )
    expected = brentq(lambda f: size(f) - 1 / sqrt(2), 1e-3, 1e6, xtol=1e-12)
    assert bandwidth(ladder) == pytest.approx(expected, rel=1e-9)
    fast, slow = sorted(1 / (-np.roots([second, first, 1]).real))  # time constants
    expected = brentq(
        lambda t: (slow * np.exp(-t / slow) - fast * np.exp(-t / fast)) / (slow - fast) - 1e-3,
        slow,
        30 * slow,
    )
    assert settling_time(ladder, 1e-3) == pytest.approx(expected, rel=1e-6)


def test_nodes_without_capacitance_follow_at_once():
    """R1 – bare node – R2 – C is one pole of R1 + R2."""
    ladder = two_sections(4e5, 0.0, 6e5, C)
    assert bandwidth(ladder) == pytest.approx(POLE, rel=1e-9)
    assert settling_time(ladder, 1e-3) == pytest.approx(log(1e3) * R * C, rel=1e-6)


def test_without_capacitance_nothing_settles():
    ladder = one_pole(capacitance=0.0)
    assert bandwidth(ladder) == float("inf")
    assert settling_time(ladder, 1e-3) == 0.0


def test_density_of_a_resistor():
    """4.07 nV/√Hz for 1 kΩ at 300 K (standard worked figure)."""
    found = noise(one_pole(1e3), {"R": (-1, 0, thermal(1e3))}, 0.0, 1.0)
    assert found.density == pytest.approx(4.0703548e-9, rel=1e-6)
    assert found.by_source["R"] == found.density


@pytest.mark.parametrize("resistance", [1e3, 1e6, 1e9, 1e12])
def test_integrated_noise_tends_to_kt_over_c(resistance):
    """√(kT/C) whatever the resistor: 6.4358 µV for 100 pF at 300 K, in any wide band."""
    ladder = one_pole(resistance)
    pole = bandwidth(ladder)
    for wide in (1e4, 1e7, 1e10):
        found = noise(ladder, {"R": (-1, 0, thermal(resistance))}, 0.0, wide * pole)
        assert found.integrated == pytest.approx(6.435795988e-6, rel=2e-4)


def test_noise_bandwidth_of_one_pole():
    """The brick wall that passes the same noise is π/2 of the −3 dB bandwidth."""
    found = noise(one_pole(), {"R": (-1, 0, thermal(R))}, 0.0, 1e5 * POLE)
    assert (found.integrated / found.density) ** 2 / POLE == pytest.approx(pi / 2, rel=1e-3)


def test_band_far_below_the_pole_is_flat():
    found = noise(one_pole(), {"R": (-1, 0, thermal(R))}, 0.0, 1e-3 * POLE)
    assert found.integrated == pytest.approx(found.density * sqrt(1e-3 * POLE), rel=1e-6)


def test_shot_noise_adds_although_the_currents_cancel():
    """Two leaks of 1 nA that cancel at the node still make √2 · √(2qI) (Schottky 1918)."""
    shot = sqrt(2 * Q * 1e-9)
    found = noise(one_pole(), {"upper": (0, -1, shot), "lower": (-1, 0, shot)}, 0.0, 1e-3 * POLE)
    assert found.density == pytest.approx(sqrt(2) * 1.790070743853438e-14 * R, rel=1e-9)


def test_noise_between_nodes_and_at_the_amplifier():
    """A resistor's own noise between nodes of a ladder: at DC the whole chain is one resistor."""
    sources = {"R1": (-1, 0, thermal(4e5)), "R2": (0, 1, thermal(6e5))}
    found = noise(two_sections(4e5, 0.0, 6e5, C), sources, 1e-7, 1e-3 * POLE)
    assert found.density == pytest.approx(sqrt(4 * K * T * 1e6 + 1e-14), rel=1e-9)
    assert found.by_source["amplifier voltage noise"] == pytest.approx(1e-7)
