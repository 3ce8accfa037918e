"""The next reading and faults over time in a real Chromium; accessible in light and dark."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Page, expect
from served import serving
from web_looks import assert_accessible

from clampwright import actions

pytestmark = pytest.mark.browser

RAILS = "/w/orchard/orchard-rails-npn"
PROBE = "/w/orchard/orchard-probe"


def test_the_page_says_stop_where_a_reading_cannot_change_the_verdict(
    page: Page, address: str
) -> None:
    page.goto(f"{address}{RAILS}/next")
    expect(page.locator("#next")).to_contain_text("Stop measuring", timeout=60_000)
    readings = page.get_by_role("region", name="Readings")
    expect(readings).to_have_count(0)  # nothing to gain: the table is folded
    page.locator("#next summary").filter(has_text="all the same").click()
    expect(readings).to_contain_text("bias current")
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Readings as CSV").click()
    head = Path(waiting.value.path()).read_text("utf-8").splitlines()[0]
    assert head.startswith("action,input,minutes,gain,gain_per_minute")
    assert_accessible(page)


def test_json_and_page_give_the_same_answer(client: httpx.Client) -> None:
    found = client.get("/api/designs/orchard/orchard-rails-npn/next").json()
    shown = client.get("/api/designs/orchard/orchard-rails-npn/next/shown").json()
    assert shown["sentence"] == found["reason"] and found["stop"] is True


def test_a_current_that_is_asked_for_is_told_at_the_input(tmp_path: Path) -> None:
    actions.demo_workspace(tmp_path / "darkbox", "darkbox")
    with serving(tmp_path) as where:
        found = httpx.get(
            f"{where}/api/designs/darkbox/dark-box/next/shown", trust_env=False, timeout=60
        )
    html = found.json()["html"]
    assert "at the input against ± 500\u2009fA; that is" in html
    assert "fA … +" in html and "V … +" not in html


def test_the_chosen_fault_is_drawn_over_time_and_saved(page: Page, address: str) -> None:
    page.goto(f"{address}{PROBE}/faults")
    drawn = page.locator("[data-waves]")
    expect(drawn).to_have_count(1)
    expect(drawn.locator("svg")).to_be_visible(timeout=60_000)
    expect(page.locator("#parts table")).to_contain_text("outer resistor", timeout=60_000)
    expect(drawn).to_contain_text("continuous; its first 10")
    margins = page.get_by_role("region", name="Margins")
    assert margins.locator("[data-fault]").all_inner_texts() == ["F1, F5", "F2", "F4"]
    margins.get_by_role("button", name="F2 over time").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#over-time")).to_have_text("F2 over time")
    expect(drawn).to_contain_text("one period", timeout=60_000)
    expect(margins.locator("[aria-pressed=true]")).to_have_text("F2")
    margins.get_by_text("Every stress of F2").click()
    expect(page.get_by_role("region", name="Stresses of F2")).to_contain_text("outer resistor")
    expect(page.get_by_role("heading", name="Not judged yet")).to_be_visible()
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Waves as SVG").click()
    assert waiting.value.suggested_filename == "fault-2-waves.svg"
    svg = Path(waiting.value.path()).read_text("utf-8")
    assert svg.startswith("<svg") and "var(--" not in svg and "usable" in svg
    assert_accessible(page)


def test_downloads_have_their_types(client: httpx.Client) -> None:
    for path, kind in (
        ("faults.csv", "text/csv"),
        ("faults/waves/1.csv", "text/csv"),
        ("next.csv", "text/csv"),
    ):
        answer = client.get(f"/api/designs/orchard/orchard-probe/{path}")
        assert answer.headers["content-type"].startswith(kind)
        assert "attachment" in answer.headers["content-disposition"]
    impulse = client.get("/api/designs/orchard/orchard-probe/faults/waves/3")
    assert impulse.status_code == 422 and "impulses are not solved" in impulse.json()["error"]
