"""Moves of the sliders of the network page, timed in the browser itself."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from playwright.sync_api import Page

SEED = 1
MOVE = """
async ([slider, place]) => {
  const control = document.getElementById(slider);
  const redrawn = new Promise((done) => {
    const watch = new MutationObserver(() => { watch.disconnect(); done(); });
    watch.observe(document.body, { attributes: true, attributeFilter: ["data-settled"] });
  });
  const start = performance.now();
  control.value = String(Math.round(place * Number(control.max)));
  control.dispatchEvent(new Event("input", { bubbles: true }));
  await redrawn;
  await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
  return performance.now() - start;
}
"""  # from the input event until the answer is in the page and the frame with it was drawn


def timed_moves(
    page: Page, count: int, sliders: Sequence[str], pause: float = 0.0, seed: int = SEED
) -> list[float]:
    """Milliseconds of so many moves to places at random, one after the other.

    pause : s between two moves; long enough, the page also fetches faults, schematic and window
    """
    chosen = np.random.default_rng(seed)
    found = []
    for n in range(count):
        found.append(page.evaluate(MOVE, [sliders[n % len(sliders)], chosen.random()]))
        time.sleep(pause)
    return found


def median_and_p95(times: list[float]) -> tuple[float, float]:
    """Median and 95th percentile."""
    return float(np.median(times)), float(np.percentile(times, 95))


@contextmanager
def own_process(root: Path) -> Iterator[tuple[str, int, float]]:
    """`clampwright serve` in a process of its own: address, process id, and when it was started."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = str(free.getsockname()[1])
    start = time.perf_counter()
    command = [sys.executable, "-m", "clampwright.cli", "serve", str(root), "--port", port]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            line = process.stdout.readline()
            found = re.search(r"http://[^/\s]+", line)
            assert found, line
            _wait_for(int(port), process)
            yield found[0], process.pid, start
        finally:
            process.terminate()


def _wait_for(port: int, process: subprocess.Popen[str]) -> None:
    """Until somebody listens there."""
    while True:
        assert process.poll() is None, "the server ended"
        with socket.socket() as line:
            if line.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.02)


def resident(process: int) -> float:
    """Memory of a process that is really in use (MB)."""
    pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6
