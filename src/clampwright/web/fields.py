"""The fields of a design as the requirement page asks for them: label, hint, choices."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

YES_NO = ("yes", "no")


@dataclass(frozen=True)
class Field:
    """One field: dotted name in the sheet, what to ask, an example or hint, and choices if few."""

    name: str
    label: str
    hint: str = ""
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class Group:
    """Fields that belong together, with one sentence on why they are asked."""

    title: str
    words: str
    fields: tuple[Field, ...]
    fault: int = 0  # number on the sheet, 0 for what is no fault


GROUPS = (
    Group("What is measured", "The signal (of a summing node: its output) and how well it must be known.", (
        Field("title", "Title"),
        Field("requirement.quantity", "Quantity and sensor", "soil pH, glass electrode"),
        Field("requirement.signal_minimum", "Lowest signal", "-177 mV"),
        Field("requirement.signal_maximum", "Highest signal", "237 mV"),
        Field("requirement.accuracy", "Accuracy", "0.05 pH or 3 mV"),
        Field("requirement.protection_share", "Share for the protection", "1/3"),
        Field("requirement.bandwidth", "Bandwidth", "10 Hz"),
        Field("requirement.settle_to", "Settle to", "0.1 %"),
        Field("requirement.settle_time", "…within", "5 s"),
        Field("requirement.noise", "Noise allowed", "20 µV"),
        Field("requirement.calibration_temperature", "Zero taken at", "23 °C"),
    )),
    Group("Source", "The sensor's place may be far colder than the board.", (
        Field("source.resistance", "Source resistance", "50 MΩ"),
        Field("source.law", "Changes with heat as", "",
              ("constant", "glass electrode", "photodiode shunt")),
        Field("source.reference_temperature", "Stated at", "25 °C"),
        Field("source.interval", "Doubles or halves each", "8 °C"),
        Field("source.temperature_minimum", "Coldest sensor", "8 °C"),
        Field("source.temperature_maximum", "Warmest sensor", "30 °C"),
        Field("source.cable_capacitance", "Cable capacitance", "300 pF"),
    )),
    Group("Board", "Heat and light where the clamp sits; a lid open in service counts.", (
        Field("board.temperature_minimum", "Coldest board", "-10 °C"),
        Field("board.temperature_maximum", "Warmest board", "45 °C"),
        Field("board.illuminance_maximum", "Most light at the clamp", "200 lx"),
        Field("board.lamp", "Kind of light", "daylight"),
    )),
    Group("Rails", "The sleep-mode load is the one that counts when a fault lifts a rail.", (
        Field("rails.positive", "Positive rail", "2.5 V"),
        Field("rails.negative", "Negative rail", "-2.5 V"),
        Field("rails.load", "Load awake", "14 mA"),
        Field("rails.minimum_load", "Smallest load", "60 µA"),
        Field("rails.can_sink", "Supply can sink current", "", YES_NO),
        Field("rails.capacitance", "Rail capacitance", "10 µF"),
        Field("rails.absolute_maximum", "Absolute maximum across the rails", "6 V"),
    )),
    Group("Amplifier", "Typical figures are kept apart from maxima.", (
        Field("amplifier.family", "Family", "",
              ("bipolar precision", "super-beta", "jfet", "cmos electrometer", "zero-drift")),
        Field("amplifier.offset_voltage", "Offset voltage", "150 µV"),
        Field("amplifier.bias_current", "Input bias current", "20 fA"),
        Field("amplifier.bias_kind", "…is", "", ("typical", "maximum", "measured")),
        Field("amplifier.bias_doubling", "…doubles each", "10 °C"),
        Field("amplifier.voltage_noise", "Voltage noise", "20 nV/√Hz"),
        Field("amplifier.pin_current_maximum", "Largest pin current", "10 mA"),
        Field("amplifier.guard_offset", "Offset of the guard", "250 µV"),
    )),
    Group("People and surroundings", "These answers raise the safety gates.", (
        Field("surroundings.wet", "Wet place", "", YES_NO),
        Field("surroundings.mains_nearby", "Mains nearby", "", YES_NO),
        Field("surroundings.patient", "Patient connected", "", YES_NO),
        Field("surroundings.explosive_atmosphere", "Explosive atmosphere", "", YES_NO),
        Field("surroundings.acknowledged", "Cautions read by", "your name"),
    )),
)  # fmt: skip

FAULT_FIELDS = (
    Field("name", "Name", "F1"),
    Field("kind", "Kind", "", ("dc", "mains-frequency", "esd", "surge", "burst")),
    Field("voltage", "Voltage", "15 V"),
    Field("source_resistance", "Source resistance", "0 Ω"),
    Field("duration", "Duration", "continuous or 1 min"),
    Field("power", "Board is", "", ("on", "asleep", "off")),
    Field("both_signs", "Both signs", "", YES_NO),
    Field("channels", "Inputs hit at once", "1"),
    Field("standard", "Standard", "IEC 61000-4-2"),
    Field("outcome", "Outcome class", "", ("A", "B", "C", "D")),
)


def groups(written: Mapping[str, str]) -> tuple[Group, ...]:
    """Every group, with one more for each fault the sheet lists."""
    names = [
        (n, written[f"faults.{n}.name"]) for n in range(1, 100) if f"faults.{n}.name" in written
    ]
    faults = tuple(
        Group(f"Fault {name}", "", tuple(
            Field(f"faults.{n}.{f.name}", f.label, f.hint, f.choices) for f in FAULT_FIELDS
        ), n)
        for n, name in names
    )  # fmt: skip
    return (*GROUPS, *faults)
