"""Runs in time: hum, drift and events are said with their moments, and marks beside them."""

import numpy as np
from bench_sessions import adapter, readings, rows, scattered

from clampwright.bench.reduce import reduce_readings
from clampwright.bench.runs import Mark, runs_of
from clampwright.bench.study import study_of

START = np.datetime64("2026-11-25T10:00:00", "us")


def run(values, interval=0.25, **changes):
    """One run of readings `interval` seconds apart from 10:00."""
    block = rows("reading", list(values), **changes)
    for k, row in enumerate(block):
        row["time"] = str(START + np.timedelta64(round(k * interval * 1e6), "us")) + "Z"
    return block


def noise(count=200, seed=1):
    return 112.4 + np.random.default_rng(seed).normal(0, 1.0, count)


def found(values, marks=(), **changes):
    (one,) = runs_of(readings(run(values, **changes)), marks)
    return one


def test_a_quiet_run_is_quiet_in_19_of_20():
    quiet = [found(noise(seed=k)) for k in range(40)]
    assert sum(bool(r.findings or r.events) for r in quiet) <= 6
    assert "no hum, no drift, no events" in next(r for r in quiet if not r.events).text()


def test_hum_is_named_with_the_mains_it_may_be():
    """50 Hz sampled every 0.273 s appears at |50 − 14/0.273| = 1.28 Hz (aliasing)."""
    k = np.arange(200)
    told = found(noise() + 3 * np.sin(2 * np.pi * 50 * 0.273 * k), interval=0.273)
    assert any(f.startswith("hum: ") and "50 Hz" in f and "1.28 Hz" in f for f in told.findings)


def test_drift_is_told_with_where_averaging_stops():
    walk = np.cumsum(np.random.default_rng(2).normal(0, 0.4, 400))
    told = found(noise(400) + walk)
    assert any("drift: " in f for f in told.findings)
    assert told.effective_count < 100
    assert len(told.allan_lengths) == len(told.allan_deviations) > 5


def test_events_carry_their_moment_and_the_mark_near_it():
    """A touch at reading 80 (20 s), 30 µV high; someone marked it a second later."""
    values = noise()
    values[80] += 30
    mark = Mark("2026-11-25T10:00:21Z", "touch", "cable moved")
    told = found(values, [mark])
    (event,) = told.events
    assert (event.kind, event.time) == ("spike", "2026-11-25T10:00:20.000000Z")
    assert event.marked == "touch: cable moved"
    assert 'at 2026-11-25T10:00:20.000000Z (marked "touch: cable moved")' in told.text()
    assert found(values).events[0].marked == ""


def test_a_step_of_light_is_an_event():
    values = noise()
    values[120:] += 20
    assert found(values).events[0].kind == "step"


def test_uneven_or_missing_times():
    block = run(noise())
    for row in block[::3]:
        row["time"] = block[0]["time"]
    (uneven,) = runs_of(readings(block))
    assert "not evenly spaced" in uneven.findings[0]
    assert runs_of(readings(rows("reading", list(noise())))) == ()
    assert runs_of(readings(run(noise(12)))) == ()


def test_the_study_says_it():
    values = noise()
    values[80] += 30
    zero = rows("zero fixture", scattered(12.4, 1.1))
    raw = readings(zero, run(values), zero)
    told = study_of(reduce_readings(raw, {"A1": adapter()}), "day", readings=raw)
    assert "events: spike of +" in " ".join(told.text().split())
    assert told.parts[0].runs[0].count == 200
    assert study_of(reduce_readings(raw, {"A1": adapter()}), "day").parts[0].runs == ()


def test_finger_check_is_part_of_the_study():
    """3.4 pA at 23 °C, 6.8 pA at 32 °C: ×2.0, as a generation junction (0.6 eV) does."""
    zero = rows("zero fixture", scattered(12.4, 0.1))
    cool, warm = (
        rows("reading", scattered(12.4 + size, 0.1), temperature=kelvin)
        for kelvin, size in ((296.15, 34.0), (305.15, 68.0))
    )
    raw = readings(zero, cool, warm, zero)
    told = study_of(reduce_readings(raw, {"A1": adapter(resolution="0.1 µV")}), "day")
    assert told.parts[0].finger.startswith("finger check: ×2.00")
    assert "as expected" in told.text()
