"""Detection limits and tolerance factors against published tables."""

import csv
from math import inf
from pathlib import Path

import pytest

from clampwright import uncertain
from clampwright.bench import limits, lots
from clampwright.errors import InputError

DATA = Path(__file__).parents[1] / "data"


def table(name):
    with open(DATA / name, encoding="utf-8", newline="") as file:
        return [{k: float(v) for k, v in row.items()} for row in csv.DictReader(file)]


@pytest.mark.parametrize(
    ("background", "decision", "detection", "known"),
    [
        (0, 0.0, 2.71, 2.71),
        (1, 2.33, 7.36, 6.0),
        (10, 7.3681, 17.4146, 13.1139),
        (100, 23.3, 49.21, 35.61),
        (400, 46.6, 95.71, 68.51),
    ],
)
def test_paired_counts(background, decision, detection, known):
    """L. A. Currie, Anal. Chem. 40 (1968) 586: L_D = 2.71 + 4.65 √B; constants there rounded."""
    found = limits.counting_limits(background)
    assert found.decision == pytest.approx(decision, rel=2e-3, abs=0)
    assert found.detection == pytest.approx(detection, rel=2e-3, abs=0)
    known_blank = limits.counting_limits(background, blank_known=True)
    assert known_blank.detection == pytest.approx(known, rel=2e-3, abs=0)


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
    """US method-detection-limit procedure; the last row is 12 pooled degrees of freedom."""
    assert limits.method_detection_factor(count - 1) == pytest.approx(factor, abs=5e-4)


def test_blank_limits():
    """3.29 times the uncertainty of the difference for many blanks (Currie 1968)."""
    found = limits.blank_limits(1.0, 10, 10**6)
    assert found.detection == pytest.approx(3.29 / 10**0.5, rel=1e-3, abs=0)
    with pytest.raises(InputError, match="repeated blanks"):
        limits.blank_limits(1.0, 10, 1)
    with pytest.raises(InputError, match="zero or more"):
        limits.counting_limits(-1)


def test_two_sided_factors():
    """Exact factors by an independent integration; Howe's approximation beside them."""
    for row in table("tolerance_factors.csv"):
        case = int(row["n"]), row["coverage_p"], row["confidence"]
        assert lots.two_sided_tolerance_factor(*case) == pytest.approx(
            row["k_two_sided_exact"],
            rel=2e-5,
            abs=0,
        )
        assert lots.howe_tolerance_factor(*case) == pytest.approx(
            row["k_two_sided_howe"], rel=2e-6, abs=0
        )


@pytest.mark.parametrize(
    ("count", "content", "published"),
    [(5, 0.9, 4.29), (5, 0.95, 5.08), (10, 0.9, 2.86), (10, 0.95, 3.39), (20, 0.9, 2.32)],
)
def test_two_sided_factors_as_printed(count, content, published):
    """Berthouex and Brown, Statistics for Environmental Engineers, Table 21.1 (95 % confidence)."""
    assert round(lots.two_sided_tolerance_factor(count, content), 2) == published


def test_handbook_example():
    """NIST/SEMATECH e-Handbook 7.2.6.3: n = 43, 90 % content, 99 % confidence."""
    case = 43, 0.9, 0.99
    assert lots.natrella_tolerance_factor(*case) == pytest.approx(1.8751896, abs=1e-6)
    assert uncertain.tolerance_factor(*case) == pytest.approx(1.8739536, abs=1e-6)
    assert lots.howe_tolerance_factor(*case) == pytest.approx(2.2173159, abs=1e-6)
    assert lots.two_sided_tolerance_factor(*case) == pytest.approx(2.2228252, abs=1e-6)
    upper = 97.07 + 0.0268 * lots.natrella_tolerance_factor(*case)
    assert upper == pytest.approx(97.120255, abs=1e-6)


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


def test_factors_tend_to_the_normal_quantile():
    z = uncertain.one_sided_factor(inf, 0.95)
    assert uncertain.tolerance_factor(10**6) == pytest.approx(z, abs=0.01)
    assert lots.two_sided_tolerance_factor(10**5) == pytest.approx(1.96, abs=0.02)
    with pytest.raises(InputError, match="no spread"):
        lots.two_sided_tolerance_factor(1)
