"""Pictures of the record: each as SVG with the sentence that says what it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from clampwright.record.look import figure_svg
from clampwright.record.plots import (
    budget_plot,
    deciding_judgement,
    leakage_plot,
    lowest_stresses,
    stress_plot,
    window_plot,
)
from clampwright.record.schematic import schematic_svg
from clampwright.record.sensor_unit import SensorUnit, sensor_unit
from clampwright.record.words import error_words, known_words, nominal, prose, ratio
from clampwright.verdict.results import (
    CheckResult,
    FaultsResult,
    Judgement,
    RankResult,
    ResistorWindow,
)

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def record_figures(
    check: CheckResult, faults: FaultsResult, rank: RankResult
) -> dict[str, tuple[str, str]]:
    """Every picture that can be drawn, by name: SVG in ink on paper and its sentence."""
    judgement = deciding_judgement(check)
    drawn = {"schematic": (schematic_svg(check), "")}
    pictures: tuple[tuple[str, str, Figure | None, str], ...] = (
        ("budget", "Error budget", budget_plot(check, judgement), _budget_sentence(check, judgement)),
        ("leakage", "Leakage against temperature", leakage_plot(check), _leakage_sentence(check)),
        ("window", "Window of the series resistor", window_plot(rank),
         _window_sentence(rank.window)),
        ("stress", "Stress against rating", stress_plot(faults), _stress_sentence(faults)),
    )  # fmt: skip
    for name, title, figure, sentence in pictures:
        if figure is not None:
            svg = figure_svg(figure, name=name, title=title, description=sentence)
            drawn[name] = (svg, sentence)
    return drawn


def _budget_sentence(check: CheckResult, judgement: Judgement | None) -> str:
    if judgement is None or not judgement.terms:
        return "No term was judged."
    largest = max(judgement.terms, key=lambda term: abs(term.value))
    unit, ohms = sensor_unit(check.design, judgement.corner), judgement.volts_per_ampere
    return (
        f"{judgement.name}: the largest term is {largest.name}, "
        f"{error_words(largest.value, ohms, signed=True)} "
        f"({known_words(largest.basis, largest.known_by, short=True)}), against an "
        f"allowance of ± {error_words(judgement.allowance, ohms)}{_equal(unit, judgement)}."
    )


def _equal(unit: SensorUnit | None, judgement: Judgement) -> str:
    if unit is not None and unit.is_current:
        return f", which is {error_words(judgement.allowance)} where it is counted"
    return f", which is {unit.text(judgement.allowance)}" if unit else ""


def _leakage_sentence(check: CheckResult) -> str:
    clamp = check.clamp
    if clamp is None:
        return "There is no clamp."
    measured = sum(point.basis == "measured" for point in clamp.points)
    unseen = sum(point.basis == "not detected" for point in clamp.points)
    return (
        f"{clamp.title}: {measured} measured points and {unseen} not detected; the line is the "
        f"law, its band 95 %, dotted outside the measured temperatures; evidence at another voltage "
        f"is grey. In the circuit the clamp sits at {prose(clamp.sits_at_words)}."
    )


def _window_sentence(window: ResistorWindow) -> str:
    state, reason = "open" if window.open else "shut", prose(window.reason)
    said = reason if reason.startswith(state) else f"{state}: {reason}"
    return f"The window is {said}. Chosen {nominal(window.chosen, 'resistance')}."


def _stress_sentence(faults: FaultsResult) -> str:
    lines = lowest_stresses(faults)
    unrated = sum(line.ratio is None for _, line in lines)
    rated = [(name, line) for name, line in lines if line.ratio is not None]
    if not rated:
        return "No stress could be compared with a rating."
    name, line = rated[0]
    unknown = f"; {unrated} more without a stated rating" if unrated else ""
    return (
        f"The lowest margin is {ratio(line.ratio)} times: {line.part}, {line.quantity}, "
        f"under {name}{unknown}."
    )
