"""A real server on the loopback address for the tests of the app, and a real browser.

The browser tests are skipped, loudly, where Debian's chromium is missing.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import httpx
import pytest
from playwright.sync_api import Browser, Page, sync_playwright
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


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page that fails its test on any console error, page error or request off this machine."""
    context = browser.new_context(accept_downloads=True, reduced_motion="reduce")
    found = context.new_page()
    wrong: list[str] = []
    found.on("console", lambda m: wrong.append(m.text) if m.type in ("error", "warning") else None)
    found.on("pageerror", lambda e: wrong.append(str(e)))
    found.on("request", lambda r: wrong.append(r.url) if is_foreign(r.url) else None)
    yield found
    context.close()
    refused = "the server responded with a status of 4"  # Chromium logs every refusal that is meant
    assert not [line for line in wrong if refused not in line or "(Not Found)" in line]


def is_foreign(url: str) -> bool:
    """Whether an address leads off this machine."""
    parts = urlsplit(url)
    return parts.scheme not in ("data", "blob") and parts.hostname != "127.0.0.1"
