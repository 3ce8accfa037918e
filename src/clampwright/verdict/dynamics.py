"""Noise, bandwidth and settling of a design at its slowest corner."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.quantities import write
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.input_current import volts_per_ampere
from clampwright.verdict.legs import rejection, rejections, two_legs
from clampwright.verdict.linear_case import (
    LinearCase,
    bandwidths,
    linear_case,
    noise_and_rms,
    noise_rms,
    passes,
    settles,
    settling_times,
)
from clampwright.verdict.results import Basis, Dynamics, Term, Verdict

Array = NDArray[np.float64]

NOISE_WORDS = {
    "R_S": "source resistance",
    "R_outer": "outer resistor",
    "R_inner": "inner resistor",
    "R_guard": "guard resistor",
}


class _Found(NamedTuple):
    """Bandwidth (Hz), settling time (s), noise (V rms), rejection (dB) and V/A of a current input."""

    bandwidth: float
    settling_time: float
    noise: float
    rejection: float | None
    ohms: float | None


def dynamics(design: Design, topology: Topology, clamp: Clamp | None, corners: Corners) -> Dynamics:
    """Dynamic figures at the corner with the largest source resistance and the hottest board.

    For a differential input both legs make noise, and their worst mismatch sets the rejection.
    """
    index = slowest_corner(topology, corners)
    outer = design.network.outer_resistor.value * design.network.outer_resistor.count
    case = linear_case(design, topology, clamp, corners, index, np.array([outer]))
    requirement = design.requirement
    spectrum, whole = noise_and_rms(case, noise_band(design))
    rms = float(whole[0])
    band = float(bandwidths(case)[0])
    time = float(settling_times(case, requirement.settle_to)[0])
    rejected = None
    if design.network.pair:
        legs = two_legs(design, topology, clamp, corners, index)
        rejected = rejection(legs, requirement.mains_frequency)
    ohms = volts_per_ampere(design, float(corners.sensor_temperature[index]))
    figures = _Found(band, time, rms, rejected, ohms)
    complaint = _complaint(design, figures)
    junctions, loading = clamp_capacitance(case)
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
        common_mode_rejection=rejected,
        required_rejection=requirement.common_mode_rejection,
        capacitance=float(sum(case.capacitances.values())) + loading,
        clamp_capacitance=junctions,
        clamp_loading=loading,
        noise_terms=tuple(
            _noise_term(f"noise of clamp {n}" if n in clamps else NOISE_WORDS.get(n, n), value)
            for n, value in by_source.items()
        ),
        volts_per_ampere=ohms,
        verdict=Verdict.FAIL if complaint else Verdict.PASS,
        reason=complaint or _figures(design, figures),
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
    """Whether bandwidth, settling, noise and any rejection are met, for each outer resistor (Ω)."""
    case = linear_case(design, topology, clamp, corners, slowest_corner(topology, corners), outer)
    found = {what: one(case) for what, one in REQUIREMENTS.items()}
    if asks_rejection(design):
        found[REJECTION] = rejection_met(design, topology, clamp, corners, outer)
    return found


def asks_rejection(design: Design) -> bool:
    """Whether a common-mode rejection is required of two legs."""
    return design.network.pair and design.requirement.common_mode_rejection is not None


def rejection_met(
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners, outer: Array
) -> NDArray[np.bool_]:
    """Whether the required common-mode rejection is met, for each outer resistor (Ω)."""
    wanted = design.requirement.common_mode_rejection
    if wanted is None:
        return np.ones(outer.shape, bool)
    legs = two_legs(
        design, topology, clamp, corners, slowest_corner(topology, corners), outer=outer
    )
    return np.asarray(rejections(legs, design.requirement.mains_frequency) >= wanted)


def _fast(case: LinearCase) -> NDArray[np.bool_]:
    return passes(case, case.design.requirement.bandwidth)


def _settled(case: LinearCase) -> NDArray[np.bool_]:
    wanted = case.design.requirement
    if wanted.settle_time is None:
        return np.ones(case.network.cases, bool)
    return settles(case, wanted.settle_to, wanted.settle_time)


def _quiet(case: LinearCase) -> NDArray[np.bool_]:
    wanted = case.design.requirement.noise
    if wanted is None:
        return np.ones(case.network.cases, bool)
    return np.asarray(noise_rms(case, noise_band(case.design)) <= wanted)


REJECTION = "common-mode rejection"
MOST_DIGITS = 15  # that a float holds
REQUIREMENTS: dict[str, Callable[[LinearCase], NDArray[np.bool_]]] = {
    "bandwidth": _fast,
    "settling": _settled,
    "noise": _quiet,
}


def _shot_noise(case: LinearCase) -> float:
    """Noise current of all clamps together (A/√Hz)."""
    return float(np.sqrt(sum(float(np.ravel(c.power)[0]) for c in case.shot)))


def _complaint(design: Design, found: _Found) -> str:
    """What breaks a requirement, or nothing."""
    wanted, (band, time, rms, rejection, ohms) = design.requirement, found
    if band < wanted.bandwidth:
        reached, needed = _apart(
            band, wanted.bandwidth, lambda v, n: write(v, "frequency", digits=n)
        )
        return f"bandwidth {reached} is below the required {needed}."
    if wanted.settle_time is not None and time > wanted.settle_time:
        taken, limit = _apart(time, wanted.settle_time, lambda v, n: write(v, "time", digits=n))
        return f"settling to {write(wanted.settle_to, 'ratio')} takes {taken}, longer than {limit}."
    if wanted.noise is not None and rms > wanted.noise:
        heard, limit = _apart(rms, wanted.noise, lambda v, n: _noise(v, ohms, n))
        return f"noise of {heard} exceeds {limit}."
    needed_rejection = wanted.common_mode_rejection
    if needed_rejection is not None and rejection is not None and rejection < needed_rejection:
        reached, needed = _apart(rejection, needed_rejection, lambda v, n: f"{v:.{n - 3}f} dB")
        return (
            f"common-mode rejection at {write(wanted.mains_frequency, 'frequency')} may be as low as "
            f"{reached}, below the required {needed}."
        )
    return ""


def _apart(found: float, limit: float, said: Callable[[float, int], str]) -> tuple[str, str]:
    """Both in words with as many digits, from three, as make them differ: none refutes itself."""
    digits = range(3, MOST_DIGITS)
    few = next((n for n in digits if said(found, n) != said(limit, n)), MOST_DIGITS)
    return said(found, few), said(limit, few)


def _figures(design: Design, found: _Found) -> str:
    """The figures in one sentence."""
    band, time, rms, rejection, ohms = found
    said = (
        f"bandwidth {write(band, 'frequency')}, settling to "
        f"{write(design.requirement.settle_to, 'ratio')} in {write(time, 'time')}, noise "
        f"{_noise(rms, ohms)}"
    )
    if rejection is None:
        return f"{said}."
    mains = write(design.requirement.mains_frequency, "frequency")
    return f"{said}, common-mode rejection at least {rejection:.0f} dB at {mains}."


def _noise(rms: float, ohms: float | None, digits: int = 3) -> str:
    """An rms noise (V), as the current at the input where one is asked for."""
    if ohms is None:
        return f"{write(rms, 'voltage', digits=digits)} rms"
    amperes = write(rms / ohms, "current", digits=digits)
    return f"{amperes} rms ({write(rms, 'voltage', digits=digits)})"


def clamp_capacitance(case: LinearCase) -> tuple[float, float]:
    """Junction capacitance of the judged clamps where they sit (F), and what of it loads the node.

    A guard takes its share of the far end along: 1 − gain is left.
    """
    resting = case.network.clamps
    whole = sum(float(np.ravel(resting[s].capacitance)[0]) for s in case.topology.sides)
    left = case.design.amplifier.guard_gain_error if case.topology.needs_guard else 1.0
    return whole, whole * left


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
