"""A part wired as a clamp: sheet, wiring, law fitted to its evidence, lot and ratings together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from clampwright.errors import InputError
from clampwright.parts.catalogue import class_prior, junction_class
from clampwright.parts.evidence import EvidencePoint, MaximumFigure, TypicalFigure
from clampwright.parts.forward import with_forward_points
from clampwright.parts.law_fit import FittedLaw, fit_law
from clampwright.parts.law_model import LawPrior
from clampwright.parts.lots import LotSpread
from clampwright.parts.sheet import Figure, ForwardPoint, PartSheet
from clampwright.parts.wirings import Wiring, wiring_named

Stated = TypeVar("Stated", TypicalFigure, MaximumFigure)


@dataclass(frozen=True, eq=False)
class Clamp:
    """One candidate clamp with everything the network and the verdict need of it.

    Equal only to itself, so that what follows from it can be kept.
    """

    sheet: PartSheet
    wiring: Wiring
    fitted: FittedLaw
    lot: LotSpread | None
    notes: tuple[str, ...]
    points: tuple[EvidencePoint, ...] = ()

    @property
    def name(self) -> str:
        """Part id and wiring, as designs write it: "npn-small C/B+E"."""
        return f"{self.sheet.id} {self.wiring.name}"


def clamp_part(
    sheet: PartSheet, wiring: Wiring | str, points: Sequence[EvidencePoint] = ()
) -> Clamp:
    """The clamp made of `sheet` in `wiring`, its law fitted to `points` and the sheet's figures.

    `points` are readings of this very wiring. Raises InputError for a rejected wiring.
    """
    found = wiring_named(sheet, wiring) if isinstance(wiring, str) else wiring
    if found.rejected or found.clamp_class is None:
        raise InputError(
            f"{sheet.id} {found.name} is no clamp: {found.reason}",
            mend="choose another wiring of the part",
        )
    typical, maxima = sheet_figures(sheet, found)
    prior = wiring_prior(found)
    law, missed = with_forward_points(prior.law, _forward_points(sheet, found))
    fitted = fit_law(replace(prior, law=law), points, typical, maxima)
    notes = (*_notes(found), *missed)
    return Clamp(sheet, found, fitted, _lot(sheet, found), notes, tuple(points))


def _forward_points(sheet: PartSheet, wiring: Wiring) -> tuple[ForwardPoint, ...]:
    """The forward points of the only junction of a wiring; those of several do not add up."""
    if wiring.composition != "single":
        return ()
    active = {name for path in wiring.paths for name in path}
    return tuple(p for j in sheet.junctions if j.name in active for p in j.forward_voltage)


def wiring_prior(wiring: Wiring) -> LawPrior:
    """The class of a wiring as a prior, with the capacitance and breakdown of the sheet."""
    if wiring.clamp_class is None:
        raise InputError(f"wiring {wiring.name} has no junction: {wiring.reason}")
    prior = class_prior(
        junction_class(wiring.clamp_class), scale=wiring.scale, series=wiring.series
    )
    law = prior.law
    if wiring.capacitance is not None:
        law = replace(law, zero_bias_capacitance=wiring.capacitance)
    if wiring.breakdown_typical is not None:
        law = replace(law, breakdown_voltage=wiring.breakdown_typical)
    return replace(prior, law=law)


def sheet_figures(
    sheet: PartSheet, wiring: Wiring
) -> tuple[tuple[TypicalFigure, ...], tuple[MaximumFigure, ...]]:
    """Typical and maximum leakage figures that hold for a wiring.

    A measured figure on a sheet comes without uncertainty and counts as a typical one.
    A figure holds when it names the wiring, or the only junction of it.
    """
    junctions = {junction.name for junction in sheet.junctions}
    active = {name for path in wiring.paths for name in path}

    def holds(figure: Figure) -> bool:
        if figure.of in junctions:
            return wiring.composition == "single" and figure.of in active
        return wiring_named(sheet, figure.of) == wiring

    leakage = [f for f in sheet.figures if f.quantity == "reverse leakage" and holds(f)]
    typical = tuple(_stated(TypicalFigure, f) for f in leakage if f.kind in ("typical", "measured"))
    maxima = tuple(_stated(MaximumFigure, f) for f in leakage if f.kind == "maximum")
    return typical, maxima


def _stated(kind: type[Stated], figure: Figure) -> Stated:
    """A leakage figure as evidence: the sheet has made sure of its voltage and temperature."""
    assert figure.voltage is not None and figure.temperature is not None
    return kind(
        reverse_voltage=figure.voltage,
        temperature=figure.temperature,
        leakage=figure.value,
        illuminance=figure.illuminance or 0.0,
        source=figure.source,
    )


def _lot(sheet: PartSheet, wiring: Wiring) -> LotSpread | None:
    """The latest lot measured in this wiring."""
    lots = [lot for lot in sheet.lots if wiring_named(sheet, lot.wiring) == wiring]
    if not lots:
        return None
    latest = max(lots, key=lambda lot: lot.date)
    return LotSpread(latest.count, latest.log_standard_deviation)


def _notes(wiring: Wiring) -> tuple[str, ...]:
    notes = list(wiring.cautions)
    if wiring.composition == "antiparallel":
        notes.append(
            "the law is that of one direction; the network sets two of them against each other, "
            "and by default one is lit and the other dark"
        )
    if wiring.composition in ("parallel", "series-parallel"):
        notes.append("parallel junctions do not share a fault current equally: one may carry all")
    return tuple(notes)
