"""The compiled solver of any circuit: sixteen cases side by side in SIMD lanes.

Same equations as `solve`: deviations from the leak-free circuit, elimination without subtraction,
clamps linearised where their prediction allows. The topology comes as index arrays, so one cached
kernel serves every circuit. Import this module only for large batches: it loads the compiler.

Node numbers: unknowns first, then fixed, then driven nodes. Node p has the voltage
gain[p] · (voltage of unknown source[p]) + offset[p]; a fixed node has gain 0 and the source `n`, a
row that stays zero. So coupling[i, n] is the conductance of node i to fixed potentials. Everything is
relative to the base potential. Lanes are the last axis of every array.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.network.kernel_version import source_version
from clampwright.network.lane_answer import finish
from clampwright.network.lane_clamps import (
    LANES,
    LAW,
    cached,
    compiled,
    law_in_lanes,
    move_clamp,
    number_at,
)
from clampwright.network.lane_linear import (
    across,
    add,
    clamp_voltage,
    copy,
    eliminate,
    fill,
    stamp,
)
from clampwright.network.solve import (
    LATE_SHARE,
    MOST_ITERATIONS,
    PATIENCE,
    RELATIVE_STEP,
    SHARE_OF_THERMAL_VOLTAGE,
)
from clampwright.physics.kernels import COUNT
from clampwright.physics.law import FARTHEST_BREAKDOWN

SMALLEST = 1e-300  # [V] a step below this is none


def kernel(version: int) -> Any:
    """The entry function, cached on disk under a version of its sources."""

    @cached
    def solve_cases(
        order: Any,
        address: Any,
        stride: Any,
        source: Any,
        inputs: Any,
        pattern: Any,
        resistors: Any,
        clamps: Any,
        injections: Any,
        fixed: Any,
        out: Any,
        counted: Any,
    ) -> int:
        """Solve the cases that `order` names, as many at a time as there are lanes.

        address, stride : where each value lies and its distance in bytes from case to case; in order base,
            fixed potentials, resistances, injected currents, gain and offset of each driven node, laws
        source          : (nodes,) the unknown a node follows; inputs : (driven,) node a driven one follows
        pattern         : (n, n) which couplings there are, after elimination too
        resistors       : (R, 2) nodes; clamps : (C, 3) anode, cathode, law; injections : (K,) unknown or n
        out             : rows × cases: deviation and reference of each node that is not fixed, voltage
            and current of each clamp, current of each resistor, residual
        counted         : cases: iterations, negative where the case did not converge
        Returns the version of the sources it was compiled from.
        """
        n = source.size - fixed - inputs.size
        table = np.empty(address.size * LANES)
        gain, offset = np.zeros((source.size, LANES)), np.zeros((source.size, LANES))
        resistive, coupling = np.empty((n, n + 1, LANES)), np.empty((n, n + 1, LANES))
        reference, deviation = np.zeros((n + 1, LANES)), np.zeros((n + 1, LANES))
        injected, flow = np.empty((n + 1, LANES)), np.empty((n + 1, LANES))
        step, size = np.zeros((n + 1, LANES)), np.empty((n + 1, LANES))
        clamp = np.empty((clamps.shape[0], 6, LANES))
        whole = np.empty(address.size, np.bool_)
        conductance = table[(1 + fixed) * LANES :]
        into = (1 + fixed + resistors.shape[0]) * LANES
        driving = into + injections.size * LANES
        laws = table[driving + 2 * inputs.size * LANES :]
        iterations = np.empty(LANES, np.int64)
        for block in range(0, order.size, LANES):
            here = order[block : block + LANES]
            _load(table, address, stride, here)
            _prepare(resistors.shape[0], conductance, laws, whole)
            _place(n, fixed, inputs, table, table[driving:], gain, offset)
            _stamp_resistors(n, resistors, conductance, source, gain, resistive, offset, flow)
            copy(resistive, coupling)
            eliminate(n, pattern, coupling, flow, reference)
            fill(injected, 0.0)
            for k in range(injections.size):
                add(injected[injections[k]], 1.0, table[into + k * LANES :])
            _iterate(
                n, pattern, source, gain, offset, resistors, clamps, conductance, laws, whole, injected,
                resistive, coupling, reference, deviation, flow, step, clamp, iterations,
            )  # fmt: skip
            finish(
                here,  n, source, gain, offset, resistors, clamps,
                conductance, laws, injected, reference, deviation, flow, step, size, clamp,
                iterations, out, counted, fixed,
            )  # fmt: skip
        return version

    return solve_cases


@compiled
def _load(table: Any, address: Any, stride: Any, cases: Any) -> None:
    """Fetch the values of the cases of a block; lanes past the end repeat the last case."""
    last = cases.size - 1
    for slot in range(address.size):
        row = table[slot * LANES : (slot + 1) * LANES]
        for lane in range(LANES):
            row[lane] = number_at(address[slot] + stride[slot] * cases[min(lane, last)])


@compiled
def _prepare(count: Any, conductance: Any, laws: Any, whole: Any) -> None:
    """Resistances to conductances; note which laws need more than the plain junction."""
    for k in range(count * LANES):
        conductance[k] = 1.0 / conductance[k]
    for law in range(laws.size // (LAW * LANES)):
        row = laws[law * LAW * LANES : (law + 1) * LAW * LANES]
        extra = False
        for lane in range(LANES):
            row[lane + 10 * LANES] = min(row[lane + 10 * LANES], FARTHEST_BREAKDOWN)
            extra |= row[lane + 9 * LANES] != 0.0 or row[lane + 14 * LANES] != 0.0
            extra |= row[lane + 10 * LANES] < FARTHEST_BREAKDOWN or row[lane + 17 * LANES] != 0.0
        whole[law] = extra


@compiled
def _place(
    n: Any, fixed: Any, inputs: Any, table: Any, driving: Any, gain: Any, offset: Any
) -> None:
    """Gain and offset of every node; driven nodes come in an order in which inputs are known."""
    fill(gain[:n], 1.0)
    for k in range(fixed):
        row = table[(1 + k) * LANES :]
        for lane in range(LANES):
            offset[n + k, lane] = row[lane] - table[lane]
    for k in range(inputs.size):
        node, follows = n + fixed + k, inputs[k]
        row = driving[2 * k * LANES :]
        for lane in range(LANES):
            factor = row[lane]
            gain[node, lane] = factor * gain[follows, lane]
            offset[node, lane] = factor * offset[follows, lane] + (
                row[lane + LANES] + (factor - 1.0) * table[lane]
            )


@compiled
def _stamp_resistors(
    n: Any,
    resistors: Any,
    conductance: Any,
    source: Any,
    gain: Any,
    coupling: Any,
    offset: Any,
    held: Any,
) -> None:
    """Couplings of all resistors, and the currents that hold the leak-free circuit."""
    fill(coupling, 0.0)
    fill(held, 0.0)
    for k in range(resistors.shape[0]):
        a, b = resistors[k, 0], resistors[k, 1]
        g = conductance[k * LANES : (k + 1) * LANES]
        stamp(n, a, b, source, gain, g, coupling)
        for here, there in ((a, b), (b, a)):
            if here < n:
                for lane in range(LANES):
                    held[here, lane] += g[lane] * offset[there, lane]


@compiled
def _iterate(
    n: Any,
    pattern: Any,
    source: Any,
    gain: Any,
    offset: Any,
    resistors: Any,
    clamps: Any,
    conductance: Any,
    laws: Any,
    whole: Any,
    injected: Any,
    resistive: Any,
    coupling: Any,
    reference: Any,
    deviation: Any,
    flow: Any,
    step: Any,
    clamp: Any,
    iterations: Any,
) -> None:
    """Newton on deviations and junction voltages; iterations of a lane are negative until it settles.

    Rows of a clamp: terminal voltage, junction voltage, current and slope there, room for two more.
    """
    fill(deviation, 0.0)
    fill(iterations, -MOST_ITERATIONS)
    settled = np.empty(LANES, np.bool_)
    for c in range(clamps.shape[0]):
        a, b, law = clamps[c]
        clamp_voltage(a, b, source, gain, offset, reference, deviation, clamp[c, 0])
        for lane in range(LANES):
            clamp[c, 1, lane] = min(clamp[c, 0, lane], 0.0)
        row = laws[law * LAW * LANES : (law + 1) * LAW * LANES]
        law_in_lanes(clamp[c, 1], row, whole[law], clamp[c, 2], clamp[c, 3])
    for iteration in range(1, MOST_ITERATIONS + 1):
        copy(resistive, coupling)
        copy(injected, flow)
        _leave_resistors(resistors, conductance, source, gain, deviation, flow)
        for c in range(clamps.shape[0]):
            _stamp_clamp(n, c, clamps, laws, source, gain, clamp, coupling, flow)
        eliminate(n, pattern, coupling, flow, step)
        late = iteration > PATIENCE
        share = LATE_SHARE if late else SHARE_OF_THERMAL_VOLTAGE
        for lane in range(LANES):
            settled[lane] = True
        for i in range(n):
            for lane in range(LANES):
                if iterations[lane] < 0:
                    deviation[i, lane] += step[i, lane]
                small = RELATIVE_STEP * abs(deviation[i, lane]) + SMALLEST
                settled[lane] &= late or abs(step[i, lane]) <= small
        for c in range(clamps.shape[0]):
            a, b, law = clamps[c]
            clamp_voltage(a, b, source, gain, offset, reference, deviation, clamp[c, 0])
            row = laws[law * LAW * LANES : (law + 1) * LAW * LANES]
            move_clamp(clamp[c], row, whole[law], share, iterations, settled)
        left = False
        for lane in range(LANES):
            if iterations[lane] < 0 and settled[lane]:
                iterations[lane] = iteration
            left |= iterations[lane] < 0
        if not left:
            break


@compiled
def _leave_resistors(
    resistors: Any, conductance: Any, source: Any, gain: Any, deviation: Any, flow: Any
) -> None:
    """Take the deviation current of each resistor out of its nodes."""
    n = flow.shape[0] - 1
    current = np.empty(LANES)
    for k in range(resistors.shape[0]):
        a, b = resistors[k, 0], resistors[k, 1]
        across(a, b, source, gain, deviation, current)
        for lane in range(LANES):
            current[lane] *= conductance[k * LANES + lane]
        if a < n:
            add(flow[a], -1.0, current)
        if b < n:
            add(flow[b], 1.0, current)


@compiled
def _stamp_clamp(
    n: Any,
    c: Any,
    clamps: Any,
    laws: Any,
    source: Any,
    gain: Any,
    clamp: Any,
    coupling: Any,
    flow: Any,
) -> None:
    """A linearised clamp with its series resistance, the junction voltage eliminated."""
    a, b, law = clamps[c]
    voltage, junction, current, slope = clamp[c, 0], clamp[c, 1], clamp[c, 2], clamp[c, 3]
    resistance = laws[(law * LAW + COUNT) * LANES : (law * LAW + COUNT + 1) * LANES]
    through, terminal = clamp[c, 4], clamp[c, 5]
    for lane in range(LANES):
        share = 1.0 / (1.0 + resistance[lane] * slope[lane])
        terminal[lane] = slope[lane] * share
        through[lane] = (current[lane] + slope[lane] * (voltage[lane] - junction[lane])) * share
    if a < n:
        add(flow[a], -1.0, through)
    if b < n:
        add(flow[b], 1.0, through)
    stamp(n, a, b, source, gain, terminal, coupling)


solve_cases = kernel(source_version())
