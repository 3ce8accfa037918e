"""A margin is written with three digits, without an exponent, and never rounded up to a pass."""

from __future__ import annotations

import pytest

from clampwright.quantities import write
from clampwright.verdict.dynamics import _apart
from clampwright.verdict.faults import margin_words


@pytest.mark.parametrize(
    ("ratio", "expected"),
    [  # arithmetic by hand: the first three digits of each number
        (1.079, "1.07×"),
        (0.99996, "0.999×"),
        (2.3, "2.30×"),
        (17.38, "17.3×"),
        (132.7, "132×"),
        (1000.0, "1000×"),
        (1000.1, "over 1000×"),
        (1e9, "over 1000×"),
        (0.0123, "0.0123×"),
        (0.0009, "below 0.001×"),
        (0.0, "below 0.001×"),
    ],
)
def test_a_margin_in_words(ratio: float, expected: str) -> None:
    assert margin_words(ratio) == expected
    assert "e" not in margin_words(ratio).removeprefix("over ").removeprefix("below ")


def test_a_complaint_never_refutes_itself() -> None:
    """As many digits as make both differ, three where they do already."""
    said = _apart(79.96, 80.0, lambda value, digits: f"{value:.{digits - 3}f} dB")
    assert said == ("79.96 dB", "80.00 dB")
    assert _apart(71.2, 80.0, lambda value, digits: f"{value:.{digits - 3}f} dB") == (
        "71 dB",
        "80 dB",
    )
    found, limit = _apart(99.96, 100.0, lambda v, n: write(v, "frequency", digits=n))
    assert (found, limit) == ("99.96\u2009Hz", "100.0\u2009Hz")
