"""Every topology is reached from the network page, and what cannot be judged does not look judged."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from looking import assert_accessible, assert_narrow
from playwright.sync_api import Page, expect
from served import serving

from clampwright import actions
from clampwright.actions.topology_values import topology_values
from clampwright.web.problems import field_problems

DESIGN = "/api/designs/first/my-input"
PAGE = "/w/first/my-input/network"
RAILS = {"network.values.clamp rail positive": "4 V", "network.values.clamp rail negative": "-4 V"}
SHUNTS = {f"network.classes.shunt {sign}": "zener below 5 V" for sign in ("positive", "negative")}
TYPED = {
    **RAILS,
    **SHUNTS,
    "network.values.middle bias": "0 V",
    "network.values.source with contact voltage": "2 µV",
    "network.values.limiting current": "5 mA",
    "network.classes.suppressor": "suppressor 12 V",
    "amplifier.guard_offset": "250 µV",
}
"""A text for every field that some topology cannot do without, as somebody would type it."""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """A workspace to start from, served; its sheet."""
    root = tmp_path_factory.mktemp("network")
    actions.new_workspace(root / "first")
    with serving(root) as where:
        yield where, root / "first" / "designs" / "my-input.toml"


@pytest.fixture
def first(place: tuple[str, Path]) -> Iterator[tuple[str, Path]]:
    """The same, with its sheet put back as it was."""
    sheet = place[1]
    before = sheet.read_bytes()
    yield place
    sheet.write_bytes(before)


def needed(topology: str, sheet: Path) -> dict[str, str]:
    """Fields that the page says the topology needs, with what is typed into them."""
    asked = topology_values(actions.open_case(sheet).design)[topology]
    return {one.field: TYPED[one.field] for one in asked if one.needed}


@pytest.mark.parametrize("topology", actions.topologies())
def test_a_topology_with_what_it_asks_for_gets_its_verdicts(
    place: tuple[str, Path], topology: str
) -> None:
    where, sheet = place
    with httpx.Client(base_url=where + DESIGN, trust_env=False, timeout=60) as client:
        base = client.get("/hash").json()["design_hash"]
        wanted = needed(topology, sheet)

        def ask(ending: str, changes: dict[str, str]) -> tuple[int, Any]:
            answer = client.post(ending, json={"base": base, "changes": changes})
            return answer.status_code, answer.json()

        status, found = ask("/rest", {"network.topology": topology, **wanted})
        assert status == 200, found
        assert re.search("error (PASS|FAIL|UNDECIDED|NOT MEASURED)", found["word"]), found["word"]
        assert re.search("faults (PASS|FAIL|UNDECIDED|NOT MEASURED)", found["word"]), found["word"]
        for (
            left
        ) in wanted:  # without it: one sentence at its field, from the error or from the faults
            short = {field: text for field, text in wanted.items() if field != left}
            for ending in ("/try", "/rest", "/change"):  # shown nowhere, kept nowhere
                status, found = ask(ending, {"network.topology": topology, **short})
                assert status == 422, (ending, found)
                assert list(found["fields"]) == [left], (ending, found)


LACKING = "T18 needs its limiting current"
PAGES = [
    "requirement", "network", "faults", "shortlist", "evidence", "bench", "curves", "next", "record",
]  # fmt: skip


def test_a_sheet_that_lacks_a_value_opens_on_every_page_and_is_judged_on_none(
    first: tuple[str, Path],
) -> None:
    where, sheet = first
    text = sheet.read_text("utf-8").replace('topology = "T6"', 'topology = "T18"')
    sheet.write_text(text, "utf-8")
    with httpx.Client(base_url=where, trust_env=False, timeout=60) as client:
        for name in PAGES:
            answer = client.get(f"/w/first/my-input/{name}")
            assert answer.status_code == 200, name
            assert LACKING in answer.text, name
        base = client.get(f"{DESIGN}/hash").json()["design_hash"]
        as_kept = {"base": base, "changes": {}}
        other = {"changes": {}, "other": "my-network", "other_changes": {}}
        asked = [client.get(f"{DESIGN}/{name}") for name in ("check", "faults", "verdict", "next")]
        asked += [
            client.post(f"{DESIGN}/{name}", json=as_kept) for name in ("try", "rest", "window")
        ]
        asked += [client.post(f"{DESIGN}/beside", json=other)]
        assert [answer.status_code for answer in asked] == [422] * 8
        assert {answer.json()["error"] for answer in asked} == {asked[0].json()["error"]}
        assert LACKING in asked[0].json()["error"]
        tried = {"base": base, "changes": {"network.values.limiting current": "5 mA"}}
        assert "error PASS" in client.post(f"{DESIGN}/rest", json=tried).json()["word"]


@pytest.mark.parametrize("topology", actions.topologies())
def test_what_may_be_left_empty_says_what_stands_in_for_it(
    place: tuple[str, Path], topology: str
) -> None:
    asked = topology_values(actions.open_case(place[1]).design)[topology]
    assert len({one.field for one in asked}) == len(asked)
    for one in asked:
        assert one.needed == one.otherwise.startswith("needed")
        assert one.needed or re.search("taken|left out|noted", one.otherwise), one


def test_a_value_of_a_circuit_is_kept_and_an_inner_resistor_goes_with_its_value(
    first: tuple[str, Path],
) -> None:
    _, sheet = first
    base = actions.open_case(sheet).design_hash
    changes = {"network.topology": "T3", **RAILS, "network.inner_resistor.value": ""}
    base = actions.change_design(sheet, changes, base)
    design = actions.open_case(sheet).design
    assert design.network.values["clamp rail positive"] == "4 V"
    assert design.network.inner_resistor is None
    actions.change_design(sheet, {"network.inner_resistor.value": "4.7 kΩ"}, base)
    assert actions.open_case(sheet).design.network.inner_resistor is not None
    for name in ("network.values", "network.values.a.b", "network.classes.a\nb"):
        with pytest.raises(actions.ClampwrightError, match=r"section|no such field"):
            actions.what_if(actions.open_case(sheet), sheet, {name: "1 V"})


@pytest.mark.browser
def test_an_own_network_is_tried_in_a_topology_of_the_catalogue(
    page: Page, first: tuple[str, Path]
) -> None:
    page.goto(f"{first[0]}/w/first/my-network/network")
    page.get_by_label("Topology", exact=True).select_option("T2")
    expect(page.locator("#verdict")).to_contain_text("faults PASS")
    expect(page.locator("#state")).to_have_text(
        "2 changed, not kept yet"
    )  # and its series resistor
    page.wait_for_selector("body[data-rested]")


@pytest.mark.parametrize(("sentence", "field"), [
    ('network.values."middle bias": topology T9 needs it', "network.values.middle bias"),
    ("network.classes.shunt positive: topology T3 needs it", "network.classes.shunt positive"),
    ("amplifier.guard_offset: it is not stated", "amplifier.guard_offset"),
    ("x.toml, board.illuminance_maximum: it is a voltage", "board.illuminance_maximum"),
    ("the sheet: it was changed", None),
])  # fmt: skip
def test_a_sentence_finds_its_field(sentence: str, field: str | None) -> None:
    assert list(field_problems(sentence)) == ([field] if field else [])


@pytest.mark.browser
def test_a_refused_choice_looks_refused_until_its_values_are_typed(
    page: Page, first: tuple[str, Path]
) -> None:
    where, sheet = first
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto(where + PAGE)
    strip, keep = page.locator("#verdict"), page.get_by_role("button", name="Keep in the sheet")
    expect(strip).to_contain_text("error PASS")
    page.get_by_label("Topology", exact=True).select_option("T3")
    expect(strip).to_contain_text("not judged")
    expect(strip).to_contain_text("Needed for T3: positive clamp rail")
    expect(strip).not_to_contain_text("PASS")
    expect(page.get_by_text("Not of the present choice")).to_be_visible()
    expect(page.locator("#part-drawing")).to_have_attribute("inert", "")
    expect(keep).to_be_disabled()
    assert_accessible(page)
    assert_narrow(page)
    for label, text in (("Positive clamp rail", "4 A"), ("Negative clamp rail", "-4 V")):
        page.get_by_label(label).fill(text)
        page.get_by_label(label).blur()
    wrong = page.locator("[data-error='network.values.clamp rail positive']")
    expect(wrong).to_contain_text("is a current, not a voltage")
    expect(strip).to_contain_text("is a current, not a voltage")
    page.get_by_label("Positive clamp rail").fill("4 V")
    page.get_by_label("Positive clamp rail").press("Enter")
    expect(strip).to_contain_text("Needed for T3: shunt regulator")
    expect(strip).not_to_contain_text("PASS")
    expect(keep).to_be_disabled()
    for label in ("that sinks", "that sources"):
        page.get_by_label(label).select_option("zener below 5 V")
    expect(strip).to_contain_text("faults PASS")
    expect(page.get_by_text("Not of the present choice")).to_be_hidden()
    with page.expect_navigation():
        keep.click()
    expect(page.locator("#state")).to_have_text("as in the sheet")
    assert '"clamp rail positive" = "4 V"' in sheet.read_text("utf-8")
    page.get_by_label("Topology", exact=True).select_option("T6")
    page.get_by_text("Values of this topology").scroll_into_view_if_needed()
    expect(page.locator("#dropped")).to_contain_text("takes out of the sheet")
    expect(strip).to_contain_text("faults PASS")


@pytest.mark.browser
def test_a_choice_that_lacks_its_values_is_neither_asked_for_nor_kept(
    page: Page, first: tuple[str, Path]
) -> None:
    page.goto(first[0] + PAGE)
    page.wait_for_selector("body[data-rested]")
    refused: list[str] = []
    page.on("response", lambda answer: refused.append(answer.url) if answer.status >= 400 else None)
    strip, step = page.locator("#verdict"), page.locator("nav a[href$='/network'] small")
    kept = step.inner_text()
    topology = page.get_by_label("Topology", exact=True)
    undo, redo = (page.get_by_role("button", name=name) for name in ("Undo", "Redo"))
    topology.select_option("T18")
    expect(strip).to_contain_text("Needed for T18: limiting current")
    expect(strip).not_to_contain_text("PASS")
    expect(page.locator("[data-error='network.values.limiting current']")).to_be_visible()
    expect(page.get_by_role("button", name="Keep in the sheet")).to_be_disabled()
    expect(step).to_have_text(f"as kept: {kept}")
    page.wait_for_timeout(900)  # the next choice is a step of its own
    topology.select_option("T3")
    for button in (undo, undo, redo, redo):
        button.click()
    expect(strip).to_contain_text("Needed for T3")
    undo.click()
    undo.click()
    expect(strip).to_contain_text("error PASS")
    expect(step).to_have_text(kept)
    page.wait_for_timeout(500)
    assert not refused


@pytest.mark.browser
def test_changes_that_are_not_kept_wait_in_this_tab(page: Page, first: tuple[str, Path]) -> None:
    where, sheet = first
    page.goto(where + PAGE)
    page.wait_for_selector("body[data-rested]")
    warmest = page.get_by_label("Warmest board")
    for _ in range(3):
        warmest.press("ArrowRight")
    expect(page.locator("#o2")).to_have_text("65.0 °C")
    page.locator("nav").get_by_role("link", name=re.compile("^Faults")).click()
    expect(page.locator("#unkept")).to_contain_text("1 change on the Network page is not kept")
    page.locator("#unkept").get_by_role("link").click()
    expect(page.locator("#state")).to_have_text("1 changed, not kept yet")
    expect(page.locator("#o2")).to_have_text("65.0 °C")
    sheet.write_text(sheet.read_text("utf-8").replace('"50 °C"', '"70 °C"'), "utf-8")
    warmest.press("ArrowLeft")
    expect(page.locator("#verdict")).to_contain_text("changed elsewhere")
    expect(page.get_by_role("button", name="Keep in the sheet")).to_be_disabled()
    page.get_by_role("button", name="Load it and put my changes on top").click()
    told = page.locator("#told")
    expect(told).to_contain_text("the sheet says 70.0 °C, yours is 60.0 °C")
    expect(page.locator("#o2")).to_have_text("60.0 °C")
    sheet.write_text(sheet.read_text("utf-8").replace('"70 °C"', '"50 °C"'), "utf-8")
    page.goto(where + PAGE)
    expect(told).to_contain_text("1 change made here and not kept is not shown")
    expect(page.locator("#state")).to_have_text("as in the sheet")
    page.get_by_role("button", name="Put it on top").click()
    expect(page.locator("#o2")).to_have_text("60.0 °C")
    page.wait_for_selector("body[data-rested]")


@pytest.mark.browser
def test_moves_of_one_control_are_one_step_until_it_rests(
    page: Page, first: tuple[str, Path]
) -> None:
    page.goto(first[0] + PAGE)
    page.wait_for_selector("body[data-rested]")
    warmest, shown = page.get_by_label("Warmest board"), page.locator("#o2")
    for _ in range(6):
        warmest.press("ArrowRight")
    expect(shown).to_have_text("80.0 °C")
    page.wait_for_timeout(1000)  # it rests
    warmest.press("ArrowRight")
    page.get_by_label("Light at the clamp").press("ArrowRight")
    undo = page.get_by_role("button", name="Undo")
    undo.click()
    expect(shown).to_have_text("85.0 °C")
    undo.click()
    expect(shown).to_have_text("80.0 °C")
    undo.click()
    expect(shown).to_have_text("50.0 °C")
    expect(undo).to_be_disabled()
    page.wait_for_timeout(400)
    page.wait_for_selector("body[data-rested]")


@pytest.mark.browser
def test_undo_goes_back_behind_what_was_kept(page: Page, first: tuple[str, Path]) -> None:
    where, sheet = first
    page.goto(where + PAGE)
    page.wait_for_selector("body[data-rested]")
    warmest, shown = page.get_by_label("Warmest board"), page.locator("#o2")
    was = shown.inner_text()
    warmest.press("ArrowRight")
    now = shown.inner_text()
    undo, keep = (page.get_by_role("button", name=n) for n in ("Undo", "Keep in the sheet"))
    with page.expect_navigation():
        keep.click()
    page.wait_for_selector("body[data-rested]")
    expect(shown).to_have_text(now)
    undo.click()
    expect(shown).to_have_text(was)
    with page.expect_navigation():
        keep.click()
    expect(page.locator("#o2")).to_have_text(was)
    assert was in sheet.read_text()
    page.goto(where + PAGE)
    expect(undo).to_be_disabled()  # a page asked for afresh begins anew


@pytest.mark.browser
def test_a_sheet_that_cannot_be_judged_is_mended_on_its_own_page(
    page: Page, first: tuple[str, Path]
) -> None:
    where, sheet = first
    sheet.write_text(sheet.read_text("utf-8").replace('"T6"', '"T11"'), "utf-8")
    page.goto(where + PAGE)
    expect(page.locator("#verdict")).to_contain_text("Needed for T11: thermal EMF")
    page.get_by_label("Thermal EMF").fill("2 µV")
    page.get_by_label("Thermal EMF").blur()
    expect(page.locator("#verdict")).to_contain_text("error NOT MEASURED")  # defaults stand in
    expect(page.locator("#part-budget svg")).to_be_visible()
    expect(page.locator("#window svg")).to_be_visible()


@pytest.mark.browser
def test_two_designs_stand_side_by_side_and_a_drawing_chooses_the_topology(
    page: Page, address: str
) -> None:
    page.goto(f"{address}/w/orchard/orchard-probe/network")
    page.get_by_label("Beside it").select_option("orchard-rails-npn")
    row = page.locator("table.pair tbody tr")
    error, topology = (
        row.filter(has=page.get_by_role("rowheader", name=name))
        for name in ("error, the numbers say", "topology")
    )
    expect(error.locator("td")).to_have_text(["PASS", "FAIL", "differs"])
    expect(
        row.filter(has=page.get_by_role("rowheader", name="allowance")).locator("td").nth(2)
    ).to_have_text("same")
    expect(row.filter(has_text="clamp leaks there").locator("td").nth(2)).to_have_text(
        re.compile(r"^\+.*pA, .*×$")
    )
    page.get_by_label("in topology").select_option("T6")
    expect(topology.locator("td").nth(1)).to_contain_text("T6 ")
    page.get_by_text("Choose the topology by its drawing").click()
    drawing = page.locator("[data-topology='T2']")
    drawing.click()
    expect(drawing).to_have_attribute("aria-pressed", "true")
    expect(topology.locator("td").nth(0)).to_contain_text("T2 ")
    expect(page.locator("#verdict")).to_contain_text("error FAIL")
    expect(page.locator("#window")).to_contain_text("No resistor serves")
    assert_accessible(page)
    assert_narrow(page)
    page.wait_for_selector("body[data-rested]")
