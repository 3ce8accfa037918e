"""A known law of a class and readings made of it: the right answer of every fit of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from clampwright.parts.catalogue import class_prior, junction_class
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.law_model import reverse_leakage

ROOM, WARM, HOT = 296.15, 318.15, 343.15  # [K]
PRIOR = class_prior(junction_class("npn collector-base"))
TRUTH = replace(
    PRIOR.law,
    generation_current=2.2e-12,
    generation_activation_energy=0.66,
    grading=0.42,
    generation_ideality=1.55,
    responsivity=9e-15,
)


def point(voltage, temperature, illuminance=0.0, *, law=TRUTH, noise=None, **more):
    """A reading of `law` with 1 % or 2 fA of independent uncertainty, without noise by default."""
    value = float(reverse_leakage(law, voltage, temperature, illuminance))
    u = float(np.hypot(0.01 * value, 2e-15))
    more.setdefault("session", "one")
    value += u * noise.standard_normal() if noise is not None else 0.0
    return EvidencePoint(voltage, temperature, illuminance, value, u, **more)
