"""Detection limits and sample sizes against published tables."""

import csv
from pathlib import Path

import pytest

from clampwright import uncertain
from clampwright.bench import lots
from clampwright.bench.limits import blank_detection_limit
from clampwright.errors import InputError

DATA = Path(__file__).parents[1] / "data"


def table(name):
    with open(DATA / name, encoding="utf-8", newline="") as file:
        return [{k: float(v) for k, v in row.items()} for row in csv.DictReader(file)]


@pytest.mark.parametrize(
    ("count", "factor"),
    [
        (7, 3.143),
        (8, 2.998),
        (9, 2.896),
        (10, 2.821),
        (11, 2.764),
        (16, 2.602),
        (21, 2.528),
        (26, 2.485),
        (31, 2.457),
        (61, 2.390),
        (13, 2.681),
    ],
)
def test_method_detection_factors(count, factor):
    """Student's t in the US method-detection-limit procedure; the last row is 12 pooled degrees."""
    assert uncertain.one_sided_factor(count - 1, 0.99) == pytest.approx(factor, abs=5e-4)


def test_blank_limits():
    """3.29 times the uncertainty of the difference for many blanks (Currie 1968)."""
    found = blank_detection_limit(1.0, 10, 10**6)
    assert found == pytest.approx(3.29 / 10**0.5, rel=1e-3, abs=0)
    with pytest.raises(InputError, match="repeated blanks"):
        blank_detection_limit(1.0, 10, 1)


def test_distribution_free_counts():
    """S. S. Wilks (1941): 59 for 95/95, 29 for 90/95, 299 for 99/95, and the rest of the table."""
    for row in table("nonparametric_sample_sizes.csv"):
        case = row["coverage_p"], row["confidence"]
        count = lots.distribution_free_count
        assert count(*case) == row["n_one_sided_zero_excluded"]
        assert count(*case, two_sided=True) == row["n_two_sided_min_max"]
        assert count(*case, discarded=1) == row["n_one_sided_one_excluded"]
        assert count(*case, discarded=2) == row["n_one_sided_two_excluded"]


def test_confidence_of_fifty():
    """1 − 0.95^50, and 1 − 0.95^50 − 50·0.05·0.95^49 (order statistics)."""
    assert lots.distribution_free_confidence(50) == pytest.approx(0.9230550247232868, abs=1e-12)
    assert lots.distribution_free_confidence(50, lost=2) == pytest.approx(
        0.7205682476793047, abs=1e-12
    )
