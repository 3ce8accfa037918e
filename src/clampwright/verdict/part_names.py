"""Names of the parts of a circuit as its schematic writes them."""

from __future__ import annotations

PART_NAMES = {
    "R_S": "source resistance",
    "R_outer": "outer resistor",
    "R_inner": "inner resistor",
    "R_guard": "guard resistor",
    "R_limiter": "current limiter",
    "R_fuse": "fuse",
    "R_contact": "contact",
    "R_lower": "lower resistor",
    "R_middle": "bias resistor of the middle node",
    "R_feedback": "feedback resistor",
    "R_bias positive": "bias resistor, positive",
    "R_bias negative": "bias resistor, negative",
    "shunt positive": "shunt, positive",
    "shunt negative": "shunt, negative",
    "tube insulation": "gas tube",
    "suppressor": "suppressor",
}
WAYS = ("upper", "lower", "forward", "backward")
LEGS = ("plus", "minus")


def part_name(role: str) -> str:
    """The name of a role, "outer resistor" or "upper clamp"; one of the user's own stays as it is."""
    bare, _, leg = role.rpartition(" ")
    if leg in LEGS:
        return f"{part_name(bare)}, {leg} leg"
    first, _, number = role.partition(" ")
    if first in WAYS and (not number or number.isdigit()):
        return f"{first} clamp {number}".strip()
    return PART_NAMES.get(role, role)
