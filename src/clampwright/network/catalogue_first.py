"""Topologies with a first stage that limits, opens or fires: T7, T10, T11, T12."""

from __future__ import annotations

from dataclasses import replace

from clampwright.network.catalogue_rails import SIDES, TO_RAILS
from clampwright.network.circuit import Circuit, ClampBranch, CurrentInto, Driven
from clampwright.network.compose import series, under_fault, without
from clampwright.network.roles import INTO_PIN, LINE, R_INNER, RAIL_CLAMPS, STRAYS, SUPPLIES
from clampwright.network.topology import Answer, Role, Topology


def _first(element: str, node: str, *, after: bool = False) -> Circuit:
    """Rail clamps with one more element in the line, before or after the outer resistor."""
    parts = ["source", "R_S", "connector", element, node, "R_outer", "clamp node", "R_inner", "pin"]
    if after:
        parts[3], parts[5] = parts[5], parts[3]
    return Circuit(SUPPLIES, series(*parts), TO_RAILS, INTO_PIN, capacitors=STRAYS)


def _replaced(circuit: Circuit, resistor: str, *branches: ClampBranch) -> Circuit:
    """The circuit with branches in the place of a resistor."""
    left = without(circuit, [resistor])
    return replace(left, clamps=left.clamps + branches)


_LIMITED = _first("R_limiter", "limited node", after=True)
_LIMITED = replace(
    _LIMITED, currents=(*_LIMITED.currents, CurrentInto("gate leakage", "clamp node"))
)

T7 = Topology(
    "T7",
    "series depletion limiter and rail clamps",
    "Depletion transistors in series are a small resistor to the signal and a current source to a fault.",
    "when noise forbids a large resistor and the limiter survives the full fault voltage",
    sides=SIDES,
    opposed=True,
    signal=_LIMITED,
    fault={
        "fault": _replaced(
            under_fault(_LIMITED),
            "R_limiter",
            ClampBranch("limiter towards source", "limiter middle", "limited node"),
            ClampBranch("limiter towards pin", "limiter middle", "clamp node"),
        )
    },
    roles=(
        *LINE,
        R_INNER,
        *RAIL_CLAMPS,
        Role("R_limiter", "resistor", "on-resistance of the limiter", "Ω", True, 500.0),
        Role(
            "gate leakage", "current", "gate leakage, positive into the clamp node", "A", True, 0.0
        ),
        Role("limiter towards source", "clamp", "limiter, the half facing the source"),
        Role("limiter towards pin", "clamp", "limiter, the half facing the clamp"),
        Role(
            "limiting current", "figure", "current at which the limiter saturates", "A", True, 1e-3
        ),
    ),
    differs=(
        "fault current I_limit·tanh(V/(R_on·I_limit)): the limiter dissipates V·I_limit",
        "its gate leakage joins the signal node",
        "fails short, so the outer resistor should be a fusible one",
    ),
)

_FUSED = _first("R_fuse", "behind the fuse")
_CONTACT = _first("R_contact", "behind the contact")
_CONTACT = replace(
    _CONTACT,
    resistors=series("source with contact voltage", "R_S", "connector") + _CONTACT.resistors[1:],
    driven=(Driven("source with contact voltage", "source"),),
)
_OPENED = ClampBranch("off leakage", "connector", "behind the contact")

T10 = Topology(
    "T10",
    "resettable fuse or fuse first",
    "A resettable fuse or a fuse opens the line after a while; a fast clamp carries it until then.",
    "for long faults of low source resistance, with clamps that carry the current until it trips",
    sides=SIDES,
    opposed=True,
    signal=_FUSED,
    fault={
        "before trip": under_fault(_FUSED),
        "after trip": under_fault(_FUSED),
        "open": _replaced(
            under_fault(_FUSED),
            "R_fuse",
            ClampBranch("off leakage", "connector", "behind the fuse"),
        ),
    },
    roles=(
        *LINE,
        R_INNER,
        *RAIL_CLAMPS,
        Role(
            "R_fuse", "resistor", "cold resistance; after trip the one that holds", "Ω", True, 50.0
        ),
        Role("off leakage", "leak", "insulation of an opened fuse", "Ω", False, 1e8),
        Role("tolerance", "figure", "of the cold resistance", "1", False, 0.3),
        Role("holding current", "figure", "carried without tripping", "A"),
        Role("trip current", "figure", "trips in the time to trip", "A"),
        Role("time to trip", "figure", "at the trip current", "s"),
        Role("holding power", "figure", "keeps it tripped", "W", True, 1.5),
    ),
    differs=(
        "the cold resistance and its spread count only with bias current and leakage",
        "after trip the resistance settles where V·I is the holding power",
        "slow: the clamp carries the full current for the time to trip",
    ),
)

T11 = Topology(
    "T11",
    "relay or photorelay disconnect",
    "A contact opens when a fault is detected; the clamp carries it for the release time.",
    "when the input must be disconnected, also unpowered",
    sides=SIDES,
    opposed=True,
    signal=_CONTACT,
    fault={
        "closed": under_fault(_CONTACT),
        "open": _replaced(under_fault(_CONTACT), "R_contact", _OPENED),
    },
    roles=(
        *LINE,
        R_INNER,
        *RAIL_CLAMPS,
        Role("R_contact", "resistor", "resistance of the closed contact", "Ω", True, 0.1),
        Role(
            "source with contact voltage",
            "follower",
            "thermal EMF of the contact, in series with the source",
            "V",
        ),
        Role("off leakage", "leak", "insulation of the open contact", "Ω", True, 1e10),
        Role("release time", "figure", "from detection to open", "s", True, 2e-3),
    ),
    differs=(
        "the thermal EMF of the contact adds to the signal",
        "leakage of the open contact decides what an open input sees",
        "a welded contact is invisible: test it",
    ),
    answer=Answer(offsets=("source with contact voltage",)),
)

_TUBE = Circuit(
    (*SUPPLIES, "ground"),
    series("source", "R_S", "connector", "R_outer", "clamp node", "R_inner", "pin"),
    (*TO_RAILS, ClampBranch("tube insulation", "connector", "ground")),
    INTO_PIN,
    capacitors=STRAYS,
)
_FIRED = without(under_fault(_TUBE), ["tube insulation"])

T12 = Topology(
    "T12",
    "gas tube, resistor, rail clamps",
    "The gas tube takes a surge, the resistor stands its spark-over voltage, the clamps take the rest.",
    "for surges and lightning on long lines; never as the only stage",
    sides=SIDES,
    opposed=True,
    signal=_TUBE,
    fault={
        "unfired": under_fault(_TUBE),
        "fired": replace(
            _FIRED, clamps=(*_FIRED.clamps, ClampBranch("tube arc", "connector", "ground"))
        ),
    },
    roles=(
        *LINE,
        R_INNER,
        *RAIL_CLAMPS,
        Role("tube insulation", "leak", "insulation of the tube at the connector", "Ω", True, 1e10),
        Role("tube arc", "clamp", "the fired tube: its arc voltage both ways"),
        Role("spark-over voltage", "figure", "the tube fires above it, higher on a fast edge", "V"),
        Role("follow current", "figure", "the arc may stay lit above it", "A", True, 0.5),
    ),
    differs=(
        "the insulation of the tube loads the source: R_S/R_insulation",
        "until it fires the resistor and clamps carry the whole voltage",
        "on a direct voltage above the arc voltage it may not go out",
    ),
)

FIRST_STAGE_TOPOLOGIES = (T7, T10, T11, T12)
