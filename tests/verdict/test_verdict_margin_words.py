"""A margin is written with three digits, without an exponent, and never rounded up to a pass."""

from __future__ import annotations

import pytest

from clampwright.verdict.faults import margin_words


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [  # arithmetic by hand: the first three digits of each number
        (1.079, "×1.07"),
        (0.99996, "×0.999"),
        (2.3, "×2.30"),
        (17.38, "×17.3"),
        (132.7, "×132"),
        (1000.0, "×1000"),
        (1000.1, "over ×1000"),
        (1e9, "over ×1000"),
        (0.0123, "×0.0123"),
        (0.0009, "below ×0.001"),
        (0.0, "below ×0.001"),
    ],
)
def test_a_margin_in_words(ratio: float, expected: str) -> None:
    assert margin_words(ratio) == expected
    assert "e" not in margin_words(ratio).removeprefix("over ").removeprefix("below ")
