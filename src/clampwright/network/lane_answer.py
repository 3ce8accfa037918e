"""The answers of a block of lanes: voltages, currents, residual.

Part of `lanes`; imports the compiler. The residual is that of `batch.Batch.solution`.
"""

# mypy: disable-error-code="untyped-decorator, import-untyped"

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.network.batch import EPSILON, RESIDUAL_LIMIT
from clampwright.network.lane_clamps import LANES, LAW, compiled
from clampwright.network.lane_linear import across as across_nodes
from clampwright.network.lane_linear import fill
from clampwright.physics.kernels import COUNT


@compiled
def finish(
    cases: Any,
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
    rows = _write_nodes(cases, n, fixed, source, gain, offset, reference, deviation, out)
    fill(rounding, 0.0)
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
        for lane in range(cases.size):
            out[rows + 2 * c, cases[lane]] = clamp[c, 0, lane]
            out[rows + 2 * c + 1, cases[lane]] = clamp[c, 4, lane]
    rows += 2 * clamps.shape[0]
    across, total = np.empty(LANES), np.empty(LANES)
    for k in range(resistors.shape[0]):
        a, b = resistors[k]
        across_nodes(a, b, source, gain, deviation, across)
        across_nodes(a, b, source, gain, reference, total)
        g = conductance[k * LANES : (k + 1) * LANES]
        for lane in range(cases.size):
            both = total[lane] + (offset[a, lane] - offset[b, lane]) + across[lane]
            out[rows + k, cases[lane]] = g[lane] * both
        for node, sign in ((a, -1.0), (b, 1.0)):
            if node < n:
                for lane in range(LANES):
                    current = g[lane] * across[lane]
                    spread = abs(gain[a, lane] * deviation[source[a], lane])
                    spread += abs(gain[b, lane] * deviation[source[b], lane])
                    net[node, lane] += sign * current
                    size[node, lane] += abs(current)
                    rounding[node, lane] += 2.0 * EPSILON * g[lane] * spread
    for lane in range(cases.size):
        residual, finite = 0.0, True
        for i in range(n):
            beyond = max(abs(net[i, lane]) - rounding[i, lane], 0.0)
            if size[i, lane] > 0.0:
                residual = max(residual, beyond / size[i, lane])
            finite &= np.isfinite(deviation[i, lane]) and np.isfinite(size[i, lane])
        out[rows + resistors.shape[0], cases[lane]] = residual
        good = iterations[lane] > 0 and finite and residual <= RESIDUAL_LIMIT
        counted[cases[lane]] = abs(iterations[lane]) if good else -abs(iterations[lane])


@compiled
def _write_nodes(
    cases: Any,
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
        for lane in range(cases.size):
            d, r = deviation[source[p], lane], reference[source[p], lane]
            out[row, cases[lane]] = gain[p, lane] * d
            out[row + 1, cases[lane]] = gain[p, lane] * r + offset[p, lane]
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
