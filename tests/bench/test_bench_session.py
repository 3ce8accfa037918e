"""Guided sessions and settling: order, waiting times, and advice against power-law decays."""

import numpy as np
import pytest

from clampwright.bench.session import (
    Aim,
    Plan,
    guided_session,
    hurried,
    known_current_said,
    polarity_said,
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
        "fit the part", "polarity, 50.0\u2009mV reverse",
        "polarity, 50.0\u2009mV forward", "part-fitted zero", "cool down", "write down",
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
    with pytest.raises(InputError, match="voltages at which the circuit"):
        guided_session(Aim("x", "y", ()))


def test_a_finger_is_an_optional_check():
    """×1.9…2.2 from 23 to 32 °C: common practice; nothing is read that could become evidence."""
    (finger,) = (s for s in guided_session(AIM) if s.title == "finger self-check")
    assert finger.kind == "do" and not finger.state and finger.words.startswith("optional")
    assert "×1.9…2.2 is a junction; below ×1.3" in finger.words and "above ×3.0" in finger.words
    near_zero = guided_session(Aim("npn-small", "C/B+E", (0.01, -0.01)))
    assert not [s for s in near_zero if s.title == "finger self-check"]


def test_voltages_where_clamps_sit():
    assert sitting_voltages((-0.177, 0.237), (-2.5, 2.5)) == (2.263, 2.323, 2.677, 2.737)
    assert sitting_voltages((0.0,), (0.00025,)) == (0.01, -0.01)


def test_a_known_current_tells_size_and_sign():
    assert known_current_said(1.01e-9).right
    assert "sign is reversed" in known_current_said(-1.0e-9).words
    assert "check scale" in known_current_said(3e-9).words
    assert not known_current_said(0.89e-9).right and known_current_said(0.91e-9).right


def test_polarity_from_both_currents():
    assert "swapped" in polarity_said(5e-12, -1e-12, 1e-13).words
    assert "offset or light" in polarity_said(5e-12, 4e-12, 1e-13).words
    assert "right way round" in polarity_said(1e-12, -5e-12, 1e-13).words
    quiet = polarity_said(1e-14, 2e-14, 1e-13)
    assert quiet.right and "too little" in quiet.words


def test_a_plan_comes_back_from_its_text():
    steps = hurried(guided_session(AIM), 0.01)
    assert max(s.wait for s in steps) == pytest.approx(18.0, abs=1e-9)
    plan = Plan(instrument="A1", part="npn-small", wiring="C/B+E", wait_share=0.01, steps=steps)
    assert Plan.model_validate_json(plan.model_dump_json()) == plan
