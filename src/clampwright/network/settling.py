"""Bandwidth and settling of any linear network, soakage included.

The step response is a sum of exponentials, one per time constant of G⁻¹·C; G⁻¹ comes from the
elimination without subtraction, so a nearly floating node keeps its time constant. Soakage of an
insulator follows a power of time and fits no time constant: it is added as a tail.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from clampwright.errors import InputError
from clampwright.network.adjoint import steady_transimpedance, straight, transfer
from clampwright.network.linearise import LinearNetwork
from clampwright.network.machine_code import is_made

Array = NDArray[np.float64]
Phasors = NDArray[np.complex128]

HALF_POWER = 1 / np.sqrt(2)
GRID = 4000  # times looked at before halving, and ten times the frequencies
STEPS = np.arange(GRID) / (GRID - 1)
SOME = 64  # of the times at once
MOST_STEPS = 100
BEYOND = 1e-6  # of a time, and as much again, past where all is settled
LOOKED_AT = 64  # frequencies of a plain yes or no
PARTS = 64  # a bracket is cut into at once …
CUTS = 9  # … as often as a double can tell the parts of a bracket of twice its lower end
ENDS = np.arange(PARTS + 1) / PARTS
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
    """Relative step error Σ weight·exp(−t/τ) of one case; complex pairs ring.

    end : V/V, where the step leads
    """

    time_constants: Phasors
    weights: Phasors
    end: float

    @cached_property
    def _terms(self) -> tuple[NDArray[Any], NDArray[Any]]:
        """Rates (1/s) and weights, real where nothing rings."""
        rates = -1 / self.time_constants
        if rates.imag.any() or self.weights.imag.any():
            return rates, self.weights
        return rates.real, self.weights.real

    def error(self, time: Array) -> Array:
        """Relative error at each time (s) after the step."""
        rates, weights = self._terms
        with np.errstate(under="ignore"):
            return np.asarray((np.exp(np.multiply.outer(time, rates)) @ weights).real)


def time_constants(network: LinearNetwork) -> list[Phasors]:
    """Time constants (s) of each case, slowest first; empty without capacitance."""
    found = [tau[np.abs(tau) > 0] for tau, _, _ in network.modes]
    return [tau[np.argsort(-np.abs(tau))] for tau in found]


def step_responses(network: LinearNetwork, source: str, node: str) -> list[StepResponse]:
    """Response of `node` to a step of `source`, relative to its end value, one per case."""
    g, c = network.conductance.held, network.capacitance.held
    if source not in g:
        raise InputError(f'"{source}" is no fixed node', expected="one of " + ", ".join(g))
    share, past = network.share(node), straight(network, source, node)
    found = []
    for k, (tau, vectors, inverse) in enumerate(network.modes):
        driven = inverse @ np.stack((g[source][k], c[source][k]), axis=1)
        end = float(share[k] @ driven[:, 0] + past[k])
        moving = np.abs(tau) > 0
        ahead, kick = np.linalg.solve(vectors, driven)[moving].T
        weights = (share[k] @ vectors)[moving] * (kick / tau[moving] - ahead)
        found.append(StepResponse(tau[moving], weights / end, end))
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
    ohms = _soaking_resistances(network, node, soakage)
    out = np.zeros(network.cases)
    for k, response in enumerate(responses):
        share = [np.abs(r[k] / response.end) for r in ohms]

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
    modes = time_constants(network)
    if not any(tau.size for tau in modes):
        return np.full(network.cases, np.inf)
    rates = np.concatenate([1 / np.abs(tau) for tau in modes]) / (2 * np.pi)
    find = falls_compiled if is_made() else falls_plain
    return find(network, source, node, rates.min() * 1e-3, rates.max() * 1e3)


def falls_plain(
    network: LinearNetwork, source: str, node: str, lowest: float, highest: float
) -> Array:
    """Where between two frequencies (Hz) the transfer first is 3 dB under that at 0 Hz, else inf.

    Always by NumPy alone; `falls_compiled` agrees within rounding.
    """
    out = np.full(network.cases, np.inf)
    grid = np.geomspace(lowest, highest, GRID // 10)
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


def falls_compiled(
    network: LinearNetwork, source: str, node: str, lowest: float, highest: float
) -> Array:
    """The same by the compiled kernel; loads the compiler on first use (seconds without cache)."""
    from clampwright.network.adjoint_lanes import first_fall

    g, c, picked = network.conductance, network.capacitance, network.share(node)
    drive, past = network.drive_parts(source), straight(network, source, node)
    step = np.log(highest / lowest) / (GRID // 10 - 1)
    return np.array(
        [
            first_fall(
                g.coupling[k], g.excess[k], c.coupling[k], c.excess[k], picked[k],
                drive[0][k], drive[1][k], past[k], lowest, step, GRID // 10,
            )
            for k in range(network.cases)
        ]
    )  # fmt: skip


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
            grids = [np.array([time])] if end <= time else _looked_at(tau, time, end)
            found[k] = all((np.abs(response.error(g)) <= relative_error).all() for g in grids)
    return found


def _soaking_resistances(
    network: LinearNetwork, node: str, soakage: tuple[Soakage, ...]
) -> list[Array]:
    """Transimpedance (Ω, per case) from each soaking node to the output."""
    for tail in soakage:
        if tail.node not in network.nodes or not tail.exponent > 0:
            raise InputError(
                f'the soakage at "{tail.node}" (exponent {tail.exponent:g}) cannot be used',
                expected="a free node and an exponent above 0",
            )
    z = steady_transimpedance(network, node) if soakage else np.zeros((network.cases, 0))
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
    low = 1e-6 * fastest
    grids = [np.concatenate([[0.0], g]) for g in _looked_at(tau, low, high)]
    lasts = [_last_above(error, limit, g) for g in grids]
    if max(lasts) < 0:
        return 0.0
    before = max(g[last] for g, last in zip(grids, lasts, strict=True) if last >= 0)
    after = min(g[min(g.searchsorted(before, "right"), g.size - 1)] for g in grids)
    for _ in range(CUTS):
        cuts = before + (after - before) * ENDS
        last = max(_last_above(error, limit, cuts[:-1]), 0)  # the bracket starts outside
        before, after = cuts[last], cuts[last + 1]
    return float(after)


def _last_above(error: Callable[[Array], Array], limit: float, times: Array) -> int:
    """Index of the last of many times at which the error exceeds the limit; −1: of none.

    From the end on, some at a time: a grid reaches little farther than the answer.
    """
    for stop in range(times.size, 0, -SOME):
        start = max(stop - SOME, 0)
        above = (error(times[start:stop]) > limit).nonzero()[0]
        if above.size:
            return start + int(above[-1])
    return -1


def _end(response: StepResponse, limit: float) -> float:
    """A time (s) from which on the exponentials, each as if it did not ring, together lie within `limit`.

    Not before the slowest of them has fallen to 1/e. The logarithm of their sum is convex and falls, so
    Newton comes from below to where it meets the limit and never goes past it.
    """
    if response.time_constants.size == 0:
        return 1e-9
    rates, sizes = (1 / response.time_constants).real, np.abs(response.weights)
    time = 1 / rates.min()
    for _ in range(MOST_STEPS):
        parts = sizes * np.exp(-rates * time)
        whole = parts.sum()
        step = np.log(whole / limit) * whole / (parts @ rates) if whole > limit else 0.0
        time += step
        if step <= BEYOND * time:
            break
    return float(time * (1 + 2 * BEYOND))


def _looked_at(tau: Phasors, low: float, high: float) -> list[Array]:
    """Grids of times (s) at which a response is looked at; where it rings, an even one too."""
    grids: list[Array] = [low * np.exp(np.log(high / low) * STEPS)]
    if (np.abs(tau.imag) > STRAIGHT * np.abs(tau)).any():
        grids.append(low + (high - low) * STEPS)
    return grids
