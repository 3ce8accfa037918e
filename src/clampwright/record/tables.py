"""Rows of every table, written once for page, terminal and CSV; nothing is computed here.

A row is a tuple of texts. CSV carries plain SI floats with the unit in the heading instead.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from io import StringIO

from clampwright.record.formulas import Formula
from clampwright.record.words import (
    DASH,
    amount,
    by_basis,
    corner_words,
    interval,
    nominal,
    quantity,
    ratio,
    resistance_words,
    temperature,
)
from clampwright.verdict.design import Design, Fault, Rails
from clampwright.verdict.results import (
    Allowance,
    Candidate,
    CheckResult,
    ClampSummary,
    Dynamics,
    FaultCase,
    Judgement,
    RankResult,
    StressLine,
    Term,
    TransferError,
)

Row = tuple[str, ...]
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")

FAULT_KINDS = {
    "dc": "DC",
    "mains-frequency": "mains-frequency AC",
    "esd": "electrostatic discharge",
    "surge": "surge",
    "burst": "burst",
}
LASTING_KINDS = ("dc", "mains-frequency")

TERM_HEADS = ("term", "value", "95 % interval", "known", "source")
ALLOWANCE_HEADS = (
    "sensor",
    "source resistance",
    "allowed error",
    "allowed leakage",
    "with series R",
)
STRESS_HEADS = ("part", "what", "stress", "rating", "derating", "margin", "known")
CANDIDATE_HEADS = ("clamp", "in", "series R", "error", "up to", "accuracy", "fault", "known")


def requirement_rows(design: Design) -> list[Row]:
    """The requirement as name and value."""
    need, source, board = design.requirement, design.source, design.board
    accuracy = f"± {need.accuracy:g} {need.accuracy_unit}"
    if need.accuracy_unit == "V":
        accuracy = f"± {nominal(need.accuracy, 'voltage')}"
    signal = (need.signal_minimum, need.signal_maximum)
    lamp = f", {board.lamp}" if board.lamp else ""
    light = f"up to {nominal(board.illuminance_maximum, 'illuminance')}{lamp}"
    law = f"at {temperature(source.reference_temperature)}, law: {source.law}"
    return [
        ("quantity", need.quantity),
        ("signal at the pin", " to ".join(nominal(v, "voltage", signed=True) for v in signal)),
        ("accuracy, all causes", accuracy),
        ("share given to protection", quantity(need.protection_share, "ratio")),
        ("bandwidth", nominal(need.bandwidth, "frequency")),
        ("noise allowed", nominal(need.noise, "voltage")),
        ("settle to", f"{need.settle_to:g} in {nominal(need.settle_time, 'time')}"),
        ("source", f"{nominal(source.resistance, 'resistance')} {law}"),
        ("sensor temperature", _range(source.temperature_minimum, source.temperature_maximum)),
        ("board temperature", _range(board.temperature_minimum, board.temperature_maximum)),
        ("light at the clamp", light),
        ("rails", _rails_words(design.rails)),
        ("faults", "; ".join(fault_words(fault) for fault in design.faults) or "none stated"),
    ]


def _rails_words(rails: Rails) -> str:
    values = (nominal(v, "voltage", signed=True) for v in (rails.positive, rails.negative))
    sinks = "can sink" if rails.can_sink else "cannot sink"
    return f"{' and '.join(values)}, {sinks}, least load {nominal(rails.minimum_load, 'current')}"


def fault_words(fault: Fault) -> str:
    """One fault in one phrase."""
    sign = "± " if fault.both_signs else ""
    parts = [f"{FAULT_KINDS[fault.kind]} {sign}{nominal(fault.voltage, 'voltage')}"]
    if fault.kind in LASTING_KINDS:
        lasting = fault.duration
        parts.append(lasting if isinstance(lasting, str) else nominal(lasting, "time"))
    parts.append(f"power {fault.power}")
    if fault.standard:
        parts.append(fault.standard)
    return f"{fault.name} ({', '.join(parts)})"


def _range(low: float, high: float) -> str:
    return f"{temperature(low)} to {temperature(high)}"


def network_rows(check: CheckResult) -> list[Row]:
    """The chosen parts as name and value."""
    network = check.design.network
    rows: list[Row] = [("circuit", f"{network.topology}, {check.topology_title}")]
    for name, resistor in (
        ("outer resistor", network.outer_resistor),
        ("inner resistor", network.inner_resistor),
        ("guard resistor", network.guard_resistor),
    ):
        if resistor is not None:
            words = resistance_words(resistor.value, resistor.count)
            rows.append((name, f"{words}, {resistor.package}"))
    return rows


def clamp_rows(clamp: ClampSummary) -> list[Row]:
    """The clamp as it is wired, and every parameter of its law."""
    leakage = interval(clamp.leakage, clamp.leakage_low, clamp.leakage_high, "current")
    return [
        ("part", f"{clamp.title} ({clamp.part})"),
        ("leads", f"{clamp.wiring}: {clamp.wiring_words}"),
        ("junction", clamp.junction),
        ("sits at", f"{quantity(clamp.sits_at, 'voltage')}, {clamp.sits_at_words}"),
        ("leakage there", f"{by_basis(leakage, clamp.leakage_basis)}, {clamp.leakage_basis}"),
        ("zero-bias resistance", quantity(clamp.zero_bias_resistance, "resistance")),
        *clamp.law.items(),
    ]


def allowance_rows(allowances: Iterable[Allowance]) -> list[Row]:
    """What may leak at each sensor temperature."""
    return [
        (
            temperature(a.sensor_temperature),
            quantity(a.source_resistance, "resistance"),
            quantity(a.error, "voltage"),
            quantity(a.leakage, "current"),
            quantity(a.leakage_with_series_resistance, "current"),
        )
        for a in allowances
    ]


def term_row(term: Term) -> Row:
    """One contribution: the value marked with how it is known, and its interval."""
    ends = (
        f"{quantity(term.low, 'voltage', signed=True)} … "
        f"{quantity(term.high, 'voltage', signed=True)}"
    )
    value = by_basis(quantity(term.value, "voltage", signed=True), term.basis)
    return (term.name, value, ends, term.basis, term.source)


def judgement_words(judgement: Judgement) -> str:
    """Error with interval against the allowance, worst case beside it."""
    error = interval(judgement.error, judgement.low, judgement.high, "voltage", signed=True)
    return (
        f"{error} against ± {quantity(judgement.allowance, 'voltage')}, "
        f"worst case {quantity(judgement.worst_case, 'voltage', signed=True)}"
    )


def dynamics_rows(dynamics: Dynamics) -> list[Row]:
    """Noise, bandwidth and settling with what was asked for."""
    noise = (
        f"{quantity(dynamics.integrated_noise, 'voltage')} rms in "
        f"{quantity(dynamics.noise_bandwidth, 'frequency')} noise bandwidth, "
        f"allowed {nominal(dynamics.allowed_noise, 'voltage')}"
    )
    bandwidth = (
        f"{quantity(dynamics.bandwidth, 'frequency')}, "
        f"needed {nominal(dynamics.required_bandwidth, 'frequency')}"
    )
    settling = (
        f"{quantity(dynamics.settling_time, 'time')}, "
        f"allowed {nominal(dynamics.allowed_settling_time, 'time')}"
    )
    return [
        ("noise density", quantity(dynamics.noise_density, "voltage_noise")),
        ("noise, integrated", noise),
        ("shot noise", quantity(dynamics.shot_noise, "current_noise")),
        ("bandwidth", bandwidth),
        (f"settling to {dynamics.settle_to:g}", settling),
        ("capacitance at the node", quantity(dynamics.capacitance, "capacitance")),
        *((term.name, quantity(term.value, "voltage")) for term in dynamics.noise_terms),
    ]


def transfer_rows(transfers: Iterable[TransferError]) -> list[Row]:
    """Offset, gain error and nonlinearity at each corner."""
    return [
        (
            corner_words(t.corner),
            quantity(t.offset, "voltage", signed=True),
            quantity(t.gain_error, "ratio", signed=True),
            quantity(t.nonlinearity, "voltage"),
        )
        for t in transfers
    ]


def stress_row(line: StressLine) -> Row:
    """One rating under one fault."""
    return (
        line.part,
        line.quantity,
        amount(line.stress, line.unit),
        amount(line.rating, line.unit) if line.rating is not None else "not stated",
        ratio(line.derating),
        _times(line.ratio),
        line.basis,
    )


def fault_words_of(case: FaultCase) -> str:
    """The currents and voltages of one fault in one line."""
    parts = [
        f"{quantity(case.fault_current, 'current')} through the outer resistor",
        f"pin {quantity(case.pin_current, 'current')}",
        f"clamp {quantity(case.clamp_current, 'current')}",
        f"clamp node {quantity(case.clamp_node_voltage, 'voltage', signed=True)}",
        f"pin {quantity(case.pin_voltage, 'voltage', signed=True)}",
        f"{case.rail} rail takes {quantity(case.rail_current, 'current')}",
    ]
    if case.rail_load is not None:
        parts.append(f"its load {quantity(case.rail_load, 'current')}")
    if case.rail_rate:
        parts.append(f"rail moves {quantity(case.rail_rate, 'voltage_rate')}")
    if case.rail_settles_at is not None:
        parts.append(f"rail settles at {quantity(case.rail_settles_at, 'voltage', signed=True)}")
    return ", ".join(parts)


def cases_by_margin(cases: Iterable[FaultCase]) -> list[FaultCase]:
    """Lowest margin first; a case without any known rating stands before all."""
    return sorted(cases, key=lambda c: (c.survivability is not None, c.survivability or 0.0))


def stresses_by_margin(case: FaultCase) -> list[StressLine]:
    """Lowest margin first; a stress without a rating stands before all."""
    return sorted(case.stresses, key=lambda s: (s.ratio is not None, s.ratio or 0.0))


def candidate_row(candidate: Candidate) -> Row:
    """One row of the shortlist without its verdict and reason."""
    return (
        f"{candidate.part} {candidate.wiring}",
        candidate.topology,
        nominal(candidate.series_resistance, "resistance"),
        quantity(candidate.error, "voltage"),
        quantity(candidate.error_high, "voltage"),
        _times(candidate.accuracy_margin),
        _times(candidate.survivability),
        candidate.leakage_basis or DASH,
    )


def _times(value: float | None) -> str:
    return DASH if value is None else f"{ratio(value)}×"


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
    return _csv(heads, rows)


def shortlist_csv(rank: RankResult) -> str:
    """Every candidate in its order, rejected ones with their reason; SI floats."""
    heads = [
        "part", "wiring", "topology", "series_resistance_ohm", "error_V", "error_low_V",
        "error_high_V", "accuracy_margin", "survivability", "leakage_basis", "verdict", "rejected",
        "reason",
    ]  # fmt: skip
    rows = [
        (c.part, c.wiring, c.topology, c.series_resistance, c.error, c.error_low, c.error_high,
         c.accuracy_margin, c.survivability, c.leakage_basis, c.verdict.value if c.verdict else "",
         "yes" if c.rejected else "no", c.reason)
        for c in rank.candidates
    ]  # fmt: skip
    return _csv(heads, rows)


def _csv(heads: list[str], rows: Iterable[tuple[object, ...]]) -> str:
    """Comma, decimal point, CRLF (RFC 4180); a text that a spreadsheet would run is quoted by '."""
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(heads)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return text.getvalue()


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return repr(value)
    words = str(value)
    return f"'{words}" if words.startswith(FORMULA_STARTS) else words
