"""Further answers in words: the same rows for terminal and page, formulas for --explain."""

from __future__ import annotations

import math

from clampwright.record.words import UNIT_QUANTITY, corner_words, prose, quantity
from clampwright.verdict.results import Answer, CheckResult, Figure

Row = tuple[str, ...]

HEADS = ("answer", "figures", "worst corner", "remark")
KINDS = UNIT_QUANTITY | {
    "1": "ratio",
    "S": "conductance",
    "V/K": "voltage_drift",
    "A/K": "current_drift",
    "V/s": "voltage_rate",
    "V/√Hz": "voltage_noise",
    "A/√Hz": "current_noise",
}
NEGLIGIBLE = {"1": (1e-9, "below 1 in 10⁹"), "V": (1e-15, "below 1 fV")}  # below it only the bound
FAINTEST = -180.0  # [dB] the same for a ratio in decibels
CARRYING_ON = ("at", "to", "and", "and a peak of", "taking")
SIGNED_KEYS = ("offset", "gain error", "leakage drift", "offset drift")
SIGNED_NAMES = ("error", "net leakage", "per kelvin", "bootstrap lost")


def further_rows(check: CheckResult) -> list[Row]:
    """Name, figures, corner and remark of each further answer."""
    return [
        (
            answer.name,
            figures_words(answer),
            corner_words(answer.corner) if answer.corner else "",
            prose(answer.note),
        )
        for answer in check.further
    ]


def further_pairs(check: CheckResult) -> list[Row]:
    """The same as name and one text, for the terminal."""
    rows = further_rows(check)
    return [(name, "; ".join(part for part in rest if part)) for name, *rest in rows]


def figures_words(answer: Answer) -> str:
    """The figures of one answer; those without a name belong to the one before."""
    said = ""
    for figure in answer.figures:
        text = _figure(figure, answer.key)
        if not figure.name:
            said += f" = {text}" if said else text
        elif said and figure.name in CARRYING_ON:
            said += f" {figure.name} {text}"
        else:
            said += f", {figure.name} {text}" if said else f"{figure.name} {text}"
    return said


def explained(check: CheckResult) -> list[str]:
    """Formula and source of each further answer that has figures."""
    return [
        f"{a.name}: {figures_words(a)} — {a.formula} — {a.source}"
        for a in check.further
        if a.figures
    ]


def _figure(figure: Figure, key: str) -> str:
    value, unit = figure.value, figure.unit
    if unit == "dB":
        if math.isinf(value):
            return "without limit"
        return (
            f"below −{-FAINTEST:g} dB" if value < FAINTEST else f"{value:.1f} dB".replace("-", "−")
        )
    limit, words = NEGLIGIBLE.get(unit, (0.0, ""))
    if 0 < abs(value) < limit:
        return words
    signed = (not figure.name and key in SIGNED_KEYS) or figure.name.startswith(SIGNED_NAMES)
    return quantity(value, KINDS[unit], signed=signed and "±" not in figure.name)
