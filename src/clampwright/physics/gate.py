"""Gate current of an operating JFET: impact ionisation in the channel lifts it by decades.

With drain and source tied (a clamp) there is no channel current and no such rise; inside an
amplifier it appears as a bias current that climbs with common mode above a breakpoint.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.physics.law import Numbers

SMALLEST_SHARE = 1e-3  # of `fall`, keeps fall/V finite at the knee


def operating_gate_current(
    drain_gate_voltage: Numbers,
    drain_current: Numbers,
    quiet_current: Numbers,
    ionisation: Numbers,
    fall: Numbers,
    knee: Numbers = 0.0,
) -> tuple[Any, Any]:
    """Gate current (A) and its slope by drain–gate voltage (S).

    I_G = I_G0 + I_D·c1·exp(−c2/(V_DG − V_knee)), the second term zero at and below the knee.

    drain_gate_voltage : V, 0…40; drain_current : A, ≥ 0
    quiet_current : A, the junction leakage at this voltage (from the clamp law)
    ionisation : c1; fall : c2 in V; knee : V_knee in V (all fitted per type)
    """
    v = np.asarray(drain_gate_voltage, float) - knee
    above = np.maximum(v, SMALLEST_SHARE * np.asarray(fall, float))
    rise = np.asarray(drain_current) * ionisation * np.exp(-np.asarray(fall) / above)
    rise = np.where(v > 0, rise, 0.0)
    slope = np.where(v > 0, rise * fall / above**2, 0.0)
    return quiet_current + rise, slope
