"""How a clamp's figure is known at one condition: read there, or carried there by its law.

`basis` says what a law rests on and is what a verdict counts; this says what may be printed beside one
figure of it. "Measured" is only a figure with a reading near its own voltage, heat and light.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel, ConfigDict

from clampwright.parts.clamp_part import Clamp
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.law_fit import FORWARD_LIMIT, FittedLaw
from clampwright.parts.law_interval import leakages_at
from clampwright.parts.law_words import left_to_class
from clampwright.quantities import ZERO_CELSIUS, write
from clampwright.quantities.fields import Current, Illuminance, Temperature, Voltage

Array = NDArray[np.float64]

SAME_HEAT = 3.0  # [K] a reading this near belongs to a temperature; common practice, no source
SAME_RATIO = 2.6  # [1] by it the voltage or the light of such a reading may differ; as above
CLASS_SHARE = 0.5  # [1] of the squared width; from there on the class is named beside the readings
SMALLEST_VOLTAGE = 1e-6  # [V] a law is asked here instead of at 0 V, where its leakage vanishes

MOST_LAWS = 200  # whose parameters left to the class are kept
MOST_PLACES = 1000  # of any clamp, at which it is kept how the figure is known

Kind = Literal["measured", "not detected", "readings", "partly class"]


class Known(BaseModel):
    """What one figure of a law that has readings rests on.

    kind    : a reading detected near the condition; only undetected ones there; the law carried from
              readings elsewhere; the same with at least half of its squared width left to the class
    voltage, temperature, illuminance : lowest and highest of the readings that were detected, or of
              all where none was; the size of a voltage, either way round
    detected: whether any reading stands out of its uncertainty
    bound   : the lowest upper limit that undetected readings near the condition set
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    kind: Kind
    voltage: tuple[Voltage, Voltage] | None = None
    temperature: tuple[Temperature, Temperature] | None = None
    illuminance: tuple[Illuminance, Illuminance] | None = None
    detected: bool = True
    bound: Current | None = None


@lru_cache(maxsize=MOST_PLACES)
def known_at(clamp: Clamp, voltage: float, temperature: float) -> Known | None:
    """How the dark leakage at a reverse voltage (V) and temperature (K) is known.

    None where the readings do not carry the law: its basis then says all.
    """
    return known_at_each(clamp, [(voltage, temperature)])[0]


def known_at_each(clamp: Clamp, places: Sequence[tuple[float, float]]) -> list[Known | None]:
    """The same at several places (V, K), the law asked once."""
    if clamp.fitted.basis != "measured":
        return [None for _ in places]
    points = [
        p
        for p in clamp.points
        if p.illuminance == 0 and p.reverse_voltage != 0 and p.reverse_voltage >= -FORWARD_LIMIT
    ]
    found: list[Known | None] = []
    for (voltage, temperature), share in zip(
        places, class_shares(clamp.fitted, places), strict=True
    ):
        near = [
            p
            for p in points
            if abs(p.temperature - temperature) <= SAME_HEAT and alike(p.reverse_voltage, voltage)
        ]
        forward = voltage < -FORWARD_LIMIT  # there the class alone speaks
        found.append(_known(points, near, 1.0 if forward else float(share)))
    return found


@lru_cache(maxsize=MOST_PLACES)
def light_known_at(clamp: Clamp, illuminance: float, temperature: float) -> Known | None:
    """How the photocurrent in a light (lx) is known; None without a reading in light.

    The voltage of the reading does not count: light drives the current, whatever is across it.
    """
    points = [p for p in clamp.points if p.illuminance > 0]
    if not points:
        return None
    near = [
        p
        for p in points
        if abs(p.temperature - temperature) <= SAME_HEAT and alike(p.illuminance, illuminance)
    ]
    return _known(points, near, 0.0)


def class_shares(fitted: FittedLaw, places: Sequence[tuple[float, float]]) -> Array:
    """Share of the squared width of ln leakage that would go if what the class states were exact.

    places : reverse voltage (V) and temperature (K) of each
    What the class states: the parameters whose prior width the readings do not halve.
    """
    left, given = _left(fitted)
    if given is None:
        return np.zeros(len(places))
    asked = tuple((v if abs(v) > SMALLEST_VOLTAGE else SMALLEST_VOLTAGE, t) for v, t in places)
    value, gradient = leakages_at(fitted, asked)
    slope = gradient / value[:, None]
    whole = np.einsum("ni,ij,nj->n", slope, fitted.covariance, slope)
    known = np.einsum("ni,ij,nj->n", slope[:, ~left], given, slope[:, ~left])
    return np.where(whole > 0, 1.0 - known / np.where(whole > 0, whole, 1.0), 0.0)


@lru_cache(maxsize=MOST_LAWS)
def _left(fitted: FittedLaw) -> tuple[NDArray[np.bool_], Array | None]:
    """`left_to_class`, and the covariance of the others given those; None where none is left."""
    left, covariance = np.array(left_to_class(fitted), bool), fitted.covariance
    if not left.any():
        return left, None
    both = covariance[np.ix_(~left, left)]
    own = covariance[np.ix_(left, left)]
    return left, covariance[np.ix_(~left, ~left)] - both @ np.linalg.solve(own, both.T)


def alike(one: float, other: float) -> bool:
    """Whether two values of one sign differ by no more than `SAME_RATIO`."""
    return one * other > 0 and 1 / SAME_RATIO <= one / other <= SAME_RATIO


def _known(
    points: Sequence[EvidencePoint], near: Sequence[EvidencePoint], from_class: float
) -> Known:
    detected = [p for p in points if p.detected]
    told = detected or points
    bound = None
    kind: Kind = "partly class" if from_class >= CLASS_SHARE or not points else "readings"
    if any(p.detected for p in near):
        kind = "measured"
    elif near:
        kind, bound = "not detected", min(p.interval[1] for p in near)
    return Known(
        kind=kind,
        voltage=_ends(abs(p.reverse_voltage) for p in told),
        temperature=_ends(p.temperature for p in told),
        illuminance=_ends(p.illuminance for p in told),
        detected=bool(detected),
        bound=bound,
    )


def _ends(values: Iterable[float]) -> tuple[float, float] | None:
    some = list(values)
    return (min(some), max(some)) if some else None


def known_words(basis: str | None, known: Known | None = None, *, short: bool = False) -> str:
    """How a figure is known, for every table, chart and sentence; the only place that decides it.

    basis : what its law rests on, said as it is unless readings carry the law
    short : where space is tight, without the conditions of the readings
    """
    if basis != "measured" or known is None or known.kind == "measured":
        return basis or ""
    if known.kind == "not detected":
        return f"not detected, ≤ {write(known.bound or 0.0, 'current')}"
    if short and known.kind == "partly class":
        return "partly from the class"
    where = f" at {_conditions(known)}" if known.voltage and not short else ""
    unseen = "" if known.detected else ", none detected"
    if short:
        return f"from readings{unseen}"
    if known.kind == "partly class":
        return "predicted, partly from the class" + (f"; readings{where}{unseen}" if where else "")
    return f"predicted from readings{where}{unseen}"


def _conditions(known: Known) -> str:
    """Where the readings were taken: "10 mV…5 V, 23…70 °C"."""
    said = []
    if known.voltage and not (known.illuminance and known.illuminance[1] > 0):
        said.append(_span(*(_trimmed(v, "voltage") for v in known.voltage)))
    if known.illuminance and known.illuminance[1] > 0:
        said.append(_span(*(_trimmed(v, "illuminance") for v in known.illuminance)))
    if known.temperature:
        low, high = (f"{t - ZERO_CELSIUS:.0f}".replace("-", "−") for t in known.temperature)
        said.append(f"{_span(low, high)}\u2009°C")
    return ", ".join(said)


def _span(low: str, high: str) -> str:
    return low if low == high else f"{low}…{high}"


def _trimmed(value: float, kind: str) -> str:
    """With its prefix and without zeros that would claim digits."""
    number, space, unit = write(value, kind).partition("\u2009")
    return (number.rstrip("0").rstrip(".") if "." in number else number) + space + unit
