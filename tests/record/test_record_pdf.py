"""The printed record: a real PDF whose text can be taken out, hostile text stays text."""

from __future__ import annotations

import re
import zlib
from pathlib import Path

import pytest

from clampwright import actions
from clampwright.errors import InputError

HOSTILE = '#panic("no") $ * _ <script>alert(1)</script> ] )'


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small demonstration of which two records are kept."""
    root = tmp_path_factory.mktemp("kept") / "orchard"
    sheet = actions.demo_workspace(root, "orchard")
    for part in (root / "parts").glob("*.toml"):
        if part.stem != "npn-small":
            part.unlink()
    for change in ({}, {"board.illuminance_maximum": "50 lx", "title": HOSTILE}):
        case = actions.open_case(sheet)
        actions.change_design(sheet, change, case.design_hash)
        case = actions.open_case(sheet)
        ranked = actions.rank(case)
        number = actions.keep_record(case, sheet, ranked).number
        assert actions.keep_record(case, sheet, ranked).number == number  # same inputs, same number
        for name in ("r.pdf", "r.html"):
            actions.record(case, root / f"{number}{name}", ranked=ranked, kept=str(number))
    return sheet


def codes(pdf: bytes) -> str:
    """Every character that the fonts of a PDF map to Unicode (ToUnicode tables, ISO 32000-1, 9.10.3)."""
    found = set()
    for packed in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            text = zlib.decompress(packed)
        except zlib.error:
            continue
        if b"beginbfchar" in text or b"beginbfrange" in text:
            for code in re.findall(rb"(?m)^<[0-9A-Fa-f]+> *<([0-9A-Fa-f]+)>\s*$", text):
                found.update(bytes.fromhex(code.decode()).decode("utf-16-be"))  # "fi" is one glyph
    return "".join(sorted(found))


def test_the_file_is_a_pdf_with_text_that_can_be_taken_out(kept: Path) -> None:
    root = kept.parents[1]
    for name in ("1r.pdf", "2r.pdf"):
        data = (root / name).read_bytes()
        assert data.startswith(b"%PDF-") and b"%%EOF" in data[-1024:]
        assert set("Protectindsgrcu▲○Ω±") <= set(codes(data))
        assert b"/Lang" in data and b"/StructTreeRoot" in data  # tagged for screen readers
    assert b"/JavaScript" not in data and b"/Launch" not in data


def test_hostile_text_is_escaped_on_the_page(kept: Path) -> None:
    text = (kept.parents[1] / "2r.html").read_text("utf-8")
    assert "<script>alert" not in text and "&lt;script&gt;alert(1)" in text


def test_numbers_are_given_once_and_kept(kept: Path) -> None:
    case = actions.open_case(kept)
    assert actions.kept_records(case, kept) == (1, 2)
    first = actions.kept_record(case, kept, 1)
    assert first.sheet["board.illuminance_maximum"] == "200 lx"
    assert set(first.results) == {"check", "faults", "rank"}
    checked = actions.CheckResult.model_validate(first.results["check"])
    assert checked.design.board.illuminance_maximum == pytest.approx(200.0, abs=1e-12)


def test_the_difference_names_the_changed_field_and_its_answers(kept: Path) -> None:
    found = actions.record_difference(actions.open_case(kept), kept, 1, 2)
    inputs = {name: (before, after) for name, before, after in found.inputs}
    assert inputs == {
        "title": ("Orchard probe", HOSTILE),
        "board.illuminance_maximum": ("200 lx", "50 lx"),
    }
    changed = {name for name, _, _ in found.answers}
    assert "protection: clamp, light and bias current: error" in changed
    assert not {name for name in changed if "margin" in name}
    same = actions.record_difference(actions.open_case(kept), kept, 2, 2)
    assert same.inputs == () and same.answers == ()


def test_what_is_not_there_or_damaged_is_a_sentence(kept: Path) -> None:
    case = actions.open_case(kept)
    with pytest.raises(InputError, match="there is no record 9"):
        actions.record_difference(case, kept, 1, 9)
    with pytest.raises(InputError, match=r"ends in \.html or \.pdf"):
        actions.record(case, kept.parent / "r.docx")
    with pytest.raises(InputError, match="there is no folder"):
        actions.check_target(kept.parent / "not" / "there" / "r.html")
    assert not (kept.parent / "not").exists()
    file = case.workspace.root / "records" / kept.stem / "0001.json"
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(InputError, match="damaged"):
        actions.kept_record(case, kept, 1)
    file.write_bytes(whole)


def test_another_paper_is_refused(kept: Path) -> None:
    case = actions.open_case(kept)
    ranked = actions.rank(case)
    with pytest.raises(InputError, match='no paper "a3"'):
        actions.record(case, kept.parents[1] / "x.pdf", ranked=ranked, paper="a3")
