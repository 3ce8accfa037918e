"""The parts of a network in words: resistors, capacitors and every value its topology asks for."""

from __future__ import annotations

from clampwright.network.own import Element
from clampwright.network.topologies import topology_named
from clampwright.network.topology import Role
from clampwright.record.words import UNIT_QUANTITY, nominal, quantity, resistance_words
from clampwright.verdict.adjust import MATCH_FACTOR, MATCH_PROBABLE
from clampwright.verdict.design import Design
from clampwright.verdict.layout import role_value, topology_of
from clampwright.verdict.results import CheckResult

Row = tuple[str, ...]
ELEMENT_QUANTITY = {
    "resistor": "resistance",
    "leak": "resistance",
    "capacitor": "capacitance",
    "current": "current",
    "potential": "voltage",
}
JUDGED_FIGURES = ("limiting current", "internal resistance")
ELSEWHERE = {"R_S", "R_outer", "R_inner", "R_guard", "R_fault", "bias", "other bias", "output"}


def network_rows(check: CheckResult) -> list[Row]:
    """The chosen parts as name and value; a default taken says that it is assumed."""
    design = check.design
    network = design.network
    title = check.topology_title.removeprefix(network.topology).lstrip(" ,:")
    title = title.removeprefix("T2 ") if network.topology == "T15" else title
    rows: list[Row] = [("circuit", f"{network.topology}, {title}")]
    if is_pair(design):
        rows.append(("input", f"differential: two legs, each {title}"))
    for name, resistor in (
        ("outer resistor", network.outer_resistor),
        ("inner resistor", network.inner_resistor),
        ("guard resistor", network.guard_resistor),
    ):
        if resistor is not None:
            words = resistance_words(resistor.value, resistor.count)
            rows.append((name, f"{words}, {resistor.package}"))
    rows += _role_rows(design)
    if network.node_capacitance:
        each = " of each leg" if is_pair(design) else ""
        value = nominal(network.node_capacitance, "capacitance")
        rows.append((f"capacitor at the clamp node{each}", value))
    return rows + (_pair_rows(design) if is_pair(design) else [])


def is_pair(design: Design) -> bool:
    """Whether the input is differential: two legs of the same circuit."""
    return design.network.pair or design.network.topology == "T15"


def is_only_noted(role: Role) -> bool:
    """Whether a stated figure is printed and nothing is computed from it."""
    return role.kind == "figure" and role.name not in JUDGED_FIGURES


def is_current_input(design: Design) -> bool:
    """Whether the input takes a current into a summing node."""
    return design.network.topology == "T13"


def signal_place(design: Design) -> str:
    """Where the signal is stated, as a name for it."""
    if is_current_input(design):
        return "signal at the output"
    return "signal at each pin" if is_pair(design) else "signal at the pin"


def error_place(design: Design) -> str:
    """Where the error is counted, as a name for it."""
    if design.network.topology in ("T4", "T13"):
        return "error at the output"
    return "error between the pins" if is_pair(design) else "error at the pin"


def role_text(role: Role, design: Design) -> str:
    """What a role of the topology is worth, or the class of the part; "" where nothing is stated."""
    stated = design.network.classes.get(role.name)
    if stated is not None:
        return stated
    given = role.name in design.network.values
    if not given and role.default is None:
        return ""
    value = role_value(design, topology_of(design), role.name)
    kind = UNIT_QUANTITY.get(role.unit, "ratio")
    text = nominal(value, kind, signed=role.kind == "potential")
    return text if given else f"{text}, assumed"


def _role_rows(design: Design) -> list[Row]:
    """Whatever else the topology asks for; a zero that stands for "none" is left out."""
    if design.network.topology == "own":
        return [(f"{e.kind} {e.name}", _element_words(e)) for e in design.network.elements]
    name = "T2" if design.network.topology == "T15" else design.network.topology
    rows: list[Row] = []
    for role in topology_named(name).roles:
        stated = role.name in design.network.values or role.name in design.network.classes
        noted = is_only_noted(role)
        wanted = role.required and role.default and role.name not in ELSEWHERE and not noted
        if stated or wanted:
            text = role_text(role, design) + (", noted, not judged" if noted else "")
            rows.append((role.words, text))
    return rows


def _element_words(element: Element) -> str:
    """Ends and values of an element of the user's own network."""
    if element.kind == "clamp":
        return f"{element.part}, anode at {element.anode}, cathode at {element.cathode}"
    if element.kind == "follower":
        offset = quantity(element.offset, "voltage", signed=True)
        return f"{element.node} follows {element.follows}, gain {element.gain:g}, offset {offset}"
    value = nominal(element.value, ELEMENT_QUANTITY[element.kind])
    if element.kind == "current" or element.kind == "potential":
        return f"{value}, {'into' if element.kind == 'current' else 'at'} {element.node}"
    return f"{value}, {' to '.join(element.between)}"


def _pair_rows(design: Design) -> list[Row]:
    """What the two legs share and by how much they may differ."""
    network = design.network
    rows: list[Row] = []
    if network.differential_capacitance:
        rows.append(
            ("capacitor between the legs", nominal(network.differential_capacitance, "capacitance"))
        )
    match = (
        f"not measured: {nominal(MATCH_PROBABLE, 'ratio')} of the leakage taken as probable, "
        f"a factor {MATCH_FACTOR:g} either way as its range"
        if network.clamp_match is None
        else f"{nominal(network.clamp_match, 'ratio')} of the leakage"
    )
    tolerances = (
        f"resistors ± {nominal(network.resistor_tolerance, 'ratio')}, "
        f"capacitors ± {nominal(network.capacitor_tolerance, 'ratio')}"
    )
    return [*rows, ("mismatch of the clamps", match), ("tolerance of the legs", tolerances)]
