"""Noise, bandwidth and settling of a design at its slowest corner."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clampwright.network.adjoint import transfer
from clampwright.network.linearise import LinearNetwork
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.linear_case import (
    LinearCase,
    bandwidths,
    linear_case,
    noise,
    noise_rms,
    settling_times,
)
from clampwright.verdict.results import Basis, Dynamics, Term, Verdict

Array = NDArray[np.float64]

NOISE_WORDS = {"R_S": "source resistance", "R_outer": "outer resistor", "R_inner": "inner resistor"}


def dynamics(design: Design, topology: Topology, clamp: Clamp | None, corners: Corners) -> Dynamics:
    """Dynamic figures at the corner with the largest source resistance and the hottest board.

    For a differential input both legs make noise, and their worst mismatch sets the rejection.
    """
    index = slowest_corner(topology, corners)
    outer = design.network.outer_resistor.value * design.network.outer_resistor.count
    case = linear_case(design, topology, clamp, corners, index, np.array([outer]))
    requirement = design.requirement
    spectrum = noise(case, np.array([0.0]))
    rms = float(noise_rms(case, noise_band(design))[0])
    band = float(bandwidths(case)[0])
    time = float(settling_times(case, requirement.settle_to)[0])
    rejection = _common_mode_rejection(design, topology, clamp, corners, index, outer)
    complaint = _complaint(design, band, time, rms, rejection)
    by_source = {n: float(np.sqrt(p[0, 0])) for n, p in spectrum.by_source.items()}
    clamps = [c.name for c in case.circuit.clamps]
    return Dynamics(
        corner=corners.at(index),
        noise_density=float(spectrum.density[0, 0]),
        integrated_noise=rms,
        allowed_noise=requirement.noise,
        noise_bandwidth=noise_band(design),
        shot_noise=_shot_noise(case),
        bandwidth=band,
        required_bandwidth=requirement.bandwidth,
        settling_time=time,
        settle_to=requirement.settle_to,
        allowed_settling_time=requirement.settle_time,
        common_mode_rejection=rejection,
        required_rejection=requirement.common_mode_rejection,
        capacitance=float(sum(case.capacitances.values())),
        noise_terms=tuple(
            _noise_term(f"noise of clamp {n}" if n in clamps else NOISE_WORDS.get(n, n), value)
            for n, value in by_source.items()
        ),
        verdict=Verdict.FAIL if complaint else Verdict.PASS,
        reason=complaint or _figures(design, band, time, rms, rejection),
    )


def noise_band(design: Design) -> float:
    """Brick-wall band (Hz) in which the noise is required: the bandwidth where none is stated."""
    stated = design.requirement.noise_bandwidth
    return design.requirement.bandwidth if stated is None else stated


def slowest_corner(topology: Topology, corners: Corners) -> int:
    """Index of the corner with the largest source resistance and, of those, the hottest board.

    At a virtual ground it is the smallest source resistance, which makes the most noise there.
    """
    sign = -1.0 if topology.name == "T13" else 1.0
    order = np.lexsort((corners.board_temperature, sign * corners.source_resistance))
    return int(order[-1])


def dynamics_met(
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners, outer: Array
) -> dict[str, NDArray[np.bool_]]:
    """Whether bandwidth, settling and noise are met, for each outer resistor (Ω)."""
    wanted = design.requirement
    case = linear_case(design, topology, clamp, corners, slowest_corner(topology, corners), outer)
    everything = np.ones(outer.size, bool)
    met = {"bandwidth": bandwidths(case) >= wanted.bandwidth}
    met["settling"] = (
        everything
        if wanted.settle_time is None
        else settling_times(case, wanted.settle_to) <= wanted.settle_time
    )
    met["noise"] = (
        everything if wanted.noise is None else noise_rms(case, noise_band(design)) <= wanted.noise
    )
    return met


def _shot_noise(case: LinearCase) -> float:
    """Noise current of all clamps together (A/√Hz)."""
    from clampwright.network.noise_at import clamp_currents

    found = clamp_currents(case.circuit, case.solved.values, case.solved.solution)
    return float(np.sqrt(sum(float(np.ravel(c.power)[0]) for c in found)))


def _complaint(
    design: Design, band: float, time: float, rms: float, rejection: float | None
) -> str:
    """What breaks a requirement, or nothing."""
    wanted = design.requirement
    if band < wanted.bandwidth:
        needed = write(wanted.bandwidth, "frequency")
        return f"bandwidth {write(band, 'frequency')} is below the required {needed}."
    if wanted.settle_time is not None and time > wanted.settle_time:
        limit = write(wanted.settle_time, "time")
        share = write(wanted.settle_to, "ratio")
        return f"settling to {share} takes {write(time, 'time')}, longer than {limit}."
    if wanted.noise is not None and rms > wanted.noise:
        limit = write(wanted.noise, "voltage")
        return f"noise of {write(rms, 'voltage')} rms exceeds {limit} rms."
    needed_rejection = wanted.common_mode_rejection
    if needed_rejection is not None and rejection is not None and rejection < needed_rejection:
        return (
            f"common-mode rejection at {write(wanted.mains_frequency, 'frequency')} may be as low as "
            f"{rejection:.0f} dB, below the required {needed_rejection:.0f} dB."
        )
    return ""


def _figures(design: Design, band: float, time: float, rms: float, rejection: float | None) -> str:
    """The figures in one sentence."""
    said = (
        f"bandwidth {write(band, 'frequency')}, settling to "
        f"{write(design.requirement.settle_to, 'ratio')} in {write(time, 'time')}, noise "
        f"{write(rms, 'voltage')} rms"
    )
    if rejection is None:
        return f"{said}."
    mains = write(design.requirement.mains_frequency, "frequency")
    return f"{said}, common-mode rejection at least {rejection:.0f} dB at {mains}."


def _common_mode_rejection(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    index: int,
    outer: float,
) -> float | None:
    """Rejection (dB) at the mains frequency with both legs at opposite ends of their tolerances.

    The difference of the two solved legs; near 1/(2πf(R·ΔC + C·ΔR)) for one pole.
    """
    network = design.network
    if not network.pair:
        return None
    legs = []
    for sign in (1.0, -1.0):
        r, c = 1 + sign * network.resistor_tolerance, 1 + sign * network.capacitor_tolerance
        leg = design.model_copy(
            update={
                "network": network.model_copy(
                    update={"node_capacitance": network.node_capacitance * c}
                ),
                "source": design.source.model_copy(
                    update={"cable_capacitance": design.source.cable_capacitance * c}
                ),
            }
        )
        case = linear_case(
            leg, topology, clamp, corners, index, np.array([outer * r]), differential=False
        )
        legs.append(_transfer_at(case.network, design.requirement.mains_frequency))
    difference = abs(legs[0] - legs[1])
    return float(-20 * np.log10(difference)) if difference > 0 else float("inf")


def _transfer_at(network: LinearNetwork, frequency: float) -> complex:
    return complex(transfer(network, "source", "pin", np.array([frequency]))[0, 0])


def _noise_term(name: str, value: float) -> Term:
    basis: Basis = "typical" if "amplifier" in name else "defined"
    return Term(
        name=name,
        value=value,
        low=value,
        high=value,
        basis=basis,
        group="amplifier",
        source="V/√Hz",
    )
