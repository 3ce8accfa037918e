"""Schematic, plots and CSV: every circuit draws, marks follow the kind of number."""

from __future__ import annotations

import csv
import io
import re
import subprocess
import sys
from collections.abc import Callable
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.figure import Figure
from sample_results import sample_check, sample_clamp
from sample_stresses import sample_faults, sample_rank, sample_window

from clampwright.record.limit_plots import STRESS_LINES_SHOWN
from clampwright.record.look import BLUE, INK, PAPER, QUIET, VERMILION
from clampwright.record.plots import (
    budget_plot,
    figure_svg,
    leakage_plot,
    lowest_stresses,
    stress_plot,
    window_plot,
)
from clampwright.record.schematic import schematic_svg
from clampwright.record.shortlist import error_up_to, shortlist_csv
from clampwright.record.tables import budget_csv, lead_names
from clampwright.record.words import times
from clampwright.verdict.results import Verdict

TOPOLOGIES = ("T1", "T2", "T5", "T6")
DARK_PAPER, DARK_INK, DARK_QUIET = "#14181f", "#e8e4da", "#a4abb8"


def words_of(svg: str) -> str:
    root = ElementTree.fromstring(svg)
    return " ".join("".join(node.itertext()) for node in root.iter() if node.tag.endswith("text"))


@pytest.mark.parametrize("topology", TOPOLOGIES)
def test_the_drawing_is_160_mm_wide_with_legible_text(topology: str) -> None:
    root = ElementTree.fromstring(schematic_svg(sample_check(topology)))
    millimetres = float(root.attrib["width"].removesuffix("pt")) / 72 * 25.4
    assert 150 <= millimetres <= 165
    sizes = [float(n.attrib["font-size"]) for n in root.iter() if n.tag.endswith("text")]
    assert min(sizes) >= 7.0


def test_texts_of_the_drawing_stay_inside_it_and_apart() -> None:
    """Rough boxes, 0.62 em a character: no two texts of a drawing may overlap."""
    for topology in TOPOLOGIES:
        root = ElementTree.fromstring(schematic_svg(sample_check(topology)))
        left, top, width, height = map(float, root.attrib["viewBox"].split())
        boxes = []
        for node in root.iter():
            if not node.tag.endswith("text"):
                continue
            size, words = float(node.attrib["font-size"]), "".join(node.itertext())
            x, y = float(node.attrib["x"]), float(node.attrib["y"])
            long = 0.58 * size * len(words)
            start = {"middle": x - long / 2, "end": x - long}.get(node.attrib["text-anchor"], x)
            boxes.append((start, y - 0.75 * size, start + long, y, words))
        for a in boxes:
            assert a[0] > left - 2 and a[2] < left + width + 6, a
            assert a[1] > top - 2 and a[3] < top + height + 2, a
            for b in boxes:
                apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
                assert a is b or apart, (topology, a, b)


def test_the_path_of_a_fault_is_heavier_and_carries_its_current() -> None:
    case = sample_faults().cases[1]
    for topology in TOPOLOGIES:
        plain, faulted = (schematic_svg(sample_check(topology), f) for f in (None, case))
        assert VERMILION not in plain
        assert "stroke-width:3.0" in faulted
        assert "battery lead: 16.0\u2009µA" in words_of(faulted)


@pytest.mark.parametrize(
    ("wiring", "anode", "cathode", "named"),
    [  # textbook polarity: the p side of a junction is the anode
        ("C/B+E", ("E", "B"), ("C",), ("B+E", "C")),
        ("G/D+S", ("G",), ("S", "D"), ("G", "D+S")),
        ("K/A", ("A",), ("K",), ("A", "K")),
        ("IO1/V-+V+", ("V-", "V+"), ("IO1",), ("V-+V+", "IO1")),
    ],
)
def test_leads_are_named_at_their_end_as_the_wiring_names_them(
    wiring: str, anode: tuple[str, ...], cathode: tuple[str, ...], named: tuple[str, str]
) -> None:
    leads = {"wiring": wiring, "anode_leads": anode, "cathode_leads": cathode}
    check = sample_check("T2")
    clamp = sample_clamp("T2").model_copy(update=leads)
    assert lead_names(clamp) == named
    words = words_of(schematic_svg(check.model_copy(update={"clamp": clamp})))
    for name in named:
        assert words.split().count(name) >= 2


def test_each_clamp_carries_its_own_place_and_leakage() -> None:
    words = words_of(schematic_svg(sample_check("T2")))
    for expected in ("2.68\u2009V reverse", "2.74\u2009V reverse", "16.0\u2009pA", "17.0\u2009pA"):
        assert expected in words
    pair = words_of(schematic_svg(sample_check("T5")))
    assert pair.count("sits at") == 1
    assert "35.0\u2009fA" in pair


@pytest.mark.parametrize(
    "draw",
    [
        lambda: budget_plot(sample_check("T2")),
        lambda: leakage_plot(sample_check("T2")),
        lambda: window_plot(sample_rank()),
        lambda: stress_plot(sample_faults()),
    ],
)
def test_every_plot_is_valid_svg_and_reproducible(draw: Callable[[], Figure]) -> None:
    names = {"name": "fig", "title": "A < B", "description": "one & two"}
    svg = figure_svg(draw(), **names)
    assert svg == figure_svg(draw(), **names)
    assert svg.startswith("<svg")
    root = ElementTree.fromstring(svg)
    assert root[0].text == "A < B"
    assert root[1].text == "one & two"


def test_without_a_clamp_there_is_no_leakage_to_draw() -> None:
    assert leakage_plot(sample_check("T1")) is None


def test_the_leakage_plot_shows_every_kind_of_evidence_on_a_log_axis() -> None:
    figure = leakage_plot(sample_check("T2"))
    assert figure is not None
    assert figure.axes[0].get_yscale() == "log"
    words = words_of(figure_svg(figure, name="f", title="t", description="d"))
    for expected in ("not detected", "maximum", "typical", "at 5\u2009V", "1/kT", "1\u2009pA"):
        assert expected in words


def test_evidence_at_another_voltage_than_the_law_is_told_apart() -> None:
    check = sample_check("T2")
    clamp = check.clamp
    assert clamp is not None
    other = clamp.points[0].model_copy(update={"voltage": 2.5})
    clamp = clamp.model_copy(update={"points": (*clamp.points, other)})
    figure = leakage_plot(check.model_copy(update={"clamp": clamp}))
    assert figure is not None
    dots = [line for line in figure.axes[0].lines if line.get_marker() == "o"]
    assert {line.get_color() for line in dots} == {BLUE, QUIET}
    words = words_of(figure_svg(figure, name="f", title="t", description="d"))
    assert "measured, 2.5\u2009V" in words


def test_ticks_of_inverse_temperature_stand_where_they_belong() -> None:
    """1/kT in 1/eV against scipy's CODATA Boltzmann constant."""
    from scipy.constants import physical_constants

    boltzmann = physical_constants["Boltzmann constant in eV/K"][0]
    figure = leakage_plot(sample_check("T2"))
    assert figure is not None
    top = figure.axes[1]
    places = top.get_xticks()
    labels = [float(label.get_text()) for label in top.get_xticklabels()]
    np.testing.assert_allclose(1 / (boltzmann * (np.array(places) + 273.15)), labels, rtol=1e-9)
    assert figure.axes[0].get_xlim() == top.get_xlim()


def test_the_forbidden_region_starts_at_the_allowance() -> None:
    check = sample_check("T2", Verdict.FAIL)
    figure = budget_plot(check)
    assert figure is not None
    axes = figure.axes[0]
    assert axes.get_xscale() == "symlog"
    walls = {round(float(line.get_xdata()[0]), 9) for line in axes.lines}  # type: ignore[index]
    assert {-0.93e-3, 0.93e-3} <= walls
    assert axes.get_xlim()[1] > check.judgements[0].high
    words = words_of(figure_svg(figure, name="f", title="t", description="d"))
    assert words.count("forbidden") == 2


def test_the_window_is_white_only_when_it_is_open_and_walls_carry_names() -> None:
    for opened in (True, False):
        figure = window_plot(sample_rank(opened=opened))
        svg = figure_svg(figure, name="f", title="t", description="d")
        assert ("#ffffff" in svg) == opened
        for wall in sample_window(opened).walls:
            assert wall.name in words_of(svg)
        assert ("no open window" in words_of(svg)) != opened


def test_an_unrated_stress_is_shown_first_and_named() -> None:
    faults = sample_faults()
    assert lowest_stresses(faults)[0][1].ratio is None
    figure = stress_plot(faults)
    assert figure is not None
    words = words_of(figure_svg(figure, name="f", title="t", description="d"))
    assert "not rated" in words
    for _, line in lowest_stresses(faults)[:STRESS_LINES_SHOWN]:
        if line.ratio is not None:
            assert times(line.ratio) in words  # cut, as in the table
    assert stress_plot(faults.model_copy(update={"cases": ()})) is None


def test_a_margin_of_the_chart_is_cut_and_not_rounded() -> None:
    """26.68 is 26.6×, as in the table beside it; sample figures of an invented fault."""
    faults = sample_faults()
    case = next(c for c in faults.cases if any(line.ratio for line in c.stresses))
    line = next(one for one in case.stresses if one.ratio)
    alone = case.model_copy(update={"stresses": (line.model_copy(update={"ratio": 26.68}),)})
    figure = stress_plot(faults.model_copy(update={"cases": (alone,)}))
    assert figure is not None
    words = words_of(figure_svg(figure, name="f", title="t", description="d"))
    assert "26.6×" in words
    assert "26.7×" not in words


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(
    ("text", "paper"),
    [(INK, PAPER), (QUIET, PAPER), (BLUE, PAPER), (DARK_INK, DARK_PAPER), (DARK_QUIET, DARK_PAPER)],
)
def test_text_contrast_is_at_least_4_5(text: str, paper: str) -> None:
    """Contrast ratio of WCAG 2.1, success criterion 1.4.3 (formula from memory)."""
    bright, dark = sorted((luminance(text), luminance(paper)), reverse=True)
    assert (bright + 0.05) / (dark + 0.05) >= 4.5


def test_budget_csv_keeps_every_digit_and_names_its_units() -> None:
    check = sample_check("T2")
    rows = list(csv.DictReader(io.StringIO(budget_csv(check))))
    assert len(rows) == sum(len(j.terms) + 1 for j in check.judgements)
    assert float(rows[0]["value_V"]) == check.judgements[0].terms[0].value
    assert rows[-1]["term"] == "together"
    assert float(rows[0]["sensor_temperature_K"]) == 281.15


def test_shortlist_csv_lists_rejected_ones_and_disarms_spreadsheet_formulas() -> None:
    rank = sample_rank()
    bad = rank.candidates[0].model_copy(update={"reason": "=HYPERLINK(1)", "part": "@x"})
    changed = rank.model_copy(update={"candidates": (bad, *rank.candidates[1:])})
    rows = list(csv.DictReader(io.StringIO(shortlist_csv(changed))))
    assert len(rows) == len(rank.candidates)
    assert rows[0]["reason"] == "'=HYPERLINK(1)"
    assert rows[0]["part"] == "'@x"
    assert {row["rejected"] for row in rows} == {"yes", "no"}
    assert all(row["reason"] for row in rows)


def test_up_to_is_the_largest_magnitude_of_the_interval() -> None:
    candidate = (
        sample_rank()
        .candidates[0]
        .model_copy(update={"error": -942e-6, "error_low": -2.66e-3, "error_high": -359e-6})
    )
    assert error_up_to(candidate) == 2.66e-3
    rank = sample_rank().model_copy(update={"candidates": (candidate,)})
    rows = list(csv.DictReader(io.StringIO(shortlist_csv(rank))))
    assert float(rows[0]["error_up_to_V"]) == 2.66e-3
    assert error_up_to(sample_rank().candidates[4]) is None


def test_heavy_libraries_are_not_loaded_before_something_is_drawn() -> None:
    code = (
        "import sys; import clampwright.record.page, clampwright.record.terminal;"
        "print([m for m in ('matplotlib', 'schemdraw', 'jinja2', 'rich', 'GTC', 'numba') "
        "if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
    assert not re.search("Warning", done.stderr)
