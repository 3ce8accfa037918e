"""From a slider to the redrawn page, in a real browser, and the first page after the start.

Prints median and 95th percentile of 200 moves of every demonstration beside the target: moves one
after the other, and with pauses in which faults, schematic and window follow. Run it on a quiet machine;
it needs Debian's chromium.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from pathlib import Path
from urllib.request import ProxyHandler, build_opener

from playwright.sync_api import sync_playwright

from clampwright import actions

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "web"))
from moves import median_and_p95, own_process, timed_moves

from conftest import FLAGS

MOVES, TARGET = 200, 50.0  # [ms] at the 95th percentile
PAUSES, PAUSE = 40, 0.6  # [s]
FIRST_PAGE = 2.0  # [s]
SLIDERS = ("s1", "s2", "s3", "s4", "s5")


def main() -> None:
    """Time every demonstration and print."""
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        root = Path(folder)
        designs = {name: actions.demo_workspace(root / name, name).stem for name in actions.DEMOS}
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        with own_process(root) as (address, _, start):
            ask = build_opener(ProxyHandler({}))
            place, design = next(iter(designs.items()))
            ask.open(f"{address}/w/{place}/{design}/network").read()
            took = time.perf_counter() - start
            words = f"target {FIRST_PAGE} s, {_met(took, FIRST_PAGE)}"
            print(f"first page: {took:.2f} s after the command, {words}")
            for place, design in designs.items():
                page = browser.new_page(reduced_motion="reduce")
                page.goto(f"{address}/w/{place}/{design}/network")
                page.wait_for_selector("body[data-rested]")
                timed_moves(page, 20, SLIDERS)
                median, high = median_and_p95(timed_moves(page, MOVES, SLIDERS))
                slow, slowest = median_and_p95(timed_moves(page, PAUSES, SLIDERS, PAUSE))
                print(
                    f"{design}: median {median:.0f} ms, 95th percentile {high:.0f} ms, target "
                    f"{TARGET:.0f} ms, {_met(high, TARGET)}; with pauses {slow:.0f} and {slowest:.0f} ms"
                )
                page.close()
        browser.close()


def _met(value: float, target: float) -> str:
    return "met" if value <= target else "MISSED"


if __name__ == "__main__":
    main()
