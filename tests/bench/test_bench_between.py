"""One-way analysis of variance against certified values and a reference library."""

import csv
from math import log
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from clampwright.bench.between import one_way, one_way_words
from clampwright.errors import InputError

DATA = Path(__file__).parents[1] / "data"


def test_certified_silicon_resistivity():
    """NIST StRD, analysis of variance, SiRstv: five instruments, five readings each."""
    with open(DATA / "nist_sirstv.csv", encoding="utf-8", newline="") as file:
        rows = [(int(r["instrument"]), float(r["resistivity"])) for r in csv.DictReader(file)]
    found = one_way([[v for k, v in rows if k == number] for number in range(1, 6)])
    assert (found.between_freedom, found.within_freedom) == (4, 20)
    for value, certified in (
        (found.between_squares, 0.0511462616),
        (found.within_squares, 0.21663656),
        (found.ratio, 1.18046237440255),
        (found.share, 0.190999039051129),
        (found.within_spread, 0.104076068334656),
    ):
        assert value == pytest.approx(certified, rel=1e-8, abs=0)


def test_against_a_reference_library():
    random = np.random.default_rng(1)
    groups = [list(random.normal(m, 1, n)) for m, n in ((0, 5), (0.4, 9), (1.5, 3))]
    found, expected = one_way(groups), stats.f_oneway(*groups)
    assert found.ratio == pytest.approx(float(expected.statistic), rel=1e-9, abs=0)
    assert found.chance == pytest.approx(float(expected.pvalue), rel=1e-9, abs=0)


def test_digits_are_kept_far_from_zero():
    """As the harder certified sets do: the same groups around 10⁹ (nine leading digits equal)."""
    groups = [[0.25, 0.5, 0.75], [0.5, 1.0, 1.5]]
    moved = [[v + 2.0**30 for v in g] for g in groups]  # exact in binary
    assert one_way(moved).ratio == pytest.approx(one_way(groups).ratio, rel=1e-9, abs=0)


def test_component_between_groups_comes_back():
    """200 groups of 10 with spread 0.5 between and 0.3 within."""
    random = np.random.default_rng(2)
    groups = [random.normal(random.normal(0, 0.5), 0.3, 10) for _ in range(200)]
    found = one_way(groups)
    assert found.between_spread == pytest.approx(0.5, abs=0.06)
    assert found.within_spread == pytest.approx(0.3, abs=0.02)


def test_words_and_refusals():
    lots = [[log(v) for v in g] for g in ((3, 4, 5), (30, 40, 50), (3, 5, 4))]
    assert "different lots" in one_way_words(one_way(lots), ("a", "b", "c"))
    assert "no difference shown" in one_way_words(one_way([lots[0], lots[2]]), ("a", "c"))
    with pytest.raises(InputError, match="cannot be compared"):
        one_way([[1.0], [2.0]])
