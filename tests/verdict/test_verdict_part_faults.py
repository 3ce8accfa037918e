"""Each part shorted and opened: hand figures on the packaged demonstrations."""

from __future__ import annotations

from pathlib import Path

import pytest

from clampwright import actions


@pytest.fixture(scope="module")
def rails(tmp_path_factory: pytest.TempPathFactory) -> actions.Case:
    folder = tmp_path_factory.mktemp("orchard")
    actions.demo_workspace(folder)
    return actions.open_case(Path(folder) / "designs" / "orchard-rails-npn.toml")


def test_what_goes_unnoticed_and_what_it_costs(rails: actions.Case) -> None:
    """(34 − 2.5 − V_f)/10 kΩ into the pin with the outer resistor shorted; ohms by hand."""
    found = {(line.part, line.kind): line for line in actions.part_faults(rails).lines}
    shorted = found["R_outer", "short"]
    assert not shorted.noticed
    assert shorted.pin_current == pytest.approx((24 * 2**0.5 - 2.5 - 0.7) / 10e3, rel=0.03, abs=0)
    assert found["R_outer", "open"].noticed and found["upper", "short"].noticed
    # with a rail clamp open the fault goes on through 950 kΩ into the pin's own junction
    opened = found["upper", "open"]
    assert opened.pin_current == pytest.approx((24 * 2**0.5 - 2.5 - 0.6) / 950e3, rel=0.03, abs=0)
    assert {kind for _, kind in found} == {"short", "open"}
    assert {part for part, _ in found} == {"R_outer", "R_inner", "upper", "lower"}


def test_a_shorted_clamp_pulls_the_pin_to_its_rail(rails: actions.Case) -> None:
    """The reading is then off by rail less signal: at least 2.26 V of 2.5 V."""
    line = next(
        x for x in actions.part_faults(rails).lines if (x.part, x.kind) == ("lower", "short")
    )
    assert 2.2 < line.error < 2.8 and line.noticed


def test_a_shorted_series_resistor_destroys_clamp_and_rail(rails: actions.Case) -> None:
    """Nothing but the clamp's few ohms then stands between 34 V and the rail of 2.5 V.

    Some amperes against a rating of 100 mA; a supply that cannot sink follows up to 33 V of 6 V.
    """
    found = {(line.part, line.kind): line for line in actions.part_faults(rails).lines}
    shorted = found["R_outer", "short"]
    assert shorted.clamp_current_limit is not None
    assert shorted.clamp_current > 10 * shorted.clamp_current_limit
    assert shorted.rail == "exceeded"
    assert "destroyed" in shorted.words and "maximum of 6.00" in shorted.words
    assert "within" not in shorted.words
    assert found["R_inner", "short"].breaks == ()


def test_the_rail_holds_where_the_load_takes_the_current(rails: actions.Case) -> None:
    """A clamp shorted to its rail lets 34 V/950 kΩ, in the mean 11 µA, into 60 µA of load."""
    line = next(
        x for x in actions.part_faults(rails).lines if (x.part, x.kind) == ("upper", "short")
    )
    assert line.rail == "held"
    load = rails.design.rails.model_copy(update={"minimum_load": 1e-6, "load": 1e-6})
    tired = actions.Case(
        rails.design.model_copy(update={"rails": load}), rails.design_hash, rails.workspace
    )
    line = next(
        x for x in actions.part_faults(tired).lines if (x.part, x.kind) == ("upper", "short")
    )
    assert line.rail == "exceeded"
