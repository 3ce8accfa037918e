"""Topologies whose clamps go to supply rails or clamp rails: T1, T2, T3, T6, T8, T16, T18."""

from __future__ import annotations

from clampwright.network.circuit import Capacitor, Circuit, ClampBranch, Resistor
from clampwright.network.compose import pin_junctions, series, under_fault
from clampwright.network.roles import (
    INTO_PIN,
    LINE,
    R_INNER,
    RAIL_CLAMPS,
    RAILS,
    STRAYS,
    SUPPLIES,
)
from clampwright.network.topology import Role, Topology

WIRE = series("source", "R_S", "connector", "R_outer", "clamp node", "R_inner", "pin")
TO_RAILS = (
    ClampBranch("upper", "clamp node", "rail positive"),
    ClampBranch("lower", "rail negative", "clamp node"),
)
ON_RAILS = Circuit(SUPPLIES, WIRE, TO_RAILS, INTO_PIN, capacitors=STRAYS)
SIDES = ("upper", "lower")

_ALONE = Circuit(SUPPLIES, WIRE, (), INTO_PIN, capacitors=STRAYS)

T1 = Topology(
    "T1",
    "series resistor only",
    "The series resistor limits the fault; the amplifier's own junctions clamp.",
    "when about 10 kΩ per 10 V of excess can be spared and the pin current is published",
    sides=(),
    opposed=True,
    signal=_ALONE,
    fault={"fault": under_fault(_ALONE)},
    roles=(*LINE, R_INNER),
    differs=(
        "no clamp leakage: the error is bias current times series resistance",
        "the whole fault current goes into the pin, and through it into the rail",
        "off: back-powers the supply through the amplifier",
        "an overstressed pin shows only as rising bias current",
    ),
)

T2 = Topology(
    "T2",
    "resistor and clamps to the supply rails",
    "Two clamps hold the node between the rails; their leakages pull opposite ways.",
    "when the rails can absorb the fault current and leakage at full reverse voltage fits",
    sides=SIDES,
    opposed=True,
    signal=ON_RAILS,
    fault={"fault": under_fault(ON_RAILS)},
    roles=(*LINE, R_INNER, *RAIL_CLAMPS),
    differs=(
        "offset R·(I_upper − I_lower); both slopes add to the gain error",
        "while one clamp conducts the other stands off the rail span and a forward drop",
        "pumps the rail; off: conducts at a forward drop and back-powers",
        "the pin takes about half the current unless an inner resistor or a lower drop prevents it",
    ),
)

T6 = Topology(
    "T6",
    "resistor, rail clamps, resistor",
    "The outer resistor takes the fault, the inner one keeps the rest out of the pin.",
    "when the clamp turns on no earlier than the amplifier's own junctions",
    sides=SIDES,
    opposed=True,
    signal=ON_RAILS,
    fault={"fault": under_fault(ON_RAILS)},
    roles=(*LINE, R_INNER, *RAIL_CLAMPS),
    differs=(
        "pin current (V_clamp − V_rail − V_pin)/R_inner",
        "clamp leakage sees R_S + R_outer, bias current sees R_inner too",
    ),
    needs_inner=True,
)

_CLAMP_RAILS = ("clamp rail positive", "clamp rail negative")
_TO_CLAMP_RAILS = (
    ClampBranch("upper", "clamp node", "clamp rail positive"),
    ClampBranch("lower", "clamp rail negative", "clamp node"),
)
_CLAMP_RAIL_SIGNAL = Circuit(
    (*SUPPLIES, *_CLAMP_RAILS), WIRE, _TO_CLAMP_RAILS, INTO_PIN, capacitors=STRAYS
)
_CLAMP_RAIL_FAULT = Circuit(
    ("fault", *RAILS, "ground"),
    (
        *series("fault", "R_fault", "connector", "R_outer", "clamp node", "R_inner", "pin"),
        Resistor("R_bias positive", "rail positive", "clamp rail positive"),
        Resistor("R_bias negative", "rail negative", "clamp rail negative"),
    ),
    (
        *_TO_CLAMP_RAILS,
        ClampBranch("shunt positive", "ground", "clamp rail positive"),
        ClampBranch("shunt negative", "clamp rail negative", "ground"),
        *pin_junctions(),
    ),
    base="fault",
    capacitors=STRAYS,
)

T3 = Topology(
    "T3",
    "resistor and clamps to dedicated clamp rails",
    "Shunts inside the supply make rails that sink the fault current; the clamps go there.",
    "when the supplies cannot sink or many channels share one robust pair of clamp rails",
    sides=SIDES,
    opposed=True,
    signal=_CLAMP_RAIL_SIGNAL,
    fault={"fault": _CLAMP_RAIL_FAULT},
    roles=(
        *LINE,
        R_INNER,
        *RAIL_CLAMPS,
        Role(
            "clamp rail positive", "potential", "positive clamp rail, a drop inside the rail", "V"
        ),
        Role(
            "clamp rail negative", "potential", "negative clamp rail, a drop inside the rail", "V"
        ),
        Role("R_bias positive", "resistor", "feeds the positive shunt", "Ω", True, 1e3),
        Role("R_bias negative", "resistor", "feeds the negative shunt", "Ω", True, 1e3),
        Role("shunt positive", "clamp", "shunt regulator or zener that sinks, to ground"),
        Role("shunt negative", "clamp", "shunt regulator or zener that sources, from ground"),
    ),
    differs=(
        "less reverse voltage, so less leakage; the shunt must sink every channel's fault current",
        "crosstalk between channels that share a clamp rail: its change times g·R",
        "off: with zeners as shunts it still clamps, at their voltage plus a drop",
        "the leakage of the shunt is not on the signal node",
    ),
)

_FILTERED = Circuit(
    (*SUPPLIES, "ground"),
    WIRE,
    (*TO_RAILS, ClampBranch("insulation", "clamp node", "ground")),
    INTO_PIN,
    capacitors=(*STRAYS, Capacitor("C_clamp", "clamp node")),
)

T8 = Topology(
    "T8",
    "resistor, capacitor, clamps",
    "A film or C0G capacitor at the clamp node takes the charge of a discharge; clamps take the rest.",
    "when discharges and bursts are the threat and the bandwidth can be spared",
    sides=SIDES,
    opposed=True,
    signal=_FILTERED,
    fault={"fault": under_fault(_FILTERED)},
    roles=(
        *LINE,
        R_INNER,
        *RAIL_CLAMPS,
        Role("insulation", "leak", "insulation resistance of the capacitor", "Ω", True, 1e11),
        Role("C_clamp", "capacitor", "capacitor at the clamp node", "F", False, 1e-8),
    ),
    differs=(
        "the step of a discharge is its charge over the capacitance",
        "the insulation of the capacitor loads the node: gain error R/R_insulation",
        "bandwidth falls; in a pair the tolerance of the capacitors limits the rejection",
    ),
)

_DIVIDED = Circuit(
    (*SUPPLIES, "ground"),
    (*WIRE, Resistor("R_lower", "clamp node", "ground")),
    TO_RAILS,
    INTO_PIN,
    capacitors=STRAYS,
)

T16 = Topology(
    "T16",
    "high-value divider",
    "The upper resistor of the divider limits the fault; the clamps see the divided signal.",
    "when the signal may be divided and the source resistance is small against the divider",
    sides=SIDES,
    opposed=True,
    signal=_DIVIDED,
    fault={"fault": under_fault(_DIVIDED)},
    roles=(
        *LINE,
        R_INNER,
        *RAIL_CLAMPS,
        Role("R_lower", "resistor", "lower resistor of the divider, to ground", "Ω", True, 1e5),
        Role("voltage coefficient", "figure", "of the upper resistor: ΔR/R per volt", "1/V", False),
    ),
    differs=(
        "leakage sees the parallel resistance; referred to the source the error grows by the ratio",
        "current flows all the time: tempco and voltage coefficient of the upper resistor count",
        "noise of the parallel resistance, times the ratio",
    ),
)

_TOLERANT_FAULT = Circuit(
    ("fault", *RAILS),
    series("fault", "R_fault", "connector", "R_outer", "clamp node", "R_inner", "pin"),
    (
        ClampBranch("limiter towards source", "limiter middle", "pin"),
        ClampBranch("limiter towards pin", "limiter middle", "inside"),
        *pin_junctions("inside"),
    ),
    base="fault",
    capacitors=STRAYS,
)

T18 = Topology(
    "T18",
    "over-voltage tolerant amplifier",
    "Depletion transistors on the chip limit the current of an input beyond the rails.",
    "when such an amplifier meets the accuracy and its published input range covers the fault",
    sides=(),
    opposed=True,
    signal=_ALONE,
    fault={"fault": _TOLERANT_FAULT},
    roles=(
        *LINE,
        R_INNER,
        Role("limiter towards source", "clamp", "limiter on the chip, half facing the source"),
        Role("limiter towards pin", "clamp", "limiter on the chip, half facing the amplifier"),
        Role("limiting current", "figure", "published current of an overdriven input", "A"),
        Role(
            "internal resistance",
            "figure",
            "series resistance on the chip, for its noise",
            "Ω",
            False,
        ),
        Role("published overvoltage", "figure", "highest published input voltage", "V"),
    ),
    differs=(
        "no external clamp leakage; the noise of the resistance on the chip stays",
        "the limited current still enters a rail: read where it goes, and what holds unpowered",
    ),
)

RAIL_TOPOLOGIES = (T1, T2, T3, T6, T8, T16, T18)
__all__ = ["RAIL_TOPOLOGIES", "T1", "T2", "T3", "T6", "T8", "T16", "T18"]
