"""The solver: deviations from the leak-free circuit, femtoampere-true, in batches.

The unknown of each node is d, its deviation from the circuit without clamps and injected currents.
By superposition the linear part obeys G·d = −(clamp and injected currents) exactly, so no large
voltages are ever subtracted to find a small error, and no artificial shunt is added anywhere.
Residual and step are judged against the currents that really flow into each node.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InternalError
from clampwright.network.batch import (
    Array,
    Batch,
    Solution,
    Values,
    carried,
    count_cases,
    given,
)
from clampwright.network.circuit import Circuit
from clampwright.network.linear import solve_without_subtraction
from clampwright.physics.clamp import ClampState, current_and_slope, take
from clampwright.physics.terminal import LARGEST_VOLTAGE, voltage_at_current

__all__ = [
    "Solution",
    "Values",
    "count_cases",
    "given",
    "require_converged",
    "solve",
    "solve_plain",
]

RELATIVE_STEP = 1e-8  # Newton is quadratic: a step this small leaves about 1e-15
SHARE_OF_THERMAL_VOLTAGE = 1e-9  # and no clamp may still move by more than this share of kT/q
PATIENCE = (
    20  # iterations; later the clamps alone decide, since with them at rest the rest is linear
)
LATE_SHARE = 1e-6  # of kT/q: amplified rounding moves a clamp no further; its square is nothing
MOST_ITERATIONS = 300
OVERSHOOT = 4.0  # a clamp whose current exceeds its linear prediction this much is drawn back
BEYOND = 0.1  # to where it carries this share more than predicted: never to where a saturated
# junction has no slope and would be thrown out again


def solve(circuit: Circuit, values: Values) -> Solution:
    """Solve a circuit for a batch of cases.

    Raises InputError for a floating node or a missing value. Cases that do not converge are marked
    in `converged`; `require_converged` turns them into an InternalError. Batches go to the compiled
    solver as soon as it is loaded; the answers agree within rounding.
    """
    from clampwright.network.compiled import ready, solve_compiled

    if ready():
        return solve_compiled(circuit, values)
    return solve_plain(circuit, values)


def solve_plain(circuit: Circuit, values: Values) -> Solution:
    """The same, always by NumPy alone."""
    circuit.check()
    batch = Batch(circuit, values)
    deviation, iterations, converged = _iterate(batch)
    return batch.solution(deviation, iterations, converged)


def require_converged(solution: Solution, what: str) -> Solution:
    """Return the solution, or raise InternalError saying how many cases did not converge."""
    lost = int((~solution.converged).sum())
    if lost:
        raise InternalError(
            f"{lost} of {solution.converged.size} cases of {what} did not converge "
            f"(largest residual {solution.residual.max():.1e})",
            mend="please report the design file; no number is given for these cases",
        )
    return solution


def _iterate(batch: Batch) -> tuple[Array, int, NDArray[np.bool_]]:
    """Newton on deviations; each clamp is linearised at a voltage that its prediction allows."""
    deviation = np.zeros((batch.cases, len(batch.unknown)))
    lin_v = {n: np.minimum(v, 0.0) for n, v in batch.clamp_voltages(deviation).items()}
    done = np.zeros(batch.cases, bool)
    coupling, excess = batch.resistive
    iteration = 0
    for _ in range(MOST_ITERATIONS):
        iteration += 1
        lin = {n: carried(lin_v[n], batch.laws[n]) for n in lin_v}
        voltages = batch.clamp_voltages(deviation)
        predicted = {n: i + g * (voltages[n] - lin_v[n]) for n, (i, g) in lin.items()}
        net = batch.leaving(deviation, predicted)[0]
        more_coupling, more_excess = batch.matrix(
            [
                (c.anode, c.cathode, np.broadcast_to(lin[c.name][1], (batch.cases,)))
                for c in batch.circuit.clamps
            ]
        )
        step = solve_without_subtraction(coupling + more_coupling, excess + more_excess, -net)
        step[done] = 0.0
        deviation = deviation + step
        new_v = batch.clamp_voltages(deviation)
        late = iteration > PATIENCE
        settled = np.all(np.abs(step) <= RELATIVE_STEP * np.abs(deviation) + 1e-300, axis=1) | late
        share = LATE_SHARE if late else SHARE_OF_THERMAL_VOLTAGE
        for c in batch.circuit.clamps:
            n = c.name
            i, g = lin[n]
            moved = _allowed(new_v[n], lin_v[n], i + g * (new_v[n] - lin_v[n]), i, batch.laws[n])
            scale = share * batch.laws[n].thermal_voltage
            close = np.abs(new_v[n] - lin_v[n]) <= np.maximum(scale, 1e-13 * np.abs(new_v[n]))
            settled &= close
            lin_v[n] = np.where(done, lin_v[n], moved)
        done = done | settled
        if done.all():
            break
    return deviation, iteration, done


def _allowed(new: Array, old: Array, predicted: Array, before: Array, law: ClampState) -> Array:
    """The voltage at which to linearise next: `new`, or where the law carries the predicted current."""
    current, _ = carried(new, law)
    excess = np.abs(current) > OVERSHOOT * (np.abs(predicted) + np.abs(before))
    hot = np.flatnonzero(np.broadcast_to(excess, new.shape))
    if hot.size == 0:
        return new
    low, high = np.minimum(old[hot], new[hot]), np.maximum(old[hot], new[hot])
    some = take(law, hot)
    aim = predicted[hot] + np.sign(new[hot] - old[hot]) * BEYOND * np.abs(predicted[hot])
    least, most = (current_and_slope(v, some)[0] for v in (-LARGEST_VOLTAGE, LARGEST_VOLTAGE))
    there = voltage_at_current(np.clip(aim, least, most), some)[0]
    out = new.copy()
    out[hot] = np.clip(there, low, high)
    return out
