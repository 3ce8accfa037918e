"""What every page is held to: axe in light and dark, and 360 pixels."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page


def assert_accessible(page: Page) -> None:
    """No serious finding of axe-core (WCAG 2.1 A and AA) in either theme; nothing runs out at 360 px."""
    for theme in ("light", "dark"):
        page.emulate_media(color_scheme=theme)
        rules = ["wcag2a", "wcag2aa", "wcag21aa"]
        found = Axe().run(page, options={"runOnly": rules}).response["violations"]
        serious = [v for v in found if v["impact"] in ("serious", "critical")]
        shown = [(v["id"], [n["html"][:160] for n in v["nodes"][:3]]) for v in serious]
        assert not serious, (page.url, theme, shown)
    size = page.viewport_size
    page.set_viewport_size({"width": 360, "height": 740})
    assert page.evaluate("document.documentElement.scrollWidth") <= 360, page.url
    assert size
    page.set_viewport_size(size)
