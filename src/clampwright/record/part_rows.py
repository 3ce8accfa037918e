"""Rows and sentences of a part, written once for its page and its terminal text."""

from __future__ import annotations

from clampwright.record.tables import Row
from clampwright.record.words import (
    DASH,
    by_basis,
    interval,
    known_words,
    nominal,
    quantity,
    temperature,
)
from clampwright.verdict.known import Known
from clampwright.verdict.part_view import COMPARED_VOLTAGE, ROOM, PartResult, WiringView
from clampwright.verdict.results import LeakagePoint

AT_ROOM = nominal(ROOM, "temperature")
COMPARED = f"{nominal(COMPARED_VOLTAGE, 'voltage')}, {AT_ROOM}"
WIRING_HEADS = (
    "wiring", "leads", "anode", "breakdown", "forward up to", f"leakage at {COMPARED}", "known",
)  # fmt: skip
FIGURE_HEADS = ("kind", "leakage", "reverse", "at", "source")
KIND_ORDER = ("maximum", "typical", "measured", "not detected")
KNOWN_AS = {"maximum": "at most"}


def usable(part: PartResult) -> tuple[WiringView, ...]:
    """The wirings that may serve as a clamp."""
    return tuple(w for w in part.wirings if not w.rejected and w.basis is not None)


def rejected(part: PartResult) -> tuple[WiringView, ...]:
    """The wirings that may not, each with its reason."""
    return tuple(w for w in part.wirings if w.rejected or w.basis is None)


def part_rows(part: PartResult) -> list[Row]:
    """The part as name and value."""
    rows: list[Row] = [
        ("part", part.id),
        ("kind", part.kind),
        ("leads", ", ".join(part.leads)),
        ("package", f"{part.package}, {part.light}"),
        ("hash of the sheet", part.sheet_hash),
    ]
    return [*rows, ("note", part.note)] if part.note else rows


def wiring_row(view: WiringView) -> Row:
    """One wiring: what it is, what it may carry, what it leaks and how that is known."""
    return (
        view.name,
        view.words,
        anode_words(view),
        at_least(view),
        DASH
        if view.forward_current_maximum is None
        else nominal(view.forward_current_maximum, "current"),
        leakage_words(view),
        known_as(view),
    )


def anode_words(view: WiringView) -> str:
    """The lead or tied leads at the anode."""
    return "either pole" if view.anode == "both" else view.anode


def at_least(view: WiringView) -> str:
    """The breakdown voltage that the sheet states at least."""
    if view.breakdown_minimum is None:
        return DASH
    return f"≥ {nominal(view.breakdown_minimum, 'voltage')}"


def known_as(view: WiringView) -> str:
    """How the leakage of a wiring is known, in the words of every chart."""
    return told_as(view.basis, view.known_by) or DASH


def told_as(basis: str | None, known: Known | None) -> str:
    """How a leakage is known where space is tight: a maximum as "at most"."""
    return KNOWN_AS.get(basis or "") or known_words(basis, known, short=True)


def leakage_words(view: WiringView) -> str:
    """Leakage with its 95 % interval; where only a maximum is stated, that bound comes first."""
    if view.leakage is None or view.leakage_low is None or view.leakage_high is None:
        return DASH
    if view.basis == "maximum":
        bound = by_basis(quantity(view.leakage_high, "current"), "maximum")
        return f"{bound} (class {quantity(view.leakage, 'current')})"
    written = interval(view.leakage, view.leakage_low, view.leakage_high, "current")
    return by_basis(written, view.basis or "assumed")


def law_rows(view: WiringView) -> list[Row]:
    """The fitted law by full names, with the slope at zero and the doubling temperature."""
    rows: list[Row] = list(view.law.items())
    resistance, doubling = view.zero_bias_resistance, view.doubling
    rows.append((f"zero-bias resistance, {AT_ROOM}", quantity(resistance, "resistance")))
    rows.append(
        (f"leakage doubles, from {AT_ROOM}, every", quantity(doubling, "temperature_difference"))
    )
    if view.capacitance is not None:
        rows.append(("capacitance at 0 V", nominal(view.capacitance, "capacitance")))
    if view.lack_of_fit is not None:
        rows.append(("chance of a scatter as large", f"{view.lack_of_fit:.2g}"))
    return rows


def figure_rows(view: WiringView) -> list[Row]:
    """Maxima, typical figures and readings of the dark leakage, each kind kept apart."""
    points = sorted(view.evidence, key=lambda p: (KIND_ORDER.index(p.basis), p.temperature))
    return [
        (
            "at most" if p.basis == "maximum" else p.basis,
            figure_words(p),
            nominal(p.voltage, "voltage"),
            temperature(p.temperature),
            p.source,
        )
        for p in points
    ]


def figure_words(point: LeakagePoint) -> str:
    """One figure or reading as it may be quoted; a non-detect is its upper bound, never 0."""
    if point.basis in ("maximum", "not detected"):
        return by_basis(quantity(point.high, "current"), point.basis)
    written = interval(point.leakage, point.low, point.high, "current")
    return by_basis(written, point.basis)


def alike(views: tuple[WiringView, ...]) -> list[tuple[WiringView, ...]]:
    """Wirings with the very same law, figures and curves together, in the order of the sheet."""
    groups: list[list[WiringView]] = []
    for view in views:
        same = [g for g in groups if _what_is_known(g[0]) == _what_is_known(view)]
        if same:
            same[0].append(view)
        else:
            groups.append([view])
    return [tuple(group) for group in groups]


def _what_is_known(view: WiringView) -> tuple[object, ...]:
    return (
        view.basis,
        view.known_by,
        view.law,
        view.known,
        view.assumed,
        view.evidence,
        view.curves,
        view.capacitance,
    )


def warnings(views: tuple[WiringView, ...]) -> tuple[str, ...]:
    """Cautions first, then flags, none twice; named where they hold for some wirings only."""
    said = [tuple(dict.fromkeys((*view.cautions, *view.flags))) for view in views]
    every = [words for words in said[0] if all(words in other for other in said)]
    some = [
        f"{view.name}: {words}"
        for view, own in zip(views, said, strict=True)
        for words in own
        if words not in every
    ]
    return (*every, *some)


def rejection_groups(part: PartResult) -> list[tuple[str, tuple[str, ...]]]:
    """Reasons of rejection with the wirings they hold for, in the order of the sheet."""
    groups: dict[str, list[str]] = {}
    for view in rejected(part):
        groups.setdefault(view.reason or "no law is known", []).append(view.name)
    return [(reason, tuple(names)) for reason, names in groups.items()]
