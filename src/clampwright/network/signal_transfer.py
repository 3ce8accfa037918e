"""Error over the signal range: offset, gain error, nonlinearity, drift, and the slopes of each clamp.

The error is what the pin sees minus the true source value. Its leak-free part (a source loaded by a
resistor, an attenuating follower) is solved for itself; the rest is the solver's deviation. Neither is
a difference of two large voltages.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.batch import Solution, Values, count_cases, given
from clampwright.network.circuit import Circuit
from clampwright.network.elimination import solve as solve_linear
from clampwright.network.linearise import LinearNetwork, linearise
from clampwright.network.solve import require_converged, solve
from clampwright.physics.clamp import current_and_slope
from clampwright.physics.law import take

Array = NDArray[np.float64]


@dataclass(frozen=True)
class SignalTransfer:
    """Error over the signal range, one entry per case.

    offset (V) at the middle of the range, gain_error (V/V), nonlinearity (V): largest distance from
    the least-squares line; error (cases, signals), V, positive where the pin reads high.
    """

    offset: Array
    gain_error: Array
    nonlinearity: Array
    error: Array


@dataclass(frozen=True)
class ClampSlopes:
    """What a clamp puts on its node, one entry per case.

    voltage (V, anode minus cathode) it sits at, current (A) and slope (S) there, slope (S) at 0 V.
    """

    voltage: Array
    current: Array
    slope: Array
    zero_bias_slope: Array

    @property
    def zero_bias_resistance(self) -> Array:
        """1/slope at 0 V (Ω)."""
        return 1.0 / self.zero_bias_slope


def signal_transfer(
    circuit: Circuit, values: Values, source: str, signals: ArrayLike, pin: str
) -> SignalTransfer:
    """Solve the circuit at each signal (V) of `source` for every case and fit the best line.

    signals : at least two different voltages
    The line is the least-squares line through the error. Raises InputError for too few signals.
    """
    levels = np.asarray(signals, float)
    if np.unique(levels).size < 2:
        raise InputError("a transfer needs two different signals", where="signal range")
    cases = count_cases(values)
    wide = repeated(values, levels.size)
    wide = replace(wide, potentials={**wide.potentials, source: np.tile(levels, cases)})
    error = error_at(circuit, wide, source, pin).reshape(cases, levels.size)
    centred = levels - levels.mean()
    offset = error.mean(axis=1)
    gain = error @ centred / (centred @ centred)
    straight = offset[:, None] + np.multiply.outer(gain, centred)
    return SignalTransfer(offset, gain, np.abs(error - straight).max(axis=1), error)


def error_at(circuit: Circuit, values: Values, source: str, pin: str) -> Array:
    """Voltage at `pin` minus the potential of `source` (V), one per case."""
    solution = require_converged(solve(circuit, values), "the transfer")
    return solution.deviation[pin] + leak_free_error(circuit, values, source, pin)


def leak_free_error(circuit: Circuit, values: Values, source: str, pin: str) -> Array:
    """The same without clamps and injected currents (V).

    Each other held potential draws the pin by its share of its distance from the source, each
    follower by its offset and by 1 − gain of the source: only such small parts are added.
    """
    network = linearise(circuit, values)
    level = np.asarray(given(values.potentials, source, "potential"), float)
    stamp = network.conductance
    injected = -stamp.slack * np.broadcast_to(level, (network.cases,))[:, None]
    for name in circuit.fixed:
        distance = np.asarray(given(values.potentials, name, "potential"), float) - level
        injected = injected + stamp.held[name] * np.reshape(distance, (-1, 1))
    for name, share in stamp.offsets.items():
        injected = injected + share * np.reshape(np.asarray(values.driven[name][1], float), (-1, 1))
    drawn = solve_linear(network.factors(), injected.T.astype(complex)).real.T
    return _towards(circuit, network, values, drawn, level, pin)


def _towards(
    circuit: Circuit, network: LinearNetwork, values: Values, drawn: Array, level: Array, node: str
) -> Array:
    """Distance of any node from the source level, through its followers."""
    for driven in circuit.driven:
        if driven.name == node:
            gain, offset = (np.asarray(x, float) for x in values.driven[node])
            before = _towards(circuit, network, values, drawn, level, driven.input)
            return np.asarray(gain * before - (1.0 - gain) * level + offset)
    if node in network.nodes:
        return drawn[:, network.nodes.index(node)]
    return np.broadcast_to(np.asarray(values.potentials[node], float) - level, (network.cases,))


def drift(
    circuit: Circuit,
    values_at: Callable[[Array], Values],
    source: str,
    pin: str,
    temperature: ArrayLike,
    step: float = 0.5,
) -> tuple[Array, Array]:
    """Error (V) and its drift (V/K) at each temperature (K).

    values_at : the values of a batch of temperatures (K), so the caller says what heats: sensor,
    board or both. The drift is a central difference over ±`step` (K), good to about (step/10 K)².
    """
    kelvin = np.atleast_1d(np.asarray(temperature, float))
    grid = np.concatenate([kelvin, kelvin - step, kelvin + step])
    error = error_at(circuit, values_at(grid), source, pin)
    middle, low, high = error.reshape(3, kelvin.size)
    return middle, (high - low) / (2 * step)


def clamp_slopes(circuit: Circuit, values: Values, solution: Solution) -> dict[str, ClampSlopes]:
    """Slopes of every clamp where it sits and at 0 V: which one counts is the topology's matter."""
    found = {}
    for clamp in circuit.clamps:
        state = given(values.laws, clamp.name, "law")
        voltage = solution.clamp_voltage[clamp.name]
        current, slope = current_and_slope(voltage, state)
        zero = np.broadcast_to(current_and_slope(0.0, state)[1], np.shape(voltage))
        found[clamp.name] = ClampSlopes(voltage, current, slope, zero)
    return found


def repeated(values: Values, times: int) -> Values:
    """The same values with every case repeated `times` times in a row."""
    cases = count_cases(values)
    index = np.repeat(np.arange(cases), times)

    def spread(value: ArrayLike) -> Array:
        return np.broadcast_to(np.asarray(value, float), (cases,))[index]

    def every(given_values: Mapping[str, ArrayLike]) -> dict[str, ArrayLike]:
        return {name: spread(value) for name, value in given_values.items()}

    return Values(
        potentials=every(values.potentials),
        resistances=every(values.resistances),
        laws={
            name: take(law, np.zeros_like(index) if _alone(law, cases) else index)
            for name, law in values.laws.items()
        },
        currents=every(values.currents),
        driven={name: (spread(g), spread(o)) for name, (g, o) in values.driven.items()},
    )


def _alone(law: object, cases: int) -> bool:
    """Whether a law holds one entry where the batch holds more (arrays of length one)."""
    sizes = {np.size(v) for v in vars(law).values() if np.ndim(v)}
    return sizes == {1} and cases > 1
