"""Tolerance factors against published tables."""

from __future__ import annotations

import csv
from math import inf
from pathlib import Path

import pytest

from clampwright import uncertain
from clampwright.errors import InputError
from clampwright.parts.lots import LotSpread, tolerance_factor

TABLE = Path(__file__).parents[1] / "data" / "tolerance_factors.csv"


def test_factors_of_the_table() -> None:
    """Exact one-sided factors by two independent routes, to the digits written there."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = [{k: float(v) for k, v in row.items()} for row in csv.DictReader(file)]
    assert rows
    for row in rows:
        factor = tolerance_factor(int(row["n"]), row["coverage_p"], row["confidence"])
        assert factor == pytest.approx(row["k_one_sided_exact"], rel=2e-6, abs=0)


@pytest.mark.parametrize(
    ("count", "content", "confidence", "factor"),
    [
        # One-sided tolerance factors, ISO 16269-6 / NIST e-Handbook 7.2.6.3 (exact noncentral t).
        (3, 0.95, 0.95, 7.655900),
        (5, 0.95, 0.95, 4.202681),
        (10, 0.95, 0.95, 2.910963),
        (20, 0.95, 0.95, 2.396002),
        (30, 0.95, 0.95, 2.219838),
        (50, 0.95, 0.95, 2.064993),
        (20, 0.90, 0.90, 1.765206),
        (43, 0.90, 0.99, 1.8739536),
    ],
)
def test_factors_as_published(count: int, content: float, confidence: float, factor: float) -> None:
    assert tolerance_factor(count, content, confidence) == pytest.approx(factor, abs=1e-5)
    assert tolerance_factor(count, content, confidence) > tolerance_factor(
        count + 1, content, confidence
    )


def test_factor_tends_to_the_normal_quantile() -> None:
    z = uncertain.one_sided_factor(inf, 0.95)
    assert tolerance_factor(10**6) == pytest.approx(z, abs=0.01)


def test_too_few_parts_are_refused() -> None:
    with pytest.raises(InputError, match="no tolerance factor for 1 parts"):
        tolerance_factor(1)
    with pytest.raises(InputError, match="at least 2 parts"):
        LotSpread(1, 0.3)
