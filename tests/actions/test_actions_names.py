"""The names of `actions`: one table of homes, the same for a running program and a checker of types."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from clampwright import actions

SOURCE = Path(actions.__file__)


def seen_by_a_checker():
    """Name → module of every import in the block for checkers."""
    block = next(n for n in ast.parse(SOURCE.read_text("utf-8")).body if isinstance(n, ast.If))
    rows = [n for n in block.body if isinstance(n, ast.ImportFrom) and n.module != "typing"]
    return {name.name: row.module for row in rows for name in row.names}


def test_every_name_has_the_home_that_a_checker_sees():
    assert seen_by_a_checker() == actions._HOME
    assert set(actions.__all__) == {*actions._HOME, "load_all"}


@pytest.mark.parametrize("name", actions.__all__)
def test_every_name_is_there(name):
    assert getattr(actions, name) is not None


def test_no_module_hides_a_name():
    assert not {path.stem for path in SOURCE.parent.glob("*.py")} & set(actions.__all__)


def test_a_name_that_is_not_there_is_told():
    with pytest.raises(AttributeError, match="no attribute 'guess'"):
        _ = actions.guess


def test_a_design_is_opened_without_the_bench():
    code = (
        "import sys; from clampwright import actions; actions.open_case; "
        "print([m for m in sys.modules if m.startswith('clampwright.actions.guided')])"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.strip() == "[]"


def test_all_names_are_loaded_at_once_before_threads_ask():
    words = (
        "import sys; from clampwright import actions; before = set(sys.modules); actions.load_all(); "
        "assert {*actions._HOME.values(), *actions._SWAPPED} <= set(sys.modules); "
        "assert 'clampwright.uncertain.special' not in before"
    )
    subprocess.run([sys.executable, "-c", words], check=True)
