"""What the sheet must state before film, joints, hum and soakage are answered, and what is missing."""

from __future__ import annotations

from clampwright.verdict.design import Design

JOINTS = ("thermal_joints", "joint_coefficient", "joint_temperature_difference")

# Dielectric absorption by the method of IEC 60384-1: usual values, common practice, no source; a
# specimen may differ threefold, so the capacitor's own figure is better.
ABSORPTION = {
    "PTFE": 1e-4,
    "polystyrene": 2e-4,
    "polypropylene": 5e-4,
    "mica": 5e-3,
    "C0G": 6e-3,
    "polyester": 5e-3,
    "X7R": 2.5e-2,
    "electrolytic": 1e-1,
}


def missing(design: Design, table: str, names: tuple[str, ...]) -> str:
    """Words for the fields of a table that are not stated; "" where all are."""
    sheet = getattr(design, table)
    left = [f"{table}.{name}" for name in names if getattr(sheet, name) is None]
    return f"not stated: give {', '.join(left)}" if left else ""


def film_resistance(design: Design) -> float | None:
    """Film and insulation in parallel between the node and what lies beside it (Ω); None: neither."""
    board = design.board
    siemens = 0.0
    if board.surface_resistance is not None and board.film_squares is not None:
        siemens += 1.0 / (board.surface_resistance * board.film_squares)
    if board.insulation_resistance is not None:
        siemens += 1.0 / board.insulation_resistance
    return 1.0 / siemens if siemens else None


def ring_error(design: Design) -> float | None:
    """How far a guard ring may be from the node (V); None where the sheet does not say.

    At a summing node the ring is at ground and sees the offset voltage of the amplifier; elsewhere it
    is driven by a follower and sees its offset and gain error.
    """
    amplifier, wanted = design.amplifier, design.requirement
    if design.network.topology == "T13":
        return abs(amplifier.offset_voltage)
    if amplifier.guard_offset is None:
        return None
    reach = max(abs(wanted.signal_minimum), abs(wanted.signal_maximum))
    return abs(amplifier.guard_offset) + amplifier.guard_gain_error * reach


def film_missing(design: Design) -> str:
    """What is missing for the film that enters the budget; "" where nothing is."""
    if film_resistance(design) is None:
        return (
            "not stated: give board.surface_resistance and board.film_squares, or "
            "board.insulation_resistance"
        )
    if design.board.guard_ring:
        unknown = ring_error(design) is None
        return "not stated: give amplifier.guard_offset" if unknown else ""
    return missing(design, "board", ("neighbour_voltage",))


def joints_missing(design: Design) -> str:
    """What is missing for the thermal EMF."""
    return missing(design, "network", JOINTS)


def joint_emf(design: Design) -> float:
    """All pairs of joints adding up (V), of unknown sign."""
    network = design.network
    each = (network.joint_coefficient or 0.0) * (network.joint_temperature_difference or 0.0)
    return abs(each) * (network.thermal_joints or 0)


def states_hum(design: Design) -> bool:
    """Whether an amplitude of hum is stated."""
    return design.source.hum_peak is not None or design.network.clamp_hum_peak is not None


def states_added(design: Design) -> bool:
    """Whether film, joints or hum enter the budget of this design."""
    return not (film_missing(design) and joints_missing(design)) or states_hum(design)


def absorption(design: Design) -> float | None:
    """Dielectric absorption of the capacitor at the node (ratio); None where nothing is stated."""
    network = design.network
    if network.capacitor_absorption is not None:
        return network.capacitor_absorption
    return (
        None if network.capacitor_dielectric is None else ABSORPTION[network.capacitor_dielectric]
    )
