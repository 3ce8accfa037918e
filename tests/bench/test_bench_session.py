"""Guided sessions and settling: order, waiting times, and advice against power-law decays."""

import numpy as np
import pytest

from clampwright.bench.session import (
    Aim,
    Seen,
    Session,
    advance,
    guided_session,
    minutes_needed,
    sitting_voltages,
)
from clampwright.bench.settling import default_wait, settled
from clampwright.errors import InputError

AIM = Aim("npn-small", "C/B+E", (2.26, 2.74, -0.01), light=200.0)


@pytest.mark.parametrize(
    ("current", "step", "handled", "seconds"),
    [
        (2e-9, 5, False, 10),
        (100e-12, 5, False, 60),
        (4e-12, 5, False, 300),
        (50e-15, 5, False, 1800),
        (4e-12, 60, False, 900),
        (2e-9, 5, True, 600),
        (0.0, 0, False, 1800),
    ],
)
def test_waiting_times(current, step, handled, seconds):
    """common practice, no source."""
    assert default_wait(current, step, handled) == seconds


def creeping(times, floor=1e-12, size=1e-9, exponent=0.9):
    return [floor + size * t**-exponent for t in times]


@pytest.mark.parametrize("exponent", [0.7, 0.9, 1.1])
def test_wait_from_the_decay(exponent):
    """Curie–von Schweidler: after the advised wait the decay itself passes the test, not long before."""
    times, u = [15.0, 30.0, 60.0], 1e-12
    judged = settled(times, creeping(times, exponent=exponent), u)
    assert not judged.settled and judged.words.startswith("still creeping: wait ")
    assert judged.exponent == pytest.approx(exponent, abs=1e-6)
    end = 60.0 + judged.wait
    half, last = creeping([end / 2, end], exponent=exponent)
    assert half - last == pytest.approx(u, rel=1e-6, abs=0)
    assert settled(
        [end * 0.6, end * 1.2], creeping([end * 0.6, end * 1.2], exponent=exponent), u
    ).settled


def test_settling_corner_cases():
    assert settled([60, 120], [1e-12, 1.01e-12], 1e-13).settled
    never = settled([600, 1200], [5e-9, 3e-9], 1e-13)
    assert never.wait == np.inf and "does not settle in hours" in never.words
    assert "twice the time" in settled([100, 110], [1e-12, 2e-12], 1e-13).words
    with pytest.raises(InputError, match="two readings"):
        settled([60], [1e-12], 1e-13)


def test_the_order_of_a_session():
    steps = guided_session(AIM)
    titles = [s.title for s in steps]
    places = [titles.index(t) for t in (
        "cautions", "warm up", "clean", "close the box", "known current", "open-lead zero",
        "fit the part", "polarity", "part-fitted zero", "cool down", "write down",
    )]  # fmt: skip
    assert places == sorted(places)
    states = [s.state for s in steps if s.state]
    assert states[:4] == ["zero open"] + ["zero fixture"] * 3
    assert states[-4:] == ["zero fixture"] * 3 + ["zero open"]
    read = [s for s in steps if s.state == "reading"]
    assert {s.reverse_voltage for s in read} == {2.26, 2.74, -0.01}
    assert {s.temperature for s in read} == {296.15, 318.15, 333.15}
    assert {s.light for s in read} == {0.0, 100.0, 200.0}
    assert all(s.wait >= 300 for s in read)
    assert minutes_needed(steps) > 30
    with pytest.raises(InputError, match="voltages at which the circuit"):
        guided_session(Aim("x", "y", ()))


def test_voltages_where_clamps_sit():
    assert sitting_voltages((-0.177, 0.237), (-2.5, 2.5)) == (2.263, 2.323, 2.677, 2.737)
    assert sitting_voltages((0.0,), (0.00025,)) == (0.01, -0.01)


def to(kind, session):
    while session.step.kind != kind:
        session, _ = advance(session)
    return session


def test_known_current_and_polarity():
    session = to("known current", Session(guided_session(AIM)))
    same, said = advance(session, Seen(60, -1.0e-9, 1e-12))
    assert same.at == session.at and "sign is reversed" in said.words
    assert "check scale" in advance(session, Seen(60, 3e-9, 1e-12))[1].words
    moved, said = advance(session, Seen(60, 1.01e-9, 1e-12))
    assert said.done and moved.step.title == "open-lead zero"
    polarity = Session(tuple(s for s in session.steps if s.kind == "polarity"))
    assert "swapped" in advance(polarity, Seen(300, 5e-12, 1e-13, -1e-12))[1].words
    assert "offset or light" in advance(polarity, Seen(300, 5e-12, 1e-13, 4e-12))[1].words
    assert "right way round" in advance(polarity, Seen(300, 1e-12, 1e-13, -5e-12))[1].words


def test_a_reading_waits_until_settled():
    reading = Session(tuple(s for s in guided_session(AIM) if s.kind == "reading")[:1])
    session, said = advance(reading, Seen(60, 9e-12, 1e-13))
    assert not said.done and "wait 4 more minutes" in said.words
    session, said = advance(session, Seen(300, 6e-12, 1e-13))
    assert not said.done
    session, said = advance(session, Seen(600, 5e-12, 1e-13))
    assert not said.done and "still creeping: wait" in said.words
    session, said = advance(session, Seen(1200, 4.95e-12, 1e-13))
    assert said.done and "take 10 readings" in said.words and session.step is None
    assert "reduce the readings" in advance(session)[1].words
