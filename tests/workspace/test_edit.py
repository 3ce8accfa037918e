"""Single fields of a sheet: comments stay, a conflict writes nothing, nothing leaves the folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from clampwright import actions
from clampwright.errors import ConflictError, InputError
from clampwright.workspace.edit import changed_text
from clampwright.workspace.folder import content_hash
from clampwright.workspace.shelf import HERE, find_workspaces


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """The design of a fresh workspace."""
    actions.demo_workspace(tmp_path / "orchard", "orchard")
    return tmp_path / "orchard" / "designs" / "orchard-probe.toml"


def test_one_line_changes_and_every_other_stays(sheet: Path) -> None:
    before = sheet.read_text("utf-8").splitlines()
    base = content_hash(sheet.read_bytes())
    new = actions.change_design(sheet, {"board.temperature_maximum": "60 °C"}, base)
    after = sheet.read_text("utf-8").splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert changed == [
        ('temperature_maximum = "45 °C"       # sun on the box',
         'temperature_maximum = "60 °C"       # sun on the box')
    ]  # fmt: skip
    assert new == content_hash(sheet.read_bytes())
    assert not [
        p for p in sheet.parent.iterdir() if p.name.startswith(".")
    ]  # no temporary file left


def test_kinds_of_values_are_written_as_the_sheet_has_them(sheet: Path) -> None:
    text = changed_text(
        sheet.read_text("utf-8"),
        {
            "rails.can_sink": "yes",
            "network.outer_resistor.count": "3",
            "requirement.accuracy": "0.1",
            "faults.2.voltage": "30 V",
            "board.lamp": "",
            "network.inner_resistor.package": "",
        },
        "x.toml",
    )
    for line in ("can_sink = true", "count = 3", "accuracy = 0.1", 'voltage = "30 V"'):
        assert line in text
    assert "daylight" not in text
    assert text.count('voltage = "15 V"') == 2


@pytest.mark.parametrize("changes", [
    {"board.temperature_maximum": "hot"}, {"nothing": "1"}, {"network": "T2"}, {"faults.6.voltage": "1 V"},
    {"title": "x\u2028y"}, {"title": "x" * 501}, {"requirement.accuracy": "inf"},
    {"title": "good", "rails.positive": ""},
])  # fmt: skip
def test_what_is_no_design_any_more_is_not_written(sheet: Path, changes: dict[str, str]) -> None:
    before = sheet.read_bytes()
    with pytest.raises(InputError):
        actions.change_design(sheet, changes, content_hash(before))
    assert sheet.read_bytes() == before


def test_a_sheet_changed_elsewhere_is_not_written_over(sheet: Path) -> None:
    base = content_hash(sheet.read_bytes())
    sheet.write_text(sheet.read_text("utf-8") + "\n# by hand\n", "utf-8")
    before = sheet.read_bytes()
    with pytest.raises(
        ConflictError, match="changed elsewhere since it was read; nothing was written"
    ):
        actions.change_design(sheet, {"title": "mine"}, base)
    assert sheet.read_bytes() == before


def test_what_if_shares_the_evidence_and_writes_nothing(sheet: Path) -> None:
    case, before = actions.open_case(sheet), sheet.read_bytes()
    varied = actions.what_if(case, sheet, {"board.illuminance_maximum": "0 lx"})
    assert varied.evidence is case.evidence
    assert varied.hash != case.hash
    assert varied.design.board.illuminance_maximum == 0
    assert sheet.read_bytes() == before


def test_written_fields_go_back_unchanged(sheet: Path) -> None:
    case = actions.open_case(sheet)
    written = actions.written_fields(sheet, case.design_hash)
    assert written["faults.1.voltage"] == "15 V" and written["rails.can_sink"] == "no"
    names = list(written)
    for some in (names[:50], names[50:]):
        again = actions.what_if(case, sheet, {name: written[name] for name in some})
        assert again.design == case.design


def test_workspaces_are_the_folder_itself_and_its_subfolders(tmp_path: Path, sheet: Path) -> None:
    outside = tmp_path / "orchard" / "elsewhere"
    outside.symlink_to(tmp_path.parent, target_is_directory=True)
    assert set(find_workspaces(tmp_path)) == {"orchard"}
    here = find_workspaces(tmp_path / "orchard")
    assert set(here) == {HERE} and here[HERE].design("orchard-probe") == sheet
    with pytest.raises(InputError, match="no design"):
        here[HERE].design("../orchard-probe")
