"""What the trade knows about wirings of each kind of part: names, words, cautions, rejections."""

from __future__ import annotations

from dataclasses import dataclass

from clampwright.parts.sheet import PartSheet

LEAD_WORDS = {
    "C": "collector",
    "B": "base",
    "E": "emitter",
    "G": "gate",
    "D": "drain",
    "S": "source",
    "A": "anode",
    "K": "cathode",
}
FIXED_ORDER = {"transistor": ("C", "E", "B"), "jfet": ("G", "D", "S"), "mosfet": ("D", "G", "S")}
EMITTER_OPEN = "the open emitter picks up hum and charge: tie it to the base"
EMITTER_BASE = (
    "emitter–base breaks down at 5–7 V, is then a noise source and loses current gain for good"
)


@dataclass(frozen=True)
class Advice:
    """What to say about one wiring."""

    words: str
    rejection: str = ""
    cautions: tuple[str, ...] = ()


def lead_order(sheet: PartSheet) -> tuple[str, ...]:
    """Leads in the order that decides which pole is written first."""
    for ending, order in FIXED_ORDER.items():
        if sheet.kind.endswith(ending) and set(sheet.leads) == set(order):
            return order
    if sheet.kind == "esd array":
        return sheet.leads
    anodes = {junction.anode for junction in sheet.junctions if not junction.both_ways}
    return tuple(sorted(sheet.leads, key=lambda lead: lead in anodes))


def written_order(sheet: PartSheet) -> tuple[str, ...]:
    """Leads in the order in which those of one pole are written."""
    order = lead_order(sheet)
    return ("C", "B", "E") if order == FIXED_ORDER["transistor"] else order


def advice(
    sheet: PartSheet,
    first: tuple[str, ...],
    second: tuple[str, ...],
    opened: tuple[str, ...],
    tied: tuple[str, ...],
    paths: tuple[tuple[str, ...], ...],
) -> Advice:
    """Words, rejection and cautions of one wiring."""
    order = written_order(sheet)
    first, second = (tuple(sorted(pole, key=order.index)) for pole in (first, second))
    words = _words(first, second, opened, tied)
    poles = {frozenset(first), frozenset(second)}
    if sheet.kind.endswith("transistor"):
        return _transistor(words, poles, opened)
    if sheet.kind.endswith("jfet"):
        return _jfet(words, poles, opened)
    if sheet.kind.endswith("mosfet"):
        return _mosfet(sheet, words, poles, opened)
    if sheet.kind == "resettable fuse":
        return Advice(
            words, "a resettable fuse is a series element: it limits current, not voltage"
        )
    if sheet.kind == "photorelay output":
        return Advice(words, "a photorelay output disconnects in series: it does not limit voltage")
    return Advice(words, cautions=_light_and_kind(sheet, opened, paths))


def _words(
    first: tuple[str, ...], second: tuple[str, ...], opened: tuple[str, ...], tied: tuple[str, ...]
) -> str:
    words = f"{_pole_words(first)} against {_pole_words(second)}"
    if tied:
        words += f", {' and '.join(_lead_words(x) for x in tied)} tied to each other only"
    if opened:
        words += f", {' and '.join(_lead_words(x) for x in opened)} open"
    return words


def _lead_words(lead: str) -> str:
    return LEAD_WORDS.get(lead, lead)


def _pole_words(leads: tuple[str, ...]) -> str:
    named = [_lead_words(lead) for lead in leads]
    return " tied to ".join(named) if len(named) < 3 else " and ".join(named) + " tied together"


def _transistor(words: str, poles: set[frozenset[str]], opened: tuple[str, ...]) -> Advice:
    if poles == {frozenset("C"), frozenset("E")}:
        return Advice(words, "collector–emitter with the base open leaks (β+1) times I_CBO")
    if poles == {frozenset("C"), frozenset("B")}:
        return Advice(words, cautions=(EMITTER_OPEN,))
    if poles == {frozenset("E"), frozenset("B")}:
        return Advice(
            words, cautions=(EMITTER_BASE, "the open collector floats: tie it to the base")
        )
    if poles == {frozenset("CB"), frozenset("E")}:
        return Advice(words, cautions=(EMITTER_BASE,))
    if poles == {frozenset("CE"), frozenset("B")}:
        return Advice(words, cautions=(EMITTER_BASE, "both junctions leak: the sum counts"))
    return Advice(words)


def _jfet(words: str, poles: set[frozenset[str]], opened: tuple[str, ...]) -> Advice:
    if frozenset("G") not in poles or not poles.isdisjoint({frozenset("GD"), frozenset("GS")}):
        return Advice(words, "drain and source both poles: the channel conducts between them")
    if opened:
        return Advice(
            words,
            cautions=(
                f"the open {_lead_words(opened[0])} picks up hum through the channel: tie it",
            ),
        )
    return Advice(words, cautions=("a metal can may be tied to the gate: check before mounting",))


def _mosfet(
    sheet: PartSheet, words: str, poles: set[frozenset[str]], opened: tuple[str, ...]
) -> Advice:
    if sheet.kind == "depletion mosfet":
        return Advice(words, "a depletion MOSFET conducts at zero gate voltage: use it in series")
    if poles == {frozenset("D"), frozenset("GS")}:
        return Advice(
            words,
            cautions=(
                "small logic-level types may hide a gate protection diode in the microamperes",
            ),
        )
    if "G" in opened:
        return Advice(words, "with the gate open the channel conducts as it likes")
    if frozenset("G") in poles:
        return Advice(words, "the gate is an insulator: nothing clamps before it breaks down")
    return Advice(words, "the channel conducts above and, weakly, below its threshold")


def _light_and_kind(
    sheet: PartSheet, opened: tuple[str, ...], paths: tuple[tuple[str, ...], ...]
) -> tuple[str, ...]:
    cautions = []
    if sheet.package.light in ("clear glass", "translucent plastic"):
        cautions.append("light reaches the junction: keep it dark or count the photocurrent")
    if sheet.kind == "led":
        cautions.append("reverse ratings of LEDs are about 5 V and reverse breakdown damages them")
    if sheet.kind == "esd array" and opened:
        cautions.append(f"{' and '.join(opened)} open: charge finds its way through other lines")
    if any(len(path) > 1 for path in paths):
        cautions.append("the node between junctions in series drifts: the worse junction leaks")
    if sheet.kind in ("varistor", "gas tube"):
        cautions.append("first stage only: too loose in voltage and leakage for a signal node")
    return tuple(cautions)
