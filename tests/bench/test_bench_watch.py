"""A run that is watched: waits, soakage that dies away, what disturbs it; and values that are typed."""

import numpy as np
import pytest

from clampwright.bench.session import COUNT
from clampwright.bench.values import MOST_VALUES, read_values
from clampwright.bench.watch import watched
from clampwright.errors import InputError

NOISE = 20e-15  # [A]


def run(seconds, currents, wait=30.0, known=0.0):
    return watched(seconds, currents, wait=wait, count=COUNT, resolution=1e-15, known=known)


def soaking(count, size, seed=1, every=0.5, exponent=0.9):
    """3 pA and a soakage current that is `size` at one second."""
    times = np.arange(1, count + 1) * every
    noise = np.random.default_rng(seed).normal(0, NOISE, count)
    return times, 3e-12 + size * times**-exponent + noise


def test_before_the_wait_nothing_counts():
    said = run(*soaking(25, 10e-12))
    assert said.settled is False and not said.enough
    assert said.words == "wait 18 more seconds"
    times, currents = soaking(25, 10e-12)
    assert run(times, currents, wait=252.0).words == "wait 4 more minutes"


@pytest.mark.parametrize("exponent", [0.7, 1.1])
def test_soakage_holds_it_until_the_difference_is_within_the_uncertainty(exponent):
    """Curie–von Schweidler, I ~ t^(−m): I(t) − I(2t) is known in closed form."""
    known = 50e-15
    times, currents = soaking(4000, 5e-12, exponent=exponent)
    said = run(times, currents, known=known)
    assert said.settled
    at = times[said.first + COUNT - 1]
    left = 5e-12 * ((at / 2) ** -exponent - at**-exponent)
    doubt = np.hypot(known, 2 * np.sqrt(2 * NOISE**2 / COUNT))
    assert 0.5 * doubt < left < 1.5 * doubt
    before = run(times[: said.first // 2], currents[: said.first // 2], known=known)
    assert before.settled is False and "wait" in before.words and before.wait > 0


def test_a_still_run_settles_soon_and_counts_what_follows():
    said = run(*soaking(200, 0.0))
    assert said.settled and said.enough
    assert said.first >= 60 - COUNT  # not before the wait of 30 s
    assert said.mean == pytest.approx(3e-12, abs=4 * NOISE / np.sqrt(said.count - said.first))
    assert not said.diagnosis and not said.events


def test_typed_values_count_where_time_tells_nothing():
    at_once = run([40.0] * 12, [3e-12] * 12)
    assert at_once.settled is None and at_once.enough
    singly = run(40.0 + 5 * np.arange(10), np.full(10, 3e-12))
    assert singly.settled is None and singly.enough
    early = run([1.0] * 12, [3e-12] * 12)
    assert early.settled is False and "29 more seconds" in early.words
    assert run([], []).words == "no reading yet"


def test_hum_drift_touch_and_correlation_are_told():
    random = np.random.default_rng(3)
    times = 40 + 0.123 * np.arange(600)
    quiet = 3e-12 + random.normal(0, NOISE, 600)
    still = run(times, quiet)
    hum = quiet + 5 * NOISE * np.sin(2 * np.pi * 50 * times)
    assert any("50 Hz" in words for words in run(times, hum).diagnosis)
    touched = quiet.copy()
    touched[400:402] += 60 * NOISE
    found = run(times, touched)
    assert [e.kind for e in found.events] == ["spike"] and found.events[0].at in (400, 401)
    assert any("touch, light, cable" in words for words in found.diagnosis)
    lit = quiet + np.where(np.arange(600) >= 450, 40 * NOISE, 0)
    assert any(e.kind == "step" and abs(e.at - 450) <= 1 for e in run(times, lit).events)
    drifting = run(times, quiet + 1e-15 * times, known=1e-12)
    assert any("resemble" in words for words in drifting.diagnosis)
    assert any("drift" in words for words in drifting.diagnosis)
    assert still.effective > 0.8 * (still.count - still.first)


def test_a_hundred_thousand_readings_are_judged_at_once():
    times, currents = soaking(100_000, 10e-12, every=0.1)
    assert run(times, currents).settled


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("12.4 µV", (12.4e-6,)),
        ("reading (µV)\n12,4\n-3\n", (12.4e-6, -3e-6)),
        ("\ufeffmV\r\n0.1\r\n\r\n0.2;\r\n", (0.1e-3, 0.2e-3)),
        ("1 mV\n2 µV", (1e-3, 2e-6)),
    ],
)
def test_values_as_people_paste_them(text, values):
    assert read_values(text) == pytest.approx(values, abs=1e-15)


def test_wrong_values_are_named_by_line_and_none_is_taken():
    with pytest.raises(InputError) as told:
        read_values("12.4 µV\ntwelve\n\n5 A\n7\n", "dropped.csv")
    words = str(told.value)
    assert all(place in words for place in ("dropped.csv", "line 2", "line 4", "line 5"))
    assert "nothing was taken" in words
    assert read_values("7", unit="µV") == pytest.approx((7e-6,), abs=1e-18)
    for bad in ("", "reading (µV)", "1 µV\0", "1 µV\n" * (MOST_VALUES + 1)):
        with pytest.raises(InputError):
            read_values(bad)
