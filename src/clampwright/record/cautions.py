"""The usual cautions of this work, printed on every record whatever the verdict is."""

from __future__ import annotations

_FAULT_TESTS = (
    "Fault tests: current-limited supply, a series resistor for its output capacitor, shrouded "
    "leads, eye protection, a fire-proof surface; never unattended. Discharge capacitors twice."
)
_MAINS = (
    "Mains or more than 30 V rms, 42.4 V peak, 60 V DC (less where skin is wet; check the current "
    "edition of IEC 61010-1): clearances, protective earth and enclosure are judged elsewhere."
)
USUAL_CAUTIONS = (
    _FAULT_TESTS,
    "A resistor can be hotter than 200 °C in a sustained fault while within its rating.",
    "An input that survived a fault may leak more than before: repeat the leakage test.",
    "Electrostatic discharge tests: keep away from people with implants and from other benches.",
    "Latch-up or phase reversal in a control loop can move actuators: test with them disabled.",
    _MAINS,
)
