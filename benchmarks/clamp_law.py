"""Current and slope of a million clamps: compiled lanes against the plain NumPy formula, one run.

Prints medians, rates, the ratio and the largest difference. Run it on a quiet machine; a load moves
the two-core figures by up to two times, the ratio less.
"""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable

import numpy as np

from clampwright.physics import kernels
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope, mechanism_currents

CASES, REPEATS = 1_000_000, 9


def laws(every_kind: bool) -> tuple[ClampLaw, np.ndarray]:
    """Random clamps and a voltage each: leakage, conduction and, if asked, breakdown of all kinds."""
    random = np.random.default_rng(20261125)

    def some(value: float, absent: float) -> np.ndarray:
        return np.where(random.random(CASES) < 0.4, value, absent)

    kinds = {
        "breakdown_voltage": some(30.0, np.inf),
        "tunnelling_current": some(1e-3, 0.0),
        "symmetric_current": some(1e-3, 0.0),
        "image_force_lowering": some(0.026, 0.0),
        "symmetric_voltage": 20.0,
    }
    law = ClampLaw(
        diffusion_current=10 ** random.uniform(-18, -9, CASES),
        generation_current=10 ** random.uniform(-15, -9, CASES),
        grading=random.uniform(0.3, 0.6, CASES),
        film_conductance=10 ** random.uniform(-15, -10, CASES),
        responsivity=1e-14,
        **(kinds if every_kind else {}),
    )
    return law, random.uniform(-35, 0.9, CASES)


def median_time(work: Callable[[], object]) -> float:
    """Median seconds of REPEATS runs after one run to warm up."""
    work()
    spans = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        spans.append(time.perf_counter() - start)
    return statistics.median(spans)


def compare(name: str, every_kind: bool) -> None:
    """Time both ways on the same clamps and print one line."""
    law, voltage = laws(every_kind)
    temperature = np.random.default_rng(1).uniform(233.15, 398.15, CASES)
    state = at_conditions(law, temperature, 100.0)
    packed = kernels.pack(state, CASES)
    plain = median_time(lambda: current_and_slope(voltage, state))
    compiled = median_time(lambda: kernels.evaluate(voltage, packed))
    terms = sum(np.abs(part) for part in mechanism_currents(voltage, state).values())
    current = kernels.evaluate(voltage, packed)[0]
    difference = np.max(np.abs(current - current_and_slope(voltage, state)[0]) / terms)
    print(
        f"{name}: NumPy {CASES / plain / 1e6:.1f} M/s, compiled {CASES / compiled / 1e6:.1f} M/s, "
        f"ratio {plain / compiled:.1f}, largest difference {difference:.1e}"
    )


if __name__ == "__main__":
    print(f"{CASES} clamps, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    compare("silicon law", every_kind=False)
    compare("every kind", every_kind=True)
