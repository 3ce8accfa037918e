"""Lines through leakages: closed forms, certified data, and whether stated intervals hold."""

import csv
from math import exp, log, sqrt
from pathlib import Path

import numpy as np
import pytest

from clampwright.bench import fits
from clampwright.errors import InputError
from clampwright.parts.evidence import EvidencePoint

DATA = Path(__file__).parents[1] / "data"
K = 8.617333262e-5  # [eV/K] CODATA
ROOM = 296.15


def point(leakage, u, *, voltage=5.0, temperature=ROOM, light=0.0, scale=0.0, kelvin=0.0):
    return EvidencePoint(voltage, temperature, light, leakage, u, scale, "day", kelvin)


def arrhenius(at_room, energy, temperature):
    return at_room * exp(energy / K * (1 / ROOM - 1 / temperature))


def test_two_points_by_hand():
    """E = k·ln(I₂/I₁)/(1/T₁ − 1/T₂), u(E) = k·√(u₁² + u₂²)/(1/T₁ − 1/T₂) (Arrhenius plot)."""
    warm = 343.15
    cold, hot = point(4e-12, 4e-14), point(100e-12, 2e-12, temperature=warm)
    step = (1 / ROOM - 1 / warm) / K
    expected, doubt = log(25) / step, sqrt(0.01**2 + 0.02**2) / step
    found = fits.energy_fit([cold, hot])
    assert found.energy == pytest.approx(expected, abs=1e-9)
    assert found.energy_uncertainty == pytest.approx(doubt, rel=1e-3, abs=0)
    assert found.judged.chance is None


def test_power_of_temperature():
    """A law T^1.5·exp(−0.60 eV/kT) shows an apparent energy of 0.60 + 1.5·kT (about 0.64 eV)."""
    t = np.array([296.15, 318.15, 333.15, 343.15])
    i = 4e-12 * (t / ROOM) ** 1.5 * np.exp(0.60 / K * (1 / ROOM - 1 / t))
    found = fits.energy_fit([point(a, 0.002 * a, temperature=b) for a, b in zip(i, t, strict=True)])
    assert found.energy == pytest.approx(0.60 + 1.5 * K * 319.7, abs=5e-4)
    assert found.without_power(1.5) == pytest.approx(0.60, abs=1e-3)
    words = fits.energy_words(found)
    assert words.startswith("apparent activation energy 0.64 ± ")
    assert "generation in the depletion layer (0.60 eV once the T^1.5" in words
    assert "not excluded: a Schottky barrier" in words


@pytest.mark.parametrize(
    ("energy", "first"),
    [
        (0.0, "offset"),
        (0.3, "surface film"),
        (0.62, "generation in"),
        (0.83, "mixed with diffusion"),
        (1.1, "diffusion"),
    ],
)
def test_meanings(energy, first):
    """Ranges of apparent energies in silicon (textbook)."""
    assert first in fits.meanings(energy, 0.005)[0][0]
    assert len(fits.meanings(energy, 0.3)) >= 3


def test_a_kink_is_a_contradiction():
    t = [296.15, 310.15, 323.15, 343.15]
    i = [arrhenius(4e-12, 0.2, x) + arrhenius(1e-13, 1.1, x) for x in t]
    found = fits.energy_fit([point(a, 0.01 * a, temperature=b) for a, b in zip(i, t, strict=True)])
    assert found.judged.lacking
    assert "contradict one energy" in fits.energy_words(found)
    assert found.judged.inflation > 3


def coverage(sessions, seed):
    """Share of 95 % intervals for 23 °C that hold the truth: hot readings, noise near the limit."""
    random = np.random.default_rng(seed)
    truth, energy, noise = 0.8e-12, 0.64, 0.4e-12
    held = 0
    for _ in range(sessions):
        gain = 1 + 0.005 * random.normal()
        points = []
        for t in (296.15, 323.15, 333.15, 343.15):
            real = t + 0.5 * random.normal()
            seen = gain * arrhenius(truth, energy, real) + noise * random.normal()
            points.append(point(seen, noise, temperature=t, scale=0.005, kelvin=0.5))
        found = fits.infer(fits.energy_fit(points), ROOM)
        held += found.low <= truth <= found.high
    return held / sessions


def test_measured_hot_inferred_cold_holds_the_truth():
    assert 0.93 <= coverage(1000, 1) <= 0.995


@pytest.mark.long
def test_measured_hot_inferred_cold_holds_the_truth_long():
    assert 0.94 <= coverage(10_000, 2) <= 0.99


def test_extrapolation_beyond_20_kelvin_is_wider():
    hot = [point(arrhenius(4e-12, 0.64, t), 1e-14, temperature=t) for t in (333.15, 343.15)]
    found = fits.energy_fit(hot)
    near, far = fits.infer(found, 318.15), fits.infer(found, ROOM)
    assert near.extrapolated == pytest.approx(15, abs=1e-9)
    widened = 0.1 / K * (1 / ROOM - 1 / 333.15)
    assert log(far.high / far.value) > widened
    assert log(near.high / near.value) < widened


def test_energy_needs_two_temperatures_and_a_signal():
    with pytest.raises(InputError, match="two temperatures"):
        fits.energy_fit([point(1e-12, 1e-13), point(1e-12, 1e-13)])
    with pytest.raises(InputError, match="no reading is detected"):
        fits.energy_fit([point(1e-15, 1e-12), point(1e-15, 1e-12, temperature=333.15)])


def test_line_is_certified():
    """NIST StRD Norris: intercept, slope and their standard deviations."""
    with open(DATA / "nist_norris.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    names = list(rows[0])
    y_name, x_name = ("y", "x") if {"x", "y"} <= set(names) else names[:2]
    x = [float(r[x_name]) for r in rows]
    y = [float(r[y_name]) for r in rows]
    sigma = 0.884796396144373
    lit = [point(b, sigma, light=a) for a, b in zip(x, y, strict=True)]
    found = fits.responsivity(lit)
    assert found.responsivity == pytest.approx(1.00211681802045, rel=1e-10, abs=0)
    assert found.dark == pytest.approx(-0.262323073774029, rel=1e-8, abs=0)
    assert found.uncertainty == pytest.approx(0.000429796848199937, rel=1e-6, abs=0)
    assert found.judged.chi_square == pytest.approx(34.0, rel=1e-9, abs=0)


def test_exponent_over_voltage():
    """m = 1/2 abrupt, 1/3 graded, 1 a film (textbook)."""
    for exponent, word in ((0.5, "abrupt"), (1 / 3, "graded"), (0.0, "does not grow")):
        some = [
            point(1e-12 * (v + 0.7) ** exponent, 1e-14, voltage=v) for v in (1.0, 2.5, 5.0, 10.0)
        ]
        found = fits.voltage_exponent(some)
        assert found.exponent == pytest.approx(exponent, abs=1e-9)
        assert word in found.words
    film = fits.voltage_exponent([point(1e-12 * v, 1e-14, voltage=v) for v in (2.5, 5.0, 10.0)])
    assert "proportional" in film.words
    with pytest.raises(InputError, match="two reverse voltages"):
        fits.voltage_exponent([point(1e-12, 1e-14)])


def test_zero_bias_slope():
    """A junction of ideality 1.6 and slope 1/31 GΩ, by its own equation, with 0.05 pA of light."""
    thermal = 1.6 * K * ROOM
    some = [
        point(thermal / 31e9 * (1 - exp(-v / thermal)) + 5e-14, 1e-15, voltage=v)
        for v in (0.01, -0.01)
    ]
    found = fits.zero_bias_slope(some)
    assert found.resistance == pytest.approx(31e9, rel=0.02, abs=0)
    assert abs(found.offset - 5e-14) < 2 * found.offset_uncertainty
    assert "flows at 0 V" in found.words
    quiet = fits.zero_bias_slope([point(0.0, 2e-14, voltage=v) for v in (0.01, -0.01)])
    assert quiet.resistance is None
    assert quiet.resistance_at_least == pytest.approx(
        0.01 / (1.645 * 2e-14 / sqrt(2)), rel=0.02, abs=0
    )
    with pytest.raises(InputError, match="both signs"):
        fits.zero_bias_slope(some[:1])


def test_light():
    lit = [point(4e-12 + 4e-15 * e, 1e-14, light=e) for e in (0.0, 200.0, 1000.0)]
    assert fits.responsivity(lit).responsivity == pytest.approx(4e-15, rel=1e-9, abs=0)
    bent = [*lit[:2], point(5e-12, 1e-14, light=1000.0)]
    assert "not proportional" in fits.responsivity(bent).words
    assert "linearity not checked" in fits.responsivity(lit[:2]).words
    dark = [point(4e-12, 1e-14, light=e) for e in (0.0, 1000.0)]
    assert fits.responsivity(dark).words.startswith("no response to light detected, ≤ ")


@pytest.mark.parametrize(
    ("ratio", "says"),
    [(2.05, "as expected"), (1.1, "fixture, offset or light"), (4.0, "diffusion, or sweat")],
)
def test_finger(ratio, says):
    """23 → 32 °C: ×1.9…2.2 for generation in silicon, from its activation energies."""
    warm = point(4e-12 * ratio, 4e-14, temperature=305.15)
    told = fits.finger_check(point(4e-12, 4e-14), warm)
    assert "×1.9…2.2" in told or "×1.9…2.3" in told
    assert says in told
