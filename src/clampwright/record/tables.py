"""Rows of every table, written once for page, terminal and CSV; nothing is computed here.

A row is a tuple of texts. CSV carries plain SI floats with the unit in the heading instead.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import inf

from clampwright.quantities import write
from clampwright.record.csv_text import csv_text
from clampwright.record.dynamics_rows import dynamics_rows as dynamics_rows
from clampwright.record.formulas import Formula
from clampwright.record.network_text import is_current_input, is_pair, signal_place
from clampwright.record.sensor_unit import SensorUnit, allowed_in_units
from clampwright.record.words import (
    DASH,
    by_basis,
    corner_words,
    either_sign,
    error_words,
    interval,
    known_words,
    nominal,
    prose,
    quantity,
    shown_error,
    temperature,
)
from clampwright.verdict.design import Design, Fault, Rails, Requirement
from clampwright.verdict.results import (
    CheckResult,
    ClampPlace,
    ClampSummary,
    Judgement,
    Term,
    TransferError,
)

Row = tuple[str, ...]

FAULT_KINDS = {
    "dc": "DC",
    "mains-frequency": "mains-frequency AC",
    "esd": "electrostatic discharge",
    "surge": "surge",
    "burst": "burst",
}
LASTING_KINDS = ("dc", "mains-frequency")
CLOSE_DIGITS = 6  # of two ends that lie close together
NEGLIGIBLE_GAIN = 1e-9  # [1] below it only the bound is written
NEGLIGIBLE_VOLTAGE = 1e-15  # [V] below it only the bound is written

TERM_HEADS = ("term", "value", "95 % interval", "known", "source")


def requirement_rows(design: Design) -> list[Row]:
    """The requirement as name and value."""
    need, source, board = design.requirement, design.source, design.board
    accuracy = f"± {need.accuracy:g} {need.accuracy_unit}"
    if need.accuracy_unit == "V":
        accuracy = f"± {nominal(need.accuracy, 'voltage')}"
    signal = (need.signal_minimum, need.signal_maximum)
    lamp = f", {board.lamp}" if board.lamp else ""
    light = f"up to {nominal(board.illuminance_maximum, 'illuminance')}{lamp}"
    if need.accuracy_of == "offset":
        accuracy += ", of the error at zero signal"
    law = f"at {temperature(source.reference_temperature)}, law: {source.law}"
    return [
        ("quantity", need.quantity),
        (signal_place(design), _signal_words(*signal)),
        ("accuracy, all causes", accuracy),
        *_sensitivity_rows(need),
        ("share given to protection", quantity(need.protection_share, "ratio")),
        *_calibration_rows(need),
        ("bandwidth", nominal(need.bandwidth, "frequency")),
        ("noise allowed", _noise_words(need)),
        *_rejection_asked(need),
        ("settle to", f"{need.settle_to:g}{_in_time(need.settle_time)}"),
        ("source", f"{nominal(source.resistance, 'resistance')} {law}"),
        ("sensor temperature", _range(source.temperature_minimum, source.temperature_maximum)),
        ("board temperature", _range(board.temperature_minimum, board.temperature_maximum)),
        ("light at the clamp", light),
        ("rails", _rails_words(design.rails)),
        ("faults", "; ".join(fault_words(fault) for fault in design.faults) or "none stated"),
    ]


def _signal_words(low: float, high: float) -> str:
    """Both ends of the signal; with more digits where three do not tell them apart."""
    ends = [nominal(v, "voltage", signed=True) for v in (low, high)]
    if ends[0] == ends[1]:
        texts = (write(v, "voltage", digits=CLOSE_DIGITS, signed=True) for v in (low, high))
        ends = [text.replace("-", "−") for text in texts]
    return " to ".join(ends)


def _in_time(settle_time: float | None) -> str:
    no_time = ", no time stated"
    return no_time if settle_time is None else f" in {nominal(settle_time, 'time')}"


def _sensitivity_rows(need: Requirement) -> list[Row]:
    """What one unit of the accuracy is in volts; nothing where that is the volt."""
    if need.accuracy_unit == "V":
        return []
    words = f"{nominal(need.sensitivity, 'voltage')} per {need.accuracy_unit}"
    if need.signal_law == "absolute temperature":
        words += f" at {temperature(need.signal_temperature)}, grows with absolute temperature"
    return [("sensitivity", words)]


def _calibration_rows(need: Requirement) -> list[Row]:
    if need.calibration_temperature is None:
        return []
    return [("zero taken once", f"at {temperature(need.calibration_temperature)}, in the dark")]


def _noise_words(need: Requirement) -> str:
    if need.noise is None:
        return "no limit stated"
    band = need.noise_bandwidth
    within = f" in {nominal(band, 'frequency')}" if band is not None else ""
    return f"{nominal(need.noise, 'voltage')} rms{within}"


def _rejection_asked(need: Requirement) -> list[Row]:
    if need.common_mode_rejection is None:
        return []
    mains = nominal(need.mains_frequency, "frequency")
    return [("common-mode rejection", f"at least {need.common_mode_rejection:g} dB at {mains}")]


def _rails_words(rails: Rails) -> str:
    values = (nominal(v, "voltage", signed=True) for v in (rails.positive, rails.negative))
    sinks = "can sink" if rails.can_sink else "cannot sink"
    words = f"{' and '.join(values)}, {sinks}, least load {nominal(rails.minimum_load, 'current')}"
    if rails.shunt_voltage is not None:
        words += f", shunt on the rail at {nominal(rails.shunt_voltage, 'voltage')}"
    return words


def fault_words(fault: Fault) -> str:
    """One fault in one phrase."""
    sign = "± " if fault.both_signs else ""
    parts = [f"{FAULT_KINDS[fault.kind]} {sign}{nominal(fault.voltage, 'voltage')}"]
    if fault.kind in LASTING_KINDS:
        lasting = fault.duration
        parts.append(lasting if isinstance(lasting, str) else nominal(lasting, "time"))
    parts.append(f"power {fault.power}")
    if fault.channels > 1:
        parts.append(f"{fault.channels} inputs at once")
    if fault.standard:
        parts.append(fault.standard)
    return f"{fault.name} ({', '.join(parts)})"


def _range(low: float, high: float) -> str:
    return f"{temperature(low)} to {temperature(high)}"


def clamp_rows(clamp: ClampSummary) -> list[Row]:
    """The clamp as it is wired, where each one sits, and every parameter of its law."""
    anode, cathode = lead_names(clamp)
    return [
        ("part", f"{clamp.title} ({clamp.part})"),
        ("leads", f"anode {anode}, cathode {cathode}: {clamp.wiring_words}"),
        ("junction", clamp.junction),
        *_place_rows(clamp),
        ("zero-bias resistance", quantity(clamp.zero_bias_resistance, "resistance")),
        *clamp.law.items(),
    ]


def _place_rows(clamp: ClampSummary) -> list[Row]:
    """Where each clamp sits and what it leaks there; places in the same words stand once."""
    worst: dict[str, ClampPlace] = {}
    for place in clamp.places:
        if place.words not in worst or abs(place.leakage) > abs(worst[place.words].leakage):
            worst[place.words] = place
    merged = len(worst) < len(clamp.places)
    return [
        (
            "each clamp sits at" if merged else f"{place.side} clamp sits at",
            f"{prose(words)}; leaks {leakage_there(place)}, "
            f"{known_words(clamp.leakage_basis, place.known_by)}",
        )
        for words, place in worst.items()
    ]


def leakage_there(place: ClampPlace) -> str:
    """Magnitude of the leakage of one clamp with its 95 % interval."""
    sign = -1.0 if place.leakage < 0 else 1.0
    low, high = sorted((sign * place.leakage_low, sign * place.leakage_high))
    return interval(abs(place.leakage), low, high, "current")


def lead_names(clamp: ClampSummary) -> tuple[str, str]:
    """Leads at the anode and at the cathode, in the order in which the wiring names them."""
    anode, cathode = (
        next((part for part in clamp.wiring.split("/") if set(part.split("+")) == set(leads)),
             "+".join(leads))
        for leads in (clamp.anode_leads, clamp.cathode_leads)
    )  # fmt: skip
    return anode, cathode


def allowance_heads(design: Design) -> Row:
    """Heads of the table of what may leak."""
    leak = "allowed difference" if is_pair(design) else "allowed leakage"
    if is_current_input(design):
        return ("sensor", "source shunt", "allowed error", leak)
    return ("sensor", "source resistance", "allowed error", leak, "with series R")


def allowance_rows(check: CheckResult) -> list[Row]:
    """What may leak at each sensor temperature."""
    units = allowed_in_units(check.design)
    equal = f" = {units}" if units else ""
    rows = [
        (
            temperature(a.sensor_temperature),
            quantity(a.source_resistance, "resistance"),
            quantity(a.error, "voltage") + equal,
            quantity(a.leakage, "current"),
            quantity(a.leakage_with_series_resistance, "current"),
        )
        for a in check.allowances
    ]
    wide = len(allowance_heads(check.design))
    return [row[:wide] for row in rows]


def term_heads(unit: SensorUnit | None) -> Row:
    """Heads of the terms; errors stand in the sensor's unit too, a current at the input in volts."""
    inside = () if unit is None else ("in volts",) if unit.is_current else (f"in {unit.name}",)
    return ("term", "value", *inside, *TERM_HEADS[2:])


def term_row(term: Term, unit: SensorUnit | None = None, room: float = inf) -> Row:
    """One contribution: the value marked with how it is known, and its interval.

    room : V beyond which the amplifier saturates
    """
    ohms = unit.ohms if unit else None
    low, high = (shown_error(end, room, ohms=ohms) for end in (term.low, term.high))
    value, volts = (by_basis(_of_either_sign(term, room, o), term.basis) for o in (ohms, None))
    beyond = abs(term.value) > room
    middle: Row = ()
    if unit is not None:
        other = volts if unit.is_current else unit.number(term.value, signed=True)
        middle = (DASH if beyond else other,)
    known = known_words(term.basis, term.known_by, short=True)
    return (term.name, value, *middle, f"{low} … {high}", known, term.source)


def _of_either_sign(term: Term, room: float, ohms: float | None) -> str:
    """The value of a term; how far it may reach where its sign is not known."""
    if not term.value and term.low == -term.high != 0:
        return f"± {shown_error(term.high, room, signed=False, ohms=ohms)}"
    return shown_error(term.value, room, ohms=ohms)


def judgement_words(judgement: Judgement, unit: SensorUnit | None = None) -> str:
    """Error with interval against the allowance, worst case beside it; then in the sensor's unit."""
    low, high, room = judgement.low, judgement.high, judgement.room
    if judgement.volts_per_ampere is not None and max(abs(low), abs(high)) <= room:
        return _as_current(judgement, judgement.volts_per_ampere)
    error = interval(judgement.error, low, high, "voltage", signed=True)
    saturates = max(abs(low), abs(high)) > room
    if saturates:
        error = shown_error(judgement.error, room)
        ends = f"{shown_error(low, room)} … {shown_error(high, room)}"
        error += "" if error == ends.split(" … ")[0] == ends.split(" … ")[1] else f" ({ends})"
    words = (
        f"{error} against ± {quantity(judgement.allowance, 'voltage')}, "
        f"worst case {either_sign(judgement.worst_case, room)}"
    )
    if unit is None or saturates:
        return words
    bottom, top = unit.number(low, signed=True), unit.number(high, signed=True)
    return (
        f"{words}; that is {unit.text(judgement.error, signed=True)} ({bottom} … {top}) "
        f"against ± {unit.text(judgement.allowance)}"
    )


def _as_current(judgement: Judgement, ohms: float) -> str:
    """The current at the input, then the volts behind it."""
    value, low, high = (v / ohms for v in (judgement.error, judgement.low, judgement.high))
    error = interval(value, low, high, "current", signed=True)
    return (
        f"{error} at the input against ± {error_words(judgement.allowance, ohms)}, worst case "
        f"{either_sign(judgement.worst_case, judgement.room, ohms)}; that is "
        f"{error_words(judgement.error, signed=True)} against ± {error_words(judgement.allowance)}"
    )


def judged_where(judgement: Judgement, check: CheckResult) -> str:
    """Reason and corner of a judgement; the reason of the verdict itself is not said twice."""
    reason, where = prose(judgement.reason), corner_words(judgement.corner)
    if reason == prose(check.reason):
        return f"this decides the verdict: the reason stands at the top; {where}"
    return reason if where in reason else f"{reason}; {where}"


def transfer_words(transfers: Sequence[TransferError]) -> str:
    """Offset, gain error and nonlinearity over the signal range, each where it is largest."""
    if not transfers:
        return ""
    offset = max(transfers, key=lambda t: abs(t.offset))
    gain = max(transfers, key=lambda t: abs(t.gain_error))
    curved = max(transfers, key=lambda t: abs(t.nonlinearity))
    return (
        f"Over the signal range, each where it is largest: offset "
        f"{quantity(offset.offset, 'voltage', signed=True)}, gain error "
        f"{_gain_words(gain.gain_error)}, nonlinearity {_nonlinearity_words(curved.nonlinearity)} "
        f"(offset at {corner_words(offset.corner)})."
    )


def _gain_words(value: float) -> str:
    small = abs(value) < NEGLIGIBLE_GAIN
    return "below 1 in 10⁹" if small else quantity(value, "ratio", signed=True)


def _nonlinearity_words(value: float) -> str:
    small = abs(value) < NEGLIGIBLE_VOLTAGE
    return "below 1 fV" if small else quantity(value, "voltage")


def formula_rows(formulas: Iterable[Formula]) -> list[Row]:
    """Name, equation and source of each formula."""
    return [(f.name, f.equation, f.source) for f in formulas]


def budget_csv(check: CheckResult) -> str:
    """Every term of every judgement, SI floats, unit in the heading."""
    heads = [
        "judgement", "verdict", "sensor_temperature_K", "board_temperature_K", "illuminance_lx",
        "signal_V", "source_resistance_ohm", "term", "group", "basis", "value_V", "low_V", "high_V",
        "allowance_V", "source",
    ]  # fmt: skip
    rows: list[tuple[object, ...]] = []
    for j in check.judgements:
        c = j.corner
        where = (j.name, j.verdict.value, c.sensor_temperature, c.board_temperature, c.illuminance,
                 c.signal, c.source_resistance)  # fmt: skip
        rows.extend(
            (*where, t.name, t.group, t.basis, t.value, t.low, t.high, j.allowance, t.source)
            for t in j.terms
        )
        rows.append(
            (*where, "together", "all", "predicted", j.error, j.low, j.high, j.allowance, j.reason)
        )
    return csv_text(heads, rows)
