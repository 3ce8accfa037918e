"""What of the bench page is in sight on a phone, what its chart says, and errors beside their fields."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from looking import assert_accessible, assert_narrow
from playwright.sync_api import Page, expect
from served import orchard, serving

from clampwright import actions

pytestmark = pytest.mark.browser

BENCH = "/w/orchard/orchard-probe/bench"
QUICK = {"voltages": ("5 V",), "light": "0 lx", "warm": (), "wait_share": 0.0, "why": "pretend"}
PHONES = ((360, 740), (390, 844))
WANTED = ("#place", "#title", "#figure", "#take", "#next", "#touch", "#more", "#chart")
PLACES = """(wanted) => {
  const strip = document.querySelector('#verdict .says').getBoundingClientRect();
  const keys = document.querySelector('.keys').getBoundingClientRect();
  return [strip.bottom, keys.top, innerHeight, ...wanted.map((one) => {
    const box = document.querySelector(one).getBoundingClientRect();
    return [one, box.top, box.bottom, box.left, box.right];
  })];
}"""
CHART = """async () => {
  const { BenchChart } = await import('/static/bench_chart.js');
  const chart = new BenchChart(document.getElementById('chart'));
  const numbers = Array.from({ length: 300 }, (_, k) => k + 1);
  const noise = (n) => 3e-5 * Math.sin(n * 12.9898);
  chart.add({ numbers, seconds: numbers.map((n) => ((n - 1) % 100) * 0.5),
    steps: numbers.map((n) => Math.ceil(n / 100) + 4),
    volts: numbers.map((n) => 1.4e-4 + noise(n) + (n > 200 ? 4e-3 : 0)) });
  const none = { title: 'before', zero: null, settled: 0, detection_limit: null, count: 0 };
  const plan = [none, none, none, none, none,
    { ...none, title: 'open-lead zero', settled: 30 },
    { ...none, title: 'fixture zero at 5.00 V', zero: 1.4e-4, settled: 150 },
    { ...none, title: '5.00 V at 23.0 °C', zero: 1.4e-4, detection_limit: 1.6e-14, count: 10 }];
  chart.set({ step: 7, zero: 1.4e-4, scale: 1e9, limit: 1.6e-14, needed: 10, first: 260, plan,
    drift: true, marks: [{ after: 250, kind: 'touch', words: '' },
      { after: 120, kind: 'note', words: 'seen: step, up' }] });
  const drawn = () => new DOMParser().parseFromString(chart.svg('x'), 'image/svg+xml');
  const texts = () => [...drawn().querySelectorAll('text')].map((t) => t.textContent);
  const one = texts();
  chart.set({ whole: true });
  const whole = texts();
  const seen = chart.limitsShown(0).map(({ from, end }) => [from, end]);
  return { one, whole, seen, top: chart.range(0).high };
}"""


@pytest.fixture
def where(tmp_path: Path, page: Page) -> Iterator[tuple[str, Path]]:
    """The address and the workspace; no page follows a session any more when it ends."""
    workspace = orchard(tmp_path / "orchard")
    with serving(tmp_path) as address:
        yield address, workspace
        page.goto("about:blank")


def at_a_reading(workspace: Path, name: str) -> None:
    """A session with typed zeros that stands at its first reading of the part, some of it read."""
    state = actions.open_guided(workspace, "P1", "npn-small", "C/B+E", session=name, **QUICK)
    while state.kind != "reading":
        if state.state:
            typed = "0.140 mV\n0.142 mV\n" * 5
            state = actions.take_values(workspace, name, typed, at=state.at)
            state = actions.move(workspace, name, "next", at=state.at)
        else:
            state = actions.move(workspace, name, "skip", at=state.at, reason="not now")
    actions.take_values(workspace, name, "4.14 mV\n4.15 mV\n" * 6, at=state.at)


def assert_first_screen(page: Page) -> None:
    """Step, figure, keys and chart are in sight, whole, and not under the strip or the keys."""
    strip, keys, height, *boxes = page.evaluate(PLACES, list(WANTED))
    width = page.viewport_size["width"]  # type: ignore[index]
    for name, top, bottom, left, right in boxes:
        lower = height if name in ("#take", "#next", "#touch", "#more") else keys
        assert strip <= top < bottom <= lower + 0.5, (name, top, bottom, strip, lower)
        assert left >= 0 and right <= width, (name, left, right)


def test_the_first_screen_of_a_phone_holds_step_figure_chart_and_keys(
    page: Page, where: tuple[str, Path]
) -> None:
    address, workspace = where
    at_a_reading(workspace, "phone")
    for width, height in PHONES:
        page.set_viewport_size({"width": width, "height": height})
        page.goto(f"{address}{BENCH}?session=phone")
        for visit in ("loaded", "loaded again, from further down"):
            expect(page.locator("#title")).to_have_text(re.compile("^5.00.V at 23"))
            expect(page.locator("#figure")).to_have_text(re.compile(r"^\+4\.\d"))
            assert_first_screen(page)
            page.evaluate("scrollTo(0, document.body.scrollHeight)")
            assert (
                page.evaluate("document.getElementById('title').getBoundingClientRect().bottom") < 0
            )
            if visit == "loaded":
                page.reload()
        strip = page.evaluate("document.querySelector('#verdict .says').offsetHeight")
        assert (
            strip <= 60
            and page.evaluate("document.querySelector('.frame > nav').offsetHeight") <= 60
        )
    skip = page.get_by_role("button", name="Skip")
    expect(skip).to_be_hidden()
    page.get_by_role("button", name="More").click()
    for name in ("Skip", "Back", "Mark light", "Mark cable"):
        box = page.get_by_role("button", name=name).bounding_box()
        assert box and box["y"] + box["height"] <= 844 and box["x"] + box["width"] <= 390, name
    page.get_by_role("button", name="More").click()
    expect(skip).to_be_hidden()
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    page.get_by_role("button", name="Next").click()
    expect(page.locator("#title")).not_to_have_text(re.compile("^5.00.V at 23"))
    top = "document.querySelector('.now').getBoundingClientRect().top"
    page.wait_for_function(f"{top} >= 0 && {top} < 120")  # a step that is new is in sight
    assert_narrow(page)
    assert_accessible(page)


def test_the_chart_names_axes_steps_and_what_its_limit_is_for(
    page: Page, where: tuple[str, Path]
) -> None:
    address, workspace = where
    at_a_reading(workspace, "drawn")
    page.goto(f"{address}{BENCH}?session=drawn")
    expect(page.locator("#figure")).to_have_text(re.compile(r"^\+4\.\d"))
    found = page.evaluate(CHART)
    assert "time since the voltage was on (s)" in found["one"]
    assert {"settled", "touch", "drift"} <= set(found["one"])
    assert any("±16 fA for the mean of n = 10: lower" in words for words in found["one"])
    whole = found["whole"]
    assert {"number of the reading", "settled", "touch", "step", "drift", "10 pA", "1 pA"} <= set(
        whole
    )
    for name in ("6 open-lead zero", "7 fixture zero at 5.00 V", "8 5.00 V at 23.0 °C"):
        assert name in whole, "each step begins with its name"
    assert "detection limit ±16 fA for the mean of n = 10" in whole
    assert found["seen"] == [[200, 300]], "the limit stands where it holds"
    assert found["top"] == pytest.approx(1e-11, abs=1e-20), "a decade line above the largest"
    zeros = page.locator("#zeros tbody td:nth-child(2)")
    expect(zeros).to_have_count(3)
    assert all("±" in text for text in zeros.all_inner_texts())
    page.locator("#whole").check()
    expect(page.locator("#drawn")).to_contain_text("Whole session: 42 readings of 4 steps")
    told = page.locator(".warnings li")
    expect(told.first).to_be_visible()  # the result comes with an answer of its own
    warnings = told.all_inner_texts()
    assert warnings and len(warnings) == len(set(warnings))
    assert all("5.00\u2009V at 23.0\u2009°C, dark" in text for text in warnings)


def test_every_wrong_field_of_a_new_session_is_told_at_once(
    page: Page, where: tuple[str, Path]
) -> None:
    address, workspace = where
    page.goto(address + BENCH)
    for name, text in (
        ("Reverse voltages", "five volts; 3"), ("Warm points", "900 °C"), ("Light for", "bright"),
        ("Name of the session", "orchard-bench"), ("Share of the usual", "2"),
    ):  # fmt: skip
        page.get_by_label(name).fill(text)
    page.get_by_role("button", name="Begin").click()
    for field, words in (
        ("voltages", '"five volts" does not begin with a number.*"3" has no unit'),
        ("warm", '"900 °C" is not possible.*-55.*150'),
        ("light", 'such as "200 lx"'),
        ("session", "belongs to a file of readings; give another name"),
        ("wait_share", 'expected 0 % to 100 %; write "2 %" if that is meant'),
    ):
        expect(page.locator(f"[data-error='{field}']")).to_have_text(re.compile(words))
    expect(page.get_by_label("Reverse voltages")).to_be_focused()
    expect(page.locator("#problem")).to_be_hidden()
    assert not actions.guided_sessions(workspace)
    page.get_by_label("Share of the usual").fill("2 %")
    page.get_by_role("button", name="Begin").click()
    expect(page.locator("[data-error='wait_share']")).to_be_hidden()
    expect(page.locator("[data-error='why']")).to_contain_text(
        "2 % of the usual times needs a reason"
    )


def test_the_readings_page_begins_with_its_contents(page: Page, where: tuple[str, Path]) -> None:
    address, _ = where
    page.goto(f"{address}/w/orchard/orchard-probe/readings/orchard-bench")
    links = page.locator("nav.inside a")
    parts = page.locator("details.part")
    assert links.count() >= 2 and parts.count() == links.count()
    assert page.locator("details.part[open]").count() == 1
    last = parts.last
    links.last.click()
    expect(last).to_have_attribute("open", "")
    expect(last.locator("h2")).to_be_in_viewport()
    page.reload()
    expect(last).to_have_attribute("open", "")
    assert page.evaluate("document.documentElement.scrollHeight") < 6000
    assert_narrow(page)
    assert_accessible(page)
