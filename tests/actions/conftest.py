"""The command line run in this process, for tests of the actions behind it."""

from __future__ import annotations

import io
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout

import pytest

from clampwright import cli


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch) -> Callable[..., tuple[int, str]]:
    """Runs `clampwright` with words; gives its exit code and standard output."""

    def run(*words: object) -> tuple[int, str]:
        monkeypatch.setattr(sys, "argv", ["clampwright", *map(str, words)])
        with redirect_stdout(io.StringIO()) as out, redirect_stderr(io.StringIO()):
            try:
                cli.main()
            except SystemExit as leaving:
                return int(leaving.code or 0), out.getvalue()
        return 0, out.getvalue()

    return run
