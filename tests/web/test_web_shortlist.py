"""The shortlist and the list of faults in a real Chromium: survey with cancel, chart, try, presets."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Page, expect
from served import orchard, serving
from web_looks import assert_accessible

pytestmark = pytest.mark.browser

DESIGN = "/w/orchard/orchard-probe"
LONGEST = 90_000  # [ms] at most for a ranking on a busy machine


def test_a_survey_is_cancelled_run_looked_at_and_a_candidate_tried(
    page: Page, tmp_path: Path
) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    with serving(tmp_path) as where:
        page.goto(f"{where}{DESIGN}/shortlist")
        page.get_by_role("button", name="Rank the candidates").click()
        page.get_by_role("button", name="Cancel").click()
        expect(page.locator("#state")).to_have_text("cancelled", timeout=LONGEST)
        page.get_by_role("button", name="Rank the candidates").click()
        expect(page.locator("#state")).to_have_text("preparing")  # no total is known yet
        chart = page.locator("svg.pareto")
        expect(chart).to_be_visible(timeout=LONGEST)
        points = chart.locator("a")
        assert points.count() > 3
        words = points.evaluate_all("all => all.map(a => a.getAttribute('aria-label'))")
        assert any("; dominated by " in w for w in words) and any(
            "not dominated" in w for w in words
        )
        points.last.focus()  # reached by the keyboard
        assert page.evaluate("document.activeElement.tagName").lower() == "a"
        expect(page.locator("#told")).to_contain_text("accuracy")
        _filter_finds_what_stands_in_the_columns(page)
        page.get_by_label("Of them", exact=True).select_option("front")
        shown = page.locator("#candidates tbody tr:visible")
        assert 0 < shown.count() < page.locator("#candidates tbody tr").count()
        with page.expect_download() as waiting:
            page.get_by_role("link", name="Chart as SVG").click()
        svg = Path(waiting.value.path()).read_text("utf-8")
        assert svg.startswith("<svg xmlns") and "var(--" not in svg and "survivability" in svg
        assert_accessible(page)
        page.get_by_label("Of them", exact=True).select_option("all")
        before = sheet.read_text("utf-8")
        jfet = next(i for i, w in enumerate(words) if w.startswith("jfet-small G/D+S in T5"))
        points.nth(jfet).locator("circle").last.click()
        expect(page.get_by_label("Clamp", exact=True)).to_have_value("jfet-small G/D+S")
        expect(page.locator("#state")).to_contain_text(
            "2 changed, not kept yet"
        )  # and its resistor
        assert sheet.read_text("utf-8") == before
        page.goto("about:blank")  # leave before the server does


def _filter_finds_what_stands_in_the_columns(page: Page) -> None:
    """Verdict, clamp, circuit and known; not the reason, which may name another candidate."""
    rows, sought = page.locator("#candidates tbody:visible"), page.get_by_label("Show only")
    every = rows.count()
    for words, holds in (("jfet", "jfet-small"), ("jfet, T5", "T5"), ("PASS", "PASS")):
        sought.fill(words)
        texts = rows.locator("tr:first-child").all_inner_texts()
        assert 0 < len(texts) < every and all(holds in text for text in texts), words
        expect(page.locator("#count")).to_have_text(f"{len(texts)} of {every} rows")
    sought.fill(sought.get_attribute("placeholder") or "")  # the example is of this shortlist
    assert rows.count() > 0
    sought.fill("T2 nothing-like-it")
    expect(page.locator("#count")).to_contain_text("no row holds all of these words")
    assert rows.count() == 0
    sought.fill("measured")
    assert all("measured" in text for text in rows.locator("tr:first-child").all_inner_texts())
    sought.fill("")
    rows.first.locator("summary").click()
    expect(rows.first.locator("details")).to_contain_text("allowance")
    assert page.locator("#candidates").bounding_box()["height"] < 60 * (every + 3)


def test_a_fault_is_added_and_removed_and_an_edit_is_not_lost(page: Page, tmp_path: Path) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    before = sheet.read_text("utf-8")
    with serving(tmp_path) as where:
        page.goto(f"{where}{DESIGN}/requirement")
        assert_accessible(page)
        page.get_by_label("Fault", exact=True).select_option("surge-1")
        expect(page.locator("#preset-note")).to_contain_text("check the current edition")
        field = page.get_by_label("Most light at the clamp")
        field.fill("10 lx")
        page.get_by_role("button", name="Add this fault").click()
        expect(page.locator("#fault-problem")).to_contain_text("Keep or undo the changed values")
        field.fill("200 lx")
        with page.expect_navigation():
            page.get_by_role("button", name="Add this fault").click()
        added = page.locator(".fault").filter(has_text="F6")
        expect(added).to_be_visible()
        assert '"42 Ω"' in sheet.read_text("utf-8")
        page.get_by_role("button", name="Remove fault F6").click()
        with page.expect_navigation():
            page.get_by_role("button", name="Keep these values").click()
        expect(added).to_have_count(0)
        assert _lines(sheet.read_text("utf-8")) == _lines(before)
        page.goto("about:blank")


def _lines(text: str) -> list[str]:
    """What stands in a sheet, comments too, without its blank lines."""
    return [line for line in text.splitlines() if line.strip()]
