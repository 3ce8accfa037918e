"""The requirement page: every field of a design can be entered, and is understood as it was meant."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Page, expect
from served import orchard, serving
from web_looks import assert_accessible

from clampwright import actions
from clampwright.web.fields import CHOICE_WORDS, every_field
from clampwright.web.requirement_page import fault_words

DESIGN = "/w/orchard/orchard-probe/requirement"
FORM = (
    "requirement",
    "source",
    "board",
    "rails",
    "amplifier",
)  # sections that lead to the allowance


def test_every_field_of_a_design_is_asked_for_here_or_on_the_network_page() -> None:
    wanted = {name for name in actions.design_fields() if not name.startswith("network.")}
    asked = [field.generic for field in every_field()]
    assert set(asked) == wanted and len(asked) == len(wanted)


def test_plain_words_are_of_words_that_the_sheet_has() -> None:
    for name, words in CHOICE_WORDS.items():
        assert set(words) <= set(actions.design_fields()[name].choices), name


def test_every_field_says_what_follows_from_leaving_it_empty(client: httpx.Client) -> None:
    page = client.get(DESIGN).text
    for field in every_field():
        facts = actions.design_fields()[field.generic]
        said = facts.required or facts.default or field.empty
        assert said or field.generic == "note", field.name
    assert "placeholder" not in page.split('id="form"')[1].split("</form>")[0]


def fields_of(sheet: Path) -> dict[str, str]:
    """The scalar fields of the sections of a sheet that lead to the allowance, as a person types them."""
    found = tomllib.loads(sheet.read_text("utf-8"))
    words: dict[Any, str] = {True: "yes", False: "no"}
    return {
        f"{table}.{name}": words[value] if isinstance(value, bool) else str(value)
        for table in FORM
        for name, value in found[table].items()
    }


def allowances(where: str, design: str) -> list[tuple[float, float, float, float]]:
    """What the server says is allowed: temperature, source resistance, error, leakage."""
    found = httpx.get(f"{where}/api/designs/{design}/check", trust_env=False, timeout=60).json()
    names = ("sensor_temperature", "source_resistance", "error", "leakage")
    return [tuple(row[name]["value"] for name in names) for row in found["allowances"]]


def open_everything(page: Page) -> None:
    """Every disclosure of the form, by its summary."""
    for summary in page.locator("form summary").all():
        if not summary.evaluate("one => one.parentElement.open"):
            summary.click()


@pytest.mark.browser
def test_a_glass_electrode_is_entered_from_scratch(page: Page, tmp_path: Path) -> None:
    demo = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    actions.new_workspace(tmp_path / "mine")
    with serving(tmp_path) as where:
        page.goto(f"{where}/w/mine/my-input/requirement")
        open_everything(page)
        stated = actions.written_fields(
            *_sheet_and_hash(tmp_path / "mine" / "designs" / "my-input.toml")
        )
        wanted = fields_of(demo)
        for name in [n for n in stated if n.split(".")[0] in FORM and n not in wanted]:
            page.locator(f"[name='{name}']").fill("")
        for name, text in wanted.items():
            control = page.locator(f"[name='{name}']")
            if control.evaluate("one => one.tagName") == "SELECT":
                control.select_option(text)
            else:
                control.fill(text)
        page.locator("[name='requirement.accuracy']").press("Tab")
        echo = page.locator("[data-echo='requirement.accuracy']")
        expect(echo).to_have_text(
            "0.05 pH = 2.79\u2009mV at 8.0\u2009°C"
        )  # 0.05 · 55.79 mV at 8 °C
        with page.expect_navigation():
            page.get_by_role("button", name="Keep these values").click()
        mine = allowances(where, "mine/my-input")
        for ours, theirs in zip(mine, allowances(where, "orchard/orchard-probe"), strict=True):
            assert ours == pytest.approx(theirs, rel=1e-12, abs=0)


def _sheet_and_hash(sheet: Path) -> tuple[Path, str]:
    return sheet, actions.open_case(sheet).design_hash


@pytest.mark.browser
def test_a_number_without_its_unit_is_refused_and_others_are_echoed(
    page: Page, tmp_path: Path
) -> None:
    sheet = actions.demo_workspace(tmp_path / "press", "press")
    with serving(tmp_path) as where:
        page.goto(f"{where}/w/press/press-load/requirement")
        accuracy = page.get_by_label("Accuracy", exact=True)
        error = page.locator("[id='e-requirement.accuracy']")
        echo = page.locator("[data-echo='requirement.accuracy']")
        expect(echo).to_have_text("5.00\u2009µV")
        accuracy.fill("5")
        accuracy.press("Tab")
        expect(error).to_have_text('5 has no unit; write the unit, as in "5 µV".')
        expect(echo).to_be_hidden()
        page.get_by_role("button", name="Keep these values").click()
        expect(accuracy).to_be_focused()
        assert 'accuracy = "5 µV"' in sheet.read_text("utf-8")
        accuracy.fill("5 µV")
        page.get_by_label("Settle to").fill("0.1")
        page.get_by_label("Settle to").press("Tab")
        expect(error).to_be_hidden()
        expect(page.locator("[data-echo='requirement.settle_to']")).to_have_text("= 10.0\u2009%")
        warmest = page.get_by_label("Warmest board")
        warmest.fill("45 K")
        warmest.press("Tab")
        expect(page.locator("[id='e-board.temperature_maximum']")).to_contain_text(
            "cannot be meant"
        )
        warmest.fill("55 °C")
        page.get_by_label("Settle to").fill("0.1 %")  # as it was: nothing to lose


@pytest.mark.browser
def test_what_is_not_known_is_emptied_and_a_removal_is_undone_by_keyboard(
    page: Page, tmp_path: Path
) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    with serving(tmp_path) as where:
        page.goto(where + DESIGN)
        share = page.get_by_label("Share for the protection")
        share.focus()
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        expect(share).to_have_value("")
        expect(share).to_be_focused()
        note = page.locator("[id='n-requirement.protection_share']")
        expect(note).to_contain_text("Not stated: 33.3\u2009% is taken, listed as a default.")
        share.fill("1/3")
        expect(page.locator("#state")).to_have_text("nothing changed")
        for name in ("F2", "F5"):
            page.get_by_role("button", name=f"Remove fault {name}").focus()
            page.keyboard.press("Enter")
        page.get_by_role("button", name="Undo: keep fault F2").focus()
        page.keyboard.press("Enter")
        expect(page.locator("#state")).to_have_text("1 to remove, not kept yet")
        assert '"F5"' in sheet.read_text("utf-8")
        page.locator("[data-fault='1'] summary").click()
        page.get_by_label("Voltage of fault F1").fill("16 V")
        with page.expect_navigation():
            page.get_by_role("button", name="Keep these values").click()
        text = sheet.read_text("utf-8")
        assert '"F5"' not in text and '"F2"' in text
        assert 'voltage = "16 V"                    # a 12 V battery lead, charging' in text
        first = page.locator("[data-fault='1'] summary")
        expect(first).to_contain_text(
            "±16.0\u2009V, direct voltage, both signs, continuous, board on"
        )
        open_everything(page)
        assert_accessible(page)
        inputs = page.locator(".fault input:visible, fieldset input:visible")
        cut = inputs.evaluate_all(
            "all => all.filter(one => one.scrollWidth > one.clientWidth).map(one => one.name)"
        )
        assert not cut


def test_a_fault_is_told_with_what_is_taken(tmp_path: Path) -> None:
    faults = actions.open_case(actions.demo_workspace(tmp_path / "press", "press")).design.faults
    assert "one sign" in fault_words(faults[0]) and "2 inputs at once" in fault_words(faults[1])
    assert fault_words(faults[2]).startswith("−30.0")
    assert fault_words(faults[4]).startswith("±1.00\u2009kV, fast bursts, both signs")
    assert "through 42.0\u2009Ω" in fault_words(faults[5])
