"""What each field of a design sheet takes, and what a stated accuracy comes to.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

import numpy as np
from pydantic import BaseModel

from clampwright.errors import ClampwrightError
from clampwright.quantities import write
from clampwright.quantities.fields import QuantityField, Within
from clampwright.quantities.plausible import PLAUSIBLE
from clampwright.verdict.check import allowances
from clampwright.verdict.corners import allowed_error
from clampwright.verdict.design import Design
from clampwright.verdict.notes import LISTED_DEFAULTS

PRINTED = str.maketrans({"-": "\u2212", " ": "\u2009"})
"""Signs as everything that is printed has them: a minus, and a thin space before the unit."""


@dataclass(frozen=True)
class FieldFacts:
    """What one field takes, in words.

    dimension : key of `DIMENSIONS`, "" for what is no quantity
    span      : "0 Ω … 100 GΩ", "up to ±1 MV", "1 … 1000", "" where there are no two ends
    choices   : the words of a closed list, "yes" and "no" for a flag
    default   : what is taken where nothing is written, "" where nothing is
    required  : a sheet without it is refused
    listed    : its default is listed with every result
    """

    dimension: str
    span: str
    choices: tuple[str, ...]
    default: str
    required: bool
    listed: bool


@cache
def design_fields() -> dict[str, FieldFacts]:
    """Facts by dotted name for every scalar field; an entry of a list is "faults.voltage"."""
    return dict(_facts(Design, ""))


def _facts(model: type[BaseModel], path: str) -> Iterator[tuple[str, FieldFacts]]:
    for name, field in model.model_fields.items():
        place = f"{path}.{name}" if path else name
        kinds = [*field.metadata, *_flat(field.annotation)]
        inside = [k for k in kinds if isinstance(k, type) and issubclass(k, BaseModel)]
        if inside:
            for some in inside:
                yield from _facts(some, place)
        elif dict not in kinds:
            yield place, _fact(place, field.default, field.is_required(), kinds)


def _fact(place: str, default: Any, required: bool, kinds: list[Any]) -> FieldFacts:
    quantity = next((k for k in kinds if isinstance(k, QuantityField)), None)
    dimension = quantity.dimension if quantity else ""
    choices = tuple(w for k in kinds if get_origin(k) is Literal for w in get_args(k))
    if bool in kinds:
        choices = ("yes", "no")
    return FieldFacts(
        dimension=dimension,
        span=_span(dimension, kinds),
        choices=() if dimension else choices,
        default="" if required else _default_words(default, dimension),
        required=required,
        listed=place in LISTED_DEFAULTS,
    )


def _flat(annotation: Any) -> Iterator[Any]:
    """A type, the members of a union or list, and the annotations of each; a map as `dict`."""
    origin = get_origin(annotation)
    if origin is Annotated:
        for kind in annotation.__metadata__:
            yield from getattr(kind, "metadata", (kind,))  # of a bound inside a union
        yield from _flat(get_args(annotation)[0])
    elif origin in (Union, UnionType, tuple):
        for member in get_args(annotation):
            yield from _flat(member)
    elif origin is dict:
        yield dict
    elif annotation not in (NoneType, Ellipsis):
        yield annotation


def _span(dimension: str, kinds: list[Any]) -> str:
    """The ends that are accepted; the model's own where it has them, else what can be meant."""
    low = _end(kinds, ("ge", "gt"))
    high = _end(kinds, ("le", "lt"))
    if not dimension:
        if int not in kinds and float not in kinds:
            return ""
        shown = [f"{end:g}" for end in (low, high) if end is not None]
        return " … ".join(shown) if len(shown) == 2 else ""
    if within := next((k for k in kinds if isinstance(k, Within)), None):
        return f"{within.low.translate(PRINTED)} … {within.high.translate(PRINTED)}"
    most = PLAUSIBLE[dimension][1]
    if dimension == "temperature":
        return f"{write(0.0, dimension)} … {write(most, dimension)}"
    least = QuantityField(dimension).kind.minimum if low is None else low
    if least is None:
        return f"up to ±{write(most, dimension)}"
    return f"{write(least, dimension)} … {write(most if high is None else high, dimension)}"


def _end(kinds: list[Any], names: tuple[str, ...]) -> float | None:
    found = [getattr(k, name, None) for k in kinds if not isinstance(k, type) for name in names]
    return next((float(end) for end in found if end is not None), None)


def _default_words(default: Any, dimension: str) -> str:
    if default is None or default == "":
        return ""
    if isinstance(default, bool):
        return "yes" if default else "no"
    if dimension and not isinstance(default, str):
        return write(default, dimension)
    return f"{default:g}" if isinstance(default, float) else str(default)


def accuracy_words(design: Design) -> tuple[str, str]:
    """What the accuracy and the share of the protection come to, where the sensor leaves least.

    "0.05 pH = 2.79 mV at 8.0 °C" and "33.3 % of it: 930 µV at 8.0 °C, 4.26 pA net leakage"; without the
    leakage where the circuit does not say through what resistance it flows.
    """
    wanted, source = design.requirement, design.source
    ends = np.array([source.temperature_minimum, source.temperature_maximum])
    errors = allowed_error(design, ends)
    least = int(np.argmin(errors))
    own = wanted.accuracy_unit != "V"
    stated = f"{wanted.accuracy:g} {wanted.accuracy_unit} = " if own else ""
    steady = bool(np.isclose(errors[0], errors[1], rtol=1e-12))
    there = "" if steady else f" at {write(float(ends[least]), 'temperature')}"
    whole = f"{stated}{write(float(errors[least]), 'voltage')}{there}"
    error = wanted.protection_share * float(errors[least])
    share = f"{write(wanted.protection_share, 'ratio')} of it: {write(error, 'voltage')}{there}"
    try:
        leakage = min(allowance.leakage for allowance in allowances(design))
    except ClampwrightError:
        return whole, share
    return whole, f"{share}, {write(leakage, 'current')} net leakage"


__all__ = ["FieldFacts", "accuracy_words", "design_fields"]
