"""Each part shorted and opened: hand figures on the packaged demonstrations."""

from __future__ import annotations

from pathlib import Path

import pytest

from clampwright import actions
from clampwright.network.topologies import CATALOGUE
from clampwright.record.part_faults_text import part_faults_text
from clampwright.verdict.part_names import part_name


@pytest.fixture(scope="module")
def rails(tmp_path_factory: pytest.TempPathFactory) -> actions.Case:
    folder = tmp_path_factory.mktemp("orchard")
    actions.demo_workspace(folder)
    return actions.open_case(Path(folder) / "designs" / "orchard-rails-npn.toml")


def test_what_goes_unnoticed_and_what_it_costs(rails: actions.Case) -> None:
    """(34 − 2.5 − V_f)/10 kΩ into the pin with the outer resistor shorted; ohms by hand."""
    found = {(line.part, line.kind): line for line in actions.part_faults(rails).lines}
    shorted = found["R_outer", "short"]
    assert not shorted.noticed and shorted.name == "outer resistor"
    assert shorted.pin_current == pytest.approx((24 * 2**0.5 - 2.5 - 0.7) / 10e3, rel=0.03, abs=0)
    assert found["R_outer", "open"].noticed and found["upper", "short"].noticed
    # with a rail clamp open the fault goes on through 950 kΩ into the pin's own junction
    opened = found["upper", "open"]
    assert opened.pin_current == pytest.approx((24 * 2**0.5 - 2.5 - 0.6) / 950e3, rel=0.03, abs=0)
    assert {kind for _, kind in found} == {"short", "open"}
    assert {part for part, _ in found} == {"R_outer", "R_inner", "upper", "lower"}


def test_a_mains_frequency_fault_is_told_with_its_peak(rails: actions.Case) -> None:
    """24 V · √2 = 33.9 V."""
    said = actions.part_faults(rails).fault.replace("\u2009", " ")
    assert said == "F2: 24.0 V rms, ±33.9 V peak"


def test_a_shorted_clamp_pulls_the_pin_to_its_rail(rails: actions.Case) -> None:
    """The reading then moves by rail less signal: at least 2.26 V of 2.5 V, and meets the rail."""
    line = next(
        x for x in actions.part_faults(rails).lines if (x.part, x.kind) == ("lower", "short")
    )
    assert 2.2 < line.change < 2.8 and line.noticed
    assert line.shows == "at once" and "saturates" in line.said


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


@pytest.fixture(scope="module")
def press(tmp_path_factory: pytest.TempPathFactory) -> actions.Case:
    folder = tmp_path_factory.mktemp("press")
    actions.demo_workspace(folder, "press")
    return actions.open_case(folder / "designs" / "press-load.toml")


def test_what_counts_is_the_change_and_not_the_bias(press: actions.Case) -> None:
    """Ohm by hand: 1 nA of bias falls away with the resistor that is shorted, 4.7 µV and 1.0 µV.

    Before, 1 nA in the 5.875 kΩ of one leg, which the other leg and the zero take away, stood there as
    "seen at once: 5.9 µV" for a clamp that is open. Of a span of 10 mV, 1 % is 100 µV.
    """
    result = actions.part_faults(press)
    assert result.noticed_from == pytest.approx(100e-6, abs=1e-12)
    found = {(line.part, line.kind): line for line in result.lines}
    assert found["R_outer", "short"].change == pytest.approx(1e-9 * 4.7e3, abs=2e-8)
    assert found["R_inner", "short"].change == pytest.approx(1e-9 * 1e3, abs=2e-8)
    for side in ("upper", "lower"):
        opened = found[side, "open"]
        assert opened.change < 5e-6 and opened.shows == "not at all" and not opened.noticed
        assert found[side, "short"].shows == "at once" and "saturates" in found[side, "short"].said
    assert sum(not line.noticed for line in result.lines) == 4


def test_an_open_clamp_beyond_the_allowed_error_wants_a_leakage_test(rails: actions.Case) -> None:
    """One rail clamp leaks some 17 pA hot: × 219 MΩ is 3.7 mV, over 0.93 mV, under 1 % of 414 mV."""
    result = actions.part_faults(rails)
    assert result.noticed_from == pytest.approx(0.01 * (0.237 + 0.177), abs=1e-9)
    for line in result.lines:
        if (line.part, line.kind) in (("upper", "open"), ("lower", "open")):
            assert line.change == pytest.approx(17e-12 * 219e6, abs=0.2e-3)
            assert line.shows == "in a leakage test" and not line.noticed
    assert sum(not line.noticed for line in result.lines) == 4
    assert "4 of 8 go unnoticed, 2 of them beyond" in part_faults_text(result)


def test_the_change_crosses_each_border(rails: actions.Case) -> None:
    """The same 3.7 mV is noticed on a span of 200 mV and within an allowed error of 5 mV it is nothing."""

    def shows(**changes: object) -> str:
        requirement = rails.design.requirement.model_copy(update=changes)
        design = rails.design.model_copy(update={"requirement": requirement})
        case = actions.Case(design, rails.design_hash, rails.workspace)
        lines = actions.part_faults(case).lines
        return next(x.shows for x in lines if (x.part, x.kind) == ("upper", "open"))

    assert shows(signal_minimum=-0.1, signal_maximum=0.1) == "at once"
    assert shows(accuracy=5e-3, accuracy_unit="V") == "not at all"
    # a constant signal counts by its size, none at all by the supply of 5 V
    assert shows(signal_minimum=0.2, signal_maximum=0.2) == "at once"
    assert shows(signal_minimum=0.0, signal_maximum=0.0) == "in a leakage test"


def test_at_a_summing_node_the_output_counts(tmp_path: Path) -> None:
    """A clamp at the offset voltage V over r_0 takes V/r_0, which R_feedback makes a voltage."""
    folder = tmp_path / "darkbox"
    actions.demo_workspace(folder, "darkbox")
    result = actions.part_faults(actions.open_case(folder / "designs" / "dark-box.toml"))
    found = {(line.part, line.kind): line for line in result.lines}
    one, other = found["forward", "open"].change, found["backward", "open"].change
    assert 0 < one < result.noticed_from and one == pytest.approx(other, abs=0.02 * one)
    assert found["forward", "short"].shows == "signal lost"
    assert sum(not line.noticed for line in result.lines) == 3


def test_every_topology_names_its_parts_as_the_schematic_does() -> None:
    """A role that nobody named would stand as code in the table; leaks and tubes included."""
    assert (
        part_name("R_outer") == "outer resistor" and part_name("backward 2") == "backward clamp 2"
    )
    for topology in CATALOGUE.values():
        signal = topology.signal
        names = [part_name(p.name) for p in (*signal.resistors, *signal.clamps)]
        assert not [n for n in names if n.startswith("R_")] and len(set(names)) == len(names)
