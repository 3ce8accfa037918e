"""What every page is held to: rules of WCAG 2.1 A and AA by axe-core, and 360 pixels of width."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

RULES = ["wcag2a", "wcag2aa", "wcag21aa"]


def assert_accessible(page: Page) -> None:
    """Nothing serious in light or dark; the page is as it stands now."""
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        found = Axe().run(page, options={"runOnly": RULES}).response["violations"]
        serious = [v for v in found if v["impact"] in ("serious", "critical")]
        shown = [(v["id"], [n["html"][:120] for n in v["nodes"][:3]]) for v in serious]
        assert not serious, (page.url, theme, shown)


def assert_narrow(page: Page) -> None:
    """No sideways scrolling at 360 pixels."""
    before = page.viewport_size
    page.set_viewport_size({"width": 360, "height": 740})
    page.wait_for_timeout(200)
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= 360, (page.url, wide)
    if before:
        page.set_viewport_size(before)
