"""A design linearised at one corner, for one or many series resistors: bandwidth, settling, noise."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from clampwright.network.circuit import Capacitor, Circuit
from clampwright.network.linearise import GROUND, LinearNetwork, linearise, released
from clampwright.network.noise_at import (
    NoiseCurrent,
    NoisePower,
    NoiseVoltage,
    clamp_currents,
    noise_power,
    resistor_currents,
)
from clampwright.network.noise_band import band_points
from clampwright.network.settling import (
    bandwidth,
    passes_until,
    settled_after,
    settling_time,
    time_constants,
)
from clampwright.network.topologies import Topology
from clampwright.network.virtual_ground import AmplifierNoise, Feedback, virtual_ground_noise
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.laid_out import ABSENT, Case, Solved
from clampwright.verdict.layout import role_value

Array = NDArray[np.float64]

NODE_CAPACITOR = "capacitor at the clamp node"
TOLERANT = ("C_cable", "C_source", NODE_CAPACITOR)  # what the capacitor tolerance is stated of
VIRTUAL = "T13"
AMPLIFIER_VOLTAGE = "amplifier voltage noise"


@dataclass(frozen=True)
class LinearCase:
    """One corner, linearised; every array has one entry per series resistor."""

    design: Design
    topology: Topology
    circuit: Circuit
    solved: Solved
    network: LinearNetwork
    capacitances: dict[str, float]
    sensor_temperature: float
    board_temperature: float

    @cached_property
    def thermal(self) -> list[NoiseCurrent]:
        """Noise current of each resistor, the source at its own temperature."""
        kelvin = {r.name: self.board_temperature for r in self.circuit.resistors}
        kelvin["R_S"] = self.sensor_temperature
        return resistor_currents(self.circuit, self.solved.values, kelvin)

    @cached_property
    def shot(self) -> list[NoiseCurrent]:
        """Noise current of each clamp where it rests."""
        return clamp_currents(self.circuit, self.solved.values, self.network.clamps)


def linear_case(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    index: int,
    outer: Array,
    *,
    differential: bool = True,
    capacitor_factor: Array | float = 1.0,
) -> LinearCase:
    """Linearise a design at one of its corners for outer resistors (Ω, (n,)).

    differential     : a capacitor between the legs of a pair counts twice in each for a differential
                       signal, not at all for a common one
    capacitor_factor : of the capacitors of cable and clamp node, one or one per case
    """
    same = Corners(**{k: np.full(outer.size, v[index]) for k, v in vars(corners).items()})
    case = Case(design, topology, same, outer)
    law = clamp.fitted.law if clamp else ABSENT
    active = topology.sides if clamp else ()
    solved = case.solve(law, active, active[:1], bias=True)
    circuit, farads = with_capacitors(design, topology, case.circuit, differential=differential)
    fitted = {n: c * (capacitor_factor if n in TOLERANT else 1.0) for n, c in farads.items()}
    loose = released(circuit, "pin") if topology.name == VIRTUAL else circuit
    return LinearCase(
        design=design,
        topology=topology,
        circuit=circuit,
        solved=solved,
        network=linearise(loose, solved.values, solved.solution, fitted),
        capacitances=farads,
        sensor_temperature=float(corners.sensor_temperature[index]),
        board_temperature=float(corners.board_temperature[index]),
    )


def with_capacitors(
    design: Design, topology: Topology, circuit: Circuit, *, differential: bool
) -> tuple[Circuit, dict[str, float]]:
    """The circuit with every capacitor that is stated, and what each is worth (F)."""
    network = design.network
    nodes = circuit.unknown
    own = network.node_capacitance
    if differential and network.pair:
        own += 2.0 * network.differential_capacitance
    place = "clamp node" if "clamp node" in nodes else "pin"
    known = {
        "C_cable": design.source.cable_capacitance,
        "C_source": design.source.cable_capacitance,
        "C_input": design.amplifier.input_capacitance,
        NODE_CAPACITOR: own,
    }
    joined = circuit.capacitors
    if topology.name == "own":  # the strays that a drawn network does not mention
        joined = (*joined, Capacitor("C_cable", "connector"), Capacitor("C_input", "pin"))
    if place in nodes:
        joined = (*joined, Capacitor(NODE_CAPACITOR, place))
    farads = {}
    for capacitor in joined:
        value = known.get(capacitor.name)
        if value is None:
            value = role_value(design, topology, capacitor.name)
        if value > 0:
            farads[capacitor.name] = value
    return replace(circuit, capacitors=joined), farads


def bandwidths(case: LinearCase) -> Array:
    """Frequency (Hz) at which the transfer has fallen by 3 dB."""
    if case.topology.name == VIRTUAL:
        feedback = _feedback(case)
        pole = 2 * np.pi * feedback.resistance * feedback.capacitance
        return np.full(case.network.cases, 1 / pole if pole else np.inf)
    return bandwidth(case.network, "source", "pin")


def passes(case: LinearCase, frequency: float) -> NDArray[np.bool_]:
    """Whether the transfer has not yet fallen by 3 dB at a frequency (Hz) or below it."""
    if case.topology.name == VIRTUAL:
        return bandwidths(case) >= frequency
    return passes_until(case.network, "source", "pin", frequency)


def settles(case: LinearCase, relative_error: float, time: float) -> NDArray[np.bool_]:
    """Whether the answer to a step of the source stays within `relative_error` after `time` (s)."""
    if case.topology.name == VIRTUAL:
        return settling_times(case, relative_error) <= time
    return settled_after(case.network, "source", "pin", relative_error, time)


def settling_times(case: LinearCase, relative_error: float) -> Array:
    """Time (s) after a step of the source until the answer stays within `relative_error`."""
    if case.topology.name == VIRTUAL:
        feedback = _feedback(case)
        constant = feedback.resistance * feedback.capacitance
        return np.full(case.network.cases, constant * np.log(1 / relative_error))
    return settling_time(case.network, "source", "pin", relative_error)


def noise(case: LinearCase, frequency: Array) -> NoisePower:
    """Noise of every source at the answer (V²/Hz), (resistors, frequencies).

    Of a differential input both legs make noise; the amplifier's voltage noise is that of its input.
    """
    found = _noise_of_leg(case, frequency)
    if not case.design.network.pair:
        return found
    powers = found.by_source.items()
    return NoisePower({n: p if n == AMPLIFIER_VOLTAGE else 2.0 * p for n, p in powers})


def _noise_of_leg(case: LinearCase, frequency: Array) -> NoisePower:
    amplifier = case.design.amplifier
    currents = case.thermal + case.shot
    if case.topology.name == VIRTUAL:
        own = AmplifierNoise(amplifier.voltage_noise, amplifier.current_noise)
        feedback = _feedback(case)
        return virtual_ground_noise(case.network, "pin", feedback, frequency, currents, own)
    here = NoiseCurrent("amplifier current noise", GROUND, "pin", amplifier.current_noise**2)
    there = NoiseVoltage(AMPLIFIER_VOLTAGE, amplifier.voltage_noise)
    return noise_power(case.network, "pin", frequency, [*currents, here], [there])


def noise_rms(case: LinearCase, edge: float) -> Array:
    """Noise (V rms) up to a brick-wall edge (Hz)."""
    return noise_and_rms(case, edge)[1]


def noise_and_rms(case: LinearCase, edge: float) -> tuple[NoisePower, Array]:
    """Noise of every source at 0 Hz (V²/Hz) first, then over the band, and V rms up to the edge (Hz)."""
    constants = [np.abs(t).max() for t in time_constants(case.network) if t.size]
    slowest = 1 / (2 * np.pi * max(constants)) if constants else np.inf
    frequency, weight = band_points(0.0, edge, "brick wall", slowest)
    found = noise(case, np.concatenate([[0.0], frequency]))
    return found, np.sqrt(found.total[:, 1:] @ weight)


def _feedback(case: LinearCase) -> Feedback:
    design = case.design
    through = case.topology.answer.through
    return Feedback(
        resistance=role_value(design, case.topology, through),
        temperature=case.board_temperature,
        capacitance=design.amplifier.feedback_capacitance,
    )
