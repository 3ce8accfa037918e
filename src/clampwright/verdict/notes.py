"""Defaults used in place of measurements, and open risks: what page 1 of the record must say."""

from __future__ import annotations

from clampwright.parts.amplifiers import amplifier_class
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.design import Design
from clampwright.verdict.layout import defaults_taken, topology_of
from clampwright.verdict.resistor import resistor_rating
from clampwright.verdict.results import Judgement, Verdict
from clampwright.verdict.stated import film_missing, states_hum

REQUIREMENT_DEFAULTS = {
    "protection_share": "protection may use {ratio} of the error allowance",
    "settle_to": "settling judged to {ratio}",
    "bandwidth": "bandwidth {frequency}",
}
AMPLIFIER_DEFAULTS = {
    "bias_current": "the amplifier's bias current is not stated: taken as nothing",
    "pin_current_maximum": "the amplifier's pin current rating is not stated: 5 mA taken",
    "offset_voltage": "the amplifier's offset voltage is not stated: taken as nothing",
    "offset_drift": "the amplifier's offset drift is not stated: taken as nothing",
    "voltage_noise": "the amplifier's voltage noise is not stated: taken as nothing",
    "current_noise": "the amplifier's current noise is not stated: taken as nothing",
    "bias_doubling": "the amplifier's bias current doubles as its family does (a rule, not a mechanism)",
}
PLACE_DEFAULTS = {
    "source.temperature_minimum": "the coldest sensor is not stated: {temperature} taken",
    "source.temperature_maximum": "the hottest sensor is not stated: {temperature} taken",
    "board.temperature_minimum": "the coldest board is not stated: {temperature} taken",
    "board.temperature_maximum": "the hottest board is not stated: {temperature} taken",
    "board.illuminance_maximum": "the light at the clamp is not stated: {illuminance} taken",
}
LISTED_DEFAULTS = frozenset(
    [f"requirement.{name}" for name in REQUIREMENT_DEFAULTS]
    + [f"amplifier.{name}" for name in AMPLIFIER_DEFAULTS]
    + [*PLACE_DEFAULTS, "rails.minimum_load"]
)
"""Fields whose default is told with every result where it stands for what was not stated."""

LEAST_SOURCE = 1.0  # [Ω] a sensor below it is more likely a slip, "mΩ" for "MΩ"; common practice


def defaults_used(design: Design, clamp: Clamp | None) -> tuple[str, ...]:
    """Every default that stands where a measurement or a stated figure could stand."""
    said = []
    requirement, amplifier = design.requirement, design.amplifier
    for field, text in REQUIREMENT_DEFAULTS.items():
        if field not in requirement.model_fields_set:
            value = getattr(requirement, field)
            shown = {d: write(value, d) for d in ("ratio", "frequency") if "{" + d + "}" in text}
            said.append(text.format(**shown))
    said += _place_defaults(design)
    for field, text in AMPLIFIER_DEFAULTS.items():
        if getattr(amplifier, field) is None or field not in amplifier.model_fields_set:
            steady = amplifier_class(amplifier.family).bias_doubling is None
            steady = steady or amplifier.bias_drift is not None
            if not (field == "bias_doubling" and steady):
                said.append(text)
    if amplifier.bias_kind == "typical" and amplifier.bias_current:
        said.append(
            "the bias current is a typical figure: the spread of its class is taken around it"
        )
    steady = amplifier.bias_doubling is None and amplifier.bias_drift is None
    steady = steady and amplifier_class(amplifier.family).bias_doubling is None
    if amplifier.bias_current and steady and requirement.calibration_temperature is not None:
        said.append(
            "the bias current's change with heat is not stated (amplifier.bias_drift): taken as none, so "
            "that the zero takes all of it away"
        )
    if design.rails.minimum_load is None:
        said.append("the minimum load of the rail is not stated: rail pumping is not judged")
    said += _resistor_defaults(design)
    said += defaults_taken(design, topology_of(design))
    if clamp is not None:
        said += [f"{clamp.name}: {text}" for text in clamp.fitted.assumed]
        if clamp.lot is None:
            said.append(
                f"{clamp.name}: no lot measured, so the spread between parts is not included"
            )
    return tuple(said)


def _place_defaults(design: Design) -> list[str]:
    """Temperatures and light that nobody stated: the usual room would hide the worst corner."""
    said = []
    for place, text in PLACE_DEFAULTS.items():
        table, field = place.split(".")
        sheet = getattr(design, table)
        if field not in sheet.model_fields_set:
            value = getattr(sheet, field)
            kind = "temperature" if "temperature" in field else "illuminance"
            said.append(text.format(**{kind: write(value, kind)}))
    return said


def _resistor_defaults(design: Design) -> list[str]:
    """Whose ratings stand for those of resistors whose sheet states none, in whole or in part."""
    network, heat = design.network, design.board.temperature_maximum
    every = (network.outer_resistor, network.inner_resistor, network.guard_resistor)
    ratings = [resistor_rating(resistor, heat) for resistor in every if resistor]
    words = dict.fromkeys(rating.words for rating in ratings if rating.assumed)
    return [f"resistor ratings are those of {', '.join(words)}"] if words else []


def doubtful(design: Design) -> list[str]:
    """What the sheet states and hardly can mean."""
    said = []
    wanted, ohms = design.requirement, design.source.resistance
    if ohms < LEAST_SOURCE:
        written = write(ohms, "resistance")
        meant = f": did you mean {write(ohms * 1e9, 'resistance')}?" if ohms >= 1e-3 else ""
        said.append(f"a source of {written} needs no such care, its wires have more{meant}")
    span = wanted.signal_maximum - wanted.signal_minimum
    error = wanted.accuracy * (1.0 if wanted.accuracy_unit == "V" else abs(wanted.sensitivity))
    if error > span:
        said.append(
            f"an accuracy of {write(error, 'voltage')} is wider than the whole signal, "
            f"{write(span, 'voltage')}: any reading would pass"
        )
    return said


def open_risks(
    design: Design, clamp: Clamp | None, judgements: tuple[Judgement, ...]
) -> tuple[str, ...]:
    """What could still go wrong that the numbers do not settle."""
    risks = []
    impulses = [f.name for f in design.faults if f.kind in ("esd", "surge", "burst")]
    if impulses:
        risks.append(
            f"impulse faults {', '.join(impulses)} are not solved yet: assume that any single chip "
            "resistor arcs over, and test"
        )
    for judgement in judgements:
        if judgement.verdict in (Verdict.UNDECIDED, Verdict.NOT_MEASURED):
            risks.append(f"{judgement.name}: {judgement.verdict.value.lower()}")
    if clamp is not None and clamp.lot is not None and clamp.lot.count < 10:
        risks.append(
            f"the lot of {clamp.name} rests on {clamp.lot.count} parts; measure 10 before production"
        )
    if design.board.illuminance_maximum > 0 and clamp is not None:
        risks.append("light reaches the clamp: an opaque part or lid removes the photocurrent")
    if design.network.topology == "T5":
        risks.append(
            "the guard holds the clamps near zero only while the follower works: check start-up, "
            "saturation" + ("" if states_hum(design) else " and hum at the clamp")
        )
    if film_missing(design):
        risks.append(
            "board film under humidity is not part of this budget: measure it on the board"
        )
    return tuple(risks)
