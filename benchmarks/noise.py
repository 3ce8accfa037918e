"""Noise of a 17-node network at 200 frequencies: one adjoint for all sources against one solve each.

Prints medians of one run, ratios and the largest difference. The peer factors once per frequency and
solves once per noise source (scipy's LU with one thread); ours gives the same transfers from one
adjoint solution, compiled and by NumPy alone.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before NumPy loads: small matrices

import statistics
import time
from collections.abc import Callable

import numpy as np
from scipy.linalg import lu_factor, lu_solve

from clampwright.network.adjoint import transimpedance_compiled, transimpedance_plain
from clampwright.network.circuit import Capacitor, Circuit, Resistor
from clampwright.network.linearise import LinearNetwork, linearise
from clampwright.network.solve import Values

NODES, FREQUENCIES, REPEATS = 17, np.geomspace(1.0, 1e8, 200), 7


def network() -> tuple[Circuit, LinearNetwork]:
    """A chain with some loops, a leak and a capacitor at every node."""
    random = np.random.default_rng(20261125)
    names = [f"node {k}" for k in range(NODES - 1)] + ["pin"]
    pairs = [("source", names[0])] + [(names[k - 1], names[k]) for k in range(1, NODES)]
    pairs += [(names[k], names[k - 3]) for k in range(3, NODES, 4)]
    pairs += [(name, "ground") for name in names[::3]]
    circuit = Circuit(
        fixed=("source", "ground"),
        resistors=tuple(Resistor(f"R{k}", a, b) for k, (a, b) in enumerate(pairs)),
        capacitors=tuple(Capacitor(f"C{k}", name) for k, name in enumerate(names)),
    )
    values = Values(
        {"source": 0.0, "ground": 0.0},
        {r.name: 10 ** random.uniform(2, 9) for r in circuit.resistors},
        {},
        {},
        {},
    )
    farads = {c.name: 10 ** random.uniform(-12, -9) for c in circuit.capacitors}
    return circuit, linearise(circuit, values, None, farads)


def one_solve_a_source(circuit: Circuit, linear: LinearNetwork) -> np.ndarray:
    """Transfer (Ω) of every resistor's noise current to the pin, (frequencies, sources)."""
    g, c = linear.conductance, linear.capacitance
    place = {name: k for k, name in enumerate(linear.nodes)}
    matrices = [
        np.diag(part.excess[0] + part.coupling[0].sum(axis=1)) - part.coupling[0] for part in (g, c)
    ]
    injected = np.zeros((len(circuit.resistors), NODES))
    for k, r in enumerate(circuit.resistors):
        for end, sign in ((r.a, -1.0), (r.b, 1.0)):
            if end in place:
                injected[k, place[end]] = sign
    out = np.empty((FREQUENCIES.size, len(injected)), complex)
    for i, f in enumerate(FREQUENCIES):
        factors = lu_factor(matrices[0] + 2j * np.pi * f * matrices[1], check_finite=False)
        for k, current in enumerate(injected):
            out[i, k] = lu_solve(factors, current, check_finite=False)[place["pin"]]
    return out


def by_adjoint(
    circuit: Circuit, linear: LinearNetwork, adjoint: Callable[..., np.ndarray]
) -> np.ndarray:
    """The same from one adjoint solution."""
    z = adjoint(linear, "pin", FREQUENCIES)[0]
    padded = np.concatenate([z, np.zeros((FREQUENCIES.size, 1))], axis=1)
    place = {name: k for k, name in enumerate(linear.nodes)}
    first = [place.get(r.a, NODES) for r in circuit.resistors]
    second = [place.get(r.b, NODES) for r in circuit.resistors]
    return padded[:, second] - padded[:, first]


def median_time(work: Callable[[], object], repeats: int = REPEATS) -> float:
    """Median seconds after one run to warm up."""
    work()
    spans = []
    for _ in range(repeats):
        start = time.perf_counter()
        work()
        spans.append(time.perf_counter() - start)
    return statistics.median(spans)


def main() -> dict[str, float]:
    """Time all three in one run; returns the ratios."""
    circuit, linear = network()
    peer = median_time(lambda: one_solve_a_source(circuit, linear), 3)
    exact = one_solve_a_source(circuit, linear)
    ratios = {}
    print(
        f"{NODES} nodes, {len(circuit.resistors)} sources, {FREQUENCIES.size} frequencies, "
        f"load {os.getloadavg()[0]:.1f}; one solve a source "
        f"{peer / FREQUENCIES.size * 1e6:.1f} µs a frequency"
    )
    for name, adjoint in (("compiled", transimpedance_compiled), ("NumPy", transimpedance_plain)):
        ours = median_time(lambda adjoint=adjoint: by_adjoint(circuit, linear, adjoint))
        size = np.abs(exact).max(axis=1, keepdims=True)
        difference = np.max(np.abs(by_adjoint(circuit, linear, adjoint) - exact) / size)
        ratios[name] = peer / ours
        print(
            f"{name}: {ours / FREQUENCIES.size * 1e6:.2f} µs a frequency, ratio {peer / ours:.0f}, "
            f"largest difference {difference:.1e}"
        )
    return ratios


if __name__ == "__main__":
    main()
