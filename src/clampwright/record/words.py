"""How numbers, verdicts and kinds of knowledge are worded, once for every face of the record.

The kind of a number is shown the same way everywhere: plain when measured, a raised t when typical,
≤ when a maximum or not detected, "assumed" when it stands in for a measurement.
"""

from __future__ import annotations

import math
import re

from clampwright.quantities import write, write_uncertain
from clampwright.quantities.writing import THIN_SPACE as THIN_SPACE
from clampwright.verdict.faults import cut
from clampwright.verdict.known import known_words as known_words
from clampwright.verdict.results import Corner, Gate, Verdict

COLUMNS = 100  # of printed text
SATURATED = "saturates"
DASH = "–"
NEARLY_SYMMETRICAL = 0.8  # smaller over larger half of an interval; below it both ends are written
GATE_SHAPE = "▲"
VERDICT_SHAPE = {
    Verdict.PASS: "●",
    Verdict.FAIL: "⊗",
    Verdict.UNDECIDED: "◐",
    Verdict.NOT_MEASURED: "○",
}
SEVERITY = {
    Verdict.PASS: 0,
    Verdict.UNDECIDED: 1,
    Verdict.NOT_MEASURED: 2,
    Verdict.FAIL: 3,
}
SCOPE_LINE = (
    "Aid to engineering judgement. Not a safety certification. "
    "Component protection is not protection of persons."
)
GATE_WORDS = {
    "amber": "AMBER GATE",
    "red": "RED GATE",
}
RED_SENTENCE = (
    "numbers only; a design by the applicable standard and an independent test are required"
)
HYPHEN_AS_MINUS = re.compile(r"(?<![\w−-])-(?=\d)")
UNIT_QUANTITY = {
    "V": "voltage",
    "A": "current",
    "W": "power",
    "Ω": "resistance",
    "Hz": "frequency",
    "s": "time",
    "lx": "illuminance",
    "F": "capacitance",
}


def quantity(value: float | None, kind: str, *, signed: bool = False) -> str:
    """`value` (SI) of a kind such as "voltage" with its engineering prefix; a dash when absent."""
    return DASH if value is None else _minus(write(value, kind, signed=signed))


def nominal(value: float | None, kind: str, *, signed: bool = False) -> str:
    """A chosen value or a tick, without zeros that would claim digits: "10 kΩ", not "10.0 kΩ"."""
    number, space, unit = quantity(value, kind, signed=signed).partition(THIN_SPACE)
    if "." in number and "e" not in number:
        number = number.rstrip("0").rstrip(".")
    return number + space + unit


def uncertain(value: float, expanded: float, kind: str, *, signed: bool = False) -> str:
    """A value ± its expanded uncertainty, both ending at the same digit."""
    plus = "+" if signed and value > 0 else ""
    return plus + _minus(write_uncertain(value, expanded, kind))


def interval(value: float, low: float, high: float, kind: str, *, signed: bool = False) -> str:
    """A value with its 95 % interval: `a ± U` when nearly symmetrical, else `a (low … high)`."""
    below, above = value - low, high - value
    if not math.isfinite(below + above):
        return f"{quantity(value, kind, signed=signed)}, not bounded"
    if below <= 0 and above <= 0:
        return quantity(value, kind, signed=signed)
    larger = max(below, above)
    if min(below, above) > NEARLY_SYMMETRICAL * larger:
        return uncertain(value, larger, kind, signed=signed)
    ends = f"{quantity(low, kind, signed=signed)} … {quantity(high, kind, signed=signed)}"
    return f"{quantity(value, kind, signed=signed)} ({ends})"


def _minus(text: str) -> str:
    return text.replace("-", "−")


def either_sign(value: float, room: float, ohms: float | None = None) -> str:
    """A magnitude that may have either sign."""
    text = shown_error(value, room, signed=False, ohms=ohms)
    return text if text == SATURATED else f"± {text}"


def shown_error(
    value: float, room: float, *, signed: bool = True, ohms: float | None = None
) -> str:
    """An error (V) as the amplifier can show it: beyond its rails it saturates and shows no number."""
    return SATURATED if abs(value) > room else error_words(value, ohms, signed=signed)


def error_words(value: float, ohms: float | None = None, *, signed: bool = False) -> str:
    """An error (V), as the current at the input where one is asked for.

    ohms : V of error for one ampere at the input; None where a voltage is asked for
    """
    if ohms is None:
        return quantity(value, "voltage", signed=signed)
    return quantity(value / ohms, "current", signed=signed)


def noise_words(value: float, ohms: float | None = None) -> str:
    """A noise density (V/√Hz), as that of the current at the input where one is asked for."""
    if ohms is None:
        return quantity(value, "voltage_noise")
    return quantity(value / ohms, "current_noise")


def prose(text: str) -> str:
    """A sentence of a result, ready to stand beside others: true minus signs, no closing stop."""
    return HYPHEN_AS_MINUS.sub("−", text).removesuffix(".")


def by_basis(text: str, basis: str) -> str:
    """Mark a written number with how it is known."""
    if basis == "typical":
        return f"{text} ᵗ"
    if basis == "maximum":
        return f"≤ {text}"
    if basis == "not detected":
        return f"≤ {text}, n.d."
    return text


def amount(value: float | None, unit: str) -> str:
    """`value` in a plain unit symbol such as "V", "A", "W"; a dash when absent."""
    if value is None:
        return DASH
    kind = UNIT_QUANTITY.get(unit)
    return quantity(value, kind) if kind else f"{ratio(value)} {unit}".strip()


def ratio(value: float | None) -> str:
    """A plain ratio with three digits, `× 48`."""
    if value is None:
        return DASH
    if not math.isfinite(value):
        return quantity(value, "ratio")
    if value != 0 and not 1e-3 <= abs(value) < 1e7:
        return f"{value:.2e}".replace("-", "−")
    digits = 0 if abs(value) >= 100 else 1 if abs(value) >= 10 else 2
    return grouped(round(value, digits), digits)


def times(value: float | None) -> str:
    """A margin, "4.71×", cut as in a sentence; a small one is bounded, never cut to nothing."""
    if value is None:
        return DASH
    if 0 <= value < 0.01:
        return "<0.01×"
    if math.isinf(value):
        return "unlimited"
    digits = 0 if value >= 100 else 1 if value >= 10 else 2
    return f"{ratio(cut(value, digits)) if 0 < value < 1e7 else ratio(value)}×"


def grouped(value: float, digits: int | None = None) -> str:
    """A plain number with thousands apart, "25 000"; as many digits as it needs when not told."""
    text = f"{value:,.{digits}f}" if digits is not None else f"{value:,.12g}"
    if digits is None and "e" in text:
        text = f"{value:,.0f}"
    return text.replace(",", THIN_SPACE).replace("-", "−")


def temperature(value: float) -> str:
    """A temperature given in kelvin, written in °C."""
    return quantity(value, "temperature")


def corner_words(corner: Corner) -> str:
    """Where in heat, light and signal something was judged."""
    return _minus(corner.words())


def verdict_words(verdict: Verdict, gate: Gate) -> str:
    """The verdict as a reader may use it: a red gate shows numbers only, an amber one holds."""
    if gate.level == "red":
        return "NUMBERS SHOWN"
    return "HELD by a safety gate" if gate.held else verdict.value


def headline_words(verdict: Verdict, gate: Gate) -> str:
    """The verdict; behind an amber gate that holds it also what the numbers alone say."""
    held = gate.held and gate.level != "red"
    behind = f"; {numbers_say(verdict)}" if held else ""
    return verdict_words(verdict, gate) + behind


def numbers_say(verdict: Verdict) -> str:
    """What the numbers alone say while a gate holds the verdict."""
    return f"the numbers say {verdict.value}"


def verdict_shape(verdict: Verdict, gate: Gate) -> str:
    """The shape that goes with `verdict_words`."""
    return GATE_SHAPE if gate.level == "red" or gate.held else VERDICT_SHAPE[verdict]


def verdict_mark(verdict: Verdict, gate: Gate) -> str:
    """Shape and word of one line of a result; behind a red gate no line carries a verdict."""
    if gate.level == "red":
        return f"{GATE_SHAPE} NUMBERS SHOWN"
    return f"{VERDICT_SHAPE[verdict]} {verdict.value}"


def residual_words(value: float) -> str:
    """What is left over in the solved node equations, relative to the currents into the node."""
    if value == 0:
        return "nothing beyond rounding"
    return f"{value:.1e} of the currents into a node, beyond rounding".replace("-", "−")


def resistance_words(value: float, count: int) -> str:
    """One resistor, or several equal ones in series."""
    text = nominal(value, "resistance")
    return text if count == 1 else f"{count} × {text}"
