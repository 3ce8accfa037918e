"""Which wirings of a part are one clamp under several names, so that one answer serves them all.

An array of four equal diodes has eleven wirings that fit the same law and carry the same ratings; the
ranking judges the first and gives the others its figures.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace

from clampwright.parts.clamp_part import Clamp


def electrical_key(clamp: Clamp) -> Hashable:
    """Everything of a clamp that a verdict may read; equal keys give equal figures.

    Only the names of a wiring are left out: its leads, what it is called, and its cautions. Which pole is
    the anode counts only where there is none.
    """
    fitted, wiring = clamp.fitted, clamp.wiring
    nameless = replace(
        wiring, name="", first=(), second=(), open=(), tied=(), paths=(), words="", cautions=(),
        reason="", anode="both" if wiring.both_ways else "first",
    )  # fmt: skip
    return (
        clamp.sheet.id, nameless, clamp.lot, clamp.points,
        fitted.law, fitted.names, fitted.values.tobytes(), fitted.covariance.tobytes(),
        fitted.prior.law, fitted.prior.covariance.tobytes(), fitted.basis, fitted.maxima,
        fitted.temperature_range, fitted.known, fitted.assumed,
    )  # fmt: skip
