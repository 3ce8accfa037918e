"""Bench sessions with known truth for the tests of the reduction."""

import numpy as np

from clampwright.bench.columns import Readings, readings_from_rows
from clampwright.bench.instrument import Profile, read_profile


def adapter(name: str = "A1", **changes: str) -> Profile:
    sheet = {
        "id": name,
        "scale": "1 mV/nA",
        "tolerance": "1 %",
        "resolution": "1 µV",
        "offset_drift": "2 µV/K",
    }
    return read_profile(sheet | changes, f"{name}.toml")


def rows(state: str, values, **changes) -> list[dict]:
    """Readings in microvolts of one state."""
    fixed = {"part": "", "wiring": "", "instrument": "A1"}
    if state == "reading":
        fixed |= {"part": "npn", "wiring": "C/B+E", "temperature": 296.15, "light": 0.0}
    if state in ("reading", "zero fixture"):
        fixed["reverse_voltage"] = 5.0
    if state == "zero part-fitted":
        fixed |= {"part": "npn", "wiring": "C/B+E"}
    return [fixed | {"state": state, "reading": v * 1e-6} | changes for v in values]


def readings(*blocks: list[dict]) -> Readings:
    return readings_from_rows([row for block in blocks for row in block])


def scattered(mean: float, spread: float, count: int = 10) -> list[float]:
    """`count` values with exactly this mean and standard deviation, without trend."""
    pattern = np.tile([1.0, -1.0], count // 2)
    return list(mean + spread * pattern * np.sqrt((count - 1) / count))


def wandering_sessions(
    count: int, leakage: float, *, wander: float, resolution: float, seed: int
) -> tuple[Readings, dict[str, Profile]]:
    """`count` sessions, each with its own adapter: zero, ten readings, zero.

    Scatter 1.1 µV; the zero walks by `wander` (V, standard deviation) between the three runs; scale
    errors are normal with the 95 % limits of the profile; the meter rounds to `resolution` (V).
    """
    random = np.random.default_rng(seed)
    profiles, made = {}, []
    for number in range(count):
        name = f"s{number}"
        profiles[name] = adapter(
            name, resolution=f"{resolution * 1e6:g} µV", tolerance_shape="normal"
        )
        steps = random.normal(0, wander, 2)
        zero = 12e-6 + random.uniform(0, resolution) + np.cumsum([0, *steps])
        signal = 1e6 * (1 + random.normal(0, 0.01 / 1.96)) * leakage
        for state, volts in zip(
            ("zero fixture", "reading", "zero fixture"),
            zero + np.array([0, signal, 0]),
            strict=True,
        ):
            values = volts + random.normal(0, 1.1e-6, 10)
            shown = np.round(values / resolution) * resolution * 1e6
            made += rows(state, shown.tolist(), instrument=name)
    return readings_from_rows(made), profiles
