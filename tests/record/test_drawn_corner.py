"""Each clamp is labelled with the corner that is drawn, so that a reader can follow the error by hand."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree import ElementTree

import pytest

from clampwright import actions
from clampwright.record.budget_plot import deciding_judgement
from clampwright.record.schematic import schematic_svg


def test_the_clamps_of_a_new_workspace_are_labelled_at_the_drawn_signal(tmp_path: Path) -> None:
    actions.new_workspace(tmp_path / "mine")
    check = actions.check(actions.open_case(tmp_path / "mine" / "designs" / "my-input.toml"))
    judged = deciding_judgement(check)
    assert check.clamp and judged
    assert judged.corner.signal == pytest.approx(1.0, abs=1e-12)
    upper, lower = check.clamp.drawn
    # by hand: the node at +1 V between rails of +5 V and -5 V
    assert upper.sits_at == pytest.approx(-(5.0 - 1.0), abs=1e-9)
    assert lower.sits_at == pytest.approx(-(1.0 + 5.0), abs=1e-9)
    # by hand: what the lower clamp draws flows through the source and the outer resistor
    outer = check.design.network.outer_resistor
    resistance = judged.corner.source_resistance + outer.value * outer.count
    term = next(t for t in judged.terms if t.name == "clamp to the negative rail")
    assert term.value == pytest.approx(-resistance * abs(lower.leakage), abs=2e-3 * abs(term.value))
    words = " ".join(
        " ".join(node.itertext()) for node in ElementTree.fromstring(schematic_svg(check)).iter()
        if node.tag.endswith("text")
    )  # fmt: skip
    words = re.sub(r"\s+", " ", words)
    assert words.count("sits at 4.00 V reverse") == 1
    assert words.count("sits at 6.00 V reverse") == 1
    assert words.count("up to 6.00 V over the signal") == 1
