"""Roles that many topologies share, written once."""

from __future__ import annotations

from clampwright.network.circuit import Capacitor, CurrentInto
from clampwright.network.topology import Role

R_SOURCE = Role("R_S", "resistor", "source resistance of the sensor", "Ω")
R_OUTER = Role(
    "R_outer", "resistor", "outer series resistor, towards the connector", "Ω", True, 1e5
)
R_INNER = Role("R_inner", "resistor", "inner resistor, in front of the pin", "Ω", False, 1e4)
R_GUARD = Role("R_guard", "resistor", "resistor in the guard drive", "Ω", True, 4.7e3)
R_FAULT = Role("R_fault", "resistor", "resistance of the fault itself", "Ω", True, 1e-3)
UPPER = Role("upper", "clamp", "clamp from the node to the positive rail")
LOWER = Role("lower", "clamp", "clamp from the negative rail to the node")
BIAS = Role(
    "bias", "current", "amplifier bias current, positive into the pin's node", "A", True, 0.0
)
GUARD = Role("guard", "follower", "guard follower: gain, and offset to its input", "V")
PIN_UPPER = Role(
    "pin upper", "clamp", "junction on the chip to the positive rail, in a fault", "", False
)
PIN_LOWER = Role(
    "pin lower", "clamp", "junction on the chip to the negative rail, in a fault", "", False
)
C_CABLE = Role(
    "C_cable", "capacitor", "capacitance of the cable at the connector", "F", False, 3e-10
)
C_INPUT = Role("C_input", "capacitor", "input capacitance of the amplifier", "F", False, 5e-12)

LINE = (R_SOURCE, R_OUTER, BIAS, R_FAULT, PIN_UPPER, PIN_LOWER, C_CABLE, C_INPUT)
RAIL_CLAMPS = (UPPER, LOWER)

RAILS = ("rail positive", "rail negative")
SUPPLIES = ("source", *RAILS)
INTO_PIN = (CurrentInto("bias", "pin"),)
STRAYS = (Capacitor("C_cable", "connector"), Capacitor("C_input", "pin"))


def pair_roles(far: str) -> tuple[Role, Role]:
    """The two clamps of an antiparallel pair from the node to `far`."""
    return (
        Role("forward", "clamp", f"clamp with its anode at the node, cathode at {far}"),
        Role("backward", "clamp", f"clamp with its anode at {far}, cathode at the node"),
    )
