"""A real server on the loopback address for the tests of the app, and a real browser.

The browser tests are skipped, loudly, where Debian's chromium is missing.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Browser, sync_playwright
from served import orchard, serving

FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync"]  # fmt: skip


@pytest.fixture(scope="session")
def shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one workspace that no test changes."""
    root = tmp_path_factory.mktemp("shelf")
    orchard(root / "orchard")
    return root


@pytest.fixture(scope="session")
def address(shelf: Path) -> Iterator[str]:
    """Where `shelf` is served."""
    with serving(shelf) as where:
        yield where


@pytest.fixture
def client(address: str) -> Iterator[httpx.Client]:
    """A real client of the server; no proxy of the machine is used."""
    with httpx.Client(base_url=address, trust_env=False, timeout=60) as found:
        yield found


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium without a window."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        words = "CHROMIUM IS MISSING: no browser test runs; mend it with: apt-get install chromium"
        print(f"\n### {words} ###", file=sys.__stderr__)
        pytest.skip(words)
    with sync_playwright() as playwright:
        found = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield found
        found.close()
