"""A sheet without a value that its topology cannot do without: one sentence everywhere, no verdict."""

from __future__ import annotations

from pathlib import Path

import pytest

from clampwright import actions
from clampwright.actions.waves import impulses
from clampwright.errors import InputError
from command_line import clampwright

BAD_INPUT = 64
MISSING = {  # topology → what its sheet lacks, as every question says it
    "T18": "network.values.limiting current: not judged: T18 needs its limiting current",
    "T9": (
        "network.classes.suppressor: not judged: T9 needs its bulk suppressor from the middle node to "
        "ground; voltage that biases the middle node"
    ),
    "T5": "amplifier.guard_offset: not judged: T5 needs its offset of the guard follower",
}
QUESTIONS = {
    "check": actions.check,
    "faults": actions.faults,
    "part faults": actions.part_faults,
    "window": actions.window,
    "rank": actions.rank,
    "next": actions.next_readings,
    "waves": lambda case: actions.fault_waves(case, 1),
    "impulses": impulses,
}


def sheet_of(folder: Path, topology: str, more: str = "") -> Path:
    """The design of a fresh workspace moved to a topology, as by hand."""
    actions.new_workspace(folder)
    sheet = folder / "designs" / "my-input.toml"
    text = sheet.read_text("utf-8").replace('topology = "T6"', f'topology = "{topology}"')
    assert f'"{topology}"' in text
    sheet.write_text(text + more, "utf-8")
    return sheet


@pytest.mark.parametrize("topology", MISSING)
def test_every_question_says_what_is_missing_in_the_same_words(
    tmp_path: Path, topology: str
) -> None:
    case = actions.open_case(sheet_of(tmp_path / "w", topology))
    told = set()
    for ask in QUESTIONS.values():
        with pytest.raises(InputError) as refused:
            ask(case)
        told.add(str(refused.value))
    assert len(told) == 1 and told.pop().startswith(MISSING[topology])


@pytest.mark.parametrize("command", ["check", "faults", "rank", "next"])
def test_the_command_line_says_it_and_prints_no_verdict(tmp_path: Path, command: str) -> None:
    said = clampwright(command, sheet_of(tmp_path / "w", "T18"))
    assert (said.code, said.out) == (BAD_INPUT, "")
    assert MISSING["T18"] in said.complaint


def test_with_the_value_it_is_judged(tmp_path: Path) -> None:
    sheet = sheet_of(tmp_path / "w", "T18", '\n[network.values]\n"limiting current" = "5 mA"\n')
    case = actions.open_case(sheet)
    assert actions.check(case, further=False).verdict and actions.faults(case).verdict


@pytest.mark.parametrize(("stated", "told"), [
    ('"clamp rail positive" = "4 A"', "is a current, not a voltage"),
    ('"clamp rail" = "4 V"', 'topology T3 has no part "clamp rail"'),
])  # fmt: skip
def test_what_is_stated_wrongly_is_told_before_what_is_missing(
    tmp_path: Path, stated: str, told: str
) -> None:
    case = actions.open_case(sheet_of(tmp_path / "w", "T3", f"\n[network.values]\n{stated}\n"))
    with pytest.raises(InputError, match=told):
        actions.check(case)
