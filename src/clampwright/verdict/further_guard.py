"""The guard follower and its limits, and the input with its supplies off."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from clampwright.network.circuit import Circuit
from clampwright.network.compose import PIN_JUNCTIONS, pin_junctions
from clampwright.network.guard import following_range, residual_gain, solve_limited
from clampwright.network.off_state import OffState, rails_at_zero, rails_floating
from clampwright.network.roles import RAILS
from clampwright.network.solve import Values, require_converged, solve
from clampwright.network.topology import error_voltage
from clampwright.physics.clamp import at_conditions
from clampwright.verdict.added_terms import Loaded
from clampwright.verdict.error_terms import ABSENT, guard_range
from clampwright.verdict.fault_solution import outer_resistance, solve_fault
from clampwright.verdict.faults import IMPULSES, signs_of
from clampwright.verdict.layout import PIN_JUNCTION, followers
from clampwright.verdict.results import Answer, Figure
from clampwright.verdict.stated import missing

Array = NDArray[np.float64]

GUARD = "guard"
FIELDS = (
    "guard_output_minimum",
    "guard_output_maximum",
    "guard_slew_rate",
    "guard_open_loop_gain",
    "guard_unity_gain_frequency",
    "guard_output_current",
)


def off_state(case: Loaded) -> Answer:
    """Loading of the source and current into each rail, rails at 0 V and rails let go."""
    if case.virtual:
        note = "the source current flows through the clamp pair to ground; no rail is powered"
        return Answer(key="", name="", note=note)
    circuit, values = _with_pin(case)
    dead = dict.fromkeys(values.driven, (0.0, 0.0))
    values = replace(values, driven=dead)
    held = rails_at_zero(circuit, values, "source", RAILS)
    i = int(np.argmax(np.abs(held.loading)))
    figures = [Figure(name="draws from the source", value=_at(held.loading, i), unit="A")]
    figures += [
        Figure(name=f"into the {_plain(name)} held at 0 V", value=_at(current, i), unit="A")
        for name, current in held.into_rail.items()
    ]
    if "R_guard" in held.solution.resistor_current:
        into = -_at(held.solution.resistor_current["R_guard"], i)
        figures.append(Figure(name="into the dead guard", value=into, unit="A"))
    more, note = _let_go(case, circuit, values, i)
    return Answer(
        key="",
        name="",
        figures=(*figures, *more),
        corner=case.grid.at(i),
        note=note,
        formula="I = (V_signal − V_f − V_rail)/R",
        source="solved with the clamps and the amplifier's own pin junctions (small silicon junctions, "
        "common practice, no source)",
    )


def _let_go(case: Loaded, circuit: Circuit, values: Values, index: int) -> tuple[list[Figure], str]:
    """Rails that float on what the board behind them takes."""
    rails = case.design.rails
    load = rails.minimum_load or rails.load
    if not load:
        return [], "floating rails not stated: give rails.minimum_load"
    nominal = {"rail positive": rails.positive, "rail negative": rails.negative}
    loads = {name: abs(volts) / load for name, volts in nominal.items() if volts}
    grounded = {name: 0.0 for name, volts in nominal.items() if not volts}
    still = replace(values, potentials={**values.potentials, **grounded})
    off: OffState = rails_floating(circuit, still, "source", loads)
    figures = []
    for name in loads:
        figures.append(
            Figure(name=f"{_plain(name)} let go rises to", value=_at(off.rail_voltage[name], index),
                   unit="V")
        )  # fmt: skip
        into = _at(off.into_rail[name], index)
        figures.append(Figure(name="taking", value=into, unit="A"))
    return figures, "a rail let go is loaded as by its least stated load"


def _with_pin(case: Loaded) -> tuple[Circuit, Values]:
    """The circuit of normal use with the amplifier's own junctions at its pin, and both rails."""
    circuit, values = case.circuit, case.solved.values
    fixed = tuple(dict.fromkeys((*circuit.fixed, *RAILS)))
    rails = {
        "rail positive": case.design.rails.positive,
        "rail negative": case.design.rails.negative,
    }
    state = at_conditions(PIN_JUNCTION, case.grid.board_temperature)
    return (
        replace(circuit, fixed=fixed, clamps=(*circuit.clamps, *pin_junctions())),
        replace(
            values,
            potentials={**values.potentials, **rails},
            laws={**values.laws, **dict.fromkeys(PIN_JUNCTIONS, state)},
        ),
    )


def guard(case: Loaded) -> Answer | None:
    """Where the guard follower stops to follow and what its clamps leak then."""
    if GUARD not in {d.name for d in case.circuit.driven}:
        return None
    figures, notes = _limits(case)
    more, said = _speed(case)
    figures += [*more, *_currents(case)]
    dead, i = _dead(case)
    figures.append(Figure(name="error with the guard at 0 V", value=dead, unit="V"))
    stated = case.design.amplifier.guard_output_current
    if stated is not None:
        figures.append(Figure(name="its output can", value=stated, unit="A"))
    left = missing(case.design, "amplifier", FIELDS)
    return Answer(
        key="",
        name="",
        figures=tuple(figures),
        corner=case.grid.at(i),
        note="; ".join(n for n in (*notes, *said, left) if n),
        formula="follows while V_min ≤ A · V_sig + V_os ≤ V_max; left over 1/(1 + A(f)); slew 2πf · V_pk",
        source="feedback theory, one-pole amplifier",
    )


def _limits(case: Loaded) -> tuple[list[Figure], list[str]]:
    """The signal range that the follower follows, and the error where it no longer does."""
    span = guard_range(case.design, case.circuit)
    if not span:
        return [], []
    free = followers(case.design, case.circuit, case.topology)
    low, high = (float(np.ravel(end)[0]) for end in following_range(*free[GUARD], *span[GUARD]))
    figures = [
        Figure(name="follows a signal from", value=low, unit="V"),
        Figure(name="to", value=high, unit="V"),
    ]
    limited = solve_limited(case.circuit, replace(case.solved.values, driven=free), span)
    if bool(np.all(limited.follows[GUARD])):
        return figures, ["follows the whole signal"]
    error = error_voltage(case.topology, limited.solution, limited.values)
    lost = np.where(limited.follows[GUARD], 0.0, error)
    worst = float(lost[int(np.argmax(np.abs(lost)))])
    figures.append(Figure(name="bootstrap lost: error", value=worst, unit="V"))
    return figures, ["the bootstrap is lost within the signal range, as the budget counts"]


def _speed(case: Loaded) -> tuple[list[Figure], list[str]]:
    """Slew rate that the signal asks for, and how much of clamps and shield is left unguarded."""
    wanted, amplifier = case.design.requirement, case.design.amplifier
    peak = (wanted.signal_maximum - wanted.signal_minimum) / 2
    needed = 2 * np.pi * wanted.bandwidth * peak
    figures = [Figure(name="slew needed", value=float(needed), unit="V/s")]
    notes = []
    if amplifier.guard_slew_rate is not None:
        figures.append(Figure(name="it has", value=amplifier.guard_slew_rate, unit="V/s"))
        if amplifier.guard_slew_rate < needed:
            notes.append("the bootstrap is lost at full signal and bandwidth: too slow")
    gain, unity = amplifier.guard_open_loop_gain, amplifier.guard_unity_gain_frequency
    if gain is not None and unity is not None:
        left = float(residual_gain(gain, unity, wanted.bandwidth))
        figures.append(Figure(name="unguarded at the bandwidth", value=left, unit="1"))
    return figures, notes


def _currents(case: Loaded) -> list[Figure]:
    """Current of the guard in use and in the worst solved fault."""
    used = case.solved.solution.resistor_current.get("R_guard")
    figures = []
    if used is not None:
        figures.append(Figure(name="guard current", value=float(np.abs(used).max()), unit="A"))
    law = case.clamp.fitted.law if case.clamp else ABSENT
    heat, outer = case.design.board.temperature_maximum, outer_resistance(case.design)
    most = [
        float(np.abs(solve_fault(
            case.design, case.topology, law, fault, sign, heat, outer
        ).guard_current).max())
        for fault in case.design.faults if fault.kind not in IMPULSES
        for sign in signs_of(fault)
    ]  # fmt: skip
    if most:
        figures.append(Figure(name="in the worst fault", value=max(most), unit="A"))
    return figures


def _dead(case: Loaded) -> tuple[float, int]:
    """Largest error (V) with the guard stuck at 0 V, and its corner."""
    values = replace(case.solved.values, driven={**case.solved.values.driven, GUARD: (0.0, 0.0)})
    solution = require_converged(solve(case.circuit, values), "the dead guard")
    error = error_voltage(case.topology, solution, values)
    i = int(np.argmax(np.abs(error)))
    return float(error[i]), i


def _at(values: Array, index: int) -> float:
    return float(np.broadcast_to(values, (max(np.size(values), index + 1),))[index])


def _plain(rail: str) -> str:
    return f"{rail.removeprefix('rail ')} rail"
