"""Start page, words of the trade, and the tour: by keyboard, remembered, and never in the way."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from looking import assert_accessible, assert_narrow
from playwright.sync_api import Page, expect
from served import orchard, serving

from clampwright.web.words_page import glossary, tour

browsers = pytest.mark.browser
TRADE = (
    "reverse leakage", "photocurrent", "input bias current", "burden voltage", "fixture leakage",
    "guard ring", "bootstrapping", "virtual ground", "creepage", "rail pumping", "latch-up",
    "stand-off voltage", "zero-bias resistance", "activation energy", "coverage factor",
    "detection limit", "upper tolerance limit", "common mode", "outcome class", "sits at",
)  # fmt: skip


def test_every_word_is_told_once_and_briefly() -> None:
    forms = [form.casefold() for entry in glossary() for form in (entry.term, *entry.also)]
    assert len(forms) == len(set(forms))
    assert set(TRADE) <= {entry.term for entry in glossary()}
    for entry in glossary():
        assert 15 < len(entry.words) < 200 and entry.words.endswith("."), entry.term


def test_the_tour_takes_about_five_minutes_to_read() -> None:
    """At 200 words a minute, common practice, no source; with half a minute of looking at each page."""
    words = sum(len(f"{step.title} {step.words}".split()) for step in tour())
    assert 4 < words / 200 + 0.5 * len(tour()) < 7


@browsers
def test_words_are_told_on_hover_focus_and_tap(page: Page, address: str) -> None:
    page.goto(f"{address}/w/orchard/orchard-probe/network")
    word = page.locator("button.term").first
    expect(word).to_be_visible(timeout=30_000)
    described = word.get_attribute("aria-describedby")
    meaning = page.locator(f"#{described}").text_content()
    bubble = page.locator(".bubble")
    for show in (word.hover, word.focus, word.click):
        show()
        expect(bubble).to_be_visible()
        expect(bubble).to_contain_text(meaning)
        page.keyboard.press("Escape")
        expect(bubble).to_be_hidden()
        page.mouse.move(5, 5)
        page.locator("#theme").focus()
    told = [w.casefold() for w in page.locator("button.term").all_inner_texts()]
    assert len(told) == len(set(told))


@browsers
def test_the_glossary_page_and_the_start_page_are_accessible_and_narrow(
    page: Page, address: str
) -> None:
    for path in ("/glossary", "/"):
        page.goto(address + path)
        page.wait_for_load_state("networkidle")
        assert_accessible(page)
        assert_narrow(page)
    expect(page.locator(".cards [data-demo]")).to_have_count(3)


@browsers
def test_the_tour_goes_by_keyboard_is_remembered_and_can_be_left(
    page: Page, tmp_path: Path
) -> None:
    orchard(tmp_path / "demo-orchard")
    with serving(tmp_path) as where:
        page.goto(where)
        page.get_by_role("button", name="Take the tour").focus()
        page.keyboard.press("Enter")
        page.wait_for_url("**/requirement")
        strip = page.locator("#tour")
        expect(strip).to_contain_text("1 of ")
        on = strip.get_by_role("button", name="Next")
        expect(on).to_be_focused()
        expect(on).to_have_accessible_description(re.compile("^1 of .*What must be known"))
        assert_accessible(page)
        seen = ["requirement"]
        last = int(strip.inner_text().split(" of ")[1].split(":")[0])
        for n in range(2, last + 1):
            page.keyboard.press("ArrowRight" if n % 3 == 0 else "Enter")
            expect(strip).to_contain_text(f"{n} of {last}", timeout=30_000)
            expect(strip.locator("button.primary")).to_be_focused()
            seen.append(page.url.split("/")[-1])
            if n == 4:
                assert_narrow(page)
        wanted = ["requirement", "network", "faults", "shortlist", "evidence", "next", "record"]
        assert [step for step in seen if step in wanted] == wanted
        page.keyboard.press("ArrowRight")  # there is none after the last
        page.keyboard.press("ArrowLeft")
        expect(strip).to_contain_text(f"{last - 1} of {last}", timeout=30_000)
        expect(strip.locator("button.primary")).to_be_focused()
        page.keyboard.press("Enter")
        expect(strip).to_contain_text(f"{last} of {last}", timeout=30_000)
        page.goto(f"{where}/w/demo-orchard/orchard-probe/network")  # remembered, even away from it
        expect(strip).to_contain_text("goes on at another page")
        page.get_by_role("button", name="To the tour").click()
        page.wait_for_url("**/record")
        expect(strip.get_by_role("button", name="Done")).to_be_focused()
        page.keyboard.press("Escape")
        expect(strip).to_have_count(0)
        page.reload()
        page.wait_for_load_state("networkidle")
        expect(strip).to_have_count(0)
        page.evaluate("localStorage.setItem('clampwright-tour', '8')")
        page.reload()
        page.get_by_role("button", name="Leave the tour").click()
        expect(strip).to_have_count(0)


@browsers
def test_two_windows_see_a_change_of_the_folder(page: Page, tmp_path: Path) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    with serving(tmp_path) as where:
        other = page.context.new_page()
        other.goto(f"{where}/w/orchard/orchard-probe/curves")
        page.goto(where)
        expect(page.locator("#changed")).to_be_hidden()
        expect(page.locator(".said").first).not_to_have_text("…", timeout=60_000)
        sheet.write_text(sheet.read_text("utf-8").replace('"200 lx"', '"100 lx"'), "utf-8")
        expect(page.locator("#changed")).to_be_visible(timeout=15_000)
        other.bring_to_front()
        expect(other.locator("#elsewhere")).to_be_visible(timeout=15_000)


@browsers
def test_every_page_of_a_design_tells_of_a_part_sheet_changed_elsewhere(
    page: Page, tmp_path: Path
) -> None:
    sheet = orchard(tmp_path / "orchard") / "parts" / "npn-small.toml"
    with serving(tmp_path) as where:
        page.goto(f"{where}/w/orchard/orchard-probe/requirement")
        links = page.locator("nav a").evaluate_all("all => all.map(a => a.getAttribute('href'))")
        assert len(links) >= 8
        extra = [
            f"/w/orchard/orchard-probe/{end}"
            for end in ("evidence/npn-small", "readings/orchard-bench")
        ]
        for n, path in enumerate([*links, *extra]):
            page.goto(where + path)
            expect(page.locator("#elsewhere")).to_be_hidden()
            sheet.write_text(sheet.read_text("utf-8") + f"\n# by hand {n}\n", "utf-8")
            page.evaluate(
                "document.dispatchEvent(new Event('visibilitychange'))"
            )  # looked at again
            expect(page.locator("#elsewhere")).to_be_visible(timeout=30_000)
