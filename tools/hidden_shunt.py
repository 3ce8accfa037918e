"""The numbers of docs/shunt-and-tolerance.md: what a hidden shunt and a loose tolerance would do.

Prints the page's tables. Everything is solved by our own network, once as it is and once with a
conductance of 1 pS in parallel with every clamp.
"""

from __future__ import annotations

import numpy as np

from clampwright.network.circuit import Circuit, ClampBranch, Resistor
from clampwright.network.solve import Values, require_converged, solve
from clampwright.physics.clamp import ClampLaw, at_conditions, current_and_slope

SHUNT = 1e-12  # S, parallel to each clamp
TOLERANCE = 1e-12  # A of unbalanced current that is let pass
RAIL = 15.0  # V
SERIES = 1e6  # ohm
TEMPERATURE = 298.15  # K
CURRENTS = (1e-12, 10e-12, 100e-12)  # A that one clamp leaks at 15 V
INPUTS = (1.0, 10.0)  # V, ends of the range of the matched pair


def law(current: float, shunt: float) -> ClampLaw:
    """A clamp that leaks `current` at 15 V by generation (√ law), with `shunt` in parallel."""
    unit = at_conditions(ClampLaw(generation_current=1.0), TEMPERATURE)
    scale = -float(current_and_slope(-RAIL, unit)[0])
    return ClampLaw(generation_current=current / scale, film_conductance=shunt)


def error(current: float, shunt: float, signal: float, sides: tuple[str, ...]) -> float:
    """Error voltage at the pin behind 1 MΩ with the given clamps to ±15 V."""
    ends = {"upper": ("pin", "rail positive"), "lower": ("rail negative", "pin")}
    circuit = Circuit(
        fixed=("source", "rail positive", "rail negative"),
        resistors=(Resistor("R", "source", "pin"),),
        clamps=tuple(ClampBranch(side, *ends[side]) for side in sides),
    )
    state = at_conditions(law(current, shunt), TEMPERATURE)
    values = Values(
        {"source": signal, "rail positive": RAIL, "rail negative": -RAIL},
        {"R": SERIES},
        dict.fromkeys(sides, state),
        {},
        {},
    )
    solution = require_converged(solve(circuit, values), "the demonstration")
    return float(solution.deviation["pin"][0])


def single() -> list[tuple[float, float, float]]:
    """True current, reported current (A) and their ratio: one clamp at 15 V, source at 0 V."""
    rows = []
    for current in CURRENTS:
        true, reported = (error(current, s, 0.0, ("upper",)) / SERIES for s in (0.0, SHUNT))
        rows.append((true, reported, reported / true))
    return rows


def pairs() -> list[tuple[float, float, float]]:
    """Current of one clamp (A) and reported over true net current at both ends of the range."""
    rows = []
    for current in CURRENTS:
        ratios = [
            error(current, SHUNT, v, ("upper", "lower"))
            / error(current, 0.0, v, ("upper", "lower"))
            for v in INPUTS
        ]
        rows.append((current, *ratios))
    return [(row[0], row[1], row[2]) for row in rows]


def accepted() -> list[tuple[float, float, float]]:
    """True current and the lowest and highest current (A) that a tolerance of 1 pA accepts."""
    return [(i, max(i - TOLERANCE, 0.0), i + TOLERANCE) for i in CURRENTS]


def tables() -> str:
    """All three tables as they stand on the page."""
    lines = [
        "| one clamp at 15 V leaks | reported | reported / true | error in 1 MΩ, true → reported |"
    ]
    lines.append("|---|---|---|---|")
    for true, reported, ratio in single():
        lines.append(
            f"| {true * 1e12:.0f} pA | {reported * 1e12:.0f} pA | ×{ratio:.3g} "
            f"| {true * SERIES * 1e6:.0f} µV → {reported * SERIES * 1e6:.0f} µV |"
        )
    lines += [
        "",
        "| each clamp of a matched pair leaks | reported / true net current, 1 V | 10 V |",
    ]
    lines.append("|---|---|---|")
    for current, low, high in pairs():
        lines.append(f"| {current * 1e12:.0f} pA | ×{low:.3g} | ×{high:.3g} |")
    lines += ["", "| true current | accepted as solved | that is |", "|---|---|---|"]
    for true, low, high in accepted():
        share = np.round(100 * TOLERANCE / true)
        lines.append(
            f"| {true * 1e12:.0f} pA | {low * 1e12:.0f} … {high * 1e12:.0f} pA | ±{share:.0f} % |"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    print(tables())
