"""Where the clamps of a design sit in normal use."""

from __future__ import annotations

from clampwright.network.topologies import Topology, sits_at
from clampwright.verdict.design import Design, guard_offset
from clampwright.verdict.layout import role_value


def sits(design: Design, topology: Topology, side: str, signal: float) -> float:
    """Anode minus cathode (V) of one clamp at a signal (V), before leakage shifts anything."""
    roles = {r.name for r in topology.roles}

    def held(name: str) -> float:
        return role_value(design, topology, name) if name in roles else 0.0

    return float(
        sits_at(
            topology,
            side,
            signal,
            (design.rails.positive, design.rails.negative),
            guard_offset(design),
            clamp_rails=(held("clamp rail positive"), held("clamp rail negative")),
            middle=held("middle bias"),
            amplifier_offset=abs(design.amplifier.offset_voltage),
        )
    )
