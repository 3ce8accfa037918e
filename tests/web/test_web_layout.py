"""Where things stand: a low strip, nothing cut without a mark, sliders and budget seen together."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

DESIGN = "/w/orchard/orchard-probe"
STRIP = """() => ["#verdict .says", "#verdict .more"].map(
    (name) => document.querySelector(name).getBoundingClientRect().height)"""


@pytest.mark.parametrize(("width", "highest", "kept"), [(1280, 96, 56), (360, 126, 92)])
def test_the_strip_of_verdicts_is_low_and_lower_once_the_page_is_scrolled(
    page: Page, address: str, width: int, highest: int, kept: int
) -> None:
    page.set_viewport_size({"width": width, "height": 740})
    page.goto(f"{address}{DESIGN}/faults")
    line, reason = page.evaluate(STRIP)
    assert 40 <= line <= kept
    assert line + reason <= highest
    page.evaluate("scrollTo(0, 900)")
    box = page.locator("#verdict .says").bounding_box()
    assert box and box["y"] == 0
    expect(page.locator("#verdict .more")).not_to_be_in_viewport()


def test_what_the_strip_has_no_room_for_is_marked_and_opens(page: Page, address: str) -> None:
    page.set_viewport_size({"width": 360, "height": 740})
    page.goto(f"{address}{DESIGN}/network")
    short, more = page.locator("#verdict .short"), page.locator("#verdict .more")
    page.get_by_label("Light at the clamp").press("End")
    expect(page.locator("#verdict .says")).to_contain_text("error FAIL")
    assert short.evaluate("(one) => one.scrollHeight > one.clientHeight")
    assert short.evaluate("(one) => getComputedStyle(one).webkitLineClamp") != "none"  # an ellipsis
    page.locator("#verdict summary").click()
    for topic in ("faults NOT MEASURED:", "error FAIL:"):
        line = more.locator(".line", has_text=topic)
        expect(line).to_be_visible()
        assert line.evaluate("(one) => one.scrollHeight <= one.clientHeight + 1")
    page.get_by_label("Light at the clamp").press("Home")
    expect(more).to_contain_text("error PASS:")
    expect(more).to_have_attribute("open", "")


def test_a_slider_and_the_budget_share_the_screen_on_load(page: Page, address: str) -> None:
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto(f"{address}{DESIGN}/network")
    page.wait_for_load_state("networkidle")
    budget = page.locator("#part-budget svg")
    expect(budget).to_be_in_viewport(ratio=1)
    for slider in page.locator(".sliders input").all():
        expect(slider).to_be_in_viewport(ratio=1)
    page.evaluate("scrollTo(0, 1200)")
    for slider in page.locator(".sliders input").all():
        box = slider.bounding_box()
        assert box and box["y"] > 60  # below the strip
        expect(slider).to_be_in_viewport(ratio=1)


@pytest.mark.parametrize("width", [1920, 2560])
def test_a_wide_screen_is_used(page: Page, address: str, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 1080})
    page.goto(f"{address}{DESIGN}/network")
    ends = [
        box["x"] + box["width"]
        for svg in page.locator("main svg").all()
        if (box := svg.bounding_box())
    ]
    assert max(ends) > 0.9 * width
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_who_is_new_meets_the_tour_first_and_designs_stand_by_their_titles(
    page: Page, address: str
) -> None:
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto(address)
    for name in ("Take the tour", "Open the demonstration", "Begin a new workspace"):
        expect(page.get_by_role("button", name=name).first).to_be_in_viewport(ratio=1)
    link = page.get_by_role("link", name="Orchard probe orchard-probe")
    expect(link).to_be_visible()
    expect(page.locator(".said").last).to_contain_text("the numbers say")


def test_a_printed_page_is_white_and_holds_results_without_controls(
    page: Page, address: str
) -> None:
    page.emulate_media(media="print", color_scheme="dark")
    page.goto(f"{address}{DESIGN}/network")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    for hidden in ("nav", ".controls", "#part-budget .actions", "#theme", "footer + .tour"):
        for one in page.locator(hidden).all():
            expect(one).to_be_hidden()
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(page.locator("#verdict .line", has_text="error PASS:")).to_be_visible()
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    expect(page.locator("#verdict .line", has_text="error PASS:")).to_be_hidden()
