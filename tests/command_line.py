"""The command line run in this process: a process each would take longer than the tests."""

from __future__ import annotations

import io
import sys
from contextlib import redirect_stderr, redirect_stdout
from typing import NamedTuple

import pytest

from clampwright import cli


class Said(NamedTuple):
    """What a command left with, printed and complained of."""

    code: int
    out: str
    complaint: str


def clampwright(*words: object, typed: str = "") -> Said:
    """`clampwright` with these words; `typed` is its standard input."""
    code = 0
    with (
        redirect_stdout(io.StringIO()) as out,
        redirect_stderr(io.StringIO()) as complaint,
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setattr(sys, "argv", ["clampwright", *map(str, words)])
        patch.setattr(sys, "stdin", io.StringIO(typed))
        try:
            cli.main()
        except SystemExit as leaving:
            code = int(leaving.code or 0)
    return Said(code, out.getvalue(), complaint.getvalue())
