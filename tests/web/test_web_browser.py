"""Whole jobs in a real Chromium, without a network and without a word on the console.

Accessibility: axe-core by its Python package, rules of WCAG 2.1 level A and AA.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from served import orchard, serving

pytestmark = pytest.mark.browser

DESIGN = "/w/orchard/orchard-probe"
STEPS = (
    "requirement",
    "network",
    "faults",
    "shortlist",
    "evidence",
    "evidence/npn-small",
    "next",
    "record",
)
PAGES = ["/", *(f"{DESIGN}/{step}" for step in STEPS)]
LONGEST = 60_000  # [ms] at most for a ranking on a busy machine


def test_the_whole_job_from_a_lid_that_lets_light_in_to_the_record(
    page: Page, tmp_path: Path
) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    with serving(tmp_path) as where:
        page.goto(where)
        expect(page.locator(".said").first).to_contain_text("the numbers say")
        page.get_by_role("link", name="orchard-probe").click()
        verdict = page.locator("#verdict")
        expect(verdict).to_contain_text("error PASS")
        expect(verdict).to_contain_text("faults NOT MEASURED")
        expect(verdict).to_contain_text("200 lx")
        _slide(page, "Light at the clamp", "End")
        expect(verdict).to_contain_text("error FAIL")
        expect(verdict).to_contain_text("faults NOT MEASURED")
        page.wait_for_timeout(1000)  # at rest: the next move is a step of its own to undo
        _slide(page, "Light at the clamp", "Home")
        expect(verdict).to_contain_text("error PASS")
        expect(verdict).to_contain_text("0 lx")
        page.get_by_role("button", name="Undo").click()
        expect(verdict).to_contain_text("error FAIL")
        page.keyboard.press("Control+y")
        expect(verdict).to_contain_text("error PASS")
        assert '"200 lx"' in sheet.read_text("utf-8")
        with page.expect_navigation():
            page.get_by_role("button", name="Keep in the sheet").click()
        assert '"0 lx"      # translucent lid' in sheet.read_text("utf-8")
        page.get_by_role("link", name="Record").click()
        page.get_by_role("button", name="Rank, then make the record").click()
        link = page.get_by_role("link", name="Download the record")
        expect(link).to_be_visible(timeout=LONGEST)
        with page.expect_download() as waiting:
            link.click()
        text = Path(waiting.value.path()).read_text("utf-8")
        assert "Orchard probe" in text and "Not a safety certification" in text
        assert waiting.value.suggested_filename == "orchard-probe-record.html"
        page.locator("nav").get_by_role("link", name="Shortlist").click()
        rows = page.locator("#candidates tbody tr")
        before = rows.count()
        page.get_by_role("button", name="accuracy").click()
        assert rows.count() == before > 2
        page.get_by_label("Show only").fill("jfet T5")
        expect(page.locator("#candidates tbody tr:visible").first).to_contain_text("jfet-small")
        page.get_by_role("link", name="Try jfet-small G/D+S in T5").click()
        expect(page.get_by_label("Clamp", exact=True)).to_have_value("jfet-small G/D+S")
        expect(page.locator("#state")).to_contain_text("2 changed, not kept yet")
        page.wait_for_selector("body[data-rested]")  # nothing is asked for any more


def _slide(page: Page, label: str, key: str) -> None:
    """Move a slider by the keyboard alone."""
    slider = page.get_by_label(label)
    slider.focus()
    page.keyboard.press(key)


def test_errors_stand_beside_their_fields_and_a_conflict_is_shown(
    page: Page, tmp_path: Path
) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    with serving(tmp_path) as where:
        page.goto(f"{where}{DESIGN}/requirement")
        page.get_by_label("Most light at the clamp").fill("5 V")
        page.get_by_role("button", name="Keep these values").click()
        error = page.locator("[id='e-board.illuminance_maximum']")
        expect(error).to_contain_text("is a voltage, not an illuminance")
        expect(page.get_by_label("Most light at the clamp")).to_be_focused()
        sheet.write_text(sheet.read_text("utf-8") + "\n# by hand\n", "utf-8")
        page.get_by_label("Most light at the clamp").fill("10 lx")
        page.get_by_role("button", name="Keep these values").click()
        expect(page.locator("#problem")).to_contain_text("changed elsewhere")
        expect(page.locator("#elsewhere")).to_be_visible(timeout=15_000)
        assert "10 lx" not in sheet.read_text("utf-8")
        page.get_by_label("Most light at the clamp").fill("200 lx")  # as it was: nothing to lose


def test_every_page_fits_360_pixels_and_is_accessible_light_and_dark(
    page: Page, address: str
) -> None:
    for path in PAGES:
        page.set_viewport_size({"width": 1280, "height": 900})
        page.goto(address + path)
        _wait(page, path)
        for theme in ("light", "dark"):
            page.emulate_media(color_scheme=theme)
            rules = ["color-contrast"] if theme == "dark" else ["wcag2a", "wcag2aa", "wcag21aa"]
            found = Axe().run(page, options={"runOnly": rules}).response["violations"]
            serious = [v for v in found if v["impact"] in ("serious", "critical")]
            shown = [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in serious]
            assert not serious, (path, theme, shown)
        page.set_viewport_size({"width": 360, "height": 740})
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= 360, (path, wide)


def _wait(page: Page, path: str) -> None:
    page.wait_for_load_state("networkidle")
    if path.endswith(("evidence", "network")):
        expect(page.locator("main")).not_to_contain_text("being", timeout=30_000)
    if path.endswith("npn-small"):
        expect(page.locator("#plot .main-svg").first).to_be_visible(timeout=30_000)


def test_every_chart_is_saved_as_svg_and_as_csv(page: Page, address: str, tmp_path: Path) -> None:
    page.goto(f"{address}{DESIGN}/network")
    _wait(page, "network")
    for name in ("budget", "window", "leakage", "noise"):
        for button, ending in ((f"[data-name='{name}.svg']", "svg"), (f"[data-csv={name}]", "csv")):
            with page.expect_download() as waiting:
                page.locator(button).click()
            assert waiting.value.suggested_filename == f"{name}.{ending}"
            text = Path(waiting.value.path()).read_text("utf-8")
            assert ("<svg" in text and ".chart" in text and "var(" not in text) or "," in text
            assert ending != "svg" or "var(--" not in text


def test_the_plotting_library_offers_no_upload(page: Page, address: str) -> None:
    page.goto(f"{address}{DESIGN}/evidence/npn-small")
    expect(page.locator("#plot .main-svg").first).to_be_visible(timeout=30_000)
    titles = page.locator("#plot .modebar-btn").evaluate_all("all => all.map(b => b.dataset.title)")
    assert any("PNG" in title or "png" in title for title in titles), titles
    assert not [t for t in titles if any(w in t.lower() for w in ("cloud", "edit", "plotly"))]
    asked = page.evaluate("document.getElementById('plot')._context")
    assert asked["showSendToCloud"] is False and asked["plotlyServerURL"] == ""


def test_the_keyboard_reaches_everything_with_a_visible_focus(page: Page, address: str) -> None:
    page.goto(f"{address}{DESIGN}/network")
    page.wait_for_load_state("networkidle")
    seen = []
    for _ in range(40):
        page.keyboard.press("Tab")
        found = page.evaluate(
            """(() => {
              const element = document.activeElement;
              if (element === document.body) return null;
              const name = element.id || element.textContent.trim().slice(0, 20);
              return [name, getComputedStyle(element).outlineStyle];
            })()"""
        )
        if found is None:
            break
        seen.append(found)
    names = [name for name, _ in seen]
    assert {"theme", "s1", "s2", "s3", "s4", "topology", "clamp"} <= set(names), names
    assert not [name for name, outline in seen if outline != "solid"]
