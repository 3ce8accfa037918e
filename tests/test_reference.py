"""docs/sheets.md says what the models read, field by field."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TOOL = ROOT / "tools" / "make_reference.py"


def test_the_page_is_up_to_date(tmp_path: Path) -> None:
    checked = subprocess.run([sys.executable, TOOL, "--check"], capture_output=True, text=True)
    assert checked.returncode == 0, checked.stderr or f"run: python {TOOL.relative_to(ROOT)}"
    page = (ROOT / "docs" / "sheets.md").read_text("utf-8")
    assert "| `settle_time` | a time (s)" in page and "| `reverse voltage` | yes |" in page
    assert "T15 is always a pair, T13 never |" in page  # refused otherwise


def test_no_words_are_left_over() -> None:
    """A field that is gone must not leave its words behind."""
    page = (ROOT / "docs" / "sheets.md").read_text("utf-8")
    words = tomllib.loads((ROOT / "tools" / "field_words.toml").read_text("utf-8"))
    for model, fields in words.items():
        for name, text in fields.items():
            assert f"| {text} |" in page, f"{model}.{name}"
