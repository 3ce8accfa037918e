"""Two legs of a differential input: what common mode turns into signal, and the offset of the pair."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from clampwright.errors import InputError
from clampwright.network.adjoint import missing, transimpedance
from clampwright.network.circuit import Circuit
from clampwright.network.compose import joined, renamed
from clampwright.network.linearise import LinearNetwork

Array = NDArray[np.float64]
Phasors = NDArray[np.complex128]

Legs = tuple[tuple[str, str], tuple[str, str]]  # (source, pin) of the positive and the negative leg


def two_legs(
    leg: Circuit, shared: tuple[str, ...], names: tuple[str, str] = ("plus", "minus")
) -> Circuit:
    """A circuit of two copies of `leg`; the leg's name ends those of its nodes and parts.

    shared : nodes common to both, such as rails and ground
    """
    first, second = (_named(leg, shared, name) for name in names)
    return joined(first, second)


def conversion(network: LinearNetwork, legs: Legs, frequency: ArrayLike) -> tuple[Phasors, Phasors]:
    """Difference at the pins per volt of common mode, and per volt of difference at the sources.

    Both (cases, frequencies), exact for the linear network: the common-mode part is the difference
    of what each leg misses from a gain of one, so a rejection of 200 dB still has its digits.
    """
    (source_a, pin_a), (source_b, pin_b) = legs
    f = np.atleast_1d(np.asarray(frequency, float))
    _unknown(network, (pin_a, pin_b))
    lost = missing(network, (source_a, source_b), f)
    common = lost[pin_b] - lost[pin_a]
    n = len(network.nodes)
    drive = (network.drive(source_a, f) - network.drive(source_b, f)) / 2
    drive = drive.reshape(n, network.cases, f.shape[-1])
    z = transimpedance(network, pin_a, f) - transimpedance(network, pin_b, f)
    return common, np.einsum("cfn,ncf->cf", z, drive)


def common_mode_rejection(network: LinearNetwork, legs: Legs, frequency: ArrayLike) -> Array:
    """Differential gain over conversion, V/V, (cases, frequencies); inf for two equal legs."""
    common, difference = conversion(network, legs, frequency)
    with np.errstate(divide="ignore"):
        return np.abs(difference) / np.abs(common)


def decibels(ratio: ArrayLike) -> Array:
    """20·lg of a ratio."""
    return np.asarray(20 * np.log10(np.asarray(ratio, float)))


def _named(leg: Circuit, shared: tuple[str, ...], name: str) -> Circuit:
    def node(old: str) -> str:
        return old if old in shared else f"{old} {name}"

    return renamed(leg, node, lambda part: f"{part} {name}")


def _unknown(network: LinearNetwork, pins: tuple[str, ...]) -> None:
    for pin in pins:
        if pin not in network.nodes:
            raise InputError(
                f'"{pin}" is no free node',
                where="pair",
                expected="one of " + ", ".join(network.nodes),
            )
