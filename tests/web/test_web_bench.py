"""The bench page in a real Chromium against a pretend meter on a socket of this machine.

Frames a second: the chart is drawn by requestAnimationFrame, which a browser paces at 60 a second.
"""

from __future__ import annotations

import re
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit
from xml.etree import ElementTree

import httpx
import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from served import orchard

from clampwright import actions
from clampwright.bench.instruments.pretend_instrument import PretendInstrument, demo_bench
from clampwright.web.server import make_app

pytestmark = pytest.mark.browser

BENCH = "/w/orchard/orchard-probe/bench"
ADDRESS = "TCPIP::127.0.0.1::5025::SOCKET"
PATIENCE = 60_000  # [ms] for a machine that does other things too
QUICK = {"voltages": ("5 V",), "light": "0 lx", "warm": (), "wait_share": 0.0, "why": "pretend"}
FEWEST_FRAMES = 30.0  # [1/s]
MANY = 100_000  # readings on the chart


@pytest.fixture
def bench() -> Iterator[PretendInstrument]:
    with demo_bench("orchard", pace=0.005) as found:
        yield found


@pytest.fixture
def root(tmp_path: Path, bench: PretendInstrument) -> Path:
    """A folder with the orchard workspace, its transistor without evidence, its meter pretended."""
    workspace = orchard(tmp_path / "orchard")
    sheet = workspace / "instruments" / "P1.toml"
    text = sheet.read_text("utf-8").replace(ADDRESS, bench.address)
    sheet.write_text(text.replace("SOAK 1e-14", "SOAK 2e-15"), "utf-8")  # settles sooner
    part = workspace / "parts" / "npn-small.toml"
    part.write_text(part.read_text("utf-8").split("[[evidence]]")[0], "utf-8")
    return tmp_path


@contextmanager
def served_at(root: Path, port: int) -> Iterator[str]:
    """The app on a given port; it ends at once even while a page follows a meter."""
    config = uvicorn.Config(
        make_app(root), host="127.0.0.1", port=port, log_level="critical",
        timeout_graceful_shutdown=1,
    )  # fmt: skip
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive()
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(60)
        assert not thread.is_alive()


def free_port() -> int:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


@pytest.fixture
def where(root: Path) -> Iterator[str]:
    with served_at(root, free_port()) as found:
        yield found


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page that fails its test on any console error or request off this machine."""
    context = browser.new_context(accept_downloads=True, reduced_motion="reduce")
    found = context.new_page()
    found.set_default_timeout(PATIENCE)
    wrong: list[str] = []
    found.on("console", lambda m: wrong.append(m.text) if m.type in ("error", "warning") else None)
    found.on("pageerror", lambda e: wrong.append(str(e)))
    found.on("request", lambda r: wrong.append(r.url) if _is_foreign(r.url) else None)
    yield found
    context.close()
    meant = (
        "the server responded with a status of 4",
        "net::ERR_",
    )  # refusals, a server that is away
    assert not [line for line in wrong if not any(words in line for words in meant)]


def _is_foreign(url: str) -> bool:
    parts = urlsplit(url)
    return parts.scheme not in ("data", "blob") and parts.hostname != "127.0.0.1"


def _title(page: Page, words: str) -> None:
    expect(page.locator("#title")).to_have_text(
        re.compile(f"^{re.escape(words)}"), timeout=PATIENCE
    )


def _on(page: Page, reason: str = "pretend bench") -> None:
    """Go on by the keyboard, with a reason where something is missing."""
    before = page.inner_text("#place")
    page.keyboard.press("n")
    page.wait_for_timeout(150)
    if page.locator("#reason").is_visible():
        assert page.evaluate("document.activeElement.id") != "reason", "keys are not swallowed"
        page.keyboard.press("n")
        expect(page.locator("#reason")).to_have_value("")
        page.keyboard.press("r")
        page.keyboard.type(reason)
        page.keyboard.press("Enter")
    if page.inner_text("#title") != "complete":
        expect(page.locator("#place")).not_to_have_text(before, timeout=PATIENCE)
    page.evaluate("document.activeElement.blur()")


def _walk(page: Page) -> None:
    """Every step to the end: space takes, n goes on."""
    for _ in range(60):
        if page.inner_text("#title") == "complete":
            return
        if page.inner_text("#take") == "Take":
            with page.expect_response(re.compile("/take$")):
                page.keyboard.press(" ")
            page.wait_for_timeout(300)
            expect(page.locator("#take")).to_have_text("Take", timeout=PATIENCE)
        _on(page)
    raise AssertionError("the session has no end")


def test_a_whole_session_by_keyboard_flips_the_verdict(page: Page, root: Path, where: str) -> None:
    page.goto(where + BENCH)
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("NOT MEASURED")
    expect(page.get_by_label("Reverse voltages")).to_have_value("0.01 V; -0.01 V")
    page.get_by_label("Warm points").fill("45 °C")
    page.get_by_label("Name of the session").fill("monday")
    page.get_by_label("Share of the usual").fill("0 %")
    page.get_by_role("button", name="Begin").click()
    problem = page.locator("[data-error='why']")
    expect(problem).to_contain_text("needs a reason")
    page.get_by_label("If less, why").fill("pretend bench")
    page.get_by_label("Name of the session").fill("<b>web1</b>")
    page.keyboard.press("Enter")
    expect(page.locator("[data-error='session']")).to_contain_text("cannot name a session")
    page.get_by_label("Name of the session").fill("monday")
    page.keyboard.press("Enter")
    _title(page, "cautions")
    expect(page.locator("#hurried")).to_contain_text("0 % of usual: pretend bench")
    assert float(page.evaluate("parseFloat(getComputedStyle(document.querySelector('.reading .figure')).fontSize)")) >= 64  # noqa: E501  # fmt: skip
    page.keyboard.press("m")
    expect(page.locator("#marks")).to_contain_text("touch after reading 0")
    _walk(page)
    expect(page.locator("#zeros tbody tr")).to_have_count(7)
    expect(page.locator("#result")).to_contain_text("10.0 mV")
    page.keyboard.press(" ")
    expect(page.locator("#words")).to_contain_text("was NOT MEASURED and is PASS", timeout=PATIENCE)
    expect(verdict).to_contain_text("error PASS")
    sheet = (root / "orchard" / "parts" / "npn-small.toml").read_text("utf-8")
    assert 'readings = "monday"' in sheet
    page.locator("#result summary").click()
    expect(page.locator("#result")).to_contain_text("standard uncertainty")


def test_the_session_goes_on_when_the_server_comes_back(page: Page, root: Path) -> None:
    port = free_port()
    workspace = root / "orchard"
    actions.open_guided(workspace, "P1", "npn-small", "C/B+E", session="tuesday", **QUICK)
    for step in range(5):
        actions.move(workspace, "tuesday", "skip", at=step, reason="not now")
    with served_at(root, port) as where:
        page.goto(f"{where}{BENCH}?session=tuesday")
        _title(page, "open-lead zero")
        page.keyboard.press(" ")
        expect(page.locator("#judged")).to_contain_text("settled", timeout=PATIENCE)
        expect(page.locator("#take")).to_have_text("Take")
    before = actions.guided_state(workspace, "tuesday")
    assert before.last > 0
    expect(page.locator("#away")).to_be_visible(timeout=PATIENCE)
    page.keyboard.press("n")
    expect(page.locator("#problem")).to_contain_text("nothing was acknowledged")
    with served_at(root, port):
        expect(page.locator("#away")).to_be_hidden(timeout=PATIENCE)
        drawn = page.evaluate("document.getElementById('chart').chart.last")
        assert drawn == before.last, "every reading is drawn once"
        _on(page)
        _title(page, "fixture zero at 5.00")
        page.goto("about:blank")
    after = actions.guided_state(workspace, "tuesday")
    assert after.last == before.last and after.zeros[0].count >= 10


def test_typed_pasted_and_dropped_values_are_all_or_nothing(
    page: Page, root: Path, where: str, tmp_path: Path
) -> None:
    workspace = root / "orchard"
    actions.open_guided(workspace, "P1", "npn-small", "C/B+E", session="typed", **QUICK)
    for step in range(5):
        actions.move(workspace, "typed", "skip", at=step, reason="not now")
    page.goto(f"{where}{BENCH}?session=typed")
    _title(page, "open-lead zero")
    page.locator("#typing summary").click()
    wrong = tmp_path / "wrong.csv"
    wrong.write_text("reading (µV)\n12.4\ntwelve\n12.6\n5 A\n", "utf-8")
    page.locator("#file").set_input_files(wrong)
    error = page.locator("#values-error")
    expect(error).to_contain_text("line 3")
    expect(error).to_contain_text("line 5")
    expect(page.locator("#values")).to_have_value(re.compile("twelve"))  # nothing is lost
    assert actions.guided_state(workspace, "typed").last == 0
    page.locator("#values").fill("\n".join(["12.4 µV", "12,6 µV"] * 5))
    page.get_by_role("button", name="Keep these readings").click()
    expect(page.locator("#spread")).to_contain_text("10 readings")
    expect(error).to_be_hidden()
    other = tmp_path / "picture.png"
    other.write_bytes(b"\x89PNG")
    page.locator("#file").set_input_files(other)
    expect(error).to_contain_text("is no CSV file")
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("n")
    _title(page, "fixture zero")
    assert actions.guided_state(workspace, "typed").zeros[0].volts == pytest.approx(
        12.5e-6, abs=1e-12
    )


def test_a_whole_sitting_is_dropped_with_errors_and_without(
    page: Page, root: Path, where: str, tmp_path: Path
) -> None:
    workspace = root / "orchard"
    good = (workspace / "readings" / "orchard-bench.csv").read_text("utf-8")
    lines = good.splitlines()
    bad = [*lines]
    bad[7] = bad[7].replace("zero", "zerro", 1)
    page.goto(where + BENCH)
    file = tmp_path / "sitting.csv"
    file.write_text("\n".join(bad), "utf-8")
    page.locator("#sitting").set_input_files(file)
    error = page.locator("#sitting-error")
    expect(error).to_contain_text("line 8")
    expect(error).to_contain_text("nothing was imported")
    assert not (workspace / "readings.db").exists()
    file.write_text("\n".join(lines), "utf-8")
    page.locator("#sitting").set_input_files(file)
    done = page.locator("#sitting-done")
    expect(done).to_contain_text(f"{len(lines) - 1} readings are in sitting", timeout=PATIENCE)
    expect(done).to_contain_text("evidence of npn-small C/B+E")
    assert 'readings = "sitting"' in (workspace / "parts" / "npn-small.toml").read_text("utf-8")


def test_a_file_is_limited_in_kind_and_size_and_a_stream_to_its_own_page(where: str) -> None:
    path = "/api/bench/orchard/csv?name=a.csv"
    with httpx.Client(base_url=where, trust_env=False, timeout=60) as client:
        for kind in ("text/plain", "multipart/form-data", "application/json"):
            answer = client.post(path, content=b"x", headers={"content-type": kind})
            assert answer.status_code == 415, kind
        csv = {"content-type": "text/csv"}
        assert client.post(path, content=b"x" * 5_000_001, headers=csv).status_code == 413
        assert client.post(path, content=b"x", headers=csv).status_code == 422
        foreign = {"origin": "https://evil.example"}
        for address in ("/api/bench/orchard/monday/live", "/api/designs"):
            assert client.get(address, headers=foreign).status_code == 403
        assert client.get("/api/bench/orchard/nobody/live").status_code == 422
        assert client.get("/api/bench/orchard/nobody/state").status_code == 422


def test_it_fits_a_phone_and_reads_aloud(page: Page, root: Path, where: str) -> None:
    workspace = root / "orchard"
    actions.open_guided(workspace, "P1", "npn-small", "C/B+E", session="phone", **QUICK)
    for step in range(5):
        actions.move(workspace, "phone", "skip", at=step, reason="not now")
    actions.take_values(workspace, "phone", "-123.4567 µV\n" * 12, at=5)
    for path in (BENCH, f"{BENCH}?session=phone"):
        page.set_viewport_size({"width": 360, "height": 740})
        page.goto(where + path)
        if "session" in path:
            _title(page, "open-lead zero")
        assert page.evaluate("document.documentElement.scrollWidth") <= 360
        small = page.evaluate(
            """[...document.querySelectorAll('main button:not(.term), main input, main select')]
            .filter((e) => e.offsetParent && e.type !== 'checkbox')
            .filter((e) => e.getBoundingClientRect().height < 40).map((e) => e.id || e.textContent)"""
        )
        assert not small, "every place to touch is 40 pixels high"
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21aa"]})
            serious = [
                v for v in found.response["violations"] if v["impact"] in ("serious", "critical")
            ]
            shown = [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in serious]
            assert not serious, (path, theme, shown)


FRAMES = """async (many) => {
  const { BenchChart } = await import('/static/bench_chart.js');
  const canvas = document.getElementById('chart');
  const chart = new BenchChart(canvas);
  const points = (from, count) => {
    const numbers = Array.from({ length: count }, (_, k) => from + k + 1);
    return { numbers, seconds: numbers.map((n) => n * 0.1), steps: numbers.map(() => 5),
      volts: numbers.map((n) => 4e-3 + 1e-2 / n + 2e-5 * Math.sin(n * 12.9898) ) };
  };
  chart.set({ step: 5, scale: 1e9, limit: 6e-14, first: 300, marks: [{ after: 500, kind: 'touch' }] });
  chart.add(points(0, many));
  let drawn = 0;
  const draw = chart.draw.bind(chart);
  chart.draw = () => { draw(); drawn += 1; };
  const begin = performance.now();
  while (performance.now() - begin < 2000) {
    chart.add(points(chart.last, 5));
    await new Promise(requestAnimationFrame);
  }
  return [drawn / ((performance.now() - begin) / 1000), chart.last];
}"""


def test_a_hundred_thousand_points_stay_fluent(page: Page, root: Path, where: str) -> None:
    actions.open_guided(root / "orchard", "P1", "npn-small", "C/B+E", session="many", **QUICK)
    page.goto(f"{where}{BENCH}?session=many")
    _title(page, "cautions")
    frames, last = max(page.evaluate(FRAMES, MANY) for _ in range(3))
    print(f"\n{last} readings on the chart: {frames:.0f} frames a second")
    assert last > MANY and frames >= FEWEST_FRAMES


def test_a_wait_counts_down_by_itself_and_a_result_names_no_folder(
    page: Page, root: Path, where: str
) -> None:
    slow = {**QUICK, "wait_share": 1.0, "why": ""}
    actions.open_guided(root / "orchard", "P1", "npn-small", "C/B+E", session="slow", **slow)
    page.goto(f"{where}{BENCH}?session=slow")
    expect(page.locator("#result")).to_contain_text("holds no readings yet")
    expect(page.locator("#result")).not_to_contain_text("readings.db")
    for step in range(30):
        state = actions.guided_state(root / "orchard", "slow")
        if state.missing.startswith("wait") and state.kind == "do":
            break
        actions.move(root / "orchard", "slow", "skip", at=step, reason="not now")
    _title(page, state.title)
    page.keyboard.press("n")
    problem = page.locator("#problem")
    expect(problem).to_contain_text("wait")
    before = page.inner_text("#problem")
    if "second" in before:
        expect(problem).not_to_have_text(before, timeout=5000)
    page.keyboard.press("r")
    page.keyboard.type("n n")
    page.keyboard.press("Escape")
    assert page.evaluate("document.activeElement.id") != "reason"


def test_readings_at_a_mark_are_left_out_with_their_reason_and_the_chart_is_saved(
    page: Page, root: Path, where: str
) -> None:
    workspace = root / "orchard"
    actions.open_guided(workspace, "P1", "npn-small", "C/B+E", session="marked", **QUICK)
    for step in range(5):
        actions.move(workspace, "marked", "skip", at=step, reason="not now")
    actions.take_values(workspace, "marked", "-123.4567 µV\n" * 12, at=5)
    actions.mark_session("marked", workspace, "touch", "lid")
    actions.take_values(workspace, "marked", "-150 µV\n" * 12, at=5, last=12)
    page.goto(f"{where}{BENCH}?session=marked")
    button = page.get_by_role("button", name="Leave out 12 to 16")
    button.click()
    expect(page.locator("#marks")).to_contain_text(
        "readings 12 to 16 left out: touch after reading 12"
    )
    expect(button).to_have_count(0)
    exports = [
        actions.export_readings("marked", workspace, root / f"{kept}.csv", corrected=kept)
        for kept in (True, False)
    ]
    kept, raw = (len(e.read_text("utf-8").splitlines()) for e in exports)
    assert raw - kept == 5, "left out, and still there as taken"
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save SVG").click()
    svg = Path(saved.value.path()).read_text("utf-8")
    assert svg.count("<rect") > 24 and "current, signed log" in svg and "touch" in svg
    ElementTree.fromstring(svg)
