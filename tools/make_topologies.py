"""Write docs/topologies.md and docs/topologies/T*.svg from the catalogue of topologies.

The page is made from the data the solver uses, so it cannot say anything else than what is solved.
Run: python tools/make_topologies.py [--check]
"""

from __future__ import annotations

import sys
from pathlib import Path

from clampwright.network.topologies import CATALOGUE
from clampwright.network.topology import Role, Topology
from clampwright.quantities import write
from clampwright.record.network_text import is_only_noted
from clampwright.record.schematic import topology_svg
from clampwright.verdict.layout import UNIT_DIMENSIONS

DOCS = Path(__file__).resolve().parents[1] / "docs"
PAGE = DOCS / "topologies.md"
EVERYWHERE = ("R_S", "R_outer", "R_fault", "bias", "pin upper", "pin lower", "C_cable", "C_input")
STATED_IN = {
    "R_inner": "`network.inner_resistor`",
    "R_guard": "`network.guard_resistor`",
    "guard": "`amplifier.guard_offset`",
    "other input": "`amplifier.offset_voltage`",
    "pin": "`amplifier.offset_voltage`",
    "other bias": "`amplifier.bias_current`",
    "source current": "`requirement.signal_maximum` over the feedback resistor",
    "C_source": "`source.cable_capacitance`",
    "C_difference": "`network.differential_capacitance`",
    "limiter towards source": "follows from the limiting current",
    "limiter towards pin": "follows from the limiting current",
    "output": "follows: saturated at a rail",
    "tube arc": "taken as 20 V both ways (common practice, no source)",
    "other pin upper": "taken as a small silicon junction",
    "other pin lower": "taken as a small silicon junction",
}
ZERO_UNLESS_STATED = ("other input", "pin")  # the amplifier's offset voltage
CLAMP_WORDS = {
    "rail": "against the rails: the leakage at full reverse voltage counts",
    "clamp rail": "against the clamp rails, a drop inside the supply",
    "guard": "at the offset of the guard: the slope at zero volts counts",
    "amplifier": "at the offset voltage of the amplifier: the slope at zero volts counts",
    "middle": "at the signal less the middle bias",
    "ground": "at the signal over the number of junctions in series, forward and reverse",
}
INTRODUCTION = """# Topologies

Every protection that can be judged, drawn from the same data that is solved
(`tools/make_topologies.py`; a test keeps this page up to date). `network.topology` in the design
sheet names one of them; `own` stands for [a network of your own](own-network.md).

A drawing shows what the topology is made of; in all of them the fault arrives at the connector, at
the left, and the amplifier stands at the right. **Sits at** is the voltage on a clamp in normal use,
at which its leakage must be known. Roles are stated under `[network.values]` (quantities) and
`[network.classes]` (parts off the signal node, as a class of the catalogue); a default is common
practice without a source, and a result says where it stood in for a stated value. Besides the roles
listed, every topology has the source resistance, the outer resistor, the bias current, and, in a
fault, the resistance of the fault and the junctions on the chip.
"""


def main() -> int:
    """Write page and drawings, or with --check say whether they are up to date."""
    texts = {PAGE: page(), **drawings()}
    if "--check" in sys.argv[1:]:
        stale = [p for p, text in texts.items() if not p.exists() or p.read_text("utf-8") != text]
        left = sorted(set((DOCS / "topologies").glob("*")) - set(texts))
        for path in (*stale, *left):
            print(f"not up to date: {path.name}", file=sys.stderr)
        return 1 if stale or left else 0
    (DOCS / "topologies").mkdir(exist_ok=True)
    for path, text in texts.items():
        path.write_text(text, "utf-8")
    return 0


def drawings() -> dict[Path, str]:
    """The drawing of every topology by its file."""
    return {DOCS / "topologies" / f"{name}.svg": standing_alone(name) for name in CATALOGUE}


def standing_alone(name: str) -> str:
    """The drawing as a file of its own: on paper, so that it reads in a dark theme too."""
    head, rest = topology_svg(name).split(">", 1)
    return f'{head} style="background:#faf8f3">{rest}'


def page() -> str:
    """The whole page."""
    names = ", ".join(f"[{name}](#{anchor(t)})" for name, t in CATALOGUE.items())
    return "\n".join([INTRODUCTION, names + "\n", *(section(t) for t in CATALOGUE.values())])


def heading(topology: Topology) -> str:
    """Name and title."""
    return f"{topology.name} {topology.title}"


def anchor(topology: Topology) -> str:
    """What a link to the heading ends in: lower case, hyphens, no punctuation."""
    plain = "".join(c for c in heading(topology).lower() if c.isalnum() or c in " -")
    return plain.replace(" ", "-")


def section(topology: Topology) -> str:
    """One topology: drawing, use, where its clamps sit, what differs, what must be stated."""
    name = topology.name
    lines = [
        f"## {heading(topology)}\n",
        f"![{name}: {topology.title}](topologies/{name}.svg)\n",
        f"{topology.words}\n",
        f"- **Use it** {topology.when}.",
        f"- **Its clamps sit** {sits_words(topology)}.",
    ]
    if topology.stages != ("fault",):
        lines.append(f"- **Fault stages:** {', '.join(topology.stages)}.")
    lines += ["- **What differs:**", *(f"  - {text}" for text in topology.differs)]
    rows = [role_row(role, topology) for role in own_roles(topology)]
    if rows:
        lines += ["", "| role | what it is | stated in | if not stated |", "|---|---|---|---|"]
        lines += rows
    return "\n".join(lines) + "\n"


def sits_words(topology: Topology) -> str:
    """Where the clamps sit, by the nodes they go to."""
    if not topology.has_clamp:
        return "nowhere on the signal: no clamp part is fitted there"
    branches = [c for c in topology.signal.clamps if c.name in topology.sides]
    nodes = {node for c in branches for node in (c.anode, c.cathode)}
    far = " ".join(sorted(nodes))
    if topology.levels and "amplifier offset" in {words for _, words in topology.levels.values()}:
        return CLAMP_WORDS["amplifier"]
    for key in ("clamp rail", "rail", "guard", "middle", "ground"):
        if key in far:
            return CLAMP_WORDS[key]
    raise ValueError(f"no words for where the clamps of {topology.name} sit")


def own_roles(topology: Topology) -> list[Role]:
    """Roles beyond those of every topology; of a pair, those of one leg and what is shared."""
    shown: dict[str, Role] = {}
    for role in topology.roles:
        if role.name.endswith(" minus"):
            continue
        plain = role.name.removesuffix(" plus")
        if plain not in EVERYWHERE:
            shown[plain] = role
    return list(shown.values())


def role_row(role: Role, topology: Topology) -> str:
    """One line of the table."""
    name = role.name.removesuffix(" plus")
    words = role.words.removesuffix(", plus leg")
    return f"| `{name}` | {words} | {stated_in(role, topology)} | {otherwise(role, topology)} |"


def stated_in(role: Role, topology: Topology) -> str:
    """The field of the design sheet, or what the value follows from."""
    name = role.name.removesuffix(" plus")
    if name in STATED_IN:
        return STATED_IN[name]
    if role.name in topology.sides:
        return "`network.clamp`"
    return "`network.classes`" if role.kind == "clamp" else "`network.values`"


def otherwise(role: Role, topology: Topology) -> str:
    """What happens where the sheet says nothing."""
    if not stated_in(role, topology).startswith("`"):
        return "–"
    if is_only_noted(role):
        return "noted in the record, not judged"
    if not role.required:
        return "left out"
    if role.name in ZERO_UNLESS_STATED:
        return "0 V"
    return "asked for" if role.default is None else default_words(role)


def default_words(role: Role) -> str:
    """The default with its unit."""
    assert role.default is not None
    text = write(role.default, UNIT_DIMENSIONS.get(role.unit, "ratio"))
    number, space, unit = text.partition("\u2009")
    number = number.rstrip("0").rstrip(".") if "." in number else number
    return number + space + unit


if __name__ == "__main__":
    sys.exit(main())
