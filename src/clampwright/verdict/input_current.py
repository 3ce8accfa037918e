"""Errors as a current at the input, where it is a current that the requirement speaks of."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from clampwright.quantities import write
from clampwright.verdict.corners import signal_scale
from clampwright.verdict.design import Design
from clampwright.verdict.layout import role_value, topology_of
from clampwright.verdict.results import Corner, Judgement, Term

AMPERES = {"A": 1.0, "mA": 1e-3, "µA": 1e-6, "nA": 1e-9, "pA": 1e-12, "fA": 1e-15}
BIAS = "the amplifier's bias current"
SOURCE_OFFSET = "the amplifier's offset voltage in the source's own resistance"
SENSOR = "the amplifier's offset in the sensor"
CLAMP, LIGHT = "clamp", "light on it"


class AsCurrent(NamedTuple):
    """Volts of error for one ampere at the input (Ω), and where those volts are counted."""

    ohms: float
    place: str


def volts_per_ampere(design: Design, sensor_temperature: float) -> float | None:
    """Error in volts that one ampere at the input makes (Ω); None where a voltage is asked for.

    By the stated sensitivity where accuracy is a current, else by the feedback resistor of a summing
    node.
    """
    need = design.requirement
    if need.accuracy_unit in AMPERES:
        scale = float(signal_scale(design, np.array([sensor_temperature]))[0])
        return abs(need.sensitivity) * scale / AMPERES[need.accuracy_unit]
    topology = topology_of(design)
    if topology.name == "T13":
        return role_value(design, topology, topology.answer.through)
    return None


def as_current(design: Design, corner: Corner) -> AsCurrent | None:
    """How a sentence about an error tells it as a current; None where a voltage is asked for."""
    ohms = volts_per_ampere(design, corner.sensor_temperature)
    if ohms is None:
        return None
    at_output = design.network.topology in ("T4", "T13")
    return AsCurrent(ohms, "at the output" if at_output else "at the pin")


def compared_at_the_input(judgements: tuple[Judgement, ...]) -> tuple[Judgement, ...]:
    """The judgements, where a current is asked for each told which cause is the largest.

    judgements : that of the whole input last, with the terms of the amplifier
    """
    ohms = judgements[-1].volts_per_ampere
    said = _largest(judgements[-1].terms, ohms) if ohms else ""
    if not said:
        return judgements
    return tuple(
        j.model_copy(update={"reason": _before_details(j.reason, said)}) for j in judgements
    )


def _largest(terms: tuple[Term, ...], ohms: float) -> str:
    """Clamp, bias current and sensor by how far each may reach; "" where there is no clamp."""
    reach = {
        CLAMP: _reach(t for t in terms if t.group == "clamp"),
        LIGHT: _reach(t for t in terms if t.group == "light"),
        BIAS: _reach(t for t in terms if t.name.startswith(BIAS)),
        SENSOR: _reach(t for t in terms if t.name == SOURCE_OFFSET),
    }
    by_size = sorted((name for name in reach if reach[name] > 0), key=lambda n: -reach[n])
    if CLAMP not in by_size or len(by_size) < 2:
        return ""
    sizes = ", ".join(f"{n} up to {write(reach[n] / ohms, 'current', digits=2)}" for n in by_size)
    limit = "is" if by_size[0] in (CLAMP, LIGHT) else "is not"
    return f"at the input the clamp {limit} the limiting term: {sizes}"


def _before_details(reason: str, said: str) -> str:
    """A reason with a further clause after its first part."""
    first, parted, rest = reason.partition("; ")
    if not parted:
        return f"{reason.removesuffix('.')}; {said}."
    return f"{first}; {said}; of what is judged here {rest}"


def _reach(terms: Iterable[Term]) -> float:
    return max((max(abs(t.low), abs(t.high)) for t in terms), default=0.0)
