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
    check,
    count_cases,
    given,
)
from clampwright.network.circuit import Circuit
from clampwright.network.clamp_points import Point, next_point, point_at
from clampwright.network.linear import solve_without_subtraction

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
ROUNDING = 1e-13  # of a clamp's voltage


def solve(circuit: Circuit, values: Values) -> Solution:
    """Solve a circuit for a batch of cases.

    Raises InputError for a floating node or a missing value. Cases that do not converge are marked
    in `converged`; `require_converged` turns them into an InternalError. Once machine code has been
    made on this computer every batch goes to the compiled solver, whatever its size and whether the
    code is loaded yet: the same question gets the same answer to the last bit. Before, the plain path
    answers; the two agree within rounding.
    """
    from clampwright.network.machine_code import is_made

    if not is_made():
        return solve_plain(circuit, values)
    from clampwright.network.compiled import solve_compiled

    return solve_compiled(circuit, values)


def solve_plain(circuit: Circuit, values: Values) -> Solution:
    """The same, always by NumPy alone."""
    check(circuit, values)
    batch = Batch(circuit, values)
    deviation, points, iterations, converged = _iterate(batch)
    return batch.solution(deviation, points, iterations, converged)


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


def _iterate(batch: Batch) -> tuple[Array, dict[str, Point], int, NDArray[np.bool_]]:
    """Newton on deviations; each clamp is linearised at a junction voltage its prediction allows."""
    deviation = np.zeros((batch.cases, len(batch.unknown)))
    voltages = batch.clamp_voltages(deviation)
    points = {n: point_at(np.minimum(v, 0.0), batch.laws[n]) for n, v in voltages.items()}
    done = np.zeros(batch.cases, bool)
    coupling, excess = batch.resistive
    iteration = 0
    for _ in range(MOST_ITERATIONS):
        iteration += 1
        predicted = {n: p.through(voltages[n], batch.laws[n]) for n, p in points.items()}
        net = batch.leaving(deviation, predicted)[0]
        more_coupling, more_excess = batch.matrix(
            [
                (c.anode, c.cathode, points[c.name].terminal_slope(batch.laws[c.name]))
                for c in batch.circuit.clamps
            ]
        )
        step = solve_without_subtraction(coupling + more_coupling, excess + more_excess, -net)
        step[done] = 0.0
        deviation = deviation + step
        voltages = batch.clamp_voltages(deviation)
        late = iteration > PATIENCE
        settled = np.all(np.abs(step) <= RELATIVE_STEP * np.abs(deviation) + 1e-300, axis=1) | late
        share = LATE_SHARE if late else SHARE_OF_THERMAL_VOLTAGE
        for name, law in batch.laws.items():
            wanted, moved = next_point(voltages[name], points[name], law)
            scale = share * np.asarray(law.thermal_voltage)
            settled &= moved <= np.maximum(scale, ROUNDING * np.abs(wanted.junction))
            points[name] = wanted.unless(done, points[name])
        done = done | settled
        if done.all():
            break
    return deviation, points, iteration, done
