"""How often 95 % intervals and bounds hold the truth, in 10 000 simulated sessions of each condition.

Prints a table; `python benchmarks/intervals.py 1000` takes a tenth of the time. The same conditions,
with limits, are the tests `tests/bench/test_bench_coverage.py`.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "bench"))

from coverage_cases import CASES, LOTS, lots_held, simulated

SESSIONS = 10_000
SEED = 11


def main() -> None:
    """Print the tables."""
    sessions = int(sys.argv[1]) if len(sys.argv) > 1 else SESSIONS
    begun = time.monotonic()
    print(f"{sessions} sessions each, shares in %\n")
    print("| condition | interval holds | bound holds | not detected | bound holds, given that |")
    print("|---|---|---|---|---|")
    for case in CASES:
        found = simulated(case, sessions, SEED)
        given = "–" if found.hidden < 20 / sessions else f"{100 * found.bounds_of_hidden:.1f}"
        print(
            f"| {case.name} | {100 * found.intervals:.1f} | {100 * found.bounds:.1f} "
            f"| {100 * found.hidden:.1f} | {given} |",
            flush=True,
        )
    print(
        "\n| lots of 8: median, spread of ln I | limit holds | lots with a limit | hidden parts |"
    )
    print("|---|---|---|---|")
    for median, spread in LOTS:
        held, given_share, hidden = lots_held(median, spread, sessions, SEED)
        print(
            f"| {median * 1e12:g} pA, {spread:g} | {100 * held:.1f} | {100 * given_share:.1f} "
            f"| {100 * hidden:.1f} |",
            flush=True,
        )
    print(f"\n{time.monotonic() - begun:.0f} s")


if __name__ == "__main__":
    main()
