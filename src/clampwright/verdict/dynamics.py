"""Noise, bandwidth and settling of a design at its slowest corner; transfer over the signal range."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clampwright.network.small_signal import Ladder, bandwidth, noise, settling_time, transfer
from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp
from clampwright.physics.clamp import at_conditions, capacitance, current_and_slope
from clampwright.physics.noise import clamp_noise, resistor_current_noise
from clampwright.quantities import write
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import Case
from clampwright.verdict.places import sits
from clampwright.verdict.results import Basis, Dynamics, Term, TransferError, Verdict

Array = NDArray[np.float64]

SIGNAL_POINTS = 21


def dynamics(design: Design, topology: Topology, clamp: Clamp | None, corners: Corners) -> Dynamics:
    """Dynamic figures at the corner with the largest source resistance and the hottest board.

    For a differential input both legs make noise, and their worst mismatch sets the rejection.
    """
    index = int(np.lexsort((corners.board_temperature, corners.source_resistance))[-1])
    ladder, places = _ladder(design, topology, clamp, corners, index, differential=True)
    requirement = design.requirement
    currents = _noise_currents(design, topology, clamp, corners, index, places)
    found = noise(ladder, currents, design.amplifier.voltage_noise, requirement.bandwidth)
    band = bandwidth(ladder)
    time = settling_time(ladder, requirement.settle_to)
    rejection = _common_mode_rejection(design, topology, clamp, corners, index)
    legs = 2.0 if design.network.pair else 1.0  # the noise of two legs adds in power
    own = design.amplifier.voltage_noise**2  # stated for the whole input, so it counts once
    density = float(np.sqrt(legs * found.density**2 - (legs - 1.0) * own))
    spared = (legs - 1.0) * own * requirement.bandwidth
    rms = float(np.sqrt(legs * found.integrated**2 - spared))
    complaint = _complaint(design, band, time, rms, rejection)
    corner = corners.at(index)
    return Dynamics(
        corner=corner,
        noise_density=density,
        integrated_noise=rms,
        allowed_noise=requirement.noise,
        noise_bandwidth=requirement.bandwidth,
        shot_noise=currents["clamp shot noise"][2] if "clamp shot noise" in currents else 0.0,
        bandwidth=band,
        required_bandwidth=requirement.bandwidth,
        settling_time=time,
        settle_to=requirement.settle_to,
        allowed_settling_time=requirement.settle_time,
        capacitance=float(np.trace(ladder.capacitance)),
        noise_terms=tuple(_noise_term(name, value) for name, value in found.by_source.items()),
        common_mode_rejection=rejection,
        required_rejection=requirement.common_mode_rejection,
        verdict=Verdict.FAIL if complaint else Verdict.PASS,
        reason=complaint or _figures(design, band, time, rms, rejection),
    )


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
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners, index: int
) -> float | None:
    """Rejection (dB) at the mains frequency with both legs at opposite ends of their tolerances.

    The difference of the two solved legs; near 1/(2πf(R·ΔC + C·ΔR)) for one pole.
    """
    if not design.network.pair:
        return None
    ladder, _ = _ladder(design, topology, clamp, corners, index, differential=False)
    network = design.network
    r, c = network.resistor_tolerance, network.capacitor_tolerance
    at = np.array([design.requirement.mains_frequency])
    legs = [
        transfer(
            Ladder(
                ladder.conductance / (1 + sign * r),
                ladder.capacitance * (1 + sign * c),
                ladder.drive / (1 + sign * r),
                ladder.pin,
            ),
            at,
        )[0]
        for sign in (1.0, -1.0)
    ]
    difference = abs(legs[0] - legs[1])
    return float(-20 * np.log10(difference)) if difference > 0 else float("inf")


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


def _ladder(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    index: int,
    *,
    differential: bool,
) -> tuple[Ladder, list[str]]:
    """The chain source – connector – clamp node – pin as a linear network.

    A capacitor between the legs of a pair counts twice in each for a differential signal, not at
    all for a common one.
    """
    network = design.network
    places = ["connector", "clamp node", "pin"] if network.inner_resistor else ["connector", "pin"]
    outer = network.outer_resistor.value * network.outer_resistor.count
    series = [float(corners.source_resistance[index]), outer]
    if network.inner_resistor:
        series.append(network.inner_resistor.value * network.inner_resistor.count)
    n = len(places)
    conductance, drive = np.zeros((n, n)), np.zeros(n)
    for i, ohms in enumerate(series):
        g = 1.0 / ohms
        conductance[i, i] += g
        if i == 0:
            drive[0] = g
        else:
            conductance[i - 1, i - 1] += g
            conductance[i, i - 1] -= g
            conductance[i - 1, i] -= g
    farads = np.zeros(n)
    farads[0] = design.source.cable_capacitance
    farads[1] += network.node_capacitance
    if differential and network.pair:
        farads[1] += 2.0 * network.differential_capacitance
    farads[-1] += design.amplifier.input_capacitance
    slope, load = _clamp_loading(design, topology, clamp, corners, index)
    node = 1  # the clamp node, or the pin when there is no inner resistor
    farads[node] += load
    conductance[node, node] += slope
    return Ladder(conductance, np.diag(farads), drive, n - 1), places


def _clamp_loading(
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners, index: int
) -> tuple[float, float]:
    """Slope (S) and capacitance (F) that the clamps put on their node; a guard takes most of both."""
    if clamp is None or not topology.has_clamp:
        return 0.0, 0.0
    state = at_conditions(clamp.fitted.law, float(corners.board_temperature[index]))
    share = design.amplifier.guard_gain_error if topology.needs_guard else 1.0
    slope = load = 0.0
    for side in topology.sides:
        volts = sits(design, topology, side, float(corners.signal[index]))
        slope += share * float(current_and_slope(volts, state)[1])
        load += share * float(capacitance(volts, state))
    return slope, load


def _noise_currents(
    design: Design,
    topology: Topology,
    clamp: Clamp | None,
    corners: Corners,
    index: int,
    places: list[str],
) -> dict[str, tuple[int, int, float]]:
    """Noise current sources: each resistor at its own temperature, clamps, amplifier current."""
    network, board = design.network, float(corners.board_temperature[index])
    sensor = float(corners.sensor_temperature[index])
    outer = network.outer_resistor.value * network.outer_resistor.count
    found = {
        "source resistance": (
            -1,
            0,
            float(resistor_current_noise(corners.source_resistance[index], sensor)),
        ),
        "outer resistor": (0, 1, float(resistor_current_noise(outer, board))),
        "amplifier current noise": (-1, len(places) - 1, design.amplifier.current_noise),
    }
    if network.inner_resistor:
        inner = network.inner_resistor.value * network.inner_resistor.count
        found["inner resistor"] = (1, 2, float(resistor_current_noise(inner, board)))
    if clamp is not None and topology.has_clamp:
        state = at_conditions(clamp.fitted.law, board, float(corners.illuminance[index]))
        powers = [
            float(clamp_noise(sits(design, topology, side, float(corners.signal[index])), state))
            ** 2
            for side in topology.sides
        ]
        found["clamp shot noise"] = (-1, 1, float(np.sqrt(sum(powers))))
    return found


def transfers(
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners
) -> tuple[TransferError, ...]:
    """Offset, gain error and nonlinearity over the signal range at each heat and light corner."""
    done: dict[tuple[float, float, float], TransferError] = {}
    for i in range(corners.count):
        key = (
            float(corners.sensor_temperature[i]),
            float(corners.board_temperature[i]),
            float(corners.illuminance[i]),
        )
        if key not in done:
            done[key] = _transfer(design, topology, clamp, corners, i)
    return tuple(done.values())


def _transfer(
    design: Design, topology: Topology, clamp: Clamp | None, corners: Corners, index: int
) -> TransferError:
    same = np.isclose(corners.sensor_temperature, corners.sensor_temperature[index])
    ends = corners.signal[same]
    signal = np.linspace(ends.min(), ends.max(), SIGNAL_POINTS)
    sweep = Corners(
        sensor_temperature=np.full(SIGNAL_POINTS, corners.sensor_temperature[index]),
        board_temperature=np.full(SIGNAL_POINTS, corners.board_temperature[index]),
        illuminance=np.full(SIGNAL_POINTS, corners.illuminance[index]),
        signal=signal,
        source_resistance=np.full(SIGNAL_POINTS, corners.source_resistance[index]),
    )
    case = Case(design, topology, sweep)
    active = topology.sides if clamp else ()
    error = case.pin_error(clamp, active, active[:1])
    middle = signal.mean()
    slope, offset = np.polyfit(signal - middle, error, 1)
    straight = offset + slope * (signal - middle)
    return TransferError(
        corner=corners.at(index),
        offset=float(offset),
        gain_error=float(slope),
        nonlinearity=float(np.max(np.abs(error - straight))),
    )
