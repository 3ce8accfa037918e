"""The record page in a real Chromium: exports open, records are kept and compared."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest
from playwright.sync_api import Page, expect
from served import orchard, serving
from web_looks import assert_accessible

pytestmark = pytest.mark.browser

DESIGN = "/w/orchard/orchard-probe"
RECORD = f"{DESIGN}/record"
LONGEST = 90_000  # [ms] at most for a ranking on a busy machine
TYPES = {
    "record.pdf": ("application/pdf", b"%PDF-"),
    "record.html": ("text/html", b"<!DOCTYPE html>"),
    "preview.png": ("image/png", b"\x89PNG"),
    "budget.csv": ("text/csv", b"judgement"),
    "shortlist.csv": ("text/csv", b"part,"),
    "schematic.svg": ("image/svg+xml", b"<svg"),
    "budget.svg": ("image/svg+xml", b"<svg"),
    "leakage.svg": ("image/svg+xml", b"<svg"),
    "window.svg": ("image/svg+xml", b"<svg"),
    "stress.svg": ("image/svg+xml", b"<svg"),
}


def test_exports_open_and_two_records_are_compared(page: Page, tmp_path: Path) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    with serving(tmp_path) as where:
        _rank(page, where)
        _exports(where)
        with page.expect_download() as waiting:
            page.get_by_role("link", name="Download the PDF").click()
        assert waiting.value.suggested_filename == "orchard-probe-record.pdf"
        assert Path(waiting.value.path()).read_bytes().startswith(b"%PDF-")
        _keep(page, "1")
        _keep(page, "1")  # the same inputs keep their number
        text = sheet.read_text("utf-8").replace('"200 lx"', '"50 lx"')
        sheet.write_text(text.replace('"Orchard probe"', '"Orchard <b>probe</b>"'), "utf-8")
        _rank(page, where)
        _keep(page, "2")
        page.get_by_role("button", name="Show what changed").click()
        shown = page.locator("#difference")
        expect(shown).to_contain_text("board.illuminance_maximum")
        expect(shown).to_contain_text("200 lx")
        expect(shown).to_contain_text("Orchard <b>probe</b>")  # as text
        expect(shown).to_contain_text("whole input: error")
        assert_accessible(page)
        page.goto("about:blank")  # leave before the server does


def _rank(page: Page, where: str) -> None:
    page.goto(f"{where}{RECORD}")
    page.get_by_role("button", name="Rank, then make the record").click()
    expect(page.get_by_role("link", name="Download the PDF")).to_be_visible(timeout=LONGEST)
    preview = page.locator("img.preview")
    preview.scroll_into_view_if_needed()
    expect(preview).to_have_js_property("complete", True, timeout=LONGEST)
    assert preview.evaluate("image => image.naturalWidth") > 700


def _keep(page: Page, number: str) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name="Keep this record").click()
    expect(page.locator("main table tbody tr").first.locator("td").first).to_have_text(number)


def _exports(where: str) -> None:
    with httpx.Client(base_url=where, trust_env=False, timeout=60) as client:
        for name, (kind, start) in TYPES.items():
            answer = client.get(f"{RECORD}/{name}", params={"save": "true"})
            assert answer.status_code == 200, name
            assert answer.headers["content-type"].startswith(kind), name
            assert answer.headers["content-disposition"].endswith(f'-{name}"'), name
            assert answer.headers["x-content-type-options"] == "nosniff"
            assert answer.content.startswith(start), (name, answer.content[:40])
        assert client.get(f"{RECORD}/record.pdf", params={"paper": "a3"}).status_code == 422
        assert client.get(f"{RECORD}/passwd").status_code == 404
