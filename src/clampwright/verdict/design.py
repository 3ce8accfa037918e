"""The design sheet as a user writes it: requirement, source, board, rails, network, faults.

Floats inside are SI (temperatures in kelvin); the field types read and print the units.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    Field,
    PrivateAttr,
    ValidationInfo,
    field_validator,
    model_validator,
)

from clampwright.errors import InputError
from clampwright.network.own import Element
from clampwright.physics.source_resistance import SourceLaw
from clampwright.quantities.fields import (
    Capacitance,
    Power,
    Ratio,
    Resistance,
    TemperatureDifference,
    Voltage,
    VoltageDrift,
)
from clampwright.verdict import spans
from clampwright.verdict.accuracy import accuracy_in_unit

SignalLaw = Literal["constant", "absolute temperature"]
Dielectric = Literal[
    "PTFE", "polystyrene", "polypropylene", "C0G", "mica", "polyester", "X7R", "electrolytic"
]
TOPOLOGY_NAMES = ("own", *(f"T{number}" for number in range(1, 19)))


def _known_topology(name: str) -> str:
    if name not in TOPOLOGY_NAMES:
        raise ValueError(f'there is no circuit "{name}": write "T1" to "T18", or "own"')
    return name


def _ordered(sheet: BaseModel, lower: str, upper: str) -> None:
    if getattr(sheet, lower) > getattr(sheet, upper):
        raise ValueError(f"{lower} must not lie above {upper}")


TopologyName = Annotated[str, AfterValidator(_known_topology)]
PowerState = Literal["on", "asleep", "off"]


class Sheet(BaseModel):
    """Base of every part of a sheet: frozen, no unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Requirement(Sheet):
    """What must be measured and how well; `protection_share` is common practice (one third).

    `accuracy` is a number in `accuracy_unit`; one such unit makes `sensitivity` volts at
    `signal_temperature`. Text may be in that unit ("0.05 pH") or a voltage ("3 mV"), which is
    divided by the sensitivity while it is read. A sheet may write a bare number only in a unit of
    the user's own: in volts or amperes it is refused. With `accuracy_of = "offset"` only the error at zero
    signal (or the signal end nearest to it) is judged; gain error is still shown.
    """

    quantity: str
    signal_minimum: spans.SignalVoltage
    signal_maximum: spans.SignalVoltage
    signal_law: SignalLaw = "constant"
    signal_temperature: spans.SensorTemperature = 298.15
    accuracy_unit: str = "V"
    sensitivity: Voltage = 1.0
    accuracy: Annotated[float, Field(gt=0, allow_inf_nan=False)]
    accuracy_of: Literal["reading", "offset"] = "reading"
    protection_share: Annotated[Ratio, Field(gt=0, le=1)] = 1 / 3
    bandwidth: spans.SignalFrequency = 10.0
    settle_to: Annotated[Ratio, Field(gt=0, lt=1)] = 1e-3
    settle_time: spans.Span | None = None
    noise: spans.RmsVoltage | None = None
    noise_bandwidth: spans.SignalFrequency | None = None
    calibration_temperature: spans.BoardTemperature | None = None
    mains_frequency: spans.SignalFrequency = 50.0
    common_mode_rejection: Annotated[float, Field(ge=0, le=300)] | None = None  # dB at the mains

    @field_validator("accuracy", mode="before")
    @classmethod
    def _with_its_unit(cls, accuracy: object, info: ValidationInfo) -> object:
        """The fields before this one are already read; a sheet must write volts with their unit."""
        unit = info.data.get("accuracy_unit") or "V"
        volts = (
            info.data.get("sensitivity") or 1.0
        )  # what is wrong with it is told at its own field
        typed = bool((info.context or {}).get("sheet"))
        return accuracy_in_unit(accuracy, unit, volts, typed=typed)

    @field_validator("common_mode_rejection", mode="before")
    @classmethod
    def _decibels(cls, rejection: object) -> object:
        return rejection.removesuffix("dB").strip() if isinstance(rejection, str) else rejection

    @model_validator(mode="after")
    def _consistent(self) -> Requirement:
        if self.accuracy_unit != "V" and "sensitivity" not in self.model_fields_set:
            raise ValueError(
                f"sensitivity is missing: how many volts one {self.accuracy_unit} makes"
            )
        if self.sensitivity == 0.0:
            raise ValueError("sensitivity must not be zero")
        if self.signal_minimum >= self.signal_maximum:
            raise ValueError("signal_minimum must lie below signal_maximum")
        return self


class Source(Sheet):
    """The sensor: resistance at a reference temperature and the law by which heat changes it."""

    resistance: Annotated[spans.SourceResistance, Field(gt=0)]
    law: SourceLaw = "constant"
    reference_temperature: spans.SensorTemperature = 298.15
    interval: spans.DoublingInterval | None = None
    temperature_minimum: spans.SensorTemperature = 296.15
    temperature_maximum: spans.SensorTemperature = 296.15
    cable_capacitance: spans.SignalCapacitance = 0.0
    hum_peak: Annotated[spans.HumVoltage, Field(gt=0)] | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Source:
        _ordered(self, "temperature_minimum", "temperature_maximum")
        return self


class Board(Sheet):
    """Where the clamp sits: its own temperatures and light, and the film on it.

    `surface_resistance` (per square) times `film_squares` (gap over length) is the film between the
    signal node and what lies beside it, at `neighbour_voltage` or, with a `guard_ring`, the guard.
    `insulation_resistance` is what connector, socket and board leave beside that film.
    """

    temperature_minimum: spans.BoardTemperature = 296.15
    temperature_maximum: spans.BoardTemperature = 296.15
    illuminance_minimum: spans.Light = 0.0
    illuminance_maximum: spans.Light = 0.0
    lamp: str = ""
    surface_resistance: Annotated[Resistance, Field(gt=0)] | None = None
    film_squares: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    insulation_resistance: Annotated[Resistance, Field(gt=0)] | None = None
    neighbour_voltage: spans.SignalVoltage | None = None
    guard_ring: bool = False

    @model_validator(mode="after")
    def _consistent(self) -> Board:
        _ordered(self, "temperature_minimum", "temperature_maximum")
        _ordered(self, "illuminance_minimum", "illuminance_maximum")
        return self


class Rails(Sheet):
    """Supply rails of the amplifier; `minimum_load` is the sleep-mode current that counts.

    `shunt_voltage`: a clamp on the rail itself that sinks what the load cannot take.
    """

    positive: spans.RailVoltage
    negative: spans.RailVoltage
    load: spans.LoadCurrent | None = None
    minimum_load: spans.LoadCurrent | None = None
    can_sink: bool = False
    capacitance: spans.RailCapacitance = 1e-6
    absolute_maximum: spans.RailVoltage | None = None
    shunt_voltage: spans.RailVoltage | None = None

    @model_validator(mode="after")
    def _consistent(self) -> Rails:
        if self.positive <= self.negative:
            raise ValueError("the positive rail must lie above the negative one")
        return self


class Amplifier(Sheet):
    """Input figures of the amplifier; `bias_current` is given into the pin, as data sheets do."""

    family: Literal[
        "bipolar precision",
        "super-beta",
        "jfet",
        "cmos",
        "cmos electrometer",
        "zero-drift",
        "instrumentation",
    ] = "cmos electrometer"
    offset_voltage: spans.SmallVoltage = 0.0
    offset_drift: spans.OffsetDrift = 0.0
    bias_current: spans.BiasCurrent | None = None
    bias_kind: Literal["typical", "maximum", "measured"] = "typical"
    bias_temperature: spans.BoardTemperature = 298.15
    bias_doubling: spans.DoublingInterval | None = None
    bias_drift: spans.BiasDrift | None = None
    voltage_noise: spans.NoiseVoltage = 0.0
    current_noise: spans.NoiseCurrent = 0.0
    input_capacitance: spans.SignalCapacitance = 5e-12
    feedback_capacitance: spans.SignalCapacitance = 0.0
    pin_beyond_rail: spans.RailVoltage = 0.3
    pin_current_maximum: spans.PinCurrent | None = None
    guard_offset: spans.SmallVoltage | None = None
    guard_gain_error: spans.GainError = 0.0
    guard_output_minimum: spans.RailVoltage | None = None
    guard_output_maximum: spans.RailVoltage | None = None
    guard_output_current: Annotated[spans.PinCurrent, Field(gt=0)] | None = None
    guard_open_loop_gain: Annotated[float, Field(gt=0, allow_inf_nan=False)] | None = None
    guard_unity_gain_frequency: Annotated[spans.SignalFrequency, Field(gt=0)] | None = None
    guard_slew_rate: Annotated[spans.SlewRate, Field(gt=0)] | None = None


def guard_offset(design: Design) -> float:
    """Follower output minus input (V) where the topology has a guard, 0 V elsewhere.

    Raises InputError when a guard is wanted and its offset is not stated: with 0 V the clamps would
    seem to leak nothing at all.
    """
    if design.network.topology not in ("T5", "T14"):
        return 0.0
    if design.amplifier.guard_offset is None:
        raise InputError(
            "the offset of the guard follower is not stated",
            where="amplifier.guard_offset",
            expected='the largest difference between guard and pin, such as "250 µV"',
        )
    return abs(design.amplifier.guard_offset)


class Resistor(Sheet):
    """One series resistor, or `count` equal ones in series; ratings default from the chip size."""

    value: Resistance
    count: Annotated[int, Field(ge=1, le=20)] = 1
    package: str = "1206"
    working_voltage: Voltage | None = None
    power_rating: Power | None = None


class Network(Sheet):
    """Topology and parts; `clamp` is `part id` and wiring, for example "npn-small C/B+E".

    `pair`: two such legs make a differential input, and what counts is their mismatch. `values` and
    `classes` state what else a topology needs, by the full name of the role: quantities as text,
    parts off the signal node as a class of the catalogue. With topology "own", `elements` is the user's
    network; its series resistor is called R_outer, and clamps whose part is `clamp` are judged.
    T15 is a pair by definition, T13 never one.
    """

    topology: TopologyName
    outer_resistor: Resistor
    inner_resistor: Resistor | None = None
    guard_resistor: Resistor | None = None
    clamp: str | None = None
    values: dict[str, str] = {}
    classes: dict[str, str] = {}
    elements: tuple[Element, ...] = ()
    pair: bool = False
    resistor_tolerance: Ratio = 0.01
    capacitor_tolerance: Ratio = 0.05
    clamp_match: Ratio | None = None
    node_capacitance: Capacitance = 0.0
    differential_capacitance: Capacitance = 0.0
    capacitor_dielectric: Dielectric | None = None
    capacitor_absorption: Annotated[Ratio, Field(gt=0, lt=1)] | None = None
    clamp_hum_peak: Annotated[Voltage, Field(gt=0)] | None = None
    thermal_joints: Annotated[int, Field(ge=1, le=1000)] | None = None
    joint_coefficient: VoltageDrift | None = None
    joint_temperature_difference: TemperatureDifference | None = None
    _parts: dict[str, Any] = PrivateAttr(default_factory=dict)  # set by `own_parts.with_parts`

    @model_validator(mode="before")
    @classmethod
    def _differential(cls, sheet: object) -> object:
        """T15 draws two legs: it is a pair whether the sheet says so or not; T13 can be none."""
        if isinstance(sheet, dict) and sheet.get("topology") == "T15":
            if sheet.get("pair", True) is False:
                raise ValueError("T15 is a differential pair: remove pair = false, or choose T2")
            return {**sheet, "pair": True}
        if isinstance(sheet, dict) and sheet.get("topology") == "T13" and sheet.get("pair") is True:
            raise ValueError(
                "T13 takes a current at a virtual ground, which has no common-mode voltage: remove "
                "pair = true, or choose another topology"
            )
        return sheet

    @model_validator(mode="before")
    @classmethod
    def _drawn(cls, sheet: object) -> object:
        """The element R_outer of a user's own network is its outer resistor: written once."""
        if not isinstance(sheet, dict) or sheet.get("topology") != "own":
            return sheet
        if "outer_resistor" in sheet or not isinstance(sheet.get("elements"), list | tuple):
            return sheet
        for element in sheet["elements"]:
            if isinstance(element, dict) and element.get("name") == "R_outer":
                return {**sheet, "outer_resistor": {"value": element.get("value")}}
        return sheet


class Fault(Sheet):
    """One fault applied at the connector; `channels` inputs that share the rails suffer it together."""

    name: str
    kind: Literal["dc", "mains-frequency", "esd", "surge", "burst"] = "dc"
    voltage: spans.FaultVoltage
    both_signs: bool = True
    channels: Annotated[int, Field(ge=1, le=1000)] = 1
    frequency: spans.SignalFrequency = 50.0
    source_resistance: spans.SourceResistance = 0.0
    duration: spans.Span | Literal["continuous"] = "continuous"
    power: PowerState = "on"
    standard: str = ""
    outcome: Literal["A", "B", "C", "D"] = "B"


class Surroundings(Sheet):
    """Answers to the safety questions; `acknowledged` holds the name of who took the caution."""

    wet: bool = False
    mains_nearby: bool = False
    patient: bool = False
    explosive_atmosphere: bool = False
    acknowledged: str = ""


class Design(Sheet):
    """A whole design sheet."""

    title: str
    revision: str = "A"
    note: str = ""
    requirement: Requirement
    source: Source
    board: Board = Board()
    rails: Rails
    amplifier: Amplifier = Amplifier()
    network: Network
    faults: tuple[Fault, ...] = ()
    surroundings: Surroundings = Surroundings()

    @model_validator(mode="after")
    def _faults_apart(self) -> Design:
        names = [fault.name for fault in self.faults]
        twice = next((name for name in names if names.count(name) > 1), None)
        if twice is not None:
            raise ValueError(f'two faults are named "{twice[:80]}": give each a name of its own')
        return self


__all__ = [
    "Amplifier",
    "Board",
    "Design",
    "Fault",
    "Network",
    "Rails",
    "Requirement",
    "Resistor",
    "Sheet",
    "Source",
    "Surroundings",
    "guard_offset",
]
