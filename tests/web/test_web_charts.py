"""Charts of the network page against what they draw: lengths, labels, voltages."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Any

import pytest

from clampwright import actions
from clampwright.web.charts import noise_svg, together


@pytest.fixture(scope="module")
def check(shelf: Path) -> Any:
    """The bootstrapped design of the orchard demonstration, judged."""
    return actions.check(
        actions.open_case(shelf / "orchard/designs/orchard-probe.toml"), further=False
    )


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
