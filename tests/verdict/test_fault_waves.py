"""Faults over time: against Ohm's law by hand, and against the fault table that is solved apart."""

from __future__ import annotations

import re
from math import sqrt

import numpy as np
import pytest

from clampwright import actions
from clampwright.record.wave_plot import _spread, waves_sentence, waves_svg


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> actions.Case:
    return actions.open_case(actions.demo_workspace(tmp_path_factory.mktemp("waves") / "orchard"))


def wave(waves: actions.FaultWaves, part: str, quantity: str) -> np.ndarray:
    found = next(w for w in waves.waves if w.part == part and w.quantity == quantity)
    return np.array(found.values)


def test_one_mains_period_follows_ohms_law_at_every_instant(case: actions.Case) -> None:
    """Kirchhoff: what goes through 940 kΩ goes into the clamps and the pin; sine of 24 V rms."""
    waves = actions.fault_waves(case, 2)
    assert waves.periodic and len(waves.time) == 201
    assert waves.time[-1] == pytest.approx(0.02, abs=1e-12)
    applied = wave(waves, "connector", "voltage")
    assert np.max(applied) == pytest.approx(24 * sqrt(2), abs=1e-9)
    through = (applied - wave(waves, "clamp node", "voltage")) / 940e3
    forward = wave(waves, "forward clamp", "current")
    backward = wave(waves, "backward clamp", "current")
    pin = wave(waves, "amplifier pin", "current")
    assert forward - backward + pin == pytest.approx(through, abs=1e-12)
    power = wave(waves, "outer resistor", "power")
    assert power == pytest.approx(through**2 * 470e3, abs=1e-11)  # a stiff source has 1 mΩ


def test_peaks_and_means_are_those_of_the_fault_table(case: actions.Case) -> None:
    table = {c.name: c for c in actions.faults(case).cases if c.voltage > 0}
    for number, name in ((1, "F1"), (2, "F2"), (4, "F4")):
        waves, row = actions.fault_waves(case, number), table[name]
        sides = [wave(waves, f"{side} clamp", "current") for side in ("forward", "backward")]
        largest = np.max(np.abs(sides))
        assert largest == pytest.approx(row.clamp_current, abs=1e-9 * row.clamp_current + 1e-18)
        pin = np.max(np.abs(wave(waves, "amplifier pin", "current")))
        assert pin == pytest.approx(row.pin_current, abs=1e-9 * row.pin_current + 1e-18)
    power = wave(actions.fault_waves(case, 2), "outer resistor", "power")[:-1]
    assert np.mean(power) == pytest.approx(table["F2"].resistor_power, abs=1e-3 * np.mean(power))


def test_ratings_are_the_lines_of_the_stress_table(case: actions.Case) -> None:
    waves = actions.fault_waves(case, 2)
    pin = next(w for w in waves.waves if w.part == "amplifier pin" and w.quantity == "current")
    assert [line.value for line in pin.levels] == [10e-3, 5e-3]
    assert "usable" in pin.levels[1].name


def test_impulses_and_strange_numbers_are_refused_in_a_sentence(case: actions.Case) -> None:
    with pytest.raises(actions.ClampwrightError, match="impulses are not solved in time yet"):
        actions.fault_waves(case, 3)
    for number in (0, 99):
        with pytest.raises(actions.ClampwrightError, match=f"there is no fault {number}"):
            actions.fault_waves(case, number)


def test_the_picture_names_every_line_and_has_no_legend(case: actions.Case) -> None:
    """Shares of what is usable: 50 % of 100 mA and of 10 mA; text large enough to read, one time axis."""
    waves = actions.fault_waves(case, 2)
    svg = waves_svg(waves)
    assert "quasi-static" in svg and "Quasi-static" in waves_sentence(waves)
    for words in ("connector 33.9", "positive rail 2.50", "of 50.0", "of 5.00", "one period, 20.0"):
        assert words in svg.replace("\u2009", " "), words
    assert "legend" not in svg and "pin pin" not in svg
    sizes = [float(s) for s in re.findall(r"font-size: ([0-9.]+)px", svg)]
    assert sizes and min(sizes) >= 9.6  # points at the natural width: 12.8 px


def test_names_never_touch() -> None:
    """Three lines at one place and one at each edge, a tenth apart afterwards and inside the picture."""
    placed = _spread([0.0, 0.5, 0.5, 0.5, 1.0], 0.1)
    assert np.min(np.diff(placed)) >= 0.1 - 1e-12 and placed[0] >= 0 and placed[-1] <= 1


def test_where_the_pin_begins_to_conduct_is_no_limit(case: actions.Case) -> None:
    """Abs-max voltage may be passed where the current is limited (common practice, no source)."""
    pin = next(
        w for w in actions.fault_waves(case, 2).waves
        if (w.part, w.quantity) == ("amplifier pin", "voltage")
    )  # fmt: skip
    above = next(x for x in pin.levels if x.name == "the pin conducts above")
    assert above.value == pytest.approx(2.5 + 0.3, abs=1e-12)
    assert not any("limit" in x.name for x in pin.levels)


@pytest.fixture(scope="module")
def press(tmp_path_factory: pytest.TempPathFactory) -> actions.Case:
    folder = actions.demo_workspace(
        tmp_path_factory.mktemp("waves") / "press", "press"
    ).parent.parent
    return actions.open_case(folder / "designs" / "press-load.toml")


def with_rails(case: actions.Case, **changes: object) -> actions.Case:
    rails = case.design.rails.model_copy(update=changes)
    design = case.design.model_copy(update={"rails": rails})
    return actions.Case(design, case.design_hash, case.workspace)


def test_a_pumped_rail_is_drawn_where_it_goes_in_real_time(press: actions.Case) -> None:
    """(2 · 5.16 mA − 0.9 mA)/47 µF is 200 V/s: 0.6 V to the shunt take 3.0 ms once the voltage is up."""
    waves = actions.fault_waves(press, 4)
    assert waves.moved == "positive" and "continuous" in waves.span and "ms" in waves.span
    time, rail = np.array(waves.time), wave(waves, "positive rail", "voltage")
    assert rail[0] == pytest.approx(5.0, abs=1e-9) and rail[-1] == pytest.approx(5.6, abs=1e-9)
    risen = 0.1 * time[-1]  # the voltage rises so long
    slope = (np.interp(2.5e-3, time, rail) - np.interp(1.5e-3, time, rail)) / 1e-3
    assert slope == pytest.approx(200, abs=4) and risen < 1.5e-3
    at_shunt = time[np.argmax(rail > 5.6 - 1e-9)]
    assert 3.0e-3 < at_shunt < 3.0e-3 + risen
    # what flows falls as the rail rises: (30 − rail − 0.65)/4.7 kΩ
    upper = wave(waves, "upper clamp", "current")
    assert upper[-1] == pytest.approx((30 - 5.6 - 0.65) / 4.7e3 - 0.11e-3, abs=0.05e-3)


def test_a_rail_without_a_shunt_approaches_where_its_load_takes_what_flows(
    press: actions.Case,
) -> None:
    """Exponential by hand: τ = R·C/channels, 4 of them leave e⁻⁴ of the way."""
    bare = with_rails(press, shunt_voltage=None, absolute_maximum=40.0)
    waves = actions.fault_waves(bare, 4)
    rail = wave(waves, "positive rail", "voltage")
    settles = next(c for c in actions.faults(bare).cases if c.name == "F4").rail_settles_at
    assert settles is not None and rail[-1] < settles + 1e-6
    left = (settles - rail[-1]) / (settles - 5.0)
    assert left == pytest.approx(np.exp(-4), abs=0.012)  # the rise takes a tenth of the time
    assert np.all(np.diff(rail) >= 0)


def test_a_rail_that_the_load_holds_stays_and_the_time_is_stated(press: actions.Case) -> None:
    waves = actions.fault_waves(press, 2)
    assert waves.moved == "" and set(wave(waves, "positive rail", "voltage")) == {5.0}
    assert waves.time[-1] == pytest.approx(10e-3, abs=1e-12) and "its first 10.0" in waves.span
    into = next(w for w in waves.waves if w.part == "into the positive rail")
    assert [x.value for x in into.levels] == [14e-3]
    assert into.values[-1] == pytest.approx(2 * (30 - 5 - 0.65) / 4.7e3, abs=0.05e-3)


def test_mains_rails_are_drawn_where_they_settle(case: actions.Case) -> None:
    """A load of 1 µA takes a fraction of what 34 V push through 940 kΩ: both rails go up."""
    tired = with_rails(case, load=1e-6, minimum_load=1e-6)
    waves = actions.fault_waves(tired, 2)
    settled = {c.rail: c.rail_settles_at for c in actions.faults(tired).cases if c.name == "F2"}
    for rail in ("positive", "negative"):
        assert set(wave(waves, f"{rail} rail", "voltage")) == {settled[rail]}
    assert abs(settled["positive"] or 0) > 10 and "many periods" in waves.note
