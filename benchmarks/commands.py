"""How long a user waits: help, and a check of the demonstration in a warm process cache.

Prints medians of seven runs of the installed command beside the targets. Run it on a quiet machine.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from clampwright import actions

RUNS = 7
COMMAND = Path(sys.executable).with_name("clampwright")
HELP_TARGET, CHECK_TARGET = 0.4, 2.0  # [s]


def median_time(*words: object) -> float:
    """Median seconds of a command from start to end, after one run to warm up."""
    spans = []
    for _ in range(RUNS + 1):
        start = time.perf_counter()
        subprocess.run([COMMAND, *map(str, words)], stdout=subprocess.DEVNULL, check=False)
        spans.append(time.perf_counter() - start)
    return statistics.median(spans[1:])


def main() -> None:
    """Time both and print them."""
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        design = actions.demo_workspace(Path(folder) / "demo")
        timed = (
            ("help", HELP_TARGET, median_time("--help")),
            ("check", CHECK_TARGET, median_time("check", design)),
        )
    for name, target, seconds in timed:
        met = "met" if seconds <= target else "MISSED"
        print(f"{name}: {seconds:.2f} s, target {target} s, {met}")


if __name__ == "__main__":
    main()
