"""What a design is asked: error, faults, window, ranking.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from clampwright.actions.case import Case
from clampwright.actions.topology_values import refuse_missing
from clampwright.network.topologies import CATALOGUE
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.check import check_design
from clampwright.verdict.faults import faults_of_design
from clampwright.verdict.part_fault_results import PartFaultsResult
from clampwright.verdict.part_faults import part_faults as part_faults_of
from clampwright.verdict.rank import Progress as Progress
from clampwright.verdict.rank import rank_design
from clampwright.verdict.results import (
    CheckResult,
    FaultsResult,
    RankResult,
    ResistorWindow,
)
from clampwright.verdict.window import resistor_window


def topologies() -> dict[str, tuple[str, str]]:
    """Title and when-to-use line of every topology a verdict can be given for, by name."""
    return {t.name: (t.title, t.when) for t in CATALOGUE.values()}


def judged_clamp(case: Case) -> Clamp | None:
    """The clamp a design is judged with, None where its topology has none.

    Every question for a verdict comes by here. Raises InputError where the topology lacks a value it
    cannot do without, and where the design names no clamp that it needs.
    """
    refuse_missing(case.design)
    return case.chosen_clamp()


def window(case: Case) -> ResistorWindow:
    """The allowed window of the series resistor, between the fault and the accuracy walls."""
    return resistor_window(case.design, judged_clamp(case))


def check(case: Case, *, further: bool = True) -> CheckResult:
    """Error, noise, bandwidth and settling of a design against its allowance.

    further : whether to answer beyond the verdict too (the error over the signal, harmonics, hum, off
              state, …), which takes longer
    """
    clamp = judged_clamp(case)
    found = check_design(
        case.design, clamp, design_hash=case.hash, inputs=case.inputs, over_signal=further
    )
    if not further:
        return found
    from clampwright.verdict.further import further_answers

    return found.model_copy(update={"further": further_answers(case.design, clamp, found)})


def faults(case: Case) -> FaultsResult:
    """Stress against rating under every fault of a design."""
    return faults_of_design(case.design, judged_clamp(case), design_hash=case.hash)


def part_faults(case: Case) -> PartFaultsResult:
    """Each part of a design shorted and opened in turn."""
    return part_faults_of(case.design, judged_clamp(case), design_hash=case.hash)


def rank(case: Case, progress: Progress | None = None) -> RankResult:
    """Every clamp wiring × topology × series resistor for a design, sorted."""
    return rank_design(
        case.design,
        judged_clamp(case),
        case.options(),
        design_hash=case.hash,
        progress=progress,
    )
