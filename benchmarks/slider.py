"""From a slider to the redrawn page, in a real browser, and the first page after the start.

Prints median and 95th percentile of 200 moves of every demonstration beside the target: moves one
after the other, and with pauses in which faults, schematic and window follow; then of three laws over
each other on the curves page. The first page is the design's own, asked for as soon as somebody listens;
the start page of another process stands beside it. Run it on a quiet machine; it needs Debian's chromium.
"""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
import time
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import ProxyHandler, build_opener

from playwright.sync_api import Browser, sync_playwright

from clampwright import actions

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "web"))
from moves import median_and_p95, own_process, timed_moves

from conftest import FLAGS

MOVES, TARGET = 200, 50.0  # [ms] at the 95th percentile
PAUSES, PAUSE = 40, 0.6  # [s]
FIRST_PAGE = 2.0  # [s]
LAWS = ("npn-small C+B/E", "jfet-small G/D+S", "glass-diode K/A")
SLIDERS = ("s1", "s2", "s3", "s4", "s5")


def main() -> None:
    """Time every demonstration and print."""
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        root = Path(folder)
        designs = {name: actions.demo_workspace(root / name, name).stem for name in actions.DEMOS}
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        place, design = next(iter(designs.items()))
        with own_process(root) as (address, _, start):
            _first_page(f"{address}/", start, "start page")
        with own_process(root) as (address, _, start):
            _first_page(f"{address}/w/{place}/{design}/network", start, "a design's page")
            for one in designs.items():
                _network(browser, address, *one)
            _curves(browser, address, place, design)
        browser.close()


def _first_page(page: str, start: float, name: str) -> None:
    build_opener(ProxyHandler({})).open(page).read()
    took = time.perf_counter() - start
    words = f"target {FIRST_PAGE} s, {_met(took, FIRST_PAGE)}"
    print(f"{name} first: {took:.2f} s after the command, {words}")


def _network(browser: Browser, address: str, place: str, design: str) -> None:
    page = browser.new_page(reduced_motion="reduce")
    page.goto(f"{address}/w/{place}/{design}/network")
    page.wait_for_selector("body[data-rested]")
    timed_moves(page, 20, SLIDERS)
    moves = timed_moves(page, MOVES, SLIDERS)
    slow, slowest = median_and_p95(timed_moves(page, PAUSES, SLIDERS, PAUSE))
    print(f"{design}: {_words(moves)}; with pauses {slow:.0f} and {slowest:.0f} ms")
    page.close()


def _curves(browser: Browser, address: str, place: str, design: str) -> None:
    page = browser.new_page(reduced_motion="reduce")
    query = urlencode([("law", law) for law in LAWS])
    page.goto(f"{address}/w/{place}/{design}/curves?{query}")
    page.wait_for_selector("body[data-settled]")
    timed_moves(page, 20, ("volt", "heat", "light"))
    print(f"{len(LAWS)} curves: {_words(timed_moves(page, MOVES, ('volt', 'heat', 'light')))}")
    page.close()


def _words(moves: list[float]) -> str:
    median, high = median_and_p95(moves)
    return (
        f"median {median:.0f} ms, 95th percentile {high:.0f} ms, target {TARGET:.0f} ms, "
        f"{_met(high, TARGET)}"
    )


def _met(value: float, target: float) -> str:
    return "met" if value <= target else "MISSED"


if __name__ == "__main__":
    main()
