"""Pictures of every page of the app, light and dark, for docs/screens/.

Use: python tools/make_screenshots.py [NAME …]   (names of pages; all without any)
Needs the chromium of the operating system; the app is served on the loopback address only.
"""

from __future__ import annotations

import shutil
import socket
import sys
import tempfile
import threading
import time
from pathlib import Path

import uvicorn
from PIL import Image
from playwright.sync_api import Browser, Page, sync_playwright

from clampwright import actions
from clampwright.bench.instruments.pretend_instrument import demo_bench
from clampwright.web.server import make_app

TARGET = Path(__file__).resolve().parents[1] / "docs" / "screens"
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
         "--disable-component-update", "--disable-sync", "--hide-scrollbars"]  # fmt: skip
WIDE, NARROW = (1280, 900), (360, 740)  # [CSS pixels]
COLOURS = 256  # enough for ink, paper and a few accents
PATIENCE = 90.0  # [s]
COMING = """[...document.querySelectorAll("p.quiet, span.quiet")]
  .some((text) => text.checkVisibility() && text.textContent.trim().endsWith("…"))"""
ORCHARD = "/w/demo-orchard/orchard-probe"
PAGES = {
    "start": ("/", WIDE),
    "requirement": (f"{ORCHARD}/requirement", WIDE),
    "network": (f"{ORCHARD}/network", WIDE),
    "network-phone": (f"{ORCHARD}/network", NARROW),
    "faults": (f"{ORCHARD}/faults", WIDE),
    "shortlist": (f"{ORCHARD}/shortlist", WIDE),
    "evidence": (f"{ORCHARD}/evidence", WIDE),
    "part": (f"{ORCHARD}/evidence/npn-small", WIDE),
    "readings": (f"{ORCHARD}/readings/orchard-bench", WIDE),
    "curves": (f"{ORCHARD}/curves?law=npn-small+C%2FB%2BE&law=glass-diode+K%2FA", WIDE),
    "curves-phone": (f"{ORCHARD}/curves", NARROW),
    "bench-start": (f"{ORCHARD}/bench", WIDE),
    "bench": (f"{ORCHARD}/bench?session=monday", WIDE),
    "bench-phone": (f"{ORCHARD}/bench?session=monday", NARROW),
    "glossary": ("/glossary", WIDE),
    "next": ("/w/demo-orchard/orchard-rails-jfet/next", WIDE),
    "record": (f"{ORCHARD}/record", WIDE),
}


def main(names: list[str]) -> None:
    """Serve the demonstrations, rank one of them and take the pictures."""
    TARGET.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        root = Path(folder)
        for name in actions.DEMOS:
            actions.demo_workspace(root / f"demo-{name}", name)
        address = _serve(root)
        browser = playwright.chromium.launch(executable_path=_chromium(), args=FLAGS)
        chosen = names or list(PAGES)
        if {"shortlist", "record"} & set(chosen):
            _rank(browser, address)
        if {"bench", "bench-phone"} & set(chosen):
            _measure(root / "demo-orchard")
        for name in chosen:
            for theme in ("light", "dark"):
                _take(browser, address, name, theme)
        browser.close()


def _take(browser: Browser, address: str, name: str, theme: str) -> None:
    path, (width, height) = PAGES[name]
    context = browser.new_context(
        viewport={"width": width, "height": height}, color_scheme=theme, reduced_motion="reduce"
    )
    page = context.new_page()
    page.goto(address + path)
    _settle(page)
    target = TARGET / f"{name}-{theme}.png"
    tall = min(page.evaluate("document.documentElement.scrollHeight"), 3 * height)
    page.set_viewport_size({"width": width, "height": tall})
    page.screenshot(path=target)
    with Image.open(target) as picture:
        fewer = picture.convert("RGB").quantize(
            COLOURS, method=Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE
        )
    fewer.save(target, optimize=True)
    print(f"{target.name}: {target.stat().st_size // 1000} kB")
    context.close()


def _measure(workspace: Path) -> None:
    """A guided session of a pretend bench, up to its first reading of the part."""
    with demo_bench("orchard", pace=0.1) as meter:
        sheet = workspace / "instruments" / "P1.toml"
        text = sheet.read_text("utf-8")
        sheet.write_text(text.replace("TCPIP::127.0.0.1::5025::SOCKET", meter.address), "utf-8")
        state = actions.open_guided(
            workspace, "P1", "npn-small", "C/B+E", session="monday", voltages=("5 V",),
            wait_share=0.02, why="pretend bench", who="A. Person",
        )  # fmt: skip
        while state.state != "reading":
            if state.kind != "do":
                state = actions.take_live(workspace, "monday", at=state.at)
            reason = "pretend bench" if state.missing else ""
            state = actions.move(workspace, "monday", "next", at=state.at, reason=reason)
        actions.take_live(workspace, "monday", at=state.at)
        actions.mark_session("monday", workspace, "touch", "lid")


def _settle(page: Page) -> None:
    """Wait until nothing on the page says that it is still coming."""
    if "session=" in page.url:  # a page that follows a meter never rests
        page.wait_for_selector("#bench:not([hidden]) #result table", timeout=60_000)
        page.wait_for_timeout(1000)
        return
    page.wait_for_load_state("networkidle")
    until = time.monotonic() + PATIENCE
    while page.evaluate(COMING):  # asked from outside: the page forbids to evaluate text inside it
        if time.monotonic() > until:
            sys.exit(f"{page.url} has not settled in {PATIENCE:g} s")
        page.wait_for_timeout(100)
    page.wait_for_timeout(300)


def _rank(browser: Browser, address: str) -> None:
    page = browser.new_page()
    page.goto(f"{address}{ORCHARD}/shortlist")
    page.click("#start")
    page.wait_for_selector("#candidates", timeout=300_000)
    page.close()


def _chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    return found or sys.exit("chromium is missing: apt-get install chromium")


def _serve(root: Path) -> str:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(
        uvicorn.Config(make_app(root), host="127.0.0.1", port=port, log_level="warning")
    )
    threading.Thread(target=server.run, daemon=True).start()
    while not server.started:
        time.sleep(0.05)
    return f"http://127.0.0.1:{port}"


if __name__ == "__main__":
    main(sys.argv[1:])
