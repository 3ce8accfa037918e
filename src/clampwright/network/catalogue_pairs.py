"""Topologies whose clamps sit near zero volts: T4, T5, T9, T13, T14, T17."""

from __future__ import annotations

from clampwright.errors import InputError
from clampwright.network.circuit import (
    Capacitor,
    Circuit,
    ClampBranch,
    CurrentInto,
    Driven,
    Resistor,
)
from clampwright.network.compose import pin_junctions, series, under_fault
from clampwright.network.roles import (
    BIAS,
    GUARD,
    INTO_PIN,
    LINE,
    PIN_LOWER,
    PIN_UPPER,
    R_FAULT,
    R_GUARD,
    R_INNER,
    R_OUTER,
    RAILS,
    STRAYS,
    SUPPLIES,
    pair_roles,
)
from clampwright.network.topology import Answer, Role, Topology

WIRE = series("source", "R_S", "connector", "R_outer", "clamp node", "R_inner", "pin")
FAULT_WIRE = series("fault", "R_fault", "connector", "R_outer", "clamp node", "R_inner", "pin")
SIDES = ("forward", "backward")
LARGEST_STACK = 12  # junctions in series


def _pair(node: str, far: str) -> tuple[ClampBranch, ClampBranch]:
    return ClampBranch("forward", node, far), ClampBranch("backward", far, node)


_R_FEEDBACK = Role("R_feedback", "resistor", "feedback resistor of the amplifier", "Ω", True, 1e5)
_OUTPUT = Role("output", "potential", "amplifier output in a fault: saturated at a rail", "V")

T4 = Topology(
    "T4",
    "antiparallel clamps across the amplifier inputs",
    "The other input follows the signal, so the clamps sit at the amplifier's offset voltage.",
    "when the inputs must not be pulled apart; something else must limit the common mode",
    sides=SIDES,
    opposed=False,
    signal=Circuit(
        SUPPLIES,
        WIRE,
        _pair("clamp node", "other input"),
        (*INTO_PIN, CurrentInto("other bias", "other input")),
        (Driven("other input", "pin"),),
        capacitors=STRAYS,
    ),
    fault={
        "fault": Circuit(
            ("fault", *RAILS, "output"),
            (*FAULT_WIRE, Resistor("R_feedback", "output", "other input")),
            (
                *_pair("clamp node", "other input"),
                *pin_junctions(),
                *pin_junctions("other input", "other pin"),
            ),
            base="fault",
            capacitors=STRAYS,
        )
    },
    roles=(
        *LINE,
        R_INNER,
        *pair_roles("the other input"),
        _R_FEEDBACK,
        Role("other bias", "current", "bias current into the other input's node", "A", True, 0.0),
        Role("other input", "follower", "gain, and offset voltage of the amplifier", "V"),
        Role(
            "other pin upper",
            "clamp",
            "junction of the other input to the positive rail",
            "",
            False,
        ),
        Role(
            "other pin lower",
            "clamp",
            "junction of the other input to the negative rail",
            "",
            False,
        ),
        _OUTPUT,
    ),
    differs=(
        "leakage is offset voltage over zero-bias resistance while the loop is closed",
        "conducts while slewing, in comparators and when multiplexed, which disturbs the source",
        "the feedback resistor carries the fault too; as large as the series one it balances bias",
        "does not limit the common mode; a difference in light makes an offset",
    ),
    answer=Answer(
        through="R_feedback",
        currents=(("forward", -1.0), ("backward", 1.0), ("other bias", -1.0)),
        words="error voltage at the amplifier output, less its own offset voltage",
    ),
    levels={"other input": (1.0, "amplifier offset")},
)

_GUARDED = Circuit(
    SUPPLIES,
    (*WIRE, Resistor("R_guard", "guard", "guarded end")),
    _pair("clamp node", "guarded end"),
    INTO_PIN,
    (Driven("guard", "pin"),),
    capacitors=STRAYS,
)

T5 = Topology(
    "T5",
    "antiparallel clamps bootstrapped to a guard",
    "The far end of the clamp pair follows the signal, so the clamps sit near zero volts.",
    "when the source is high-ohmic and a follower is at hand: best accuracy per part",
    sides=SIDES,
    opposed=False,
    signal=_GUARDED,
    fault={"fault": under_fault(_GUARDED)},
    roles=(*LINE, R_INNER, *pair_roles("the guard"), R_GUARD, GUARD),
    differs=(
        "leakage is guard offset over half the zero-bias resistance; capacitance shrinks alike",
        "the fault goes through the guard resistor into the follower's output and its rails",
        "the bootstrap is lost while the follower saturates or is off",
        "hum on the node rectifies, by the mismatch of the pair",
    ),
    needs_guard=True,
)

_ISOLATED = Circuit(
    (*SUPPLIES, "middle bias", "ground"),
    (
        *WIRE,
        Resistor("R_middle", "middle bias", "middle"),
        Resistor("R_guard", "guard", "middle"),
    ),
    (*_pair("clamp node", "middle"), ClampBranch("suppressor", "middle", "ground")),
    INTO_PIN,
    (Driven("guard", "pin"),),
    capacitors=(*STRAYS, Capacitor("C_suppressor", "middle")),
)

T9 = Topology(
    "T9",
    "suppressor behind low-leakage junctions",
    "A bulk suppressor hangs on a biased middle node; a low-leakage pair keeps it off the signal.",
    "when a robust, leaky suppressor is needed and the signal stays near the middle bias",
    sides=SIDES,
    opposed=False,
    signal=_ISOLATED,
    fault={"fault": under_fault(_ISOLATED)},
    roles=(
        *LINE,
        R_INNER,
        *pair_roles("the middle node"),
        Role("suppressor", "clamp", "bulk suppressor from the middle node to ground"),
        Role("middle bias", "potential", "voltage that biases the middle node", "V"),
        Role("R_middle", "resistor", "from the bias to the middle node", "Ω", True, 1e6, "open"),
        Role("R_guard", "resistor", "from a follower instead of a bias", "Ω", False, 1e5, "open"),
        Role("guard", "follower", "follower of the pin: gain and offset", "V", False),
        Role("C_suppressor", "capacitor", "capacitance of the suppressor", "F", False, 1e-10),
    ),
    differs=(
        "the suppressor's leakage flows in the bias and shifts the middle node by I·R_middle",
        "the junctions sit at the signal less the middle node: keep that under 0.1 V, hot too",
        "clamps at the suppressor's voltage plus a forward drop",
    ),
    levels={"middle": (0.0, "middle")},
)

_SUMMING_CLAMPS = _pair("pin", "ground")
_SOURCE_LINE = (Resistor("R_S", "ground", "connector"), Resistor("R_outer", "connector", "pin"))

T13 = Topology(
    "T13",
    "clamps at a virtual ground",
    "The clamps sit across the summing node and ground, at the amplifier's offset voltage.",
    "for current inputs: transimpedance and inverting stages",
    sides=SIDES,
    opposed=False,
    signal=Circuit(
        ("ground", "pin"),
        _SOURCE_LINE,
        _SUMMING_CLAMPS,
        (CurrentInto("source current", "connector"), CurrentInto("bias", "pin")),
        base="ground",
        capacitors=(Capacitor("C_source", "connector"),),
    ),
    fault={
        "fault": Circuit(
            ("fault", "ground", "output", *RAILS),
            (
                *series("fault", "R_fault", "connector", "R_outer", "pin"),
                Resistor("R_feedback", "pin", "output"),
            ),
            (*_SUMMING_CLAMPS, *pin_junctions()),
            base="fault",
            capacitors=(Capacitor("C_source", "connector"),),
        )
    },
    roles=(
        Role(
            "source current", "current", "current of the source, positive into the connector", "A"
        ),
        Role("R_S", "resistor", "shunt resistance of the source, to ground", "Ω"),
        R_OUTER,
        _R_FEEDBACK,
        *pair_roles("ground"),
        BIAS,
        Role("pin", "potential", "offset voltage of the amplifier, at the summing node", "V"),
        R_FAULT,
        PIN_UPPER,
        PIN_LOWER,
        _OUTPUT,
        Role("C_source", "capacitor", "capacitance of the source and its cable", "F", False, 4e-10),
    ),
    differs=(
        "error R_feedback·(clamp current at the offset voltage − bias − current lost in the source)",
        "noise gain 1 + R_feedback·(1/(R_S + R_outer) + 2/r_0) multiplies offset, drift and noise",
        "R_outer before the node costs no offset but a gain error R_outer/(R_S + R_outer)",
        "in a fault the output saturates, the loop is open and the clamp alone holds the node",
    ),
    answer=Answer(
        node=None,
        through="R_feedback",
        currents=(("forward", 1.0), ("backward", -1.0), ("R_S", -1.0), ("bias", -1.0)),
        words="error voltage at the output, less the amplifier's own offset voltage",
    ),
    levels={"pin": (0.0, "amplifier offset")},
)

_DRIVEN_SHIELD = Circuit(
    SUPPLIES,
    (*WIRE, Resistor("R_guard", "guard", "guarded end")),
    (
        ClampBranch("insulation", "connector", "guarded end"),
        ClampBranch("guard upper", "guarded end", "rail positive"),
        ClampBranch("guard lower", "rail negative", "guarded end"),
    ),
    INTO_PIN,
    (Driven("guard", "pin"),),
    capacitors=(Capacitor("C_cable", "connector", "guarded end"), Capacitor("C_input", "pin")),
)

T14 = Topology(
    "T14",
    "driven guard or shield",
    "A follower drives the shield, so that the insulation between sees almost no voltage.",
    "beside another topology, when cable or board leakage or capacitance counts",
    sides=(),
    opposed=True,
    signal=_DRIVEN_SHIELD,
    fault={
        "fault": under_fault(_DRIVEN_SHIELD),
        "fault on the guard": Circuit(
            ("fault", *RAILS, "guard"),
            series("fault", "R_fault", "guarded end", "R_guard", "guard"),
            _DRIVEN_SHIELD.clamps[1:],
            base="fault",
        ),
    },
    roles=(
        *LINE,
        R_INNER,
        R_GUARD,
        GUARD,
        Role("insulation", "leak", "insulation between signal and guard", "Ω", True, 1e12),
        Role("guard upper", "clamp", "clamp of the guard to the positive rail", "", False),
        Role("guard lower", "clamp", "clamp of the guard to the negative rail", "", False),
    ),
    differs=(
        "insulation leakage is guard offset over insulation resistance",
        "the guard is itself exposed: its resistor and clamps carry a fault on it",
        "protects nothing on the signal by itself",
    ),
    needs_guard=True,
)


def stacked(count: int) -> Topology:
    """T17 with `count` junctions in series each way; InputError outside 1…12."""
    if not 1 <= count <= LARGEST_STACK:
        raise InputError(
            f"a stack of {count} junctions is out of range",
            where="network.stack",
            expected=f"1 to {LARGEST_STACK} junctions in series",
        )
    ups = ["clamp node", *(f"forward node {k}" for k in range(1, count)), "ground"]
    downs = ["ground", *(f"backward node {k}" for k in range(1, count)), "clamp node"]
    clamps = tuple(
        ClampBranch(f"{way} {k + 1}", nodes[k], nodes[k + 1])
        for way, nodes in (("forward", ups), ("backward", downs))
        for k in range(count)
    )
    signal = Circuit((*SUPPLIES, "ground"), WIRE, clamps, INTO_PIN, capacitors=STRAYS)
    steps = {f"forward node {k}": (1 - k / count, "") for k in range(1, count)}
    steps |= {f"backward node {k}": (k / count, "") for k in range(1, count)}
    ways = {"forward": "from the node to ground", "backward": "from ground to the node"}
    return Topology(
        "T17",
        "stacked forward junctions to ground",
        "Junctions in series each way to ground clamp by their forward drop, with no rail involved.",
        "for small signals round zero, and where it must protect unpowered",
        sides=tuple(c.name for c in clamps),
        opposed=False,
        signal=signal,
        fault={"fault": under_fault(signal)},
        roles=(
            *LINE,
            R_INNER,
            *(
                Role(f"{way} {k}", "clamp", f"junction {k} of the stack {words}")
                for way, words in ways.items()
                for k in range(1, count + 1)
            ),
        ),
        differs=(
            "each junction sits at the signal over their number; leakage rises exponentially",
            "keep the signal under about 0.1…0.15 V per junction",
            "works unpowered and pumps no rail",
        ),
        levels=steps,
    )


PAIR_TOPOLOGIES = (T4, T5, T9, T13, T14, stacked(2))
