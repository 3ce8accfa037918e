"""The part sheet: leads, junctions, package, ratings and data-sheet figures as a user writes them.

A figure keeps whether it is a maximum, typical, minimum or measured value, and its conditions: a
leakage without voltage and temperature is refused, because nobody can use it. Evidence from the
bench is only referred to by id.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    TypeAdapter,
    ValidationError,
    ValidationInfo,
    field_serializer,
    model_validator,
)

from clampwright.errors import InputError
from clampwright.quantities import DIMENSIONS
from clampwright.quantities.fields import (
    ERROR_TYPE,
    Capacitance,
    Current,
    Illuminance,
    Power,
    QuantityField,
    Ratio,
    Temperature,
    ThermalResistance,
    Voltage,
)

Kind = Literal[
    "npn transistor",
    "pnp transistor",
    "n-channel jfet",
    "p-channel jfet",
    "diode",
    "dual diode",
    "diode quad",
    "esd array",
    "led",
    "n-channel mosfet",
    "p-channel mosfet",
    "depletion mosfet",
    "zener diode",
    "suppressor",
    "varistor",
    "photodiode",
    "gas tube",
    "resettable fuse",
    "photorelay output",
]
Light = Literal[
    "clear glass", "painted glass", "translucent plastic", "opaque plastic", "metal", "unknown"
]
FigureKind = Literal["maximum", "typical", "minimum", "measured"]
FIGURE_DIMENSIONS = {
    "reverse leakage": "current",
    "forward current": "current",
    "forward voltage": "voltage",
    "breakdown voltage": "voltage",
    "clamping voltage": "voltage",
    "reverse voltage": "voltage",
    "capacitance": "capacitance",
    "power": "power",
}  # what a figure may be of, and the dimension of its value
Name = Annotated[str, Field(min_length=1, max_length=80)]
LeadName = Annotated[str, Field(pattern=r"^[A-Za-z0-9]+[+−-]?$", max_length=8)]


class SheetPart(BaseModel):
    """Base of every table of a sheet: frozen, no unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Package(SheetPart):
    """The body: how much light it lets in and how hot it gets for each watt."""

    name: Name
    light: Light = "unknown"
    thermal_resistance: ThermalResistance | None = None


class ForwardPoint(SheetPart):
    """A forward voltage at a current, as the data sheet states it."""

    voltage: Voltage
    current: Annotated[Current, Field(gt=0)]
    kind: Literal["typical", "maximum"] = "typical"


class Junction(SheetPart):
    """One junction between two leads, with its class of the catalogue and its own ratings."""

    name: Name
    anode: LeadName
    cathode: LeadName
    junction_class: Annotated[Name, Field(alias="class")]
    share: Annotated[float, Field(gt=0, le=1)] = (
        1.0  # of the class's area (a JFET gate has two halves)
    )
    both_ways: bool = False  # conducts alike in both directions (varistor, two-way suppressor)
    breakdown_minimum: Annotated[Voltage, Field(gt=0)] | None = None
    breakdown_typical: Annotated[Voltage, Field(gt=0)] | None = None
    forward_current_maximum: Annotated[Current, Field(gt=0)] | None = None
    power_maximum: Annotated[Power, Field(gt=0)] | None = None
    capacitance: Annotated[Capacitance, Field(gt=0)] | None = None
    forward_voltage: tuple[ForwardPoint, ...] = ()


class Figure(SheetPart):
    """One figure of a data sheet with its kind, conditions and where it was printed."""

    quantity: str
    of: Name  # a junction or a wiring of this part
    kind: FigureKind
    value: float
    voltage: Voltage | None = None
    current: Current | None = None
    temperature: Temperature | None = None
    illuminance: Illuminance | None = None
    condition: str = ""
    source: str = ""
    page: str = ""
    date: str = ""

    @model_validator(mode="before")
    @classmethod
    def _read_value(cls, data: Any, info: ValidationInfo) -> Any:
        """The value read in the dimension of its quantity."""
        if not isinstance(data, Mapping) or "value" not in data:
            return data
        quantity = data.get("quantity")
        if quantity not in FIGURE_DIMENSIONS:
            raise ValueError(
                f'"{quantity}" is not a quantity of a figure; '
                f"expected one of {', '.join(FIGURE_DIMENSIONS)}"
            )
        return {**data, "value": _as_quantity(data["value"], str(quantity), info)}

    @field_serializer("value", when_used="json")
    def _write_value(self, value: float) -> dict[str, Any]:
        unit = DIMENSIONS[FIGURE_DIMENSIONS[self.quantity]].unit
        return {"value": value, "unit": unit}

    @model_validator(mode="after")
    def _conditions_stated(self) -> Figure:
        if self.quantity == "reverse leakage" and (
            self.voltage is None or self.temperature is None
        ):
            raise ValueError(
                f"the {self.kind} reverse leakage of {self.of} has no voltage or no temperature; "
                "add both from the same line of the data sheet, or leave the figure out"
            )
        if self.quantity == "reverse leakage" and self.value <= 0:
            raise ValueError(f"the {self.kind} reverse leakage of {self.of} must be above 0 A")
        return self


class Lot(SheetPart):
    """The spread from part to part of one lot in one wiring (standard deviation of ln I)."""

    wiring: Name
    count: Annotated[int, Field(ge=2)]
    log_standard_deviation: Annotated[Ratio, Field(ge=0)]
    date: str = ""
    origin: str = ""


class Evidence(SheetPart):
    """Where bench readings of one wiring are: the stem of a readings file, never numbers."""

    readings: Name
    wiring: Name
    note: str = ""


class PartSheet(SheetPart):
    """A whole part sheet."""

    id: Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=60)]
    title: Name
    kind: Kind
    leads: tuple[LeadName, ...]
    package: Package
    junctions: tuple[Junction, ...] = ()
    figures: tuple[Figure, ...] = ()
    lots: tuple[Lot, ...] = ()
    evidence: tuple[Evidence, ...] = ()
    note: str = ""

    @model_validator(mode="after")
    def _leads_agree(self) -> PartSheet:
        if len(self.leads) < 2 or len(set(self.leads)) != len(self.leads):
            raise ValueError("a part has at least two leads, each with its own name")
        for junction in self.junctions:
            for lead in (junction.anode, junction.cathode):
                if lead not in self.leads:
                    raise ValueError(
                        f'junction {junction.name} uses lead "{lead}", '
                        f"which is not among the leads {', '.join(self.leads)}"
                    )
        names = [junction.name for junction in self.junctions]
        if len(set(names)) != len(names):
            raise ValueError("two junctions have the same name")
        return self


def read_sheet(data: Mapping[str, Any], where: str) -> PartSheet:
    """The part sheet in `data` (a parsed TOML table); `where` names the file in messages.

    Raises InputError with one sentence for the first thing that is wrong.
    """
    try:
        sheet = PartSheet.model_validate(_plain(data), context={"sheet": where or "part sheet"})
    except ValidationError as error:
        raise _as_input_error(error, where) from None
    _check_names(sheet, where)
    return sheet


def _check_names(sheet: PartSheet, where: str) -> None:
    """Classes, junctions and wirings that the sheet names must exist."""
    from clampwright.parts.catalogue import junction_class
    from clampwright.parts.wirings import wiring_named

    def place(table: str, index: int, field: str) -> str:
        return f"{where}, {table}.{index}.{field}" if where else f"{table}.{index}.{field}"

    for index, junction in enumerate(sheet.junctions, 1):
        junction_class(junction.junction_class, place("junctions", index, "class"))
    names = {junction.name for junction in sheet.junctions}
    for index, figure in enumerate(sheet.figures, 1):
        if figure.of not in names:
            wiring_named(sheet, figure.of, place("figures", index, "of"))
    for index, lot in enumerate(sheet.lots, 1):
        wiring_named(sheet, lot.wiring, place("lots", index, "wiring"))
    for index, evidence in enumerate(sheet.evidence, 1):
        wiring_named(sheet, evidence.wiring, place("evidence", index, "wiring"))


def _as_quantity(value: Any, quantity: str, info: ValidationInfo) -> float:
    """The value of a figure, read by the field type of its dimension."""
    field = Annotated[float, QuantityField(FIGURE_DIMENSIONS[quantity])]
    reader: TypeAdapter[float] = TypeAdapter(field)
    return reader.validate_python(value, context=info.context)


def _plain(value: Any) -> Any:
    """Plain containers, so that documents which remember comments are read too."""
    if hasattr(value, "unwrap"):
        return value.unwrap()
    return dict(value) if isinstance(value, Mapping) else value


def _as_input_error(error: ValidationError, where: str) -> InputError:
    """The first of pydantic's findings as our one sentence."""
    first = error.errors(include_url=False)[0]
    path = ".".join(str(step + 1) if isinstance(step, int) else str(step) for step in first["loc"])
    place = ", ".join(part for part in (where, path) if part)
    if first["type"] == "extra_forbidden":
        return InputError("unknown field", where=place, mend="check its spelling or remove it")
    if first["type"] == "missing":
        return InputError("this field is missing", where=place, mend="add it")
    if first["type"] == ERROR_TYPE:
        context = first["ctx"]
        return InputError(
            context["wrong"], where=place, expected=context["expected"], mend=context["mend"]
        )
    message = str(first["msg"]).removeprefix("Value error, ")
    return InputError(message[:1].lower() + message[1:], where=place)
