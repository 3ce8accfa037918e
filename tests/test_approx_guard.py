"""Every approximate comparison of these tests states its absolute tolerance.

pytest.approx takes 1e-12 where none is stated (its documentation), which is larger than what is
measured here: any two leakages below a picoampere would count as equal.
"""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

TESTS = Path(__file__).parent


def without_absolute_tolerance(source: str) -> list[int]:
    """Lines on which `approx` is called without the keyword `abs`."""
    return [
        node.lineno
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
        and getattr(node.func, "attr", getattr(node.func, "id", "")) == "approx"
        and not any(keyword.arg == "abs" for keyword in node.keywords)
    ]


def test_default_tolerance_would_hide_a_picoampere() -> None:
    assert pytest.approx(1e-13) == 9e-13  # wrong by a factor 9, and it passes
    assert pytest.approx(1e-13, rel=1e-6, abs=0) != 9e-13


@pytest.mark.parametrize("path", sorted(TESTS.rglob("*.py")), ids=lambda p: p.stem)
def test_absolute_tolerance_is_stated(path: Path) -> None:
    if path == Path(__file__):
        return
    lines = without_absolute_tolerance(path.read_text(encoding="utf-8"))
    assert not lines, f"{path.name}: add abs=0, or a meant one, on lines {lines}"


def test_guard_sees_both_spellings() -> None:
    assert without_absolute_tolerance("approx(1)\npytest.approx(2, rel=1)\napprox(3, abs=0)") == [
        1,
        2,
    ]
