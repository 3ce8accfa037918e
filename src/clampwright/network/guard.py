"""Where a guard follower stops to follow: output limits, finite gain, finite speed.

While it follows, its clamps sit at its error; once its output has reached a limit they see the rest of
the signal, and the leakage of a bootstrapped clamp returns at once.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError, InternalError
from clampwright.network.batch import Solution, Values, count_cases, given
from clampwright.network.circuit import Circuit
from clampwright.network.solve import solve

Array = NDArray[np.float64]

ROUNDS = 8  # a follower that hits its limit may move others; few ever need more than two


@dataclass(frozen=True)
class Limited:
    """Solution with followers held at their limits, and where each still follows (per case)."""

    solution: Solution
    values: Values
    follows: dict[str, NDArray[np.bool_]]


def solve_limited(
    circuit: Circuit, values: Values, limits: dict[str, tuple[ArrayLike, ArrayLike]]
) -> Limited:
    """Solve a circuit whose followers cannot leave their output range.

    limits : follower → lowest and highest output voltage (V, one value or one per case)
    Cases where a follower would go beyond are solved again with its output at the limit.
    Raises InternalError where limits and outputs chase each other.
    """
    followers = [d.name for d in circuit.driven]
    for name in limits:
        if name not in followers:
            raise InputError(
                f'"{name}" is no follower', expected="one of " + ", ".join(followers) or "none"
            )
    cases = count_cases(values)
    follows = {name: np.ones(cases, bool) for name in limits}
    held = {name: np.zeros(cases) for name in limits}
    for _ in range(ROUNDS):
        now = replace(values, driven={**values.driven, **_driven(values, follows, held)})
        solution = solve(circuit, now)
        changed = False
        for name, (low, high) in limits.items():
            wanted = _wanted(circuit, values, solution, name)
            level = np.clip(wanted, low, high)
            free = level == wanted
            changed |= bool(np.any(free != follows[name]) or np.any(~free & (level != held[name])))
            follows[name], held[name] = free, np.where(free, held[name], level)
        if not changed:
            return Limited(solution, now, follows)
    raise InternalError(
        "a follower neither follows nor stays at its limit",
        mend="check the polarity of the guard and that its gain is at most 1",
    )


def following_range(
    gain: ArrayLike, offset: ArrayLike, low: ArrayLike, high: ArrayLike
) -> tuple[Array, Array]:
    """Lowest and highest input (V) that a follower with this output range still follows."""
    if not np.all(np.asarray(gain, float) > 0):
        raise InputError("a follower without gain follows nothing", expected="a gain above 0")
    ends = [(np.asarray(end, float) - offset) / np.asarray(gain, float) for end in (low, high)]
    return np.asarray(ends[0]), np.asarray(ends[1])


def residual_gain(open_loop_gain: ArrayLike, unity_gain: ArrayLike, frequency: ArrayLike) -> Array:
    """|1 − gain| of a unity follower: open-loop gain at DC, unity-gain frequency and frequency (Hz).

    A follower with open-loop gain A(f) = 1/(1/A_0 + jf/f_1) has gain A/(1 + A): what is left of a
    bootstrapped capacitance is 1/(1 + A).
    """
    f = np.asarray(frequency, float)
    inverse = 1.0 / np.asarray(open_loop_gain, float) + 1j * f / np.asarray(unity_gain, float)
    return np.asarray(np.abs(inverse / (1.0 + inverse)))


def _driven(
    values: Values, follows: dict[str, NDArray[np.bool_]], held: dict[str, Array]
) -> dict[str, tuple[ArrayLike, ArrayLike]]:
    found: dict[str, tuple[ArrayLike, ArrayLike]] = {}
    for name, free in follows.items():
        gain, offset = given(values.driven, name, "gain and offset")
        found[name] = (np.where(free, gain, 0.0), np.where(free, offset, held[name]))
    return found


def _wanted(circuit: Circuit, values: Values, solution: Solution, name: str) -> Array:
    """What the follower would put out without limits (V)."""
    inputs = {d.name: d.input for d in circuit.driven}
    gain, offset = values.driven[name]
    return np.asarray(
        np.asarray(gain, float) * solution.voltage(inputs[name]) + np.asarray(offset, float)
    )
