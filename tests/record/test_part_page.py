"""A part as text and as a page: every kind of number keeps its mark, every picture its sentence."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest
from sample_parts import HASH, sample_part

from clampwright.record.lead_drawing import lead_svg, poles
from clampwright.record.look import BLUE, SHADE
from clampwright.record.part_page import light_sentence, part_html
from clampwright.record.part_plots import curve_of, light_plot, temperature_plot, voltage_plot
from clampwright.record.part_rows import alike, leakage_words, usable
from clampwright.record.part_ruler import ruler_plot
from clampwright.record.part_text import part_text
from clampwright.verdict.part_view import LitPoint, PartResult, WiringView

PARTS = ("npn-small", "esd-array", "led-red", "schottky-small", "rectifier")
FORBIDDEN = (r"\bsafe\b", r"\bcertified\b", r"\bguaranteed\b", r"\bnan\b", r"\binf\b", r"\bNone\b")


def wiring(part: PartResult, name: str) -> WiringView:
    return next(view for view in part.wirings if view.name == name)


@pytest.fixture(scope="module")
def npn_page() -> str:
    return part_html(sample_part("npn-small"))


@pytest.mark.parametrize("name", PARTS)
def test_text_fits_the_terminal_and_says_every_wiring_and_reason(name: str) -> None:
    part = sample_part(name)
    text = part_text(part)
    assert max(map(len, text.splitlines())) <= 100
    joined = re.sub(r"\s+", "", text)  # a long name may be broken over two lines of its column
    for view in part.wirings:
        assert view.name in joined
        assert view.reason.replace(" ", "") in joined
        for words in () if view.rejected else (*view.known, *view.assumed, *view.cautions):
            assert re.sub(r"\s+", "", words).replace("-", "") in joined.replace("-", "")
    for pattern in FORBIDDEN:
        assert not re.search(pattern, text, re.IGNORECASE)


def test_kinds_of_figures_stay_apart_in_the_text() -> None:
    text = part_text(sample_part("npn-small"))
    assert re.search(r"at most +≤ 15\.0\u2009nA +30\u2009V", text)
    assert re.search(r"measured +65\.0 ± 2\.0\u2009pA +5\u2009V +60\.0\u2009°C", text)
    assert re.search(r"not detected +≤ 1\.18\u2009pA, n\.d\.", text)  # 0.2 + 1.96 · 0.5 pA


def test_a_maximum_is_never_printed_as_an_estimate() -> None:
    part = sample_part("rectifier")
    written = leakage_words(wiring(part, "K/A"))
    assert written.startswith("≤ 5.00\u2009µA")
    assert "class" in written


def test_wirings_of_which_the_same_is_known_are_told_once() -> None:
    groups = alike(usable(sample_part("esd-array")))
    names = [tuple(view.name for view in group) for group in groups]
    assert ("IO1/V+", "IO2/V-", "IO2/V+", "IO3/V-", "IO3/V+", "IO4/V-", "IO4/V+") in [
        tuple(n for n in group if n != "IO1/V-") for group in names
    ]
    assert sum(map(len, groups)) == len(usable(sample_part("esd-array")))


def test_leads_with_signs_in_their_names_are_told_apart() -> None:
    part = sample_part("esd-array")
    assert poles(wiring(part, "IO1/V+"), part.leads) == (("IO1",), ("V+",))
    assert poles(wiring(part, "IO1/V-"), part.leads) == (("V-",), ("IO1",))
    assert poles(wiring(part, "IO1/V-+V+"), part.leads) == (("IO1",), ("V-", "V+"))


@pytest.mark.parametrize("name", PARTS)
def test_every_lead_of_the_package_is_a_named_circle(name: str) -> None:
    part = sample_part(name)
    for view in usable(part):
        root = ElementTree.fromstring(lead_svg(view, part.leads, name="one"))
        assert root[0].tag.endswith("title")
        assert root[1].tag.endswith("desc")
        texts = ["".join(n.itertext()) for n in root.iter() if n.tag.endswith("text")]
        assert sorted(t for t in texts if t in part.leads) == sorted(part.leads)
        circles = [n for n in root.iter() if n.tag.endswith("circle") and n.get("r") != "3.5"]
        dashed = [n for n in circles if n.get("stroke-dasharray")]
        assert (len(circles), len(dashed)) == (len(part.leads), len(view.open_leads))


def test_the_anode_stands_at_the_left_and_ties_are_thick() -> None:
    part = sample_part("npn-small")
    svg = lead_svg(wiring(part, "C/B+E"), part.leads, name="one")
    root = ElementTree.fromstring(svg)
    place = {
        "".join(n.itertext()): float(n.get("x", "nan"))
        for n in root.iter()
        if n.tag.endswith("text")
    }
    # NPN: base and emitter are p-side and its partner at the anode; the collector is the cathode
    assert place["B"] == place["E"] < place["C"]
    assert place["anode"] < place["cathode"]
    assert 'stroke-width="3"' in svg
    assert 'stroke-width="3"' not in lead_svg(wiring(part, "C/B"), part.leads, name="one")


def test_page_is_whole_and_every_picture_says_what_it_shows(npn_page: str) -> None:
    assert HASH in npn_page
    assert "<script" not in npn_page
    assert not re.findall(r'(?:src|href)="(?!#)', npn_page)
    svgs = re.findall(r"<svg.*?</svg>", npn_page, re.DOTALL)
    for svg in svgs:
        root = ElementTree.fromstring(svg)
        assert root[0].text and root[1].text
    ids = re.findall(r'\bid="([^"]+)"', npn_page)
    assert len(ids) == len(set(ids))
    part = sample_part("npn-small")
    assert len(svgs) == 1 + 4 * len(usable(part))  # ruler; leads and three curves each
    for view in part.wirings:
        assert view.name in npn_page
        assert view.reason in npn_page


def test_page_escapes_what_a_sheet_says() -> None:
    part = sample_part("rectifier").model_copy(update={"title": "<b>&", "note": "<script>x"})
    page = part_html(part)
    assert "<b>&" not in page.replace("&amp;", "")
    assert "<script" not in page


def test_voltage_panels_cover_the_span_and_mark_their_linear_region() -> None:
    view = wiring(sample_part("npn-small"), "C/B+E")
    reverse, near, forward = voltage_plot(view).axes
    assert reverse.get_yscale() == forward.get_yscale() == "symlog"
    assert near.get_yscale() == "linear"
    for axes in (reverse, forward):
        shaded = [
            p for p in axes.patches if p.get_facecolor()[:3] == pytest.approx(rgb(SHADE), abs=0.01)
        ]
        assert len(shaded) == 1
        assert "linear region" in [t.get_text() for t in axes.texts]
    assert reverse.get_lines()[0].get_xdata()[0] == pytest.approx(-20.0, abs=1e-9)
    assert forward.get_lines()[0].get_xdata()[-1] == pytest.approx(1.0, abs=1e-9)
    where = near.get_lines()[0].get_xdata()
    assert (min(where), max(where)) == pytest.approx((-0.01, 0.01), abs=1e-9)


def test_hatched_where_assumed_and_solid_only_where_readings_reach() -> None:
    part = sample_part("npn-small")
    assumed, measured = wiring(part, "C+E/B"), wiring(part, "C/B+E")
    assert any(c.get_hatch() for c in temperature_plot(assumed).axes[0].collections)
    axes = temperature_plot(measured).axes[0]
    assert not any(c.get_hatch() for c in axes.collections)
    solid = [
        line for line in axes.get_lines()
        if line.get_linestyle() == "-" and len(line.get_xdata()) > 3 and line.get_color() == BLUE
    ]  # fmt: skip
    assert len(solid) == 1
    assert 20.9 <= min(solid[0].get_xdata()) < max(solid[0].get_xdata()) <= 62.1


def test_temperature_is_drawn_in_celsius_with_inverse_energy_above() -> None:
    bottom, top = temperature_plot(wiring(sample_part("npn-small"), "C/B+E")).axes
    assert bottom.get_yscale() == "log"
    assert min(bottom.get_lines()[0].get_xdata()) == pytest.approx(-20.0, abs=1e-9)
    ticks = dict(zip([t.get_text() for t in top.get_xticklabels()], top.get_xticks(), strict=True))
    # 1/kT = 40 per eV at T = 290.11 K = 16.96 °C with k = 8.617 333 262e-5 eV/K (CODATA 2018)
    assert ticks["40"] == pytest.approx(16.96, abs=0.01)


def test_light_curve_carries_the_dark_level() -> None:
    view = wiring(sample_part("led-red"), "K/A")
    axes = light_plot(view).axes[0]
    assert (axes.get_xscale(), axes.get_yscale()) == ("log", "log")
    across = [line for line in axes.get_lines() if len(set(line.get_ydata())) == 1]
    assert [line.get_ydata()[0] for line in across] == [view.leakage]
    assert any(t.get_text().startswith("dark") for t in axes.texts)


def test_lit_readings_stand_on_the_curve_against_light() -> None:
    view = wiring(sample_part("led-red"), "K/A")
    lit = LitPoint(
        voltage=5.0, temperature=296.15, illuminance=1000.0, leakage=20e-9, low=18e-9, high=22e-9,
        basis="measured", source="invented",
    )  # fmt: skip
    bound = lit.model_copy(update={"illuminance": 10.0, "basis": "not detected", "high": 1e-10})
    lines = light_plot(view.model_copy(update={"lit": (lit, bound)})).axes[0].get_lines()
    dots = [line for line in lines if line.get_marker() == "o"]
    assert [(d.get_xdata()[0], d.get_ydata()[0]) for d in dots] == [(1000.0, 20e-9)]
    assert [line.get_ydata()[0] for line in lines if line.get_marker() == "_"] == [1e-10]
    assert "20.0\u2009nA measured at 1\u2009klx" in light_sentence(
        view.model_copy(update={"lit": (lit,)})
    )


def test_ruler_holds_every_usable_wiring_with_its_marks() -> None:
    part = sample_part("npn-small")
    axes = ruler_plot(part).axes[0]
    assert axes.get_xscale() == "log"
    labels = [t.get_text().split("\n")[0] for t in axes.get_yticklabels()]
    assert labels == [view.name for view in usable(part)]
    words = [t.get_text() for t in axes.texts]
    assert words.count("maximum at 30\u2009V") == 2  # C/B+E and C/B
    assert words.count("not detected") == 1
    low, high = axes.get_xlim()
    for view in usable(part):
        assert low < view.leakage_low <= view.leakage_high < high
        assert all(low < p.high < high for p in view.evidence)


def test_curves_are_drawn_as_they_are_given() -> None:
    """The drawing computes nothing: its line is the result's own numbers."""
    view = wiring(sample_part("npn-small"), "C/B+E")
    drawn = temperature_plot(view).axes[0].get_lines()[0].get_ydata()
    given = [p.current for p in curve_of(view, "temperature").points]
    assert np.array_equal(drawn, given)


def rgb(colour: str) -> tuple[float, ...]:
    return tuple(int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
