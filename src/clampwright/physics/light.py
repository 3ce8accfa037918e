"""Light on a clamp: what a lamp and a package make of an illuminance.

An illuminance in lux is weighted for the eye; silicon sees further into the infrared, so the same
lux from a lamp with infrared gives several times the photocurrent. The numbers of both tables are
orders of magnitude assumed here, not measurements: store the lamp with every reading and measure
the part under the lamp it will meet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from clampwright.errors import InputError
from clampwright.physics.law import Numbers


@dataclass(frozen=True)
class Lamp:
    """Relative response of silicon per lux (white LED = 1) and the factor it may be wrong by."""

    response: float
    doubt: float


LAMPS = {  # assumptions, orders of magnitude
    "white LED": Lamp(1.0, 1.3),
    "fluorescent": Lamp(0.9, 1.5),
    "daylight": Lamp(2.0, 2.0),
    "tungsten": Lamp(6.0, 2.0),
}

PACKAGE_TRANSMISSION = {  # assumptions, orders of magnitude; 1 = clear glass
    "clear": 1.0,
    "diffused": 0.5,
    "white ceramic": 1e-2,
    "black epoxy": 1e-3,  # not opaque to near infrared
    "metal can with glass seals": 1e-4,
    "opaque": 0.0,
}


def photocurrent(responsivity: Numbers, illuminance: Numbers) -> Any:
    """Photocurrent magnitude (A) from A/lx and lx; it flows out of the anode, also at 0 V."""
    return np.asarray(responsivity) * np.asarray(illuminance)


def responsivity_under(responsivity: Numbers, measured_lamp: str, lamp: str) -> Any:
    """Responsivity (A/lx) under `lamp` of a part measured under `measured_lamp`.

    Raises InputError for a lamp the table does not hold.
    """
    return np.asarray(responsivity) * _lamp(lamp).response / _lamp(measured_lamp).response


def responsivity_doubt(measured_lamp: str, lamp: str) -> float:
    """Factor by which `responsivity_under` may be wrong; 1 for the same lamp."""
    if measured_lamp == lamp:
        return 1.0
    return _lamp(lamp).doubt * _lamp(measured_lamp).doubt


def packaged_responsivity(bare_responsivity: Numbers, package: str) -> Any:
    """Responsivity (A/lx) of a die behind a package class, from that behind clear glass.

    Raises InputError for a package class the table does not hold.
    """
    if package not in PACKAGE_TRANSMISSION:
        raise InputError(
            f'unknown package class "{package}"',
            where="light",
            expected=", ".join(PACKAGE_TRANSMISSION),
        )
    return np.asarray(bare_responsivity) * PACKAGE_TRANSMISSION[package]


def worst_illuminances(illuminance: Numbers) -> tuple[tuple[Any, Any], tuple[Any, Any]]:
    """The two cases of a clamp pair when nobody measured each side: one lit, the other dark.

    Photocurrents of a pair cancel only under equal light, so the default is the opposite: full
    `illuminance` (lx) on one side, none on the other, both ways round.
    """
    lit = np.asarray(illuminance, float)
    dark = np.zeros_like(lit)
    return (lit, dark), (dark, lit)


def _lamp(name: str) -> Lamp:
    if name not in LAMPS:
        raise InputError(f'unknown lamp "{name}"', where="light", expected=", ".join(LAMPS))
    return LAMPS[name]
