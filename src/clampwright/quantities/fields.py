"""Field types of data models: text with a unit in, an SI float inside, a number with its unit out.

A field reads text ("4k7"), an SI float, or the {"value", "unit"} pair it writes itself to JSON.
With the validation context {"sheet": "name of file"} the value was typed by a person, so a bare
number is refused because nobody can know its unit.
"""

from __future__ import annotations

import math
import reprlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Annotated, Any

from pydantic_core import PydanticCustomError, core_schema

from clampwright.errors import InputError
from clampwright.quantities.dimensions import DIMENSIONS, Dimension
from clampwright.quantities.plausible import plausible
from clampwright.quantities.reading import read
from clampwright.quantities.writing import NOT_A_NUMBER, UNLIMITED, write

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler

ERROR_TYPE = "quantity"
"""Type of our errors among pydantic's; their context has `wrong`, `expected` and `mend`."""

_NOT_FINITE = {UNLIMITED: math.inf, f"-{UNLIMITED}": -math.inf, NOT_A_NUMBER: math.nan}


@dataclass(frozen=True)
class QuantityField:
    """Annotation that makes a float a quantity of one dimension (a key of `DIMENSIONS`)."""

    dimension: str

    @property
    def kind(self) -> Dimension:
        """What the field accepts and prints."""
        return DIMENSIONS[self.dimension]

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        least = -math.inf if self.kind.minimum is None else self.kind.minimum

        def validated(value: Any, info: core_schema.ValidationInfo) -> float:
            """As `_validated`; a float of our own, of which there are hundreds in a result, at once."""
            if type(value) is float and info.context is None and not value < least:
                return value
            return self._validated(value, info)

        return core_schema.with_info_plain_validator_function(
            validated,
            serialization=core_schema.plain_serializer_function_ser_schema(
                self._json, when_used="json"
            ),
        )

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        pair = {
            "type": "object",
            "properties": {
                "value": {"anyOf": [{"type": "number"}, {"type": "null"}]},
                "unit": {"const": self.kind.unit, "type": "string"},
                "text": {"enum": list(_NOT_FINITE), "type": "string"},
            },
            "required": ["value", "unit"],
            "additionalProperties": False,
        }
        if handler.mode == "serialization":
            return pair
        text = {"type": "string", "examples": list(self.kind.examples)}
        return {"anyOf": [text, {"type": "number"}, pair], "description": self.kind.words}

    def _validated(self, value: Any, info: core_schema.ValidationInfo) -> float:
        typed = bool((info.context or {}).get("sheet"))
        try:
            return self._float(value, typed)
        except InputError as error:
            raise collected(error) from None

    def _float(self, value: Any, typed: bool) -> float:
        if isinstance(value, str):
            found = read(value, self.dimension)
            return plausible(found, self.dimension, value) if typed else found
        if isinstance(value, Mapping):
            return self._bounded(self._from_pair(value), typed)
        number = self._number(value)
        if typed and self.dimension != "ratio":
            raise self._refusal(f"the bare number {number:g} has no unit", "write the unit")
        return self._bounded(number, typed)

    def _from_pair(self, pair: Mapping[Any, Any]) -> float:
        """The float of the {"value", "unit"} pair that `_json` writes."""
        value, unit = pair.get("value"), pair.get("unit")
        if unit != self.kind.unit or not set(pair) <= {"value", "unit", "text"}:
            raise self._refusal(f'a number in "{unit}" is not in "{self.kind.unit}"')
        if value is None:
            value = _NOT_FINITE.get(str(pair.get("text")))
        return self._number(value)

    def _number(self, value: Any) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._refusal(f"{reprlib.repr(value)} is not {self.kind.words}")
        try:
            return float(value)
        except OverflowError:
            raise self._refusal(f"{reprlib.repr(value)} is too large") from None

    def _bounded(self, value: float, typed: bool) -> float:
        if typed and not math.isfinite(value):
            raise self._refusal(f"{value!r} is not a finite number")
        if self.kind.minimum is not None and value < self.kind.minimum:
            raise self._refusal(f"{value!r} {self.kind.unit} is too low for {self.kind.words}")
        return plausible(value, self.dimension) if typed else value

    def _refusal(self, wrong: str, mend: str = "") -> InputError:
        return InputError(wrong, expected=self.kind.expected, mend=mend)

    def _json(self, value: float) -> dict[str, Any]:
        if math.isfinite(value):
            return {"value": value, "unit": self.kind.unit}
        text = next(name for name, number in _NOT_FINITE.items() if _same(number, value))
        return {"value": None, "unit": self.kind.unit, "text": text}


@dataclass(frozen=True)
class Within:
    """Annotation behind a quantity: ends of what can be meant in this one field, as text.

    Like `plausible` it holds only for what a person typed into a sheet.
    """

    dimension: str
    low: str
    high: str

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.with_info_after_validator_function(self._checked, handler(source))

    def _checked(self, value: float, info: core_schema.ValidationInfo) -> float:
        if not (info.context or {}).get("sheet"):
            return value
        if _end(self.low, self.dimension) <= value <= _end(self.high, self.dimension):
            return value
        shown = write(value, self.dimension)
        raise collected(
            InputError(f"{shown} cannot be meant", expected=f"{self.low} … {self.high}")
        )


@cache
def _end(text: str, dimension: str) -> float:
    """An end of a range, read once."""
    return read(text, dimension)


def quantity_text(text: str, dimension: str) -> float:
    """`read` for use inside a validator: its error is gathered with the others of the model."""
    try:
        return read(text, dimension)
    except InputError as error:
        raise collected(error) from None


def _same(one: float, other: float) -> bool:
    return one == other or (math.isnan(one) and math.isnan(other))


def collected(error: InputError) -> PydanticCustomError:
    """Our error in the form pydantic gathers with the others of the same sheet."""
    context = {"wrong": error.wrong, "expected": error.expected, "mend": error.mend}
    return PydanticCustomError(ERROR_TYPE, "{sentence}", {**context, "sentence": str(error)})


Voltage = Annotated[float, QuantityField("voltage")]
Current = Annotated[float, QuantityField("current")]
Resistance = Annotated[float, QuantityField("resistance")]
Conductance = Annotated[float, QuantityField("conductance")]
Capacitance = Annotated[float, QuantityField("capacitance")]
Inductance = Annotated[float, QuantityField("inductance")]
Charge = Annotated[float, QuantityField("charge")]
Power = Annotated[float, QuantityField("power")]
Energy = Annotated[float, QuantityField("energy")]
Temperature = Annotated[float, QuantityField("temperature")]
TemperatureDifference = Annotated[float, QuantityField("temperature_difference")]
Illuminance = Annotated[float, QuantityField("illuminance")]
Time = Annotated[float, QuantityField("time")]
Frequency = Annotated[float, QuantityField("frequency")]
Ratio = Annotated[float, QuantityField("ratio")]
Responsivity = Annotated[float, QuantityField("responsivity")]
ThermalResistance = Annotated[float, QuantityField("thermal_resistance")]
Transresistance = Annotated[float, QuantityField("transresistance")]
VoltageNoise = Annotated[float, QuantityField("voltage_noise")]
CurrentNoise = Annotated[float, QuantityField("current_noise")]
VoltageDrift = Annotated[float, QuantityField("voltage_drift")]
CurrentDrift = Annotated[float, QuantityField("current_drift")]
VoltageRate = Annotated[float, QuantityField("voltage_rate")]
ActivationEnergy = Annotated[float, QuantityField("activation_energy")]
