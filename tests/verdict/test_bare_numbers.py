"""No field of any sheet takes a number without its unit, but those that have none."""

from __future__ import annotations

from collections.abc import Iterator
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin

import pytest
from pydantic import BaseModel, TypeAdapter, ValidationError

from clampwright.bench.instrument import Profile
from clampwright.parts.sheet import PartSheet
from clampwright.quantities import DIMENSIONS
from clampwright.quantities.fields import QuantityField
from clampwright.verdict.design import Design

WITHOUT_A_UNIT = {
    "Requirement.common_mode_rejection",  # dB, named at the field
    "Board.film_squares",  # gap over length
    "Junction.share",  # a part of one
    "Amplifier.guard_open_loop_gain",  # V/V
    "Profile.meter_counts",  # steps of the meter
    "Profile.mains_cycles",
    "Meter.scale",
    "Meter.offset",
}
WITH_A_CHECK_OF_ITS_OWN = {
    "Requirement.accuracy",  # in a unit of the user's own; tests/test_quantity_fields.py
    "Figure.value",  # by its quantity; tests/parts/test_parts_sheet.py
}


def flat(kind: Any) -> Iterator[Any]:
    """A type, the members of a union or of a list, and the annotations of each."""
    origin = get_origin(kind)
    if origin is Annotated:
        yield from kind.__metadata__
        yield from flat(get_args(kind)[0])
    elif origin in (Union, UnionType, tuple, list, dict):
        for member in get_args(kind):
            yield from flat(member)
    else:
        yield kind


def every_field(model: type[BaseModel]) -> Iterator[tuple[str, list[Any]]]:
    """Name and kinds of every field of a model and of the models inside it."""
    for name, field in model.model_fields.items():
        kinds = [*field.metadata, *flat(field.annotation)]
        yield f"{model.__name__}.{name}", kinds
        for kind in kinds:
            if isinstance(kind, type) and issubclass(kind, BaseModel):
                yield from every_field(kind)


FIELDS = dict(pair for sheet in (Design, PartSheet, Profile) for pair in every_field(sheet))
QUANTITIES = {
    name: kind
    for name, kinds in FIELDS.items()
    for kind in kinds
    if isinstance(kind, QuantityField)
}


def test_the_fields_without_a_unit_are_the_known_ones() -> None:
    plain = {name for name, kinds in FIELDS.items() if float in kinds and name not in QUANTITIES}
    assert plain == WITHOUT_A_UNIT | WITH_A_CHECK_OF_ITS_OWN


@pytest.mark.parametrize("name", sorted(n for n, q in QUANTITIES.items() if q.dimension != "ratio"))
def test_a_bare_number_is_refused_with_an_example(name: str) -> None:
    field = QUANTITIES[name]
    adapter: TypeAdapter[float] = TypeAdapter(Annotated[float, field])
    for written in (5, 5.0, "5"):
        with pytest.raises(ValidationError) as caught:
            adapter.validate_python(written, context={"sheet": "a.toml"})
        assert "has no unit" in str(caught.value)
        assert DIMENSIONS[field.dimension].examples[0] in str(caught.value)
