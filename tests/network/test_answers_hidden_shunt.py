"""The page on hidden shunts: its tables are what the script prints, and its numbers are Ohm's law."""

import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def script():
    return runpy.run_path(str(ROOT / "tools" / "hidden_shunt.py"))


def test_the_page_shows_what_the_script_prints(script):
    page = (ROOT / "docs" / "shunt-and-tolerance.md").read_text(encoding="utf-8")
    for table in script["tables"]().split("\n\n"):
        assert table in page


def test_a_shunt_of_one_picosiemens_by_hand(script):
    """15 V · 1 pS = 15 pA on top of 1, 10 and 100 pA: 16, 2.5 and 1.15 times.

    Within 1e-4: the error itself takes a little off the 15 V, R·g of 3e-6 and R·I of 7e-6.
    """
    for (true, reported, ratio), by_hand in zip(script["single"](), (16, 2.5, 1.15), strict=True):
        assert reported - true == pytest.approx(15e-12, rel=1e-4, abs=0)
        assert ratio == pytest.approx(by_hand, rel=1e-4, abs=0)


def test_a_matched_pair_by_hand(script):
    """Net leakage I·(√(1 + (15+v)/0.7) − √(1 + (15−v)/0.7))/√(1 + 15/0.7), plus 2v·1 pS."""
    for current, *found in script["pairs"]():
        for v, ratio in zip((1.0, 10.0), found, strict=True):
            width = [(1 + (15 + s * v) / 0.7) ** 0.5 for s in (1, -1, 0)]
            net = current * (width[0] - width[1]) / width[2]
            assert ratio == pytest.approx(1 + 2e-12 * v / net, rel=1e-4, abs=0)


def test_what_a_tolerance_of_one_picoampere_accepts(script):
    assert [(low, high) for _, low, high in script["accepted"]()] == [
        (0.0, 2e-12),
        (pytest.approx(9e-12, rel=1e-12, abs=0), pytest.approx(11e-12, rel=1e-12, abs=0)),
        (pytest.approx(99e-12, rel=1e-12, abs=0), pytest.approx(101e-12, rel=1e-12, abs=0)),
    ]
