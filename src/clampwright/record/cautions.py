"""The usual cautions of this work, printed on every record whatever the verdict is."""

from __future__ import annotations

from collections.abc import Iterable

from clampwright.record.words import SCOPE_LINE

_FAULT_TESTS = (
    "Fault tests: current-limited supply, a series resistor for its output capacitor, shrouded "
    "leads, eye protection, a fire-proof surface; never unattended. Discharge capacitors twice."
)
_MAINS = (
    "Mains or more than 30 V rms, 42.4 V peak, 60 V DC (less where skin is wet; check the current "
    "edition of IEC 61010-1): clearances, protective earth and enclosure are judged elsewhere."
)
USUAL_CAUTIONS = {
    "current-limited supply": _FAULT_TESTS,
    "200 °C": "A resistor can be hotter than 200 °C in a sustained fault while within its rating.",
    "survived": "An input that survived a fault may leak more than before: repeat the leakage test.",
    "implants": (
        "Electrostatic discharge tests: keep away from people with implants and from other benches."
    ),
    "actuators": (
        "Latch-up or phase reversal in a control loop can move actuators: test with them disabled."
    ),
    "mains or": _MAINS,
}
"""Each caution by the words that show a gate has said it already."""


def cautions_to_print(stated: Iterable[str]) -> tuple[str, ...]:
    """The cautions of a gate, then the usual ones that it does not say; the scope stands elsewhere."""
    said = tuple(dict.fromkeys(text for text in stated if text != SCOPE_LINE))
    together = " ".join(said)
    usual = (text for words, text in USUAL_CAUTIONS.items() if words not in together)
    return (*said, *usual)
