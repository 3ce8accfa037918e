"""Sample checks of every topology, made from the orchard samples: what each one needs besides.

The values are plausible, not computed; the drawings must show whatever the results say.
"""

from __future__ import annotations

from typing import Any

from sample_results import sample_check, sample_clamp, sample_judgement

from clampwright.network.topologies import topology_named
from clampwright.verdict.design import Network, Resistor
from clampwright.verdict.results import CheckResult, ClampPlace, Verdict

EVERY = tuple(f"T{n}" for n in range(1, 19))
VALUES: dict[str, dict[str, str]] = {
    "T3": {"clamp rail positive": "1.8 V", "clamp rail negative": "-1.8 V"},
    "T7": {"limiting current": "1 mA", "R_limiter": "700 Ω"},
    "T8": {"C_clamp": "10 nF"},
    "T9": {"middle bias": "0.03 V"},
    "T10": {"R_fuse": "47 Ω"},
    "T13": {"R_feedback": "1 GΩ"},
    "T16": {"R_lower": "100 kΩ"},
    "T18": {"limiting current": "5 mA"},
}
CLASSES: dict[str, dict[str, str]] = {
    "T3": {"shunt positive": "zener 5.6 V", "shunt negative": "zener 5.6 V"},
    "T9": {"suppressor": "suppressor 12 V"},
    "T14": {"guard upper": "small silicon", "guard lower": "small silicon"},
}


def sample_of(name: str, **changes: Any) -> CheckResult:
    """A check whose design has the topology `name` with what it needs stated."""
    topology = topology_named("T2" if name == "T15" else name)
    base = sample_check("T5" if topology.has_clamp and not topology.opposed else "T2")
    network = Network(
        topology=name,
        outer_resistor=Resistor(value=470e3, count=2, package="1206"),
        inner_resistor=None if name in ("T1", "T13", "T18") else Resistor(value=10e3),
        guard_resistor=Resistor(value=4.7e3) if topology.needs_guard else None,
        clamp="npn-small C/B+E" if topology.has_clamp else None,
        values=VALUES.get(name, {}),
        classes=CLASSES.get(name, {}),
        **changes,
    )
    clamp = None
    if topology.has_clamp:
        clamp = sample_clamp("T2" if topology.opposed else "T5")
        if name == "T17":
            clamp = clamp.model_copy(update={"places": stack_places(topology.sides)})
    return base.model_copy(
        update={
            "design": base.design.model_copy(update={"network": network}),
            "topology_title": f"{topology.name} {topology.title}",
            "topology_words": topology.words,
            "clamp": clamp,
            "judgements": (sample_judgement("T2" if clamp else "T1", Verdict.FAIL),),
        }
    )


def stack_places(sides: tuple[str, ...]) -> tuple[ClampPlace, ...]:
    """Two junctions in series each way at half the signal."""
    return tuple(
        ClampPlace(
            side=side,
            words="112 mV forward" if side.startswith("forward") else "112 mV reverse",
            sits_at=0.112 if side.startswith("forward") else -0.112,
            leakage=9e-12,
            leakage_low=7e-12,
            leakage_high=12e-12,
        )
        for side in sides
    )
