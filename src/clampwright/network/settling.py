"""Bandwidth and settling of any linear network, soakage included.

The step response is a sum of exponentials, one per time constant of G⁻¹·C; G⁻¹ comes from the
elimination without subtraction, so a nearly floating node keeps its time constant. Soakage of an
insulator follows a power of time and fits no time constant: it is added as a tail.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.network.adjoint import steady_transimpedance, transfer
from clampwright.network.linearise import LinearNetwork

Array = NDArray[np.float64]
Phasors = NDArray[np.complex128]

HALF_POWER = 1 / np.sqrt(2)
GRID = 4000  # times or frequencies looked at before halving
LOOKED_AT = 64  # frequencies of a plain yes or no
PARTS = 500  # a bracket is cut into at once …
CUTS = 6  # … as often as a double can tell the parts of a bracket of twice its lower end
STRAIGHT = 1e-10  # imaginary share of a time constant below which it does not ring


@dataclass(frozen=True)
class Soakage:
    """Dielectric absorption after a step ΔV: I = β·C·ΔV·t^(−m), β in s^(m−1), m about 0.7–1.1.

    Source: Curie 1889, von Schweidler 1907; the settled value is reached as the tail dies.
    """

    node: str
    capacitance: float  # [F]
    beta: float
    exponent: float


@dataclass(frozen=True)
class StepResponse:
    """Relative step error Σ weight·exp(−t/τ) of one case; complex pairs ring."""

    time_constants: Phasors
    weights: Phasors

    def error(self, time: Array) -> Array:
        """Relative error at each time (s) after the step."""
        with np.errstate(under="ignore"):
            if np.any(self.time_constants.imag) or np.any(self.weights.imag):
                decays = np.exp(-np.multiply.outer(time, 1 / self.time_constants))
                return np.real(np.sum(decays * self.weights, axis=-1))
            decays = np.exp(-np.multiply.outer(time, 1 / self.time_constants.real))
        return np.asarray(np.sum(decays * self.weights.real, axis=-1))


def time_constants(network: LinearNetwork) -> list[Phasors]:
    """Time constants (s) of each case, slowest first; empty without capacitance."""
    found = [tau[np.abs(tau) > 0] for tau, _, _ in network.modes]
    return [tau[np.argsort(-np.abs(tau))] for tau in found]


def step_responses(network: LinearNetwork, source: str, node: str) -> list[StepResponse]:
    """Response of `node` to a step of `source`, relative to its end value, one per case."""
    end = transfer(network, source, node, 0.0)[:, 0].real
    g, c = network.conductance.held, network.capacitance.held
    if source not in g:
        raise InputError(f'"{source}" is no fixed node', expected="one of " + ", ".join(g))
    share = network.share(node)
    found = []
    for k, (tau, vectors, inverse) in enumerate(network.modes):
        ahead = np.linalg.solve(vectors, inverse @ g[source][k]) if tau.size else np.zeros(0)
        kick = np.linalg.solve(vectors, inverse @ c[source][k]) if tau.size else np.zeros(0)
        moving = np.abs(tau) > 0
        weights = (share[k] @ vectors)[moving] * (kick[moving] / tau[moving] - ahead[moving])
        found.append(StepResponse(tau[moving].astype(complex), weights.astype(complex) / end[k]))
    return found


def settling_time(
    network: LinearNetwork,
    source: str,
    node: str,
    relative_error: float,
    soakage: tuple[Soakage, ...] = (),
) -> Array:
    """Time (s) after a step of `source` until `node` stays within `relative_error` of its end value.

    soakage : tails that are added to the magnitude of the exponentials; each capacitor takes the
    full step. Returns one time per case; 0 without capacitance. InputError for an error ≤ 0.
    """
    if not relative_error > 0:
        raise InputError(
            f"a settling error of {relative_error:g} cannot be reached", expected="above 0"
        )
    responses = step_responses(network, source, node)
    end = np.abs(transfer(network, source, node, 0.0)[:, 0].real)
    ohms = _soaking_resistances(network, node, soakage)
    out = np.zeros(network.cases)
    for k, response in enumerate(responses):
        share = [np.abs(r[k]) / end[k] for r in ohms]

        def error(
            time: Array, share: list[float] = share, response: StepResponse = response
        ) -> Array:
            total = np.abs(response.error(time))
            for r, tail in zip(share, soakage, strict=True):
                with np.errstate(divide="ignore"):
                    total = total + soakage_voltage(r, tail, 1.0, time)
            return np.asarray(total)

        out[k] = _last_outside(error, relative_error, response, soakage)
    return out


def soakage_voltage(resistance: float, tail: Soakage, step: float, time: Array) -> Array:
    """Voltage (V) that the absorption current of a step (V) makes across `resistance` (Ω)."""
    return resistance * tail.beta * tail.capacitance * step * np.asarray(time) ** -tail.exponent


def bandwidth(network: LinearNetwork, source: str, node: str) -> Array:
    """Lowest frequency (Hz) where the transfer has fallen by 3 dB from 0 Hz; inf if it never does."""
    out = np.full(network.cases, np.inf)
    modes = time_constants(network)
    if not any(tau.size for tau in modes):
        return out
    rates = np.concatenate([1 / np.abs(tau) for tau in modes]) / (2 * np.pi)
    grid = np.geomspace(rates.min() * 1e-3, rates.max() * 1e3, GRID // 10)
    level = np.abs(transfer(network, source, node, 0.0)) * HALF_POWER
    below = np.abs(transfer(network, source, node, grid)) < level
    hit = below.any(axis=1)
    first = np.argmax(below, axis=1)
    low, high = grid[np.maximum(first - 1, 0)], grid[first]
    cases = np.arange(network.cases)
    for _ in range(CUTS):
        cuts = np.linspace(low, high, PARTS + 1, axis=1)
        under = np.abs(transfer(network, source, node, cuts[:, 1:])) <= level
        under[:, -1] = True  # the bracket ends below
        first = np.argmax(under, axis=1)
        low, high = cuts[cases, first], cuts[cases, first + 1]
    out[hit] = high[hit]
    return out


def passes_until(
    network: LinearNetwork, source: str, node: str, frequency: float
) -> NDArray[np.bool_]:
    """Whether the transfer falls by 3 dB from 0 Hz nowhere up to a frequency (Hz), per case."""
    grid = np.concatenate([[0.0], np.geomspace(frequency * 1e-6, frequency, LOOKED_AT)])
    size = np.abs(transfer(network, source, node, grid))
    return np.asarray((size >= size[:, :1] * HALF_POWER).all(axis=1))


def settled_after(
    network: LinearNetwork, source: str, node: str, relative_error: float, time: float
) -> NDArray[np.bool_]:
    """Whether `node` stays within `relative_error` of its end value from `time` (s) on, per case."""
    found = np.ones(network.cases, bool)
    for k, response in enumerate(step_responses(network, source, node)):
        tau = response.time_constants
        if tau.size:
            end = _end(response, relative_error)
            late = np.array([time]) if end <= time else _looked_at(tau, time, end)
            found[k] = not (np.abs(response.error(late)) > relative_error).any()
    return found


def _soaking_resistances(
    network: LinearNetwork, node: str, soakage: tuple[Soakage, ...]
) -> list[Array]:
    """Transimpedance (Ω, per case) from each soaking node to the output."""
    z = steady_transimpedance(network, node)
    for tail in soakage:
        if tail.node not in network.nodes or not tail.exponent > 0:
            raise InputError(
                f'the soakage at "{tail.node}" (exponent {tail.exponent:g}) cannot be used',
                expected="a free node and an exponent above 0",
            )
    return [z[:, network.nodes.index(tail.node)] for tail in soakage]


def _last_outside(
    error: Callable[[Array], Array],
    limit: float,
    response: StepResponse,
    soakage: tuple[Soakage, ...],
) -> float:
    """Last time at which the error exceeds the limit."""
    tau = response.time_constants
    if tau.size == 0 and not soakage:
        return 0.0
    fastest = np.abs(tau).min() if tau.size else 1e-9
    high = _end(response, limit)
    while soakage and error(np.array([high]))[0] > limit:
        high *= 4.0
    grid = np.concatenate([[0.0], _looked_at(tau, 1e-6 * fastest, high)])
    outside = error(grid) > limit
    if not outside.any():
        return 0.0
    last = int(np.flatnonzero(outside)[-1])
    before, after = grid[last], grid[min(last + 1, grid.size - 1)]
    for _ in range(CUTS):
        cuts = np.linspace(before, after, PARTS + 1)
        over = error(cuts[:-1]) > limit
        over[0] = True  # the bracket starts outside
        last = int(np.flatnonzero(over)[-1])
        before, after = cuts[last], cuts[last + 1]
    return float(after)


def _end(response: StepResponse, limit: float) -> float:
    """A time (s) by which every exponential lies far within `limit`."""
    tau, size = response.time_constants, np.abs(response.weights).sum()
    slowest = (1 / np.real(1 / tau)).max() if tau.size else 1e-9
    return float(slowest * (np.log(1 / limit) + np.log(1 + size) + 5))


def _looked_at(tau: Phasors, low: float, high: float) -> Array:
    """Times (s) at which a response is looked at; where it rings, evenly spaced ones too."""
    grid = np.geomspace(low, high, GRID)
    if np.any(np.abs(tau.imag) > STRAIGHT * np.abs(tau)):
        grid = np.union1d(grid, np.linspace(low, high, GRID))
    return grid
