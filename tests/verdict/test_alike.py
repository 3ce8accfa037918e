"""One answer serves wirings that are the same clamp; nothing else may share one."""

from __future__ import annotations

import pytest

from clampwright.verdict import rank as ranking
from clampwright.verdict.alike import electrical_key


@pytest.fixture(scope="module")
def options(press):
    """Offers of the press demonstration by part and wiring."""
    return {(o.part, o.wiring.name): o for o in press.options() if o.clamp is not None}


def test_equal_diodes_of_an_array_are_one_clamp_and_others_are_not(options):
    array = {w: electrical_key(o.clamp) for (part, w), o in options.items() if part == "esd-array"}
    assert array["IO1/V+"] == array["IO2/V+"]
    assert array["IO1/V+"] != array["IO1+IO2+IO3+IO4/V+"]  # four junctions share the current
    assert array["IO1/V-"] != array["IO2/V-"]  # only the first was read
    by_key = {}
    for (part, _), option in options.items():
        by_key.setdefault(electrical_key(option.clamp), set()).add(part)
    assert all(len(parts) == 1 for parts in by_key.values())


def test_a_shared_answer_is_the_answer_of_its_own_under_its_own_name(press, options):
    first, other = options["esd-array", "IO1/V+"], options["esd-array", "IO2/V+"]
    few = ranking.rank_design(press.design, press.chosen_clamp(), (first, other))
    alone = ranking.rank_design(press.design, press.chosen_clamp(), (other,))
    shared, own = (
        [c for c in found.every_resistor if c.wiring == "IO2/V+"] for found in (few, alone)
    )
    assert shared == own and len(shared) > 24
    assert not any("IO1/V+" in c.reason for c in few.candidates if c.wiring == "IO2/V+")
