"""Many protected nodes with two rail clamps at once: what surveys and tolerance studies ask for.

source ── R ──┬── pin     upper clamp: node → upper rail, lower clamp: lower rail → node,
              │           and a current injected into the node.

Plain junctions (diffusion, generation, film, light, series resistance) run in SIMD lanes; cases with
breakdown or other mechanisms, and the few that do not settle there, go to the general solver.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.batch import Array, Values
from clampwright.network.circuit import Circuit, ClampBranch, CurrentInto, Resistor
from clampwright.network.compiled import share_out, solve_compiled
from clampwright.physics.clamp import take
from clampwright.physics.law import FARTHEST_BREAKDOWN, ClampState

BLOCKS_AT_ONCE = 64  # blocks of lanes a thread takes at a time
SCALES = ("diffusion_ideality", "generation_ideality")  # times kT/q
ROWS_OF_A_CLAMP = (
    "diffusion_current",
    "diffusion_ideality",
    "generation_current",
    "generation_ideality",
    "built_in_voltage",
    "grading",
    "film_conductance",
    "photocurrent",
    "series_resistance",
)
CIRCUIT = Circuit(
    fixed=("source", "rail positive", "rail negative"),
    resistors=(Resistor("R", "source", "pin"),),
    clamps=(
        ClampBranch("upper", "pin", "rail positive"),
        ClampBranch("lower", "rail negative", "pin"),
    ),
    currents=(CurrentInto("bias", "pin"),),
)


@dataclass(frozen=True)
class RailNodes:
    """A batch: Ω, V, V, V, A (positive into the node) and two clamps; floats or one value a case."""

    resistance: ArrayLike
    source: ArrayLike
    rail_positive: ArrayLike
    rail_negative: ArrayLike
    bias: ArrayLike
    upper: ClampState
    lower: ClampState


@dataclass(frozen=True)
class RailNodeSolution:
    """Error voltage of the node (V), currents of the clamps (A, anode to cathode), and what settled."""

    error: Array
    upper: Array
    lower: Array
    converged: NDArray[np.bool_]


def solve_rail_nodes(nodes: RailNodes, cases: int) -> RailNodeSolution:
    """Solve `cases` nodes; each array of `nodes` is scalar or has that many values.

    Relative error of the error voltage: at most 4 · R·Σ|I|/|error| · machine epsilon. Raises InputError
    for a resistance that is not positive; cases that do not converge are marked.
    """
    if not np.all(np.asarray(nodes.resistance) > 0):
        raise InputError("a resistance is not positive", where="rail node", expected="above 0 Ω")
    packed = pack(nodes, cases)
    error, upper, lower, left = (row[:cases] for row in solve_packed(packed))
    converged = left <= 1.0
    rest = np.flatnonzero(~converged | ~np.broadcast_to(_is_plain(nodes), (cases,)))
    if rest.size:
        one = _some(nodes, rest)
        names = {
            "source": one.source,
            "rail positive": one.rail_positive,
            "rail negative": one.rail_negative,
        }
        laws = {"upper": one.upper, "lower": one.lower}
        values = Values(names, {"R": one.resistance}, laws, {"bias": one.bias}, {})
        solution = solve_compiled(CIRCUIT, values)
        error[rest] = solution.deviation["pin"]
        upper[rest] = solution.clamp_current["upper"]
        lower[rest] = solution.clamp_current["lower"]
        converged[rest] = solution.converged
    return RailNodeSolution(error, upper, lower, converged)


def pack(nodes: RailNodes, cases: int) -> Array:
    """The batch in blocks of lanes, each quantity contiguous; lanes past the end repeat a case."""
    from clampwright.network.rail_kernel import LANES, ROWS

    blocks = -(-cases // LANES)
    table = np.empty((blocks, ROWS, LANES))
    source = np.asarray(nodes.source, float)
    rows: list[Any] = [
        nodes.resistance,
        source - nodes.rail_positive,
        nodes.rail_negative - source,
        nodes.bias,
    ]
    for state in (nodes.upper, nodes.lower):
        for name in ROWS_OF_A_CLAMP:
            value = getattr(state, name)
            rows.append(value * np.asarray(state.thermal_voltage) if name in SCALES else value)
    whole = cases // LANES
    for k, value in enumerate(rows):
        spread = np.broadcast_to(np.asarray(value, float), (cases,))
        table[:whole, k] = spread[: whole * LANES].reshape(whole, LANES)
        if whole < blocks:
            table[whole, k] = spread[-1]
            table[whole, k, : cases - whole * LANES] = spread[whole * LANES :]
    return table.reshape(-1)


def solve_packed(packed: Array) -> Array:
    """Solve a packed batch of plain junctions: rows error, upper, lower current and what is left.

    What is left over is the error relative to rounding; cases above 1 are not solved.
    """
    from clampwright.network.rail_kernel import LANES, ROWS, solve_blocks

    blocks = packed.size // (ROWS * LANES)
    out = np.empty((4, blocks * LANES))

    def work(start: int) -> None:
        solve_blocks(start, min(start + BLOCKS_AT_ONCE, blocks), packed, out)

    share_out(work, blocks, BLOCKS_AT_ONCE)
    return out


def _is_plain(nodes: RailNodes) -> Any:
    """Where no mechanism but those of the lanes is present."""
    plain = np.array(True)
    for state in (nodes.upper, nodes.lower):
        plain = plain & (np.asarray(state.breakdown_voltage) >= FARTHEST_BREAKDOWN)
        for name in ("image_force_lowering", "tunnelling_current", "symmetric_current"):
            plain = plain & (np.asarray(getattr(state, name)) == 0.0)
    return plain


def _some(nodes: RailNodes, index: NDArray[np.int64]) -> RailNodes:
    def pick(value: Any) -> Any:
        if isinstance(value, ClampState):
            return take(value, index)
        return np.asarray(value)[index] if np.ndim(value) else np.full(index.size, value)

    return RailNodes(**{f.name: pick(getattr(nodes, f.name)) for f in fields(nodes)})
