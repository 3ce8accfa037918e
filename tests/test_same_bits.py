"""The same question twice, in two processes: the same answer to the last digit."""

import subprocess
import sys
from pathlib import Path

import pytest

from clampwright.network.machine_code import make

COMMAND = Path(sys.executable).with_name("clampwright")


@pytest.mark.parametrize("verb", ["check", "faults"])
def test_two_runs_are_byte_identical(tmp_path, verb):
    make()
    subprocess.run([COMMAND, "demo", tmp_path / "d", "--json"], capture_output=True, check=True)
    design = next((tmp_path / "d" / "designs").glob("*.toml"))
    runs = [
        subprocess.run([COMMAND, verb, design, "--json"], capture_output=True, check=False).stdout
        for _ in range(3)
    ]
    assert len(runs[0]) > 1000
    assert runs[0] == runs[1] == runs[2]
