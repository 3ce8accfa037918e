"""Field types of data models, and errors of a sheet in plain words."""

import json
import math
from typing import Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError

from clampwright.errors import InputError
from clampwright.quantities import DIMENSIONS, fields
from clampwright.quantities.fields import QuantityField
from clampwright.quantities.plausible import PLAUSIBLE, plausible
from clampwright.quantities.sheets import MOST_LINES, explain, validated
from clampwright.verdict.design import Design

SHEET = {"sheet": "designs/a.toml"}


class Part(BaseModel):
    """A small sheet of its own."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    resistance: fields.Resistance
    temperature: fields.Temperature = 298.15
    leakage: fields.Current | None = None
    share: fields.Ratio = 0.5
    duration: fields.Time | Literal["continuous"] = "continuous"
    kind: Literal["film", "wire"] = "film"


class Board(BaseModel):
    """Parts in a list and by name."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    parts: tuple[Part, ...] = ()
    named: dict[str, Part] = {}
    title: str = ""


def field_types() -> dict[str, object]:
    """Every public field type by its dimension."""
    annotated = [kind for kind in vars(fields).values() if hasattr(kind, "__metadata__")]
    return {
        mark.dimension: kind
        for kind in annotated
        for mark in kind.__metadata__
        if isinstance(mark, QuantityField)
    }


def test_every_dimension_has_a_field_type() -> None:
    assert set(field_types()) == set(DIMENSIONS)


@pytest.mark.parametrize("dimension", DIMENSIONS)
@given(value=st.floats(min_value=0.0) | st.just(math.nan))
def test_json_goes_out_and_comes_back(dimension: str, value: float) -> None:
    adapter: TypeAdapter[float] = TypeAdapter(field_types()[dimension])
    pair = adapter.dump_python(value, mode="json")
    assert pair["unit"] == DIMENSIONS[dimension].unit
    back = adapter.validate_json(json.dumps(pair, allow_nan=False))
    assert back == value or (math.isnan(back) and math.isnan(value))


def test_text_and_floats_are_read() -> None:
    part = Part(resistance="4k7", temperature="23 °C", leakage=3.7e-12)  # type: ignore[arg-type]
    assert (part.resistance, part.temperature, part.leakage) == (4700.0, 296.15, 3.7e-12)
    assert type(Part(resistance=47).resistance) is float


def test_dumps_floats_inside_and_units_outside() -> None:
    part = Part(resistance=math.inf, temperature=296.15, leakage=math.nan)
    assert part.model_dump()["temperature"] == 296.15
    out = part.model_dump(mode="json")
    assert out["temperature"] == {"value": 296.15, "unit": "K"}
    assert out["resistance"] == {"value": None, "unit": "Ω", "text": "unlimited"}
    assert out["leakage"] == {"value": None, "unit": "A", "text": "not a number"}
    assert out["share"] == {"value": 0.5, "unit": "1"}


def test_a_sheet_must_write_units_except_for_ratios() -> None:
    good = {"resistance": "4k7", "share": 0.25}
    assert Part.model_validate(good, context=SHEET).share == 0.25
    for bare in (470, 470.0, math.inf, "470"):
        with pytest.raises(ValidationError, match=r"has no unit.*write the unit"):
            Part.model_validate({"resistance": bare}, context=SHEET)
        if bare != "470":
            assert Part.model_validate({"resistance": bare}).resistance == bare


@pytest.mark.parametrize(
    ("value", "message"),
    [
        (True, "True is not a resistance"),
        (None, "None is not a resistance"),
        ([1.0], "is not a resistance"),
        (-1.0, "too low for a resistance"),
        ("15 V", "is a voltage, not a resistance"),
        ({"value": 5.0, "unit": "V"}, 'a number in "V" is not in "Ω"'),
        ({"value": None, "unit": "Ω"}, "None is not a resistance"),
        ({"value": "5", "unit": "Ω"}, "is not a resistance"),
        ({"value": 5.0, "unit": "Ω", "more": 1}, "is not in"),
        (10**400, "too large"),
    ],
)
def test_other_values_are_refused(value: object, message: str) -> None:
    with pytest.raises(ValidationError, match=message):
        Part.model_validate({"resistance": value})


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_ratio_in_a_sheet_must_be_finite(value: float) -> None:
    with pytest.raises(ValidationError, match="not a finite number"):
        Part.model_validate({"resistance": "1 Ω", "share": value}, context=SHEET)


@given(
    value=st.none()
    | st.booleans()
    | st.integers()
    | st.floats()
    | st.text(max_size=10)
    | st.dictionaries(st.sampled_from(["value", "unit", "text"]), st.floats() | st.just("Ω")),
)
def test_a_sheet_gives_finite_numbers_or_sentences(value: object) -> None:
    try:
        part = validated(Part, {"resistance": value, "share": value}, "a.toml")
    except InputError as error:
        assert str(error).startswith("a.toml, resistance: ") or "a.toml, share: " in str(error)
    else:
        assert math.isfinite(part.resistance)
        assert math.isfinite(part.share)


def test_json_schemas_in_both_directions() -> None:
    into = Part.model_json_schema(mode="validation")["properties"]["resistance"]
    assert {"string", "number", "object"} == {branch["type"] for branch in into["anyOf"]}
    out = Part.model_json_schema(mode="serialization")["properties"]
    assert out["resistance"]["properties"]["unit"]["const"] == "Ω"
    assert out["temperature"]["default"] == {"value": 298.15, "unit": "K"}
    assert Design.model_json_schema(mode="serialization")["title"] == "Design"


def complaint(model: type[BaseModel], data: dict[str, object]) -> str:
    with pytest.raises(InputError) as caught:
        validated(model, data, "a.toml")
    return str(caught.value)


def test_one_problem_is_one_sentence() -> None:
    assert complaint(Part, {"resistance": 470}) == (
        "a.toml, resistance: the bare number 470 has no unit; "
        'expected a resistance such as "4k7" or "50 MΩ"; write the unit.'
    )
    assert complaint(Part, {}) == (
        'a.toml, resistance: the field is missing; expected a resistance such as "4k7" or "50 MΩ".'
    )
    assert complaint(Part, {"resistance": "1 Ω", "kind": "foil"}) == (
        'a.toml, kind: \'foil\' cannot be used; expected "film" or "wire".'
    )


def test_branches_of_a_union_are_one_problem() -> None:
    assert complaint(Part, {"resistance": "1 Ω", "duration": "5 V"}) == (
        'a.toml, duration: "5 V" is a voltage, not a time; '
        'expected a time such as "10 ms" or "30 min" or "continuous".'
    )


def test_unknown_fields_get_a_suggestion_or_the_list() -> None:
    assert complaint(Board, {"parts": [{"resistance": "1 Ω"}, {"resistence": "1 Ω"}]}) == (
        "a.toml, parts.2.resistance: the field is missing; "
        'expected a resistance such as "4k7" or "50 MΩ".\n'
        'a.toml, parts.2.resistence: there is no field "resistence" here; '
        'did you mean "resistance".'
    )
    assert complaint(Board, {"xyz": 1}) == (
        'a.toml, xyz: there is no field "xyz" here; expected one of parts, named, title.'
    )


def test_paths_through_named_sections() -> None:
    text = complaint(Board, {"named": {"R1": {"resistance": "5 V"}}})
    assert text.startswith('a.toml, named.R1.resistance: "5 V" is a voltage')


def test_a_long_list_is_cut_and_says_so() -> None:
    lines = complaint(Board, {"parts": [{"resistance": 1}] * (MOST_LINES + 2)}).splitlines()
    assert len(lines) == MOST_LINES + 1
    assert lines[-1] == "a.toml: 2 more problems follow."


def test_explain_works_without_the_model() -> None:
    with pytest.raises(ValidationError) as caught:
        Part.model_validate({"resistance": "5 V", "duration": "x"})
    text = str(explain(caught.value, "a.toml"))
    assert text.splitlines()[0].startswith('a.toml, resistance: "5 V" is a voltage')
    assert text.splitlines()[1].startswith('a.toml, duration: "x" does not begin with a number')


def design(**requirement: object) -> dict[str, object]:
    """The smallest design sheet; all its values are invented."""
    asked = {"quantity": "pH", "signal_minimum": "-0.4 V", "signal_maximum": "0.4 V"}
    return {
        "title": "invented",
        "requirement": asked | requirement,
        "source": {"resistance": "50 MΩ"},
        "rails": {"positive": "5 V", "negative": "-5 V"},
        "network": {"topology": "T1", "outer_resistor": {"value": "100k"}},
        "faults": [{"name": "mains adapter", "voltage": "24 V", "duration": "10 ms"}],
    }


@pytest.mark.parametrize(
    ("requirement", "accuracy"),
    [
        ({"accuracy": 0.05, "accuracy_unit": "pH", "sensitivity": "59.16 mV"}, 0.05),
        ({"accuracy": "0.05 pH", "accuracy_unit": "pH", "sensitivity": "59.16 mV"}, 0.05),
        # 2.958 mV = 0.05 · 59.16 mV, the slope of a glass electrode at 25 °C (2.303 kT/q)
        ({"accuracy": "2.958 mV", "accuracy_unit": "pH", "sensitivity": "-59.16 mV"}, 0.05),
        ({"accuracy": "0.9 mV"}, 0.9e-3),
        ({"accuracy": "500 fA", "accuracy_unit": "pA", "sensitivity": "1 mV"}, 0.5),
        ({"accuracy": "3 mV", "accuracy_unit": "pA", "sensitivity": "1 mV"}, 3.0),
    ],
)
def test_accuracy_ends_in_its_own_unit(requirement: dict[str, object], accuracy: float) -> None:
    read = validated(Design, design(**requirement), "a.toml")
    assert read.requirement.accuracy == pytest.approx(accuracy, rel=1e-15, abs=0)
    assert Design.model_validate_json(read.model_dump_json()) == read


@pytest.mark.parametrize(
    ("requirement", "message"),
    [
        ({"accuracy": "0.9 mA"}, "requirement.accuracy: .* is a current, not a voltage"),
        ({"accuracy": 0.05, "accuracy_unit": "pH"}, "how many volts one pH makes"),
        (
            {"accuracy": "-1 V"},
            'requirement.accuracy: -1 V cannot be used; expected a voltage above 0 V, such as "5 µV"',
        ),
        (
            {"accuracy": "-5 µV"},
            '-5 µV cannot be used; expected a voltage above 0 V, such as "5 µV"',
        ),
        (
            {"accuracy": "0 pH", "accuracy_unit": "pH", "sensitivity": "59 mV"},
            '0 pH cannot be used; expected an accuracy above 0 pH, such as "0.05 pH" or "3 mV"',
        ),
        ({"accuracy": "50 mV", "signal_minimum": "1 V"}, "signal_minimum must lie below"),
        ({"accuracy": "50 mV", "sensitivity": "0 V"}, "sensitivity must not be zero"),
        ({"accuracy": 5}, r'requirement.accuracy: 5 has no unit; write the unit, as in "5 µV"'),
        ({"accuracy": "5"}, r'requirement.accuracy: 5 has no unit; write the unit, as in "5 µV"'),
        (
            {"accuracy": 3, "accuracy_unit": "A", "sensitivity": "1 GV"},
            r"3 has no unit; write .*pA",
        ),
        ({"accuracy": "1e-20 V"}, "is too small to be meant"),
        ({"accuracy": 1e12, "accuracy_unit": "pH", "sensitivity": "59 mV"}, "is too large"),
        ({"accuracy": True}, "true is not an accuracy"),
        ({"accuracy": "1 V", "common_mode_rejection": -80}, "greater than or equal to 0"),
    ],
)
def test_accuracy_that_cannot_be_meant(requirement: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        validated(Design, design(**requirement), "a.toml")


@pytest.mark.parametrize(
    ("text", "side"), [("1e300 Ω", "large"), ("1e-200 Ω", "small"), ("1e18 Ω", "large")]
)
def test_what_cannot_be_meant_is_refused_with_the_range(text: str, side: str) -> None:
    with pytest.raises(InputError) as caught:
        validated(Part, {"resistance": text}, "a.toml")
    assert f'"{text}" is too {side} to be meant' in str(caught.value)
    assert "expected 1.00\u2009nΩ … 100000\u2009TΩ" in str(caught.value)


def test_a_bound_of_a_quantity_is_told_with_its_unit() -> None:
    sheet = design(accuracy="1 mV")
    sheet["source"] = {**sheet["source"], "resistance": "0 Ω"}
    with pytest.raises(InputError) as caught:
        validated(Design, sheet, "a.toml")
    told = "source.resistance: 0 Ω cannot be used; expected a resistance greater than 0 Ω, such as"
    assert told in str(caught.value)


def test_every_dimension_has_a_range_and_zero_is_in_all_of_them() -> None:
    assert set(DIMENSIONS) <= set(PLAUSIBLE)
    for dimension, (least, largest) in PLAUSIBLE.items():
        assert 0 < least < largest < math.inf
        assert plausible(0.0, dimension) == 0.0


@pytest.mark.parametrize(("field", "text", "ends"), [
    ("board.temperature_maximum", "300 °C", "-100 °C … 250 °C"),
    ("rails.minimum_load", "-2 mA", "0 A … 100 A"),
    ("requirement.settle_time", "-5 s", "0 s … 4000 d"),
])  # fmt: skip
def test_what_cannot_be_meant_in_one_field_is_refused_with_its_ends(
    field: str, text: str, ends: str
) -> None:
    table, name = field.split(".")
    sheet = design(accuracy="1 mV")
    sheet[table] = {**sheet.get(table, {}), name: text}
    with pytest.raises(InputError, match="cannot be meant; expected") as caught:
        validated(Design, sheet, "a.toml")
    assert field in str(caught.value) and ends in str(caught.value)
    Design.model_validate(sheet)  # what a program computes is not judged by it
