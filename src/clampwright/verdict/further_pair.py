"""Answers that two legs have: common-mode rejection, and the bias current before a zero takes it."""

from __future__ import annotations

import numpy as np

from clampwright.quantities import write
from clampwright.verdict.added_terms import Loaded
from clampwright.verdict.adjust import clamp_mismatch
from clampwright.verdict.dynamics import slowest_corner
from clampwright.verdict.error_terms import error_terms
from clampwright.verdict.legs import rejection, two_legs
from clampwright.verdict.results import Answer, Figure


def rejections(case: Loaded) -> Answer:
    """Rejection at rest and at the mains frequency, legs at opposite ends of their tolerances."""
    design = case.design
    if not design.network.pair:
        return Answer(key="", name="", note="a single-ended input has no common mode")
    index = slowest_corner(case.topology, case.grid)
    match, _ = clamp_mismatch(design)
    legs = two_legs(design, case.topology, case.clamp, case.grid, index, match)
    mains = design.requirement.mains_frequency
    stated = design.network.clamp_match is not None
    apart = f"; clamps taken as {write(match, 'ratio')} apart: give network.clamp_match"
    taken = "worst case of the tolerances" + ("" if stated else apart)
    return Answer(
        key="",
        name="",
        figures=(
            Figure(name="at rest", value=rejection(legs, 0.0), unit="dB"),
            Figure(name="and", value=rejection(legs, mains), unit="dB"),
            Figure(name="at", value=mains, unit="Hz"),
        ),
        corner=case.grid.at(index),
        note=taken,
        formula="1/CMRR = ΔR · g + R · Δg at rest, 2πf · (R · ΔC + C · ΔR) above",
        source="one-pole legs, differences to first order; the legs are solved exactly",
    )


def bias_of_pair(case: Loaded) -> Answer | None:
    """What the bias current makes between two legs, before and after the zero."""
    design = case.design
    if not design.network.pair:
        return None
    if design.amplifier.bias_current is None:
        return Answer(key="", name="", note="not stated: give amplifier.bias_current")
    wanted = design.requirement.model_copy(update={"calibration_temperature": None})
    unzeroed = design.model_copy(update={"requirement": wanted})
    before = error_terms(unzeroed, case.topology, case.clamp, case.grid)[0].bias
    after = error_terms(design, case.topology, case.clamp, case.grid)[0].bias
    i = int(np.argmax(np.abs(after.value) if np.any(after.value) else np.abs(before.value)))
    figures = [Figure(name="mismatch makes", value=float(before.value[i]), unit="V")]
    note = ""
    if design.requirement.calibration_temperature is not None:
        figures.append(Figure(name="after the zero", value=float(after.value[i]), unit="V"))
        if not np.any(after.value):
            note = "no change with heat is stated, so the zero takes all: give amplifier.bias_drift"
    return Answer(
        key="",
        name="",
        figures=tuple(figures),
        corner=case.grid.at(i),
        note=note,
        formula="ΔV = ΔI · R + I · ΔR",
        source="Kirchhoff's current law on each leg",
    )
