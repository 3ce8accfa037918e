"""The network solvers against the usual ways, one seeded run: ratios beside their targets.

The limit is evaluating residual and slope once in the same lanes, by the law that holds everywhere.
Peers on one thread, at errors that are printed: a bracketed root finder for each sample and the
elementwise root finder, both with a residual as a user would write it in NumPy, and again given our own
laws; chunked NumPy Newton (our plain path); and a general root finder for networks. Ours runs on every
core and, in brackets, on one thread. Ours and the limit take turns, so that other jobs hit both alike.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable

import numba
import numpy as np
from scipy.optimize import brentq, elementwise, root

from clampwright.network.batch import Array, Values
from clampwright.network.circuit import Circuit, ClampBranch, CurrentInto, Resistor
from clampwright.network.compiled import share_out, solve_compiled
from clampwright.network.rail_kernel import solve_blocks
from clampwright.network.rail_node import BLOCKS_AT_ONCE, CIRCUIT, RailNodes, pack, solve_packed
from clampwright.network.solve import solve_plain
from clampwright.physics import kernels
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope, take

CASES, REPEATS, SEED = 1_000_000, 7, 20261125
TARGETS = {  # ratios; of the limit: leakage, half in fault
    "limit": (0.6, 0.4),
    "brentq per sample, plain NumPy residual": 10_000,
    "find_root, plain NumPy residual": 500,
    "chunked NumPy Newton": 6,
}
NODE_TARGET, NETWORK_TARGET = 5e6, 0.5e6  # solutions a second, single node and up to 12 nodes
FRESH_TARGET = 0.5  # [s] from a fresh process to an answer
PLAIN_CHUNK = 32_768
ROWS, LANES = 22, 64


def rail_nodes(cases: int, faults: bool) -> RailNodes:
    """1 kΩ…100 MΩ before two junctions to ±15 V, −20…125 °C; with faults half up to 1 kV, 10 mA."""
    random = np.random.default_rng(SEED)
    kelvin = random.uniform(253, 398, cases)

    def clamp():  # no series resistance, so that every peer can answer
        law = ClampLaw(
            diffusion_current=10 ** random.uniform(-18, -14, cases),
            generation_current=10 ** random.uniform(-15, -12, cases),
            grading=random.uniform(0.3, 0.5, cases),
            film_conductance=10 ** random.uniform(-15, -13, cases),
            responsivity=1e-14,
        )
        return at_conditions(law, kelvin, 10.0)

    source = random.uniform(-12, 12, cases)
    resistance = 10 ** random.uniform(3, 8, cases)
    if faults:
        struck = random.random(cases) < 0.5
        high = np.sign(random.random(cases) - 0.5) * 10 ** random.uniform(1.2, 3, cases)
        source = np.where(struck, high, source)
        resistance = np.where(struck, np.maximum(resistance, np.abs(source) / 1e-2), resistance)
    bias = random.uniform(-1, 1, cases) * 1e-12
    return RailNodes(resistance, source, 15.0, -15.0, bias, clamp(), clamp())


@numba.njit(error_model="numpy", fastmath={"contract"}, nogil=True)
def evaluate_once(first, last, values, out):
    """Residual and slope of every node once, in the same blocks: the limit of any iteration."""
    for block in range(first, last):
        row = values[block * ROWS * LANES : (block + 1) * ROWS * LANES]
        residual = out[0, block * LANES : (block + 1) * LANES]
        slope = out[1, block * LANES : (block + 1) * LANES]
        for lane in range(LANES):
            i, g = plain_law(row[lane + LANES], row, lane + 4 * LANES)
            j, k = plain_law(row[lane + 2 * LANES], row, lane + 13 * LANES)
            residual[lane] = row[lane] * (i - j - row[lane + 3 * LANES])
            slope[lane] = 1.0 + row[lane] * (g + k)


@numba.njit(error_model="numpy", fastmath={"contract"}, forceinline=True)
def plain_law(x, row, at):
    """The law of `physics.kernels` on the rows of the rail node."""
    i_d, s_d = row[at], row[at + LANES]
    i_g, s_g = row[at + 2 * LANES], row[at + 3 * LANES]
    depth, m, film = row[at + 4 * LANES], row[at + 5 * LANES], row[at + 6 * LANES]
    shape, growth = kernels._grown(x / s_d, 600.0)
    form, rise = kernels._grown(x / s_g, 600.0)
    reverse = max(-x, 0.0)
    _, w = kernels._exponential(m * kernels._logarithm(1.0 + reverse / depth))
    narrower = -m * w / (depth + reverse) if x < 0.0 else 0.0
    current = i_d * shape + i_g * w * form + film * x - row[at + 7 * LANES]
    return current, i_d * growth / s_d + i_g * (w * rise / s_g + narrower * form) + film


def limit(packed: Array) -> Array:
    """The limit on every core."""
    blocks = packed.size // (ROWS * LANES)
    out = np.empty((4, blocks * LANES))
    share_out(lambda k: evaluate_once(k, min(k + 64, blocks), packed, out), blocks, 64)
    return out


def some(nodes: RailNodes, count: int) -> tuple[RailNodes, Values]:
    """The first cases, as nodes and as values of the general circuit."""
    part = slice(0, count)
    upper, lower = take(nodes.upper, part), take(nodes.lower, part)
    picked = [np.asarray(v)[part] for v in (nodes.resistance, nodes.source, nodes.bias)]
    few = RailNodes(picked[0], picked[1], 15.0, -15.0, picked[2], upper, lower)
    rails = {"source": picked[1], "rail positive": 15.0, "rail negative": -15.0}
    laws = {"upper": upper, "lower": lower}
    return few, Values(rails, {"R": picked[0]}, laws, {"bias": picked[2]}, {})


def own_balance(error, few, k):
    """Residual of the error voltage (V) of cases k by our NumPy law, which holds every mechanism."""
    above = current_and_slope(few.source[k] + error - 15.0, take(few.upper, k))[0]
    below = current_and_slope(-15.0 - few.source[k] - error, take(few.lower, k))[0]
    return error + few.resistance[k] * (above - below - few.bias[k])


def columns(few: RailNodes) -> tuple[Array, ...]:
    """Resistance, source, bias and eight numbers of each clamp: what a plain residual needs."""
    out = [few.resistance, few.source, few.bias]
    for state in (few.upper, few.lower):
        vt, names = state.thermal_voltage, ("diffusion", "generation")
        for name in names:
            out.append(getattr(state, f"{name}_current"))
            out.append(getattr(state, f"{name}_ideality") * vt)
        out += [state.built_in_voltage, state.grading, state.film_conductance, state.photocurrent]
    return tuple(np.broadcast_to(v, np.shape(few.source)).astype(float) for v in out)


def plain_current(v, fast, fast_scale, slow, slow_scale, built_in, grading, film, light):
    """A junction in plain NumPy, as one writes it."""
    width = (1 + np.maximum(-v, 0.0) / built_in) ** grading
    leak = slow * width * np.expm1(np.minimum(v / slow_scale, 600.0))
    return fast * np.expm1(np.minimum(v / fast_scale, 600.0)) + leak + film * v - light


def plain_balance(error, resistance, source, bias, *clamps):
    """Residual of the error voltage (V) in plain NumPy."""
    above = plain_current(source + error - 15.0, *clamps[:8])
    below = plain_current(-15.0 - source - error, *clamps[8:])
    return error + resistance * (above - below - bias)


def elementwise_root(few: RailNodes, plain: bool) -> Array:
    """Chandrupatla's method on all samples at once."""
    reach = np.abs(few.source) + 20.0
    given = columns(few) if plain else (np.arange(np.size(few.source), dtype=float),)
    found = elementwise.find_root(
        plain_balance if plain else lambda d, k: own_balance(d, few, k.astype(int)),
        (-reach, reach),
        args=given,
        tolerances={"xatol": 1e-18, "xrtol": 1e-14},
    )
    return found.x


def bracketed_roots(few: RailNodes, plain: bool) -> Array:
    """Brent's method for one sample after another; by our compiled law, or in plain NumPy."""
    out, given = np.empty(np.size(few.source)), columns(few)
    for k in range(out.size):
        numbers = tuple(float(column[k]) for column in given)
        up, low = kernels.parameters(take(few.upper, k)), kernels.parameters(take(few.lower, k))

        def ours(error, r, v, b, *_, up=up, low=low):
            i = kernels.current_and_slope(v + error - 15.0, up)[0]
            return error + r * (i - kernels.current_and_slope(-15.0 - v - error, low)[0] - b)

        reach = abs(numbers[1]) + 20.0
        balance = plain_balance if plain else ours
        out[k] = brentq(balance, -reach, reach, args=numbers, xtol=1e-18, rtol=1e-14)
    return out


def plain_in_chunks(nodes: RailNodes, cases: int) -> None:
    """Our NumPy Newton on one thread, in chunks that fit the cache."""
    for start in range(0, cases, PLAIN_CHUNK):
        part = slice(start, start + PLAIN_CHUNK)
        upper, lower = take(nodes.upper, part), take(nodes.lower, part)
        values = Values(
            {"source": nodes.source[part], "rail positive": 15.0, "rail negative": -15.0},
            {"R": nodes.resistance[part]},
            {"upper": upper, "lower": lower},
            {"bias": nodes.bias[part]},
            {},
        )
        solve_plain(CIRCUIT, values)


def in_turn(works: dict[str, Callable[[], object]], repeats: int) -> dict[str, list[float]]:
    """Seconds of each run of each work, one after the other."""
    spans: dict[str, list[float]] = {name: [] for name in works}
    for work in works.values():
        work()
    for _ in range(repeats):
        for name, work in works.items():
            start = time.perf_counter()
            work()
            spans[name].append(time.perf_counter() - start)
    return spans


def on_one_thread(packed: Array) -> Array:
    """Our lanes without sharing out."""
    blocks = packed.size // (ROWS * LANES)
    out = np.empty((4, blocks * LANES))
    for start in range(0, blocks, BLOCKS_AT_ONCE):
        solve_blocks(start, min(start + BLOCKS_AT_ONCE, blocks), packed, out)
    return out


def beside(ratio: float, target: float | None) -> str:
    """A target and whether a ratio reaches it."""
    return "" if target is None else f", target {target:g}, {verdict(ratio >= target)}"


def verdict(met: bool) -> str:
    """A word."""
    return "met" if met else "MISSED"


def compare_rail_nodes(name: str, faults: bool) -> None:
    """One set: rate of the lanes, and ratios against every peer."""
    nodes = rail_nodes(CASES, faults)
    packed = pack(nodes, CASES)
    ways = {"lanes": solve_packed, "limit": limit, "one thread": on_one_thread}
    spans = in_turn({k: lambda way=way: way(packed) for k, way in ways.items()}, 3 * REPEATS)
    solved = np.mean(solve_packed(packed)[3, :CASES] <= 1.0)
    rate, alone = (CASES / min(spans[k]) for k in ("lanes", "one thread"))
    share = statistics.median(b / a for a, b in zip(spans["lanes"], spans["limit"], strict=True))
    few, values = some(nodes, 20_000)
    brent_few, _ = some(nodes, 1000)

    def general() -> Array:
        return solve_compiled(CIRCUIT, values).deviation["pin"]

    exact = general()
    peers = {
        "brentq per sample, plain NumPy residual": (1000, lambda: bracketed_roots(brent_few, True)),
        "brentq per sample, our compiled law": (1000, lambda: bracketed_roots(brent_few, False)),
        "find_root, plain NumPy residual": (20_000, lambda: elementwise_root(few, True)),
        "find_root, our NumPy law": (20_000, lambda: elementwise_root(few, False)),
        "chunked NumPy Newton": (200_000, lambda: plain_in_chunks(nodes, 200_000)),
        "general compiled solver, every core": (20_000, general),
    }
    print(
        f"{name}: {rate / 1e6:.1f} M/s (one thread {alone / 1e6:.1f}), {solved:.4%} solved in lanes"
        f"\n   speed{beside(rate, NODE_TARGET)}"
        f"\n   share of the limit: {share:.2f}{beside(share, TARGETS['limit'][faults])}"
    )
    lanes = solve_packed(pack(few, 20_000))[0, :20_000]
    print(f"   our lanes: {differences(lanes, exact)}")
    for peer, (cases, work) in peers.items():
        speed = cases / min(in_turn({peer: work}, 3)[peer])
        answer = work()
        told = "" if answer is None else f"; {differences(answer, exact)}"
        print(
            f"   against {peer}: x{rate / speed:.0f} (one thread x{alone / speed:.0f}) at "
            f"{speed:.3g}/s{beside(rate / speed, TARGETS.get(peer))}{told}"
        )


def differences(answer: Array, exact: Array) -> str:
    """Median and largest relative difference to the general solver."""
    wrong = np.abs(answer / exact[: answer.size] - 1)
    return f"difference median {np.median(wrong):.0e}, largest {wrong.max():.0e}"


def ladder(nodes: int) -> Circuit:
    """A resistor ladder with two clamps in the middle and two at its end."""
    names = ["source", *(f"node {k}" for k in range(nodes))]
    resistors = tuple(Resistor(f"R{k}", names[k], names[k + 1]) for k in range(nodes))
    clamps = []
    for place in (names[nodes // 2], names[-1]):
        clamps.append(ClampBranch(f"upper {place}", place, "rail positive"))
        clamps.append(ClampBranch(f"lower {place}", "rail negative", place))
    return Circuit(
        fixed=("source", "rail positive", "rail negative"),
        resistors=resistors,
        clamps=tuple(clamps),
        currents=(CurrentInto("bias", names[-1]),),
    )


def ladder_values(circuit: Circuit, cases: int, faults: bool) -> Values:
    """Values of a ladder out of the nodes above."""
    nodes = rail_nodes(cases, faults)
    random = np.random.default_rng(SEED)
    resistances = {r.name: 10 ** random.uniform(2, 5, cases) for r in circuit.resistors}
    resistances[circuit.resistors[0].name] = nodes.resistance
    laws = {c.name: nodes.upper if "upper" in c.name else nodes.lower for c in circuit.clamps}
    rails = {"source": nodes.source, "rail positive": 15.0, "rail negative": -15.0}
    return Values(rails, resistances, laws, {"bias": nodes.bias}, {})


def general_root(circuit: Circuit, values: Values, cases: int) -> tuple[int, float]:
    """How many cases a general root finder gets right to 1e-6, and its rate."""
    exact = solve_plain(circuit, values)
    names = list(circuit.unknown)
    right, start = 0, time.perf_counter()
    for k in range(cases):
        g = {n: 1 / v[k] for n, v in values.resistances.items()}
        fixed = {
            n: float(np.ravel(v)[min(k, np.size(v) - 1)]) for n, v in values.potentials.items()
        }
        laws = {n: kernels.parameters(take(s, k)) for n, s in values.laws.items()}

        def balances(voltages, k=k, g=g, fixed=fixed, laws=laws):
            at = dict(zip(names, voltages, strict=True)) | fixed
            out = dict.fromkeys(at, 0.0)
            for r in circuit.resistors:
                out[r.a] += g[r.name] * (at[r.a] - at[r.b])
                out[r.b] -= g[r.name] * (at[r.a] - at[r.b])
            for c in circuit.clamps:
                i = kernels.current_and_slope(at[c.anode] - at[c.cathode], laws[c.name])[0]
                out[c.anode] += i
                out[c.cathode] -= i
            out[names[-1]] -= values.currents["bias"][k]
            return [out[n] for n in names]

        found = root(balances, np.zeros(len(names))).x
        wanted = [exact.deviation[n][k] for n in names]
        error = found - fixed["source"]
        right += bool(np.allclose(error, wanted, rtol=1e-6, atol=0))
    return right, cases / (time.perf_counter() - start)


def compare_networks() -> None:
    """General networks of 4 to 12 nodes."""
    for nodes in (4, 6, 8, 12):
        circuit = ladder(nodes)
        line = f"general network of {nodes} nodes, 4 clamps:"
        for name, faults in (("leakage", False), ("half in fault", True)):
            values = ladder_values(circuit, 100_000, faults)
            span = min(in_turn({name: lambda v=values, c=circuit: solve_compiled(c, v)}, 5)[name])
            rate = 100_000 / span
            line += f" {rate / 1e6:.2f} M/s {name} ({verdict(rate >= NETWORK_TARGET)});"
        values = ladder_values(circuit, 8192, True)
        plain = 8192 / in_turn({"": lambda v=values, c=circuit: solve_plain(c, v)}, 1)[""][0]
        right, speed = general_root(circuit, values, 100)
        line = f"{line} target {NETWORK_TARGET / 1e6:g} M/s;"
        print(f"{line} plain {plain / 1e6:.3f} M/s; scipy root {speed:.0f}/s, {right} of 100 right")


def growth() -> None:
    """Time per case against the number of cases: linear means constant."""
    circuit = ladder(6)
    for cases in (1000, 10_000, 100_000, 400_000):
        values = ladder_values(circuit, cases, True)
        span = min(in_turn({"": lambda v=values: solve_compiled(circuit, v)}, 3)[""])
        print(f"   {cases} cases: {span / cases * 1e6:.2f} µs per case")


def latency() -> None:
    """Fresh process to a first answer: small batch, large batch, compiled and cached."""
    ways = {
        "one case, plain": "solve_plain(c, v(1))",
        "1000 cases, plain": "solve_plain(c, v(1000))",
        "1000 cases, compiled from cache": "solve_compiled(c, v(1000))",
    }
    code = (
        "import numpy as np\n"
        "from clampwright.network.circuit import Circuit, Resistor, ClampBranch\n"
        "from clampwright.network.solve import Values, solve_plain\n"
        "from clampwright.network.compiled import solve_compiled\n"
        "from clampwright.physics.clamp import ClampLaw, at_conditions\n"
        "c = Circuit(('source', 'ground'), (Resistor('R', 'source', 'pin'),),"
        " (ClampBranch('clamp', 'ground', 'pin'),))\n"
        "law = at_conditions(ClampLaw(generation_current=1e-12), 298.15)\n"
        "def v(n): return Values({'source': np.linspace(1, 9, n), 'ground': 0.0}, {'R': 1e6},"
        " {'clamp': law}, {}, {})\n"
    )
    for name, call in ways.items():
        run = [sys.executable, "-c", code + call]
        span = min(in_turn({name: lambda run=run: subprocess.run(run, check=True)}, 5)[name])
        print(f"   {name}: {span:.2f} s, target {FRESH_TARGET} s, {verdict(span <= FRESH_TARGET)}")


if __name__ == "__main__":
    load = os.getloadavg()[0]
    threads = len(os.sched_getaffinity(0))
    print(f"{CASES} cases; ours on {threads} threads, peers on 1; load {load:.1f} at the start")
    if load > 0.5:
        print(
            "other jobs are running: trust the share of the limit, less the other ratios, not rates"
        )
    compare_rail_nodes("rail nodes, leakage", faults=False)
    compare_rail_nodes("rail nodes, half in fault", faults=True)
    compare_networks()
    print("growth, 6 nodes, half in fault:")
    growth()
    print("fresh process to first answer:")
    latency()
