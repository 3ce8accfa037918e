"""Evidence: one ruler of all candidates, lots, fits with what they leave over, whose readings."""

from __future__ import annotations

import re
from math import exp
from pathlib import Path
from xml.etree import ElementTree

import httpx
import pytest
from looking import assert_accessible, assert_narrow
from playwright.sync_api import Page, expect
from served import orchard, serving

from clampwright import actions
from clampwright.actions.candidates import open_candidates
from clampwright.actions.ruler import lots, ruler
from clampwright.web.evidence_page import _choices
from clampwright.web.ruler_chart import lots_svg, ruler_caption, ruler_svg, shared_scale

EVIDENCE = "/w/orchard/orchard-probe/evidence"
READINGS = "/w/orchard/orchard-probe/readings/orchard-bench"
browsers = pytest.mark.browser


def test_the_ruler_says_the_same_as_the_part(client: httpx.Client) -> None:
    found = client.get("/api/ruler/orchard", params={"volt": 5, "celsius": 23}).json()
    part = client.get("/api/parts/orchard/npn-small").json()
    row = next(r for r in found["rows"] if r["clamp"] == "npn-small C/B+E")
    view = next(w for w in part["wirings"] if w["name"] == "C/B+E")
    assert row["leakage"] == view["leakage"] and row["high"] == view["leakage_high"]
    kinds = {m["basis"] for r in found["rows"] for m in r["marks"]}
    assert {"measured", "not detected", "maximum"} <= kinds
    leakages = [r["leakage"]["value"] for r in found["rows"]]
    assert leakages == sorted(leakages)


def test_marks_stay_at_their_own_temperature_and_voltage(shelf: Path) -> None:
    candidates = open_candidates(shelf / "orchard")
    warm = ruler(candidates, 5.0, 318.15)
    row = next(r for r in warm.rows if r.clamp == "npn-small C/B+E")
    assert [m.basis for m in row.marks].count("measured") == 1  # 5 V at 45 °C
    assert not [m for m in row.marks if abs(m.temperature - 318.15) > 3]
    high = ruler(candidates, 30.0, 296.15)
    assert "npn-small C+B/E" in high.left_out  # 6 V breakdown
    assert all(r.clamp not in high.left_out for r in high.rows)


def test_at_the_circuit_the_readings_stand_faint_at_their_own_voltage(shelf: Path) -> None:
    """At 250 µV nothing was read: every mark is linked to the band and tells its voltage."""
    candidates = open_candidates(shelf / "orchard")
    found = ruler(candidates, 250e-6, 296.15)
    rows = {row.clamp: row for row in found.rows}
    assert not any(row.marks for row in found.rows)
    assert {m.voltage for m in rows["npn-small C/B+E"].far} == {0.01, 5.0, 30.0}
    known = {row.known_by.kind for row in found.rows if row.known_by}
    assert known == {"readings", "partly class"}
    drawn, caption = ruler_svg(found, 4e-12), ruler_caption(found)
    assert drawn.count('class="link"') == sum(len(row.far) for row in found.rows)
    assert "10\u2009mV</text>" in drawn and ", measured" not in drawn
    assert "Faint" in caption and "arrow: not detected" in caption and "open dot" not in caption
    few = found.model_copy(update={"rows": (rows["npn-small C+E/B"],)})
    assert ruler_caption(few).endswith("hatched: assumed from the class.")


def test_ruler_and_lots_share_one_axis(shelf: Path) -> None:
    candidates = open_candidates(shelf / "orchard")
    found, some = ruler(candidates, 250e-6), lots(candidates, 250e-6)
    scale = shared_scale(found, some, 4e-12)
    ticks = [
        re.findall(r'<text x="([\d.]+)" y="14.0" class="quiet"[^>]*>([^<]*)<', svg)
        for svg in (ruler_svg(found, 4e-12, scale), lots_svg(some, "", scale))
    ]
    assert ticks[0] == ticks[1] and len(ticks[0]) > 4
    allowed = ElementTree.fromstring(ruler_svg(found, 4e-12, scale))
    label = next(n for n in allowed.iter() if (n.text or "").startswith("allowed at"))
    assert float(label.attrib["y"]) - 14 > 18  # a line of its own below the ticks


def test_the_limit_of_a_lot_uses_the_published_factor(shelf: Path) -> None:
    """K(95/95, n = 8) = 3.187, NIST/SEMATECH and ISO 16269-6 tables (value from memory)."""
    found = lots(open_candidates(shelf / "orchard"))
    lot = next(one for one in found if one.clamp == "npn-small C/B+E")
    assert lot.factor == pytest.approx(3.187, abs=0.002)
    assert lot.upper_limit == pytest.approx(
        lot.median * exp(3.187 * 0.35), abs=0.002 * lot.upper_limit
    )
    assert "95 % confidence" in lot.words


def test_lit_readings_stand_on_the_curve_against_light(client: httpx.Client) -> None:
    part = client.get("/api/parts/orchard/npn-small").json()
    view = next(w for w in part["wirings"] if w["name"] == "C+B/E")
    assert view["lit"] and view["lit"][0]["illuminance"]["value"] == 1000


def test_readings_that_are_not_there_are_not_found(client: httpx.Client) -> None:
    for name in ("nope", "...", "npn-small", "%2e%2e%2fdesigns"):
        assert client.get(f"/w/orchard/orchard-probe/readings/{name}").status_code == 404


def test_whose_readings_they_are_stays_visible(tmp_path: Path) -> None:
    """A bundle of another bench is imported; ruler, list and study say whose it is."""
    theirs, mine = tmp_path / "theirs", tmp_path / "shelf" / "orchard"
    orchard(theirs)
    mine.parent.mkdir()
    orchard(mine)
    actions.import_readings(theirs / "readings" / "orchard-bench.csv", theirs, session="far")
    bundle = actions.write_bundle("far", theirs, tmp_path / "far.zip", origin="North bench")
    actions.read_bundle(bundle, mine, session="far")
    sheet = mine / "parts" / "jfet-small.toml"
    sheet.write_text(
        sheet.read_text("utf-8").replace('readings = "orchard-bench"', 'readings = "far"'), "utf-8"
    )
    with (
        serving(mine.parent) as where,
        httpx.Client(base_url=where, trust_env=False, timeout=60) as client,
    ):
        listed = client.get(EVIDENCE).text
        assert "North bench" in listed and "imported" in listed
        study = client.get(EVIDENCE.replace("evidence", "readings/far")).text
        assert "Evidence of North bench" in study
        rows = client.get("/api/ruler/orchard").json()["rows"]
        origin = {r["clamp"]: r["origin"] for r in rows}
        assert origin["jfet-small G/D+S"] == "North bench" and origin["npn-small C/B+E"] == ""


@pytest.mark.parametrize("sits", [2.505, 2.5, 0.25e-3])
def test_voltages_to_choose_from_print_differently(sits: float) -> None:
    """One entry for the voltage of the circuit and the round one that prints alike."""
    found, chosen = _choices(sits)
    words = [text.removeprefix("as in the circuit, ") for _, text in found]
    assert len(words) == len({*words}) and chosen == sits == found[0][0]


@browsers
def test_the_ruler_follows_voltage_and_heat(page: Page, address: str) -> None:
    page.goto(address + EVIDENCE)
    chart = page.locator("#ruler svg").first
    expect(chart).to_contain_text("allowed at this input", timeout=30_000)
    expect(page.locator("#ruler")).to_contain_text("upper tolerance limit")
    expect(page.get_by_label("Reverse voltage").locator("option:checked")).to_have_text(
        "as in the circuit, 250\u2009µV"
    )
    cold = chart.text_content() or ""
    page.locator("#heat").focus()
    page.keyboard.press("End")
    expect(page.locator("#heat-words")).to_have_text("150 °C")
    expect(chart).not_to_have_text(cold)
    page.get_by_label("Reverse voltage").select_option("30.0")
    expect(page.locator("#ruler")).to_contain_text("Left out")
    expect(page.locator("#ruler")).to_contain_text("is drawn only at 250\u2009µV")
    expect(chart).not_to_contain_text("allowed at this input")
    page.locator("body[data-settled]").wait_for(state="attached", timeout=30_000)
    assert_accessible(page)
    assert_narrow(page)


@browsers
def test_a_study_shows_fits_residuals_and_the_test_that_separates(page: Page, address: str) -> None:
    page.goto(address + READINGS)
    main = page.locator("#page")
    expect(main).to_contain_text("activation energy")
    expect(main).to_contain_text("Lack of fit")
    expect(main).to_contain_text("The one test that tells the first two apart")
    expect(page.locator(".fits svg").first).to_be_visible()
    page.wait_for_load_state("networkidle")
    assert_accessible(page)
    assert_narrow(page)


@browsers
def test_a_part_shows_its_lit_readings_and_its_leads(page: Page, address: str) -> None:
    page.goto(f"{address}{EVIDENCE}/npn-small")
    expect(page.locator("#plot .main-svg").first).to_be_visible(timeout=30_000)
    page.get_by_label("Wiring", exact=True).select_option("C+B/E")
    page.get_by_label("Against", exact=True).select_option("light")
    expect(page.locator("#plot .point").first).to_be_attached()
    assert page.locator("figure.leads svg").count() >= 3
    contents = page.get_by_role("navigation", name="On this page")
    for link in contents.get_by_role("link").all():
        expect(page.locator(link.get_attribute("href") or "")).to_be_visible()
    expect(contents).to_contain_text("C/B+E measured")
    assert page.locator("#page table:visible").count() == 0  # long tables are folded
    page.get_by_text("Law: what is known").first.click()
    expect(page.locator("#page table:visible").first).to_contain_text("activation energy")
    assert_accessible(page)
    assert_narrow(page)


@browsers
def test_a_reading_changed_elsewhere_is_told(page: Page, tmp_path: Path) -> None:
    folder = orchard(tmp_path / "orchard")
    with serving(tmp_path) as where:
        page.goto(where + EVIDENCE)
        page.locator("body[data-settled]").wait_for(state="attached", timeout=60_000)
        expect(page.locator("#elsewhere")).to_be_hidden()
        file = folder / "readings" / "orchard-bench.csv"
        file.write_text("\n".join(file.read_text("utf-8").splitlines()[:-1]) + "\n", "utf-8")
        expect(page.locator("#elsewhere")).to_be_visible(timeout=15_000)
