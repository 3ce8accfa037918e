"""Light on a clamp.

An illuminance in lux is weighted for the eye; silicon sees further into the infrared, so the same
lux from a lamp with infrared gives several times the photocurrent: store the lamp with every
reading and measure the part under the lamp it will meet.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from clampwright.physics.law import Numbers


def photocurrent(responsivity: Numbers, illuminance: Numbers) -> Any:
    """Photocurrent magnitude (A) from A/lx and lx; it flows out of the anode, also at 0 V."""
    return np.asarray(responsivity) * np.asarray(illuminance)
