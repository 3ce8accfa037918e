"""Entries of the lists in a sheet: comments stay, a conflict writes nothing."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampwright import actions
from clampwright.errors import ConflictError, InputError
from clampwright.faults.presets import FROM_MEMORY
from clampwright.workspace.edit_lists import with_entry, without_entry
from clampwright.workspace.folder import content_hash, read_design


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """The design of a fresh workspace."""
    return actions.demo_workspace(tmp_path / "orchard", "orchard")


def hash_of(path: Path) -> str:
    return content_hash(path.read_bytes())


@pytest.mark.parametrize("preset", actions.fault_presets(), ids=lambda preset: preset.key)
def test_every_preset_makes_a_design_that_can_be_read_and_removed_again(
    sheet: Path, preset: object
) -> None:
    before = sheet.read_text("utf-8")
    count = len(read_design(sheet)[0].faults)
    actions.add_fault(sheet, preset.key, hash_of(sheet))
    faults = read_design(sheet)[0].faults
    assert len(faults) == count + 1 and faults[-1].name == f"F{count + 1}"
    assert not faults[-1].standard or FROM_MEMORY in faults[-1].standard
    comments = [line for line in before.splitlines() if "#" in line]
    assert all(line in sheet.read_text("utf-8") for line in comments if "acknowledged" not in line)
    actions.remove_fault(sheet, count + 1, hash_of(sheet))
    assert tomllib.loads(sheet.read_text("utf-8")) == tomllib.loads(before)


def test_the_numbers_of_the_presets_are_those_of_the_standards() -> None:
    """IEC 61000-4-2 levels 1 to 4 contact 2, 4, 6, 8 kV; IEC 61000-4-5 42 Ω (from memory)."""
    fields = {p.key: p.fields for p in actions.fault_presets()}
    contact = [fields[f"esd-contact-{kilovolts}"]["voltage"] for kilovolts in (2, 4, 6, 8)]
    assert contact == ["2 kV", "4 kV", "6 kV", "8 kV"]
    assert fields["surge-1"]["source_resistance"] == "42 Ω"
    assert fields["hbm-2"]["source_resistance"] == "1.5 kΩ"


def test_the_signal_before_the_supply_takes_the_signal_of_the_design(sheet: Path) -> None:
    actions.add_fault(sheet, "signal-first", hash_of(sheet))
    assert read_design(sheet)[0].faults[-1].voltage == pytest.approx(0.237, abs=1e-12)


def test_a_new_reason_for_a_gate_takes_an_old_acknowledgement_away(sheet: Path) -> None:
    actions.change_design(sheet, {"surroundings.acknowledged": "A. Reader"}, hash_of(sheet))
    actions.add_fault(sheet, "esd-contact-4", hash_of(sheet))
    assert read_design(sheet)[0].surroundings.acknowledged == "A. Reader"
    actions.add_fault(sheet, "mains-230", hash_of(sheet))
    assert read_design(sheet)[0].surroundings.acknowledged == ""


def test_a_conflict_and_what_is_not_there_write_nothing(sheet: Path) -> None:
    before = sheet.read_bytes()
    with pytest.raises(ConflictError):
        actions.add_fault(sheet, "ac-24", "0" * 64)
    with pytest.raises(InputError, match="no fault preset"):
        actions.add_fault(sheet, "earthquake", hash_of(sheet))
    for number in (0, 6, 10**9):
        with pytest.raises(InputError, match="there is no entry"):
            actions.remove_fault(sheet, number, hash_of(sheet))
    assert sheet.read_bytes() == before


@given(st.integers(0, 5), st.integers(1, 5))
def test_removing_one_keeps_the_others_and_their_comments(count: int, number: int) -> None:
    text = 'title = "x" # a title\n' + "".join(
        f'\n# above {n}\n[[faults]]\nname = "F{n}" # note {n}\n' for n in range(1, count + 1)
    )
    if number > count:
        with pytest.raises(InputError):
            without_entry(text, "faults", number, "x.toml")
        return
    left = without_entry(text, "faults", number, "x.toml")
    names = [f["name"] for f in tomllib.loads(left).get("faults", [])]
    assert names == [f"F{n}" for n in range(1, count + 1) if n != number]
    assert all(f"# note {n}" in left for n in range(1, count + 1) if n != number)


PIECES = [
    "", "# a note", "[[faults]]", 'key{n} = "x"  # y', 'key{n} = "# none"', "[board{n}]",
    "[[faults]]\nname = 'y'", "key{n} = '''\n[[faults]]\n'''", "key{n} = [\n[ 1 ],\n]",
]  # fmt: skip
"""Lines of a sheet, each with a number of its own in place of {n}."""


@pytest.mark.parametrize("ending", ["\n", "\r\n"])
@given(st.lists(st.sampled_from(PIECES), max_size=8), st.sampled_from(["", "\n", "\n\n\n"]))
def test_an_entry_added_and_removed_gives_back_the_same_text(
    ending: str, pieces: list[str], last: str
) -> None:
    lines = [piece.replace("{n}", str(n)) for n, piece in enumerate(pieces)]
    text = ("\n".join(lines) + last).replace("\n", ending)
    before = tomllib.loads(text)
    more = with_entry(text, "faults", {"name": "new", "both_signs": True}, "x.toml")
    faults = [*before.get("faults", []), {"name": "new", "both_signs": True}]
    assert tomllib.loads(more) == before | {"faults": faults}
    assert without_entry(more, "faults", len(faults), "x.toml") == text


def test_a_new_fault_stands_after_the_others_and_before_what_is_said_of_the_next_section() -> None:
    text = '[[faults]]\nname = "F1"  # seen\n\n# where it stands\n[board]\n'
    assert with_entry(text, "faults", {"name": "F2"}, "x.toml") == (
        '[[faults]]\nname = "F1"  # seen\n\n[[faults]]\nname = "F2"\n\n# where it stands\n[board]\n'
    )


@pytest.mark.parametrize("demo", actions.DEMOS)
def test_a_design_keeps_its_hash_when_a_fault_comes_and_goes(tmp_path: Path, demo: str) -> None:
    actions.demo_workspace(tmp_path / demo, demo)
    for design in sorted((tmp_path / demo / "designs").glob("*.toml")):
        before = hash_of(design)
        added = actions.add_fault(design, "ac-24", before)
        assert added != before
        number = len(read_design(design)[0].faults)
        assert actions.remove_fault(design, number, added) == before


def test_a_list_in_one_line_and_a_section_that_is_none() -> None:
    for line in ("faults = []\n", 'faults = [{name = "F1"}]\n'):
        added = with_entry(line, "faults", {"name": "F2"}, "x.toml")
        assert without_entry(added, "faults", len(tomllib.loads(added)["faults"]), "x.toml") == line
    assert [f["name"] for f in tomllib.loads(added)["faults"]] == ["F1", "F2"]
    with pytest.raises(InputError, match="is not a list"):
        with_entry("faults = 3\n", "faults", {"name": "F2"}, "x.toml")
    fresh = with_entry('title = "x"\n', "faults", {"name": "F1"}, "x.toml")
    assert tomllib.loads(fresh)["faults"] == [{"name": "F1"}]
