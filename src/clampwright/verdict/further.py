"""Further answers of `check`: what else each corner says, the worst corner named.

Nothing here decides the verdict; what of film, joints and hum belongs to the error is a term of the
budget already (`added_terms`). What the sheet does not state is said, never guessed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import ClampwrightError
from clampwright.network.distortion import second_harmonic
from clampwright.network.pair import decibels
from clampwright.network.signal_transfer import clamp_slopes
from clampwright.parts.clamp_part import Clamp
from clampwright.verdict.added_terms import Loaded, loaded
from clampwright.verdict.corners import Corners, corners, resistance_at, signal_scale
from clampwright.verdict.design import Design
from clampwright.verdict.error_terms import error_terms
from clampwright.verdict.further_guard import guard, off_state
from clampwright.verdict.further_pair import bias_of_pair, rejections
from clampwright.verdict.further_stated import film, hum, joints, settling
from clampwright.verdict.layout import OWN_ANSWER, topology_of
from clampwright.verdict.places import in_use
from clampwright.verdict.results import Answer, CheckResult, Figure, TransferError

Array = NDArray[np.float64]

STEP = 0.5  # [K] of the central differences of a drift
NO_CLAMP = "there is no clamp in this circuit"
AT_A_SUMMING_NODE = "the summing node stands still: its clamps see no signal"


def further_answers(
    design: Design, clamp: Clamp | None, checked: CheckResult
) -> tuple[Answer, ...]:
    """Every further answer of a design; a case that cannot be solved says so in its place.

    checked : the result of `check_design` for the same design and clamp
    """
    topology = topology_of(design)
    clamp = in_use(design, topology, clamp) if clamp and topology.has_clamp else None
    grid = corners(design)
    case = loaded(design, topology, clamp, grid)
    asked: tuple[tuple[str, str, Callable[[], Answer | None]], ...] = (
        ("offset", "offset, signed", lambda: _transfer(checked, "offset")),
        ("gain error", "gain error", lambda: _transfer(checked, "gain_error")),
        ("nonlinearity", "nonlinearity", lambda: _transfer(checked, "nonlinearity")),
        ("leakage drift", "drift of the net leakage", lambda: _leakage_drift(case)),
        ("offset drift", "drift of the protection's error", lambda: _offset_drift(case)),
        ("bias of the pair", "bias current of the pair", lambda: bias_of_pair(case)),
        ("slopes", "slopes of the clamp", lambda: _slopes(case)),
        ("noise", "noise density", lambda: _noise(checked)),
        ("second harmonic", "second harmonic", lambda: _harmonic(case)),
        ("rejection", "common-mode rejection", lambda: rejections(case)),
        ("hum", "hum rectified by a clamp", lambda: hum(case)),
        ("off state", "supplies off", lambda: off_state(case)),
        ("guard", "guard follower", lambda: guard(case)),
        ("joints", "thermal EMF of joints", lambda: joints(case)),
        ("film", "board film and insulation", lambda: film(case)),
        ("soakage", "settling with soakage", lambda: settling(case)),
    )
    found = []
    for key, name, ask in asked:
        try:
            answer = ask()
        except ClampwrightError as error:
            answer = Answer(key=key, name=name, note=f"not solved: {error}")
        if answer is not None:
            found.append(answer.model_copy(update={"key": key, "name": name}))
    return tuple(found)


def _transfer(checked: CheckResult, what: str) -> Answer:
    """Offset, gain error or nonlinearity at the corner where it is largest."""

    def size(transfer: TransferError) -> float:
        return abs(float(getattr(transfer, what)))

    worst = max(checked.transfers, key=size)
    value, network = float(getattr(worst, what)), checked.design.network
    causes = "clamps, light and bias current"
    if network.topology in OWN_ANSWER:
        causes = "clamps, light, bias current, the amplifier's offset in the source and lost signal"
    place = "at the middle of the signal range" if what == "offset" else "over the signal range"
    return Answer(
        key="",
        name="",
        figures=(Figure(name="", value=value, unit="1" if what == "gain_error" else "V"),),
        corner=worst.corner,
        note=f"{place}: {causes}" + (", of one leg" if network.pair else ""),
        formula="error = offset + gain error · (signal − middle) + rest; largest rest: nonlinearity",
        source="least-squares line through the solved error over the signal range",
    )


def _shifted(case: Loaded, kelvin: float, *, sensor: bool = False) -> Corners:
    """The same corners with the board, or the sensor, warmer."""
    grid = case.grid
    if not sensor:
        return replace(grid, board_temperature=grid.board_temperature + kelvin)
    heat = grid.sensor_temperature + kelvin
    scale = signal_scale(case.design, heat) / signal_scale(case.design, grid.sensor_temperature)
    return replace(
        grid,
        sensor_temperature=heat,
        signal=grid.signal * scale,
        source_resistance=resistance_at(case.design.source, heat),
    )


def net_leakage(case: Loaded) -> Array:
    """Current of all judged clamps into the node (A, signed), per corner."""
    total = np.zeros(case.grid.count)
    for branch in case.circuit.clamps:
        if branch.name in case.topology.sides:
            sign = float(branch.cathode == case.node) - float(branch.anode == case.node)
            total = total + sign * case.solved.solution.clamp_current[branch.name]
    return total


def _leakage_drift(case: Loaded) -> Answer:
    if case.clamp is None:
        return Answer(key="", name="", note=NO_CLAMP)
    ends = [
        net_leakage(loaded(case.design, case.topology, case.clamp, _shifted(case, k)))
        for k in (STEP, -STEP)
    ]
    drift = (ends[0] - ends[1]) / (2 * STEP)
    i = int(np.argmax(np.abs(drift)))
    single = [abs(case.solved.solution.clamp_current[s][i]) for s in case.topology.sides]
    return Answer(
        key="",
        name="",
        figures=(
            Figure(name="", value=float(drift[i]), unit="A/K"),
            Figure(name="net leakage", value=float(net_leakage(case)[i]), unit="A"),
            Figure(name="largest clamp alone", value=float(max(single)), unit="A"),
        ),
        corner=case.grid.at(i),
        note="nominal law, all clamps together and signed into the node; the budget credits nothing",
        formula="dI/dT ≈ I · E_a/kT², central difference over ± 0.5 K of the board",
        source="Arrhenius' law",
    )


def _offset_drift(case: Loaded) -> Answer:
    """Change of the protection's probable error with the heat of board and of sensor."""

    def error(grid: Corners) -> Array:
        sides = error_terms(case.design, case.topology, case.clamp, grid)
        own = [0.0 if case.virtual else s.bias.value for s in sides]
        sums = [s.clamp.value + s.leak.value + b for s, b in zip(sides, own, strict=True)]
        return np.asarray(sums)

    found = {}
    for what, sensor in (("board", False), ("sensor", True)):
        ends = [error(_shifted(case, k, sensor=sensor)) for k in (STEP, -STEP)]
        found[what] = (ends[0] - ends[1]) / (2 * STEP)
    largest = np.abs(found["board"]).max(axis=0)
    i = int(np.argmax(largest))
    side = int(np.argmax(np.abs(found["board"][:, i])))
    figures = [
        Figure(name=f"per kelvin of the {what}", value=float(d[side, i]), unit="V/K")
        for what, d in found.items()
    ]
    own_drift = case.design.amplifier.offset_drift
    figures.append(Figure(name="beside it the amplifier's offset", value=own_drift, unit="V/K"))
    return Answer(
        key="",
        name="",
        figures=tuple(figures),
        corner=case.grid.at(i),
        note="clamp, bias current and insulation in the dark, worst side",
        formula="dE/dT = d(R · I)/dT, central difference over ± 0.5 K",
        source="Kirchhoff's current law and the temperature laws of the parts",
    )


def _slopes(case: Loaded) -> Answer:
    if case.clamp is None:
        return Answer(key="", name="", note=NO_CLAMP)
    slopes = clamp_slopes(case.circuit, case.solved.values, case.solved.solution)
    sides = [(slopes[s], s) for s in case.topology.sides]
    steepest = max(range(len(sides)), key=lambda k: float(np.max(sides[k][0].slope)))
    there, side = sides[steepest]
    i = int(np.argmax(np.broadcast_to(there.slope, (case.grid.count,))))
    figures = [
        Figure(name=f"{side} clamp sits at", value=_entry(there.voltage, i), unit="V"),
    ]
    for words, slope in (("at 0 V", there.zero_bias_slope), ("there", there.slope)):
        siemens = _entry(slope, i)
        ohms = 1.0 / siemens if siemens > 0 else float("inf")
        figures.append(Figure(name=words, value=ohms, unit="Ω"))
        figures.append(Figure(name="", value=siemens, unit="S"))
    return Answer(
        key="",
        name="",
        figures=tuple(figures),
        corner=case.grid.at(i),
        formula="1/r_0 = I_S/V_T + I_G/(n·V_T) + 1/R_film; in reverse g = m·I/(V_R + V_bi) + 1/R_film",
        source="derivative of the junction current",
    )


def _entry(values: Array, index: int) -> float:
    """One entry of an array that may hold one value for all corners."""
    flat = np.ravel(values)
    return float(flat[index] if flat.size > 1 else flat[0])


def _noise(checked: CheckResult) -> Answer:
    found = checked.dynamics
    return Answer(
        key="",
        name="",
        figures=(
            Figure(name="", value=found.noise_density, unit="V/√Hz"),
            Figure(name="shot noise of the clamps", value=found.shot_noise, unit="A/√Hz"),
        ),
        corner=found.corner,
        formula="e² = 4kTR + e_n² + R² (i_n² + shot noise of every clamp)",
        source="Johnson and Nyquist 1928; Schottky 1918",
    )


def _harmonic(case: Loaded) -> Answer:
    """Second harmonic of a sine over the whole signal range at the required bandwidth."""
    if case.clamp is None:
        return Answer(key="", name="", note=NO_CLAMP)
    if case.virtual:
        return Answer(key="", name="", note=AT_A_SUMMING_NODE)
    wanted, grid = case.design.requirement, case.grid
    scale = signal_scale(case.design, grid.sensor_temperature)
    middle = (wanted.signal_minimum + wanted.signal_maximum) / 2 * scale
    peak = (wanted.signal_maximum - wanted.signal_minimum) / 2 * scale
    centred = loaded(case.design, case.topology, case.clamp, replace(grid, signal=middle))
    ratio = second_harmonic(
        centred.circuit, centred.solved.values, centred.solved.solution, centred.network,
        "source", "pin", peak, wanted.bandwidth,
    )  # fmt: skip
    i = int(np.argmax(ratio))
    figures = [Figure(name="", value=float(ratio[i]), unit="1")]
    if ratio[i] > 0:
        figures.append(Figure(name="", value=float(decibels(ratio[i])), unit="dB"))
    figures.append(Figure(name="at", value=wanted.bandwidth, unit="Hz"))
    figures.append(Figure(name="and a peak of", value=float(peak[i]), unit="V"))
    return Answer(
        key="",
        name="",
        figures=tuple(figures),
        corner=centred.grid.at(i),
        note="of one leg" if case.design.network.pair else "",
        formula="½ · ωR · C′ · V_pk for one clamp and ωRC ≪ 1, C = C_0/(1 + V_R/V_bi)^m; with the "
        "curvature of the current",
        source="second-order perturbation of the network; Sze, Physics of Semiconductor Devices",
    )


__all__ = ["further_answers", "net_leakage"]
