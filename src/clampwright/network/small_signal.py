"""Bandwidth, settling and noise of the linearised network, and transfer from every noise source.

The small circuits here are resistor ladders with a capacitor to a fixed potential at some nodes:
C·dv/dt = −G·v + injected currents. One adjoint solve gives the transfer of all noise currents.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

POINTS_PER_DECADE = 80  # log-spaced frequencies of the noise integral: 1e-4 of the power
BELOW = 1e-3  # the first of them lies this far under the slowest pole and under the band


@dataclass(frozen=True)
class Ladder:
    """A linearised network at one corner.

    conductance : (n, n) S, the full nodal matrix; capacitance : (n, n) F;
    drive : (n,) S, coupling of each node to the source; pin : index of the amplifier pin.
    """

    conductance: Array
    capacitance: Array
    drive: Array
    pin: int


def transfer(ladder: Ladder, frequency: Array) -> NDArray[np.complexfloating]:
    """Voltage at the pin per volt of source at each frequency (Hz)."""
    return _impedances(ladder, frequency) @ ladder.drive


def _impedances(ladder: Ladder, frequency: Array) -> NDArray[np.complexfloating]:
    """Transimpedance from each node to the pin (Ω), (frequencies, n), by the adjoint system."""
    s = 2j * np.pi * np.asarray(frequency, float)
    matrices = ladder.conductance + s[:, None, None] * ladder.capacitance
    pick = np.zeros((len(s), ladder.drive.size, 1), complex)
    pick[:, ladder.pin] = 1.0
    return np.linalg.solve(np.swapaxes(matrices, 1, 2), pick)[:, :, 0]


def bandwidth(ladder: Ladder) -> float:
    """Frequency (Hz) at which the transfer falls by 3 dB; inf without capacitance."""
    rates = _rates(ladder)[0]
    if rates.size == 0:
        return float("inf")
    low, high = rates.min() / (2 * np.pi) * 1e-3, rates.max() / (2 * np.pi) * 1e3
    level = abs(transfer(ladder, np.array([0.0]))[0]) / np.sqrt(2)
    for _ in range(200):
        middle = np.sqrt(low * high)
        if abs(transfer(ladder, np.array([middle]))[0]) > level:
            low = middle
        else:
            high = middle
    return float(np.sqrt(low * high))


def settling_time(ladder: Ladder, relative_error: float) -> float:
    """Time (s) after a step of the source until the pin stays within `relative_error` of its end."""
    rates, weights = _rates(ladder)
    if rates.size == 0:
        return 0.0

    def error(time: Array) -> Array:
        return np.abs(np.exp(-np.multiply.outer(time, rates)) @ weights)

    high = (np.log(1 / relative_error) + 50) / rates.min()
    grid = np.concatenate([[0.0], np.geomspace(1e-6 / rates.max(), high, 4000)])
    outside = error(grid) > relative_error
    if not outside.any():
        return 0.0
    last = int(np.flatnonzero(outside)[-1])
    low, high = grid[last], grid[min(last + 1, grid.size - 1)]
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if error(middle) > relative_error else (low, middle)
    return float(high)


def _rates(ladder: Ladder) -> tuple[Array, Array]:
    """Decay rates (1/s) and their weights in the relative step error at the pin.

    Nodes without capacitance follow at once and are eliminated first.
    """
    slow = np.flatnonzero(np.diag(ladder.capacitance) > 0)
    if slow.size == 0:
        return np.zeros(0), np.zeros(0)
    fast = np.setdiff1d(np.arange(ladder.drive.size), slow)
    g, c, drive = ladder.conductance, ladder.capacitance, ladder.drive
    if fast.size:
        inverse = np.linalg.inv(g[np.ix_(fast, fast)])
        lift = inverse @ g[np.ix_(fast, slow)]
        reduced = g[np.ix_(slow, slow)] - g[np.ix_(slow, fast)] @ lift
        pick = np.eye(ladder.drive.size)[ladder.pin]
        row = pick[slow] - pick[fast] @ lift
        source = drive[slow] - g[np.ix_(slow, fast)] @ (inverse @ drive[fast])
    else:
        reduced, row, source = g, np.eye(slow.size)[ladder.pin], drive
    state = np.linalg.solve(c[np.ix_(slow, slow)], reduced)
    rates, vectors = np.linalg.eig(state)
    final = np.linalg.solve(reduced, source)
    modes = np.linalg.solve(vectors, final)
    end = float(transfer(ladder, np.array([0.0]))[0].real)
    weights = np.real((row @ vectors) * modes) / end
    return np.real(rates), weights


@dataclass(frozen=True)
class Noise:
    """Noise at the pin: density at low frequency (V/√Hz) by source, total, and in the band (V)."""

    by_source: dict[str, float]
    density: float
    integrated: float


def noise(
    ladder: Ladder,
    currents: dict[str, tuple[int, int, float]],
    pin_voltage_noise: float,
    band: float,
) -> Noise:
    """Noise at the pin from current sources and a voltage source at the amplifier.

    currents : name → (node from, node to, density A/√Hz); −1 stands for a fixed potential
    band     : Hz, brick-wall upper edge of the integral
    """
    edge = _frequencies(ladder, band)
    z = _impedances(ladder, edge)
    padded = np.concatenate([z, np.zeros((len(edge), 1))], axis=1)
    power = {
        name: np.abs(padded[:, b] - padded[:, a]) ** 2 * density**2
        for name, (a, b, density) in currents.items()
    }
    power["amplifier voltage noise"] = np.full(len(edge), pin_voltage_noise**2)
    total = np.sum(list(power.values()), axis=0)
    return Noise(
        by_source={name: float(np.sqrt(p[0])) for name, p in power.items()},
        density=float(np.sqrt(total[0])),
        integrated=float(np.sqrt(np.trapezoid(total, edge))),
    )


def _frequencies(ladder: Ladder, band: float) -> Array:
    """Frequencies (Hz) of the noise integral: 0 and a grid that starts well under every pole."""
    lowest = BELOW * min([band, *(_rates(ladder)[0] / (2 * np.pi))])
    count = int(np.ceil(POINTS_PER_DECADE * np.log10(band / lowest))) + 1
    return np.concatenate([[0.0], np.geomspace(lowest, band, count)])
