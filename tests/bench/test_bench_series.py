"""Runs of readings: certified autocorrelation, published Allan deviations, planted disturbances."""

import json
from math import sqrt
from pathlib import Path

import numpy as np
import pytest

from clampwright.bench import series
from clampwright.errors import InputError

DATA = Path(__file__).parents[1] / "data"


def test_autocorrelation_is_certified():
    """NIST StRD univariate: Lew, Mavro and Michelso."""
    stored = json.loads((DATA / "nist_strd_univariate.json").read_text(encoding="utf-8"))
    certified = {
        "Lew": -0.307304800605679,
        "Mavro": 0.9379891834382406,
        "Michelso": 0.5351996686212633,
    }
    for name, rho in certified.items():
        found = series.autocorrelation(stored[name])
        assert found == pytest.approx(rho, rel=1e-10, abs=0)


def test_allan_deviation_of_published_runs():
    """NIST SP 1065, tables 30 and 31 (values from memory): nine values, and a thousand made by
    the generator printed there (16807·n mod 2³¹ − 1 from 1234567890)."""
    nine = [892, 809, 823, 798, 671, 644, 883, 903, 677]
    assert series.allan_deviation(nine, 1) == pytest.approx(91.22945, abs=1e-5)
    assert series.allan_deviation(nine, 2) == pytest.approx(85.95287, abs=1e-5)
    state, thousand = 1234567890, []
    for _ in range(1000):
        thousand.append(state / 2147483647)
        state = 16807 * state % 2147483647
    for length, published in ((1, 2.922319e-1), (10, 9.159953e-2), (100, 3.241343e-2)):
        found = series.allan_deviation(thousand, length)
        assert found == pytest.approx(published, rel=1e-6, abs=0)


def following(count, rho, seed=1):
    """First-order autoregression of unit variance."""
    random = np.random.default_rng(seed)
    x = [random.normal()]
    for _ in range(count - 1):
        x.append(rho * x[-1] + sqrt(1 - rho**2) * random.normal())
    return np.array(x)


@pytest.mark.parametrize("rho", [0.0, 0.5, 0.8])
def test_effective_count(rho):
    """A long run of known autocorrelation: n(1 − ρ)/(1 + ρ)."""
    found = np.median([series.effective_count(following(2000, rho, seed)) for seed in range(9)])
    assert found / 2000 == pytest.approx((1 - rho) / (1 + rho), rel=0.15, abs=0)


def test_white_noise_has_no_corner_and_a_walk_has():
    random = np.random.default_rng(2)
    white = random.normal(0, 1, 3000)
    assert series.drift_corner(white, 0.2).length is None
    walk = white + np.cumsum(random.normal(0, 0.05, 3000))
    found = series.drift_corner(walk, 0.2)
    expected = sqrt(3) / 0.05  # minimum of s²/m + w²·m/3 (NIST SP 1065, power laws −1 and +1)
    assert found.length is not None and expected / 2.5 < found.length < expected * 2.5
    assert found.words.startswith("stop averaging at ")
    assert "drift from one to the next" in series.drift_corner(np.cumsum(white), 1.0).words


def test_hum_is_found_and_its_mains_named():
    """50 Hz sampled every 0.13 s appears at |50 − 6·7.69…| = 3.85 − … Hz, worked by `alias`."""
    random = np.random.default_rng(3)
    interval, n = 0.0313, 400
    t = np.arange(n) * interval
    x = random.normal(0, 1, n) + 1.0 * np.sin(2 * np.pi * 50 * t + 0.3)
    found = series.hum(x, interval)
    assert found is not None and found.mains == 50.0
    assert found.frequency == pytest.approx(abs(50 - 2 / interval), abs=1 / (n * interval))
    assert found.amplitude == pytest.approx(1.0, abs=0.4)
    assert series.alias(100.0, 0.1) == pytest.approx(0.0, abs=1e-9)


def test_white_noise_seldom_hums():
    """Fisher's test at 1 %: of 400 quiet runs at most 12 are called (5 standard deviations)."""
    random = np.random.default_rng(4)
    called = sum(series.hum(random.normal(0, 1, 64), 0.1) is not None for _ in range(400))
    assert called <= 12


def test_events():
    random = np.random.default_rng(5)
    quiet = random.normal(10, 1, 200)
    assert series.events(quiet) == ()
    touched = quiet.copy()
    touched[70] += 12.0
    touched[120:] += 9.0
    spike, step = series.events(touched)
    assert (spike.kind, spike.at) == ("spike", 70)
    assert step.kind == "step" and abs(step.at - 120) <= 1
    assert step.size == pytest.approx(9.0, abs=2.0)


def test_quiet_runs_seldom_show_events():
    random = np.random.default_rng(6)
    called = sum(bool(series.events(random.normal(0, 1, 60))) for _ in range(300))
    assert called <= 9


def test_too_short():
    with pytest.raises(InputError, match="too few"):
        series.drift_corner([1, 2, 3], 1.0)
