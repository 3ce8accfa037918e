"""Forward points of a sheet: typical ones are passed, maxima bound, what cannot be met is told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from clampwright.parts.catalogue import class_prior, junction_class
from clampwright.parts.forward import forward_voltage, with_forward_points
from clampwright.parts.sheet import ForwardPoint

# Published data sheets, 25 °C: (voltage, current, kind)
BAS116 = (
    (0.9, 1e-3, "maximum"),
    (1.0, 10e-3, "maximum"),
    (1.1, 50e-3, "maximum"),
    (1.25, 0.15, "maximum"),
)
BAT54_TYPICAL = ((0.22, 1e-4, "typical"), (0.29, 1e-3, "typical"), (0.35, 10e-3, "typical"),
                 (0.41, 30e-3, "typical"), (0.52, 0.1, "typical"))  # fmt: skip
BAT54_MAXIMUM = ((0.24, 1e-4, "maximum"), (0.32, 1e-3, "maximum"), (0.4, 10e-3, "maximum"),
                 (0.5, 30e-3, "maximum"), (1.0, 0.1, "maximum"))  # fmt: skip


def points(rows):
    return [ForwardPoint(voltage=v, current=i, kind=kind) for v, i, kind in rows]


def class_law(name):
    return class_prior(junction_class(name)).law


@pytest.mark.parametrize("volts", [0.60, 0.66, 0.72])
def test_one_typical_point_is_passed_and_moves_the_diffusion_current_only(volts):
    law = class_law("npn collector-base")
    found, missed = with_forward_points(law, points([(volts, 1e-3, "typical")]))
    assert forward_voltage(found, 1e-3) == pytest.approx(volts, rel=0, abs=1e-6)
    assert missed == ()
    assert replace(found, diffusion_current=law.diffusion_current) == law


def test_two_typical_points_are_passed_by_current_and_series_resistance():
    """Ideal diode and resistor in series (textbook): 60 mV per decade at ideality 1, the rest is
    ohmic, so from 1 mA to 100 mA R = (0.13 V − 2·V_T·ln 10)/99 mA = 0.118 Ω."""
    law = class_law("npn collector-base")
    found, missed = with_forward_points(
        law, points([(0.64, 1e-3, "typical"), (0.77, 0.1, "typical")])
    )
    assert forward_voltage(found, 1e-3) == pytest.approx(0.64, rel=0, abs=1e-6)
    assert forward_voltage(found, 0.1) == pytest.approx(0.77, rel=0, abs=1e-6)
    thermal = 8.617333262e-5 * 298.15
    expected = (0.13 - 2 * thermal * np.log(10)) / 0.099
    assert found.series_resistance == pytest.approx(expected, rel=0.05, abs=0)
    assert missed == ()


def test_maxima_that_hold_leave_the_class_alone():
    """BAS116, published data sheet: the class's drop lies below all four maxima."""
    law = class_law("low-leakage diode")
    found, missed = with_forward_points(law, points(BAS116))
    assert found == law
    assert missed == ()
    for volts, current, _ in BAS116:
        assert forward_voltage(found, current) <= volts


def test_a_maximum_below_the_class_brings_the_drop_down_to_it():
    law = class_law("low-leakage diode")
    tight = forward_voltage(law, 1e-3) - 0.05
    found, missed = with_forward_points(law, points([(tight, 1e-3, "maximum")]))
    assert forward_voltage(found, 1e-3) == pytest.approx(tight, rel=0, abs=1e-6)
    assert missed == ()


def test_a_maximum_never_raises_the_drop_to_itself():
    law = class_law("npn collector-base")
    found, _ = with_forward_points(law, points([(1.2, 1e-3, "maximum")]))
    assert found == law


def test_schottky_maxima_hold_and_typical_points_it_cannot_pass_are_told():
    """BAT54, published data sheet. The reverse law of the class, continued forward, carries more
    at 0.22 V than the 0.1 mA of the sheet, and no added mechanism can take current away."""
    law = class_law("schottky plastic")
    bounded, missed = with_forward_points(law, points(BAT54_MAXIMUM))
    assert missed == ()
    for volts, current, _ in BAT54_MAXIMUM:
        assert forward_voltage(bounded, current) <= volts + 1e-9
    fitted, missed = with_forward_points(law, points(BAT54_TYPICAL))
    assert any("100\u2009µA" in text and "typical 220\u2009mV" in text for text in missed)
    before = [forward_voltage(law, i) - v for v, i, _ in BAT54_TYPICAL]
    after = [forward_voltage(fitted, i) - v for v, i, _ in BAT54_TYPICAL]
    assert np.linalg.norm(after) <= np.linalg.norm(before) + 1e-9
