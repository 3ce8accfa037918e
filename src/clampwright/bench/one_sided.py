"""What may still be in a reading and can only be there with one sign: soakage, and light that leaks in."""

from __future__ import annotations

from math import inf, isnan

from clampwright.bench.grouping import Group
from clampwright.bench.history import Creep, History
from clampwright.bench.instrument import Profile
from clampwright.bench.zeros import NEAR_ZERO_BIAS, SIGNIFICANT, Zero, difference_uncertainty


def soakage_left(history: History, condition: Group) -> Creep | None:
    """How the readings of a condition creep since the row before them; None where times are missing.

    The voltage was applied no earlier than the row before the run was read.
    """
    if condition.first == 0 or isnan(history.seconds[condition.first]):
        return None
    return history.creep(condition, float(history.seconds[condition.first - 1]))


def light_left(
    condition: Group, zero: Zero, leads: Zero, fitted: Group | None, profile: Profile
) -> float:
    """Output (V) by which the part fitted at 0 V in the dark exceeds the open-lead zero, or 0.

    That much of a dark reading away from 0 V may be photocurrent. Only where it is told from noise
    (three standard uncertainties), runs in the direction of a photocurrent and was not subtracted.
    """
    near = abs(condition.reverse_voltage) <= NEAR_ZERO_BIAS
    if fitted is None or near or condition.light > 0 or leads.kind != "open leads":
        return 0.0
    excess = profile.sign * (fitted.mean - leads.value)
    noise = difference_uncertainty(fitted, leads, profile.resolution)
    noise += (leads.drift if leads.drift is not None else inf) / SIGNIFICANT
    return excess if excess > SIGNIFICANT * noise else 0.0


__all__ = ["light_left", "soakage_left"]
