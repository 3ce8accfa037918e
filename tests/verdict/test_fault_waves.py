"""Faults over time: against Ohm's law by hand, and against the fault table that is solved apart."""

from __future__ import annotations

from math import sqrt

import numpy as np
import pytest

from clampwright import actions
from clampwright.record.wave_plot import waves_sentence, waves_svg


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
    forward = wave(waves, "clamp, forward", "current")
    backward = wave(waves, "clamp, backward", "current")
    pin = wave(waves, "amplifier pin", "current")
    assert forward - backward + pin == pytest.approx(through, abs=1e-12)
    power = wave(waves, "outer resistor", "power")
    assert power == pytest.approx(through**2 * 470e3, abs=1e-11)  # a stiff source has 1 mΩ


def test_peaks_and_means_are_those_of_the_fault_table(case: actions.Case) -> None:
    table = {c.name: c for c in actions.faults(case).cases if c.voltage > 0}
    for number, name in ((1, "F1"), (2, "F2"), (4, "F4")):
        waves, row = actions.fault_waves(case, number), table[name]
        sides = [wave(waves, f"clamp, {side}", "current") for side in ("forward", "backward")]
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


def test_the_picture_says_that_it_is_quasi_static_and_names_ratings(case: actions.Case) -> None:
    waves = actions.fault_waves(case, 2)
    svg = waves_svg(waves)
    assert "quasi-static" in svg and "clamp rating" in svg and "usable" in svg
    assert "Quasi-static" in waves_sentence(waves)


def test_where_the_pin_begins_to_conduct_is_no_limit(case: actions.Case) -> None:
    """Abs-max voltage may be passed where the current is limited (common practice, no source)."""
    pin = next(
        w for w in actions.fault_waves(case, 2).waves
        if (w.part, w.quantity) == ("amplifier pin", "voltage")
    )  # fmt: skip
    above = next(x for x in pin.levels if x.name == "pin begins to conduct, above")
    assert above.value == pytest.approx(2.5 + 0.3, abs=1e-12)
    assert not any("limit" in x.name for x in pin.levels)
