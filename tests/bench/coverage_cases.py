"""Simulated sessions with known truth, condition by condition: how often intervals and bounds hold.

Scatter of one reading 1.1 µV, adapter 1 mV/nA ± 1 % (a 95 % interval), meter step 0.1 µV unless told.
Shared by the tests and by `benchmarks/intervals.py`.
"""

from dataclasses import dataclass

import numpy as np
from bench_sessions import adapter, rows

from clampwright.bench.columns import readings_from_rows
from clampwright.bench.lot_statement import lot_statement
from clampwright.bench.reduce import reduce_readings
from clampwright.errors import InputError
from clampwright.uncertain import upper_bound

BATCH = 500  # sessions reduced at once
SCATTER = 1.1e-6  # [V] of one reading


@dataclass(frozen=True)
class Case:
    """One condition. Volts and amperes; `wander` is the step of a walking zero, `slope` an even drift."""

    name: str
    leakage: float
    wander: float = 0.5e-6
    slope: float = 0.0
    offset: float = 12e-6
    rho: float = 0.0
    count: int = 10
    step: float = 1e-7
    why: str = ""  # it covers more than 97 %


CASES = (
    Case("strong signal", 1e-9, 0.3e-6),
    Case("at the decision limit", 1.9e-12),
    Case("at the detection limit", 3.8e-12),
    Case("nothing there", 0.0, why="the truth is at the edge of the bound: a bound is never below 0"),
    Case("negative offset, quiet part", 0.3e-12, offset=-40e-6),
    Case("current of the wrong sign", -1e-12),
    Case("zero that stands still", 1.5e-12, 0.0, why="two zeros still differ by their scatter"),
    Case("zero drifts evenly", 3e-12, 0.2e-6, slope=3e-6, why="two zeros average an even drift out"),
    Case("zero walks as far as it scatters", 1.5e-12, 1.1e-6),
    Case("zero walks far", 30e-12, 10e-6),
    Case("following readings, 0.4", 3e-12, 0.0, rho=0.4, count=60, why="two still zeros, as above"),
    Case("following readings, 0.7", 3e-12, 0.0, rho=0.7, count=60, why="two still zeros, as above"),
    Case("coarse meter, step 1 µV", 1.5e-12, 0.3e-6, step=1e-6, why="step in the scatter and by itself"),
    Case("three readings", 3e-12, count=3),
)  # fmt: skip


@dataclass(frozen=True)
class Held:
    """Shares of sessions whose interval and one-sided bound hold the truth."""

    intervals: float
    bounds: float
    hidden: float  # share reported as not detected
    bounds_of_hidden: float  # NaN when none was


def simulated(case: Case, sessions: int, seed: int) -> Held:
    """Sessions of one case, each with its own adapter: zero, readings, zero."""
    random = np.random.default_rng(seed)
    held, bounded, hidden = [], [], []
    for start in range(0, sessions, BATCH):
        for x in _reduced(case, min(BATCH, sessions - start), random):
            held.append(abs(x.value - case.leakage) <= x.expanded_uncertainty)
            bound = upper_bound(x.value, x.standard_uncertainty, x.degrees_of_freedom)
            bounded.append(bound >= case.leakage)
            if x.outcome == "not detected":
                hidden.append(x.upper_bound >= case.leakage)
    share = float(np.mean(hidden)) if hidden else float("nan")
    return Held(float(np.mean(held)), float(np.mean(bounded)), len(hidden) / sessions, share)


def _reduced(case: Case, sessions: int, random):
    profiles, made = {}, []
    for number in range(sessions):
        name = f"s{number}"
        profiles[name] = adapter(
            name, resolution=f"{case.step * 1e6:g} µV", tolerance_shape="normal"
        )
        walk = np.cumsum([0.0, *random.normal(0, case.wander, 2)])
        zero = (
            case.offset + random.uniform(0, case.step) + walk + case.slope * np.array([0, 0.5, 1])
        )
        signal = 1e6 * (1 + random.normal(0, 0.01 / 1.96)) * case.leakage
        for k, state in enumerate(("zero fixture", "reading", "zero fixture")):
            noise = _noise(case, random)
            volts = zero[k] + (signal if k == 1 else 0.0) + SCATTER * noise
            shown = np.round(volts / case.step) * case.step * 1e6
            made += rows(state, shown.tolist(), instrument=name)
    return reduce_readings(readings_from_rows(made), profiles)


def _noise(case: Case, random):
    """White, or each reading following the one before (AR(1))."""
    white = random.normal(0, 1, case.count)
    for k in range(1, case.count):
        white[k] = case.rho * white[k - 1] + np.sqrt(1 - case.rho**2) * white[k]
    return white


LOTS = ((30e-12, 0.35), (3e-12, 0.5), (2.2e-12, 0.35))  # median [A], spread of ln I


def lots_held(median: float, spread: float, lots: int, seed: int) -> tuple[float, float, float]:
    """Lots of 8 read in one session each: share of limits above the true 95 % point of the lot, share
    of lots that give a limit, share of parts that were not detected."""
    random = np.random.default_rng(seed)
    point = median * np.exp(1.644854 * spread)
    held, hidden = [], []
    for start in range(0, lots, BATCH // 8):
        for found in _lots(median, spread, min(BATCH // 8, lots - start), random):
            hidden.append(np.mean([x.outcome == "not detected" for x in found]))
            try:
                limit = lot_statement(found).upper_limit
            except InputError:
                limit = None
            if limit is not None:
                held.append(limit >= point)
    return float(np.mean(held)), len(held) / lots, float(np.mean(hidden))


def _lots(median: float, spread: float, lots: int, random):
    profiles, made = {}, []
    for number in range(lots):
        name = f"s{number}"
        profiles[name] = adapter(name, resolution="0.1 µV", tolerance_shape="normal")
        gain = 1e6 * (1 + random.normal(0, 0.01 / 1.96))
        zeros = 12e-6 + np.linspace(0, random.normal(0, 0.5e-6), 10)
        runs = [("zero fixture", 0.0, "")]
        runs += [
            ("reading", gain * median * np.exp(random.normal(0, spread)), f"p{k}") for k in range(8)
        ]
        for k, (state, volts, part) in enumerate([*runs, ("zero fixture", 0.0, "")]):
            values = np.round(zeros[k] * 1e6 + volts * 1e6 + random.normal(0, 1.1, 10), 1)
            made += rows(state, values.tolist(), instrument=name, part=part)
    found = reduce_readings(readings_from_rows(made), profiles)
    return [found[k : k + 8] for k in range(0, len(found), 8)]
