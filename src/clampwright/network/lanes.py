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

from clampwright.network.batch import EPSILON, RESIDUAL_LIMIT
from clampwright.network.kernel_version import source_version
from clampwright.network.lane_clamps import (
    LANES,
    LAW,
    cached,
    compiled,
    law_in_lanes,
    move_clamp,
    number_at,
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
        start: Any,
        stop: Any,
        address: Any,
        stride: Any,
        source: Any,
        inputs: Any,
        resistors: Any,
        clamps: Any,
        injections: Any,
        fixed: Any,
        out: Any,
        counted: Any,
    ) -> int:
        """Solve cases start…stop − 1.

        address, stride : where each value lies and its distance in bytes from case to case; in order base,
            fixed potentials, resistances, injected currents, gain and offset of each driven node, laws
        source          : (nodes,) the unknown a node follows; inputs : (driven,) node a driven one follows
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
        for block in range(start, stop, LANES):
            _load(table, address, stride, block, stop - 1)
            _prepare(resistors.shape[0], conductance, laws, whole)
            _place(n, fixed, inputs, table, table[driving:], gain, offset)
            _stamp_resistors(n, resistors, conductance, source, gain, resistive, offset, flow)
            _copy(resistive, coupling)
            _eliminate(n, coupling, flow, reference)
            _fill(injected, 0.0)
            for k in range(injections.size):
                _add(injected[injections[k]], 1.0, table[into + k * LANES :])
            _iterate(
                n, source, gain, offset, resistors, clamps, conductance, laws, whole, injected,
                resistive, coupling, reference, deviation, flow, step, clamp, iterations,
            )  # fmt: skip
            _finish(
                block, min(stop - block, LANES), n, source, gain, offset, resistors, clamps,
                conductance, laws, injected, reference, deviation, flow, step, size, clamp,
                iterations, out, counted, fixed,
            )  # fmt: skip
        return version

    return solve_cases


@compiled
def _load(table: Any, address: Any, stride: Any, block: Any, last: Any) -> None:
    """Fetch the values of the cases of a block; lanes past the end repeat the last case."""
    for slot in range(address.size):
        row = table[slot * LANES : (slot + 1) * LANES]
        for lane in range(LANES):
            row[lane] = number_at(address[slot] + stride[slot] * min(block + lane, last))


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
    _fill(gain[:n], 1.0)
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
    _fill(coupling, 0.0)
    _fill(held, 0.0)
    for k in range(resistors.shape[0]):
        a, b = resistors[k, 0], resistors[k, 1]
        g = conductance[k * LANES : (k + 1) * LANES]
        _stamp(n, a, b, source, gain, g, coupling)
        for here, there in ((a, b), (b, a)):
            if here < n:
                for lane in range(LANES):
                    held[here, lane] += g[lane] * offset[there, lane]


@compiled
def _stamp(n: Any, a: Any, b: Any, source: Any, gain: Any, g: Any, coupling: Any) -> None:
    """Add a conductance between nodes a and b; only positive numbers are added."""
    for here, there in ((a, b), (b, a)):
        if here >= n:
            continue
        follows, share = source[there], gain[there]
        near, far = coupling[here, follows], coupling[here, n]
        if follows != here:
            for lane in range(LANES):
                near[lane] += g[lane] * share[lane]
        for lane in range(LANES):
            far[lane] += g[lane] * (1.0 - share[lane])


@compiled
def _eliminate(n: Any, coupling: Any, b: Any, x: Any) -> None:
    """Solve for x as `linear.solve_without_subtraction`; destroys coupling and b."""
    for k in range(n - 1, -1, -1):
        pivot, inverse = coupling[k], x[k]
        for lane in range(LANES):
            inverse[lane] = pivot[n, lane]
        for j in range(k):
            _add(inverse, 1.0, pivot[j])
        for lane in range(LANES):
            inverse[lane] = 1.0 / inverse[lane] if inverse[lane] > 0.0 else 0.0
        for i in range(k):
            row, factor = coupling[i], coupling[i, k]
            for lane in range(LANES):
                factor[lane] *= inverse[lane]
            for j in range(k):
                if j != i:
                    _add_product(row[j], factor, pivot[j])
            _add_product(row[n], factor, pivot[n])
            _add_product(b[i], factor, b[k])
    for k in range(n):
        for j in range(k):
            _add_product(b[k], coupling[k, j], x[j])
        for lane in range(LANES):
            x[k, lane] *= b[k, lane]


@compiled
def _fill(to: Any, value: Any) -> None:
    """Set every entry of a contiguous array."""
    flat = to.reshape(-1)
    for k in range(flat.size):
        flat[k] = value


@compiled
def _copy(values: Any, to: Any) -> None:
    """Copy a contiguous array into another."""
    first, second = values.reshape(-1), to.reshape(-1)
    for k in range(first.size):
        second[k] = first[k]


@compiled
def _add(to: Any, sign: Any, value: Any) -> None:
    for lane in range(LANES):
        to[lane] += sign * value[lane]


@compiled
def _add_product(to: Any, factor: Any, value: Any) -> None:
    for lane in range(LANES):
        to[lane] += factor[lane] * value[lane]


@compiled
def _across(a: Any, b: Any, source: Any, gain: Any, value: Any, out: Any) -> None:
    """Difference between two nodes of what the unknowns contribute."""
    here, there = value[source[a]], value[source[b]]
    if source[a] == source[b]:
        for lane in range(LANES):
            out[lane] = (gain[a, lane] - gain[b, lane]) * here[lane]
    else:
        for lane in range(LANES):
            out[lane] = gain[a, lane] * here[lane] - gain[b, lane] * there[lane]


@compiled
def _clamp_voltage(
    a: Any, b: Any, source: Any, gain: Any, offset: Any, reference: Any, deviation: Any, out: Any
) -> None:
    moved = np.empty(LANES)
    _across(a, b, source, gain, reference, out)
    _across(a, b, source, gain, deviation, moved)
    for lane in range(LANES):
        out[lane] = (out[lane] + (offset[a, lane] - offset[b, lane])) + moved[lane]


@compiled
def _iterate(
    n: Any,
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
    _fill(deviation, 0.0)
    _fill(iterations, -MOST_ITERATIONS)
    settled = np.empty(LANES, np.bool_)
    for c in range(clamps.shape[0]):
        a, b, law = clamps[c]
        _clamp_voltage(a, b, source, gain, offset, reference, deviation, clamp[c, 0])
        for lane in range(LANES):
            clamp[c, 1, lane] = min(clamp[c, 0, lane], 0.0)
        row = laws[law * LAW * LANES : (law + 1) * LAW * LANES]
        law_in_lanes(clamp[c, 1], row, whole[law], clamp[c, 2], clamp[c, 3])
    for iteration in range(1, MOST_ITERATIONS + 1):
        _copy(resistive, coupling)
        _copy(injected, flow)
        _leave_resistors(resistors, conductance, source, gain, deviation, flow)
        for c in range(clamps.shape[0]):
            _stamp_clamp(n, c, clamps, laws, source, gain, clamp, coupling, flow)
        _eliminate(n, coupling, flow, step)
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
            _clamp_voltage(a, b, source, gain, offset, reference, deviation, clamp[c, 0])
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
        _across(a, b, source, gain, deviation, current)
        for lane in range(LANES):
            current[lane] *= conductance[k * LANES + lane]
        if a < n:
            _add(flow[a], -1.0, current)
        if b < n:
            _add(flow[b], 1.0, current)


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
        _add(flow[a], -1.0, through)
    if b < n:
        _add(flow[b], 1.0, through)
    _stamp(n, a, b, source, gain, terminal, coupling)


@compiled
def _finish(
    block: Any,
    filled: Any,
    n: Any,
    source: Any,
    gain: Any,
    offset: Any,
    resistors: Any,
    clamps: Any,
    conductance: Any,
    laws: Any,
    injected: Any,
    reference: Any,
    deviation: Any,
    net: Any,
    rounding: Any,
    size: Any,
    clamp: Any,
    iterations: Any,
    out: Any,
    counted: Any,
    fixed: Any,
) -> None:
    """Currents, residual and the answers of a block."""
    rows = _write_nodes(block, filled, n, fixed, source, gain, offset, reference, deviation, out)
    _fill(rounding, 0.0)
    for i in range(n + 1):
        for lane in range(LANES):
            net[i, lane], size[i, lane] = injected[i, lane], abs(injected[i, lane])
    for c in range(clamps.shape[0]):
        a, b, law = clamps[c]
        _clamp_through(clamp[c], laws[law * LAW * LANES : (law + 1) * LAW * LANES])
        for node, sign in ((a, -1.0), (b, 1.0)):
            if node < n:
                for lane in range(LANES):
                    spread = 0.0
                    for end in (a, b):
                        follows = source[end]
                        spread += abs(gain[end, lane] * deviation[follows, lane])
                        spread += abs(gain[end, lane] * reference[follows, lane])
                        spread += abs(offset[end, lane])
                    net[node, lane] += sign * clamp[c, 4, lane]
                    size[node, lane] += abs(clamp[c, 4, lane])
                    rounding[node, lane] += 2.0 * EPSILON * clamp[c, 5, lane] * spread
        for lane in range(filled):
            out[rows + 2 * c, block + lane] = clamp[c, 0, lane]
            out[rows + 2 * c + 1, block + lane] = clamp[c, 4, lane]
    rows += 2 * clamps.shape[0]
    across, total = np.empty(LANES), np.empty(LANES)
    for k in range(resistors.shape[0]):
        a, b = resistors[k]
        _across(a, b, source, gain, deviation, across)
        _across(a, b, source, gain, reference, total)
        g = conductance[k * LANES : (k + 1) * LANES]
        for lane in range(filled):
            both = total[lane] + (offset[a, lane] - offset[b, lane]) + across[lane]
            out[rows + k, block + lane] = g[lane] * both
        for node, sign in ((a, -1.0), (b, 1.0)):
            if node < n:
                for lane in range(LANES):
                    current = g[lane] * across[lane]
                    spread = abs(gain[a, lane] * deviation[source[a], lane])
                    spread += abs(gain[b, lane] * deviation[source[b], lane])
                    net[node, lane] += sign * current
                    size[node, lane] += abs(current)
                    rounding[node, lane] += 2.0 * EPSILON * g[lane] * spread
    for lane in range(filled):
        residual, finite = 0.0, True
        for i in range(n):
            beyond = max(abs(net[i, lane]) - rounding[i, lane], 0.0)
            if size[i, lane] > 0.0:
                residual = max(residual, beyond / size[i, lane])
            finite &= np.isfinite(deviation[i, lane]) and np.isfinite(size[i, lane])
        out[rows + resistors.shape[0], block + lane] = residual
        good = iterations[lane] > 0 and finite and residual <= RESIDUAL_LIMIT
        counted[block + lane] = abs(iterations[lane]) if good else -abs(iterations[lane])


@compiled
def _write_nodes(
    block: Any,
    filled: Any,
    n: Any,
    fixed: Any,
    source: Any,
    gain: Any,
    offset: Any,
    reference: Any,
    deviation: Any,
    out: Any,
) -> Any:
    """Deviation, then reference of the nodes that are not fixed; returns the rows written."""
    row = 0
    for p in range(source.size):
        if n <= p < n + fixed:
            continue
        for lane in range(filled):
            d, r = deviation[source[p], lane], reference[source[p], lane]
            out[row, block + lane] = gain[p, lane] * d
            out[row + 1, block + lane] = gain[p, lane] * r + offset[p, lane]
        row += 2
    return row


@compiled
def _clamp_through(clamp: Any, row: Any) -> None:
    """Current and slope at the terminals, into rows 4 and 5 of a clamp."""
    voltage, junction, current, slope = clamp[0], clamp[1], clamp[2], clamp[3]
    for lane in range(LANES):
        resistance = row[lane + COUNT * LANES]
        product = resistance * slope[lane]
        clamp[4, lane] = current[lane]
        if product * abs(junction[lane]) > max(abs(voltage[lane]), abs(junction[lane])):
            clamp[4, lane] = (voltage[lane] - junction[lane]) / resistance
        clamp[5, lane] = slope[lane] / (1.0 + product)


solve_cases = kernel(source_version())
