"""docs/topologies.md and its drawings say what the catalogue says."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

from clampwright.network.topologies import CATALOGUE

ROOT = Path(__file__).resolve().parents[1]
TOOL = ROOT / "tools" / "make_topologies.py"
PAGE = ROOT / "docs" / "topologies.md"


def test_page_and_drawings_are_up_to_date() -> None:
    checked = subprocess.run([sys.executable, TOOL, "--check"], capture_output=True, text=True)
    assert checked.returncode == 0, checked.stderr or f"run: python {TOOL.relative_to(ROOT)}"


def test_every_topology_stands_on_the_page_with_its_drawing() -> None:
    page = PAGE.read_text("utf-8")
    headings = re.findall(r"^## (T\d+) (.+)$", page, re.MULTILINE)
    assert headings == [(t.name, t.title) for t in CATALOGUE.values()]
    for name in CATALOGUE:
        root = ElementTree.parse(ROOT / "docs" / "topologies" / f"{name}.svg").getroot()
        assert root[0].tag.endswith("title")
        assert f"](topologies/{name}.svg)" in page


def test_every_link_of_the_list_has_its_heading() -> None:
    page = PAGE.read_text("utf-8")
    links = re.findall(r"\]\(#([^)]+)\)", page)
    headings = re.findall(r"^## (.+)$", page, re.MULTILINE)
    slugs = {re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in headings}
    assert len(links) == len(CATALOGUE) and set(links) <= slugs
