"""Charts of the network page against what they draw: lengths, labels, voltages."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

from clampwright import actions
from clampwright.actions.ruler import law_over_heat
from clampwright.record.margin import margin_svg
from clampwright.record.plots import deciding_judgement
from clampwright.record.schematic import schematic_svg
from clampwright.record.words import quantity
from clampwright.web.charts import budget_svg, noise_svg, together
from clampwright.web.leakage_chart import leakage_svg


@pytest.fixture(scope="module")
def case(shelf: Path) -> actions.Case:
    """The bootstrapped design of the orchard demonstration."""
    return actions.open_case(shelf / "orchard/designs/orchard-probe.toml")


@pytest.fixture(scope="module")
def check(case: actions.Case) -> Any:
    """The same, judged."""
    return actions.check(case, further=False)


def test_the_noise_together_is_never_shorter_than_a_part(check: Any) -> None:
    svg = noise_svg(check.dynamics)
    widths = [float(w) for w in re.findall(r'width="([\d.]+)" height="7"', svg)]
    assert len(widths) == 1 + len([t for t in check.dynamics.noise_terms if t.value > 0])
    assert widths[-1] == max(widths)
    assert "rms in" in svg and "V/√Hz" in svg


def test_together_is_the_root_of_the_sum_of_squares(check: Any) -> None:
    # variances of independent causes add (GUM, JCGM 100:2008, 5.1.2)
    by_hand = math.sqrt(sum(t.value**2 for t in check.dynamics.noise_terms))
    assert together(check.dynamics.noise_terms) == pytest.approx(by_hand, abs=1e-15)
    assert by_hand == pytest.approx(check.dynamics.noise_density, abs=1e-3 * by_hand)


def test_the_law_is_drawn_where_the_circuit_holds_the_clamp(case: actions.Case, check: Any) -> None:
    clamp, summary = case.chosen_clamp(), check.clamp
    assert clamp is not None and summary.sits_at < 0
    hottest = check.design.board.temperature_maximum
    (point,) = law_over_heat(clamp, -summary.sits_at, [hottest])
    assert point.leakage == pytest.approx(summary.leakage, abs=1e-3 * summary.leakage)
    law = law_over_heat(clamp, -summary.sits_at, [p.temperature for p in summary.curve])
    svg = leakage_svg(summary, hottest, law)
    assert "law at 250\u2009µV, where it sits" in svg and "law at 5.00\u2009V" in svg
    assert svg.count("<polyline") == 2


def test_the_schematic_shows_the_error_of_the_margin_bar(check: Any) -> None:
    judged = deciding_judgement(check)
    assert judged is not None
    words = quantity(judged.error, "voltage", signed=True)
    assert words in schematic_svg(check) and words in margin_svg(judged)


def test_an_interval_narrower_than_its_dot_shows_its_ends(check: Any) -> None:
    judged = deciding_judgement(check)
    assert judged is not None
    term = judged.terms[0]
    for share, shown in ((0.2, 1), (0.0, 0)):  # ± 20 % is less than a dot; no interval has no ends
        low, high = sorted((term.value * (1 - share), term.value * (1 + share)))
        narrow = term.model_copy(update={"low": low, "high": high})
        alone = judged.model_copy(update={"terms": (narrow,)})
        assert budget_svg(alone).count('class="mark ends"') == shown
