"""Answers that need a figure of the board, the joints, the hum or the capacitor to be stated."""

from __future__ import annotations

from math import log

import numpy as np

from clampwright.network.hum import rectified_share
from clampwright.network.settling import Soakage, settling_time, soakage_voltage
from clampwright.physics.temperature import thermal_voltage
from clampwright.quantities import write
from clampwright.verdict.added_terms import (
    Loaded,
    film_term,
    hum_across,
    hum_shift,
    hum_term,
    joint_term,
)
from clampwright.verdict.dynamics import slowest_corner
from clampwright.verdict.linear_case import linear_case, settling_times
from clampwright.verdict.results import Answer, Figure
from clampwright.verdict.stated import (
    absorption,
    film_missing,
    film_resistance,
    joint_emf,
    joints_missing,
    missing,
    ring_error,
    states_hum,
)
from clampwright.verdict.terms import Interval

# The method of IEC 60384-1 (from memory): an hour under voltage, 10 s shorted, open for 15 minutes.
CHARGED, SHORTED, OPEN = 3600.0, 10.0, 900.0  # [s]
EXPONENT = 1.0  # of the tail I = β·C·ΔV/t
HALVINGS = 200
IN_BUDGET = "it is a term of the protection's budget"


def hum(case: Loaded) -> Answer:
    """What one clamp rectifies and what arrives at the pin."""
    if case.clamp is None:
        return Answer(key="", name="", note="there is no clamp in this circuit")
    if not states_hum(case.design):
        note = "not stated: give source.hum_peak or network.clamp_hum_peak"
        return Answer(key="", name="", note=note)
    if case.virtual and case.design.network.clamp_hum_peak is None:
        note = (
            "the summing node stands still: give network.clamp_hum_peak if hum reaches the clamps"
        )
        return Answer(key="", name="", note=note)
    found = [(group, hum_term(case, group).interval) for group in case.topology.groups]
    group, interval = max(found, key=lambda pair: float(_reach(pair[1]).max()))
    i = int(np.argmax(_reach(interval)))
    shifts = {side: float(hum_shift(case, side)[i]) for side in group}
    side = max(shifts, key=lambda name: abs(shifts[name]))
    law = case.clamp.fitted.law
    peak = float(hum_across(case, side)[i])
    volt = thermal_voltage(float(case.grid.board_temperature[i]))
    share = float(rectified_share(peak, law.generation_ideality, volt))
    return Answer(
        key="",
        name="",
        figures=(
            Figure(name="peak across the clamp", value=peak, unit="V"),
            Figure(name="shift of its saturation current", value=share, unit="1"),
            Figure(name="rectified there", value=shifts[side], unit="A"),
            Figure(name="error", value=float(interval.value[i]), unit="V"),
            Figure(name="at most", value=float(_reach(interval)[i]), unit="V"),
        ),
        corner=case.grid.at(i),
        note=IN_BUDGET,
        formula="ΔI/I_0 = I₀(a/nV_T) − 1, modified Bessel function; an antiparallel pair leaves its "
        "mismatch",
        source="Abramowitz and Stegun 9.6.16; the current is the mean over a period",
    )


def joints(case: Loaded) -> Answer:
    """Thermal EMF of all joints in the line."""
    left = joints_missing(case.design)
    if left:
        return Answer(key="", name="", note=left)
    reach = _reach(joint_term(case).interval)
    i = int(np.argmax(reach))
    return Answer(
        key="",
        name="",
        figures=(
            Figure(name="in the line ±", value=joint_emf(case.design), unit="V"),
            Figure(name="error ±", value=float(reach[i]), unit="V"),
        ),
        corner=case.grid.at(i),
        note=f"all joints adding up, sign unknown; {IN_BUDGET}",
        formula="E = n · S · ΔT",
        source="Seebeck effect",
    )


def film(case: Loaded) -> Answer:
    """Film and insulation without and with a guard ring; the board's own way is in the budget."""
    design = case.design
    ohms = film_resistance(design)
    if ohms is None:
        return Answer(key="", name="", note=film_missing(design))
    figures = [Figure(name="film and insulation", value=ohms, unit="Ω")]
    notes, corner = [], 0
    unguarded = missing(design, "board", ("neighbour_voltage",))
    for ring, left in (
        (False, unguarded),
        (True, "" if ring_error(design) is not None else "give amplifier.guard_offset"),
    ):
        words = "with a ring" if ring else "without a ring"
        if left:
            notes.append(f"{words} {left}")
            continue
        interval = film_term(case, ring=ring).interval
        reach = _reach(interval)
        i = int(np.argmax(reach))
        corner = i if ring == design.board.guard_ring else corner
        error = float(interval.value[i])
        figures.append(Figure(name=f"error {words}", value=error, unit="V"))
        z = abs(float(case.gain_from(case.node)[i]))
        if z > 0:
            figures.append(Figure(name="from a leakage of", value=abs(error) / z, unit="A"))
    own = "with" if design.board.guard_ring else "without"
    if not film_missing(design):
        notes.append(f"the board is {own} a ring: {IN_BUDGET}")
    return Answer(
        key="",
        name="",
        figures=tuple(figures),
        corner=case.grid.at(corner),
        note="; ".join(notes),
        formula="R = ρ_s · squares; I = V/R, of the neighbour without a ring, of the guard's error with",
        source="Ohm's law",
    )


def settling(case: Loaded) -> Answer:
    """Settling with the soakage of the capacitor at the node, or of the feedback capacitor."""
    design, network = case.design, case.design.network
    farads = network.node_capacitance + 2.0 * network.differential_capacitance
    if case.virtual:
        farads = design.amplifier.feedback_capacitance
    if not farads:
        field = "amplifier.feedback" if case.virtual else "network.node"
        note = f"no capacitor that could soak is stated: {field}_capacitance"
        return Answer(key="", name="", note=note)
    share = absorption(design)
    if share is None:
        note = "not stated: give network.capacitor_dielectric or network.capacitor_absorption"
        return Answer(key="", name="", note=note)
    index = slowest_corner(case.topology, case.grid)
    outer = network.outer_resistor.value * network.outer_resistor.count
    linear = linear_case(design, case.topology, case.clamp, case.grid, index, np.array([outer]))
    limit = design.requirement.settle_to
    tail = Soakage(case.node, farads, tail_size(share), EXPONENT)
    plain = float(settling_times(linear, limit)[0])
    if case.virtual:
        soaked = summing_node_settling(case.feedback, tail, limit)
    else:
        soaked = float(settling_time(linear.network, "source", "pin", limit, (tail,))[0])
    stated = network.capacitor_absorption is not None
    assumed = f"usual absorption of {network.capacitor_dielectric}, common practice, no source"
    return Answer(
        key="",
        name="",
        figures=(
            Figure(name=f"to {write(limit, 'ratio')}", value=soaked, unit="s"),
            Figure(name="without soakage", value=plain, unit="s"),
            Figure(name="absorption", value=share, unit="1"),
        ),
        corner=case.grid.at(index),
        note="" if stated else assumed,
        formula="I = β · C · ΔV/t beside the exponentials; β from the recovered share "
        "β · (ln((t_s + t_o)/t_s) − ln((t_c + t_s + t_o)/(t_c + t_s)))",
        source="Curie 1889, von Schweidler 1907; IEC 60384-1 from memory: check the edition",
    )


def tail_size(share: float) -> float:
    """β of I = β·C·ΔV/t for a dielectric absorption (ratio) by the method of IEC 60384-1.

    The recovered voltage is the charge of the tails of both steps after the short is lifted; exact
    for a tail of exponent 1. Source: superposition.
    """
    recovered = log((SHORTED + OPEN) / SHORTED)
    recovered -= log((CHARGED + SHORTED + OPEN) / (CHARGED + SHORTED))
    return share / recovered


def summing_node_settling(feedback: float, tail: Soakage, limit: float) -> float:
    """Time (s) until exp(−t/RC) and the tail of the feedback capacitor stay within `limit`."""
    constant = feedback * tail.capacitance

    def error(time: float) -> float:
        soaked = soakage_voltage(feedback, tail, 1.0, np.asarray(time))
        return float(np.exp(-time / constant) + soaked)

    low, high = constant * 1e-3, constant
    while error(high) > limit:
        high *= 2.0
    for _ in range(HALVINGS):  # the error only falls
        middle = 0.5 * (low + high)
        low, high = (middle, high) if error(middle) > limit else (low, middle)
    return high


def _reach(interval: Interval) -> np.ndarray:
    return np.asarray(np.maximum(np.abs(interval.low), np.abs(interval.high)))


__all__ = ["film", "hum", "joints", "settling", "summing_node_settling", "tail_size"]
