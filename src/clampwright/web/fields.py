"""The fields of a design as the requirement page asks for them: label, example, what follows from none.

What a field accepts and takes by default comes from the model of the sheet (`actions.design_fields`).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

CHOICE_WORDS = {
    "requirement.signal_law": {"absolute temperature": "as absolute temperature", "constant": "not at all"},
    "requirement.accuracy_of": {"reading": "the whole reading", "offset": "the offset alone"},
    "source.law": {"constant": "not at all"},
    "amplifier.family": {
        "bipolar precision": "bipolar, precision",
        "super-beta": "bipolar, super-beta",
        "jfet": "JFET",
        "cmos": "CMOS",
        "cmos electrometer": "CMOS, electrometer",
    },
    "faults.kind": {
        "dc": "direct voltage",
        "mains-frequency": "mains frequency",
        "esd": "electrostatic discharge",
        "burst": "fast bursts",
    },
    "faults.outcome": {
        "A": "A: works through it",
        "B": "B: recovers by itself",
        "C": "C: operator resets it",
        "D": "D: breaks, hurts nobody",
    },
}  # fmt: skip
"""Word of the sheet → plain words; what is not named reads the same."""


@dataclass(frozen=True)
class Field:
    """One field: dotted name in the sheet, what to ask, an example, what follows from nothing stated."""

    name: str
    label: str
    example: str = ""
    empty: str = ""
    wide: bool = False
    long: bool = False

    @property
    def generic(self) -> str:
        """The name without the number of an entry: "faults.2.voltage" is "faults.voltage"."""
        return ".".join(part for part in self.name.split(".") if not part.isdecimal())

    def words(self, choice: str) -> str:
        """A word of the sheet as it is shown."""
        return CHOICE_WORDS.get(self.generic, {}).get(choice, choice)


@dataclass(frozen=True)
class Group:
    """Fields that belong together; `more` stand behind a line that opens."""

    title: str
    words: str
    fields: tuple[Field, ...]
    more_title: str = ""
    more: tuple[Field, ...] = ()


GROUPS = (
    Group("What is measured", "The signal (of a summing node: its output) and how well it must be known.", (
        Field("title", "Title"),
        Field("requirement.quantity", "Quantity and sensor", "soil pH, glass electrode", wide=True),
        Field("revision", "Revision"),
        Field("requirement.signal_minimum", "Lowest signal", "-177 mV"),
        Field("requirement.signal_maximum", "Highest signal", "237 mV"),
        Field("requirement.accuracy_unit", "Unit of the accuracy", "pH, pA or V"),
        Field("requirement.sensitivity", "Sensitivity, for one such unit", "59.16 mV"),
        Field("requirement.accuracy", "Accuracy", "0.05 pH or 3 mV"),
        Field("requirement.protection_share", "Share for the protection", "1/3"),
        Field("requirement.bandwidth", "Bandwidth", "10 Hz"),
        Field("requirement.settle_to", "Settle to", "0.1 %"),
        Field("requirement.settle_time", "Settle within", "5 s", "settling is shown, not judged"),
        Field("requirement.noise", "Noise allowed, rms", "20 µV", "noise is shown, not judged"),
        Field("requirement.calibration_temperature", "Zero taken at", "23 °C", "the whole offset counts"),
        Field("note", "Note", long=True),
    ), "More: heat of the signal, noise band, common mode, mains", (
        Field("requirement.signal_law", "Signal changes with heat"),
        Field("requirement.signal_temperature", "Signal stated at", "25 °C"),
        Field("requirement.accuracy_of", "Accuracy is asked of"),
        Field("requirement.noise_bandwidth", "Band of the noise", "1 Hz", "the bandwidth is taken"),
        Field("requirement.common_mode_rejection", "Common-mode rejection, dB", "80", "not judged"),
        Field("requirement.mains_frequency", "Mains frequency", "50 Hz"),
    )),
    Group("Source", "The sensor's place may be far colder than the board.", (
        Field("source.resistance", "Source resistance", "50 MΩ"),
        Field("source.reference_temperature", "Resistance stated at", "25 °C"),
        Field("source.law", "Resistance changes with heat"),
        Field("source.interval", "Halves for each", "8 °C", "8 K for glass, 6 K for a photodiode"),
        Field("source.temperature_minimum", "Coldest sensor", "8 °C"),
        Field("source.temperature_maximum", "Warmest sensor", "30 °C"),
        Field("source.cable_capacitance", "Capacitance of sensor and cable", "300 pF"),
        Field("source.hum_peak", "Peak of the hum", "10 mV", "hum is left out of the budget"),
    )),
    Group("Board", "Heat and light where the clamp sits; a lid open in service counts.", (
        Field("board.temperature_minimum", "Coldest board", "-10 °C"),
        Field("board.temperature_maximum", "Warmest board", "45 °C"),
        Field("board.illuminance_maximum", "Most light at the clamp", "200 lx"),
        Field("board.lamp", "Kind of light", "daylight", "nothing follows"),
    ), "More: humidity, film, guard ring, least light", (
        Field("board.surface_resistance", "Film, ohms per square", "1 TΩ", "the budget has no film"),
        Field("board.film_squares", "Film, gap over length", "0.1", "the budget has no film"),
        Field("board.insulation_resistance", "Insulation beside the film", "1 TΩ", "none is counted"),
        Field("board.neighbour_voltage", "Voltage of the neighbour", "5 V", "no film without a guard ring"),
        Field("board.guard_ring", "Guard ring cuts the film"),
        Field("board.illuminance_minimum", "Least light at the clamp", "0 lx"),
    )),
    Group("Rails", "The sleep-mode load is the one that counts when a fault lifts a rail.", (
        Field("rails.positive", "Positive rail", "2.5 V"),
        Field("rails.negative", "Negative rail", "-2.5 V or 0 V"),
        Field("rails.minimum_load", "Smallest load, asleep", "60 µA", "rail pumping is not judged"),
        Field("rails.load", "Load awake", "14 mA", "the smallest load counts"),
        Field("rails.can_sink", "Supply can sink current"),
        Field("rails.capacitance", "Rail capacitance", "10 µF"),
        Field("rails.absolute_maximum", "Most across both rails", "6 V", "not judged"),
        Field("rails.shunt_voltage", "Shunt across the rail", "5.6 V", "no shunt"),
    )),
    Group("Amplifier", "Typical figures are kept apart from maxima.", (
        Field("amplifier.family", "Family"),
        Field("amplifier.offset_voltage", "Offset voltage", "150 µV"),
        Field("amplifier.offset_drift", "Offset drift", "1 µV/K"),
        Field("amplifier.bias_current", "Input bias current", "20 fA", "none; nothing can PASS"),
        Field("amplifier.bias_kind", "Bias current is a figure"),
        Field("amplifier.bias_temperature", "Bias current stated at", "25 °C"),
        Field("amplifier.bias_doubling", "Bias current doubles for each", "10 °C", "FETs: 10 K"),
        Field("amplifier.voltage_noise", "Voltage noise", "20 nV/√Hz"),
        Field("amplifier.current_noise", "Current noise", "0.5 fA/√Hz"),
        Field("amplifier.pin_current_maximum", "Largest pin current", "10 mA", "5 mA is taken"),
        Field("amplifier.guard_offset", "Offset of the guard", "250 µV", "a guard circuit is refused"),
    ), "More: bias drift, capacitances, guard follower", (
        Field("amplifier.bias_drift", "Drift of the bias current", "2 pA/K", "it follows its doubling"),
        Field("amplifier.input_capacitance", "Input capacitance", "5 pF"),
        Field("amplifier.feedback_capacitance", "Feedback capacitance", "5 pF"),
        Field("amplifier.pin_beyond_rail", "Pin conducts beyond a rail by", "0.3 V"),
        Field("amplifier.guard_gain_error", "Gain error of the guard", "0.01 %"),
        Field("amplifier.guard_output_minimum", "Lowest guard output", "-2.4 V", "not judged"),
        Field("amplifier.guard_output_maximum", "Highest guard output", "2.4 V", "not judged"),
        Field("amplifier.guard_output_current", "Largest guard current", "5 mA", "not judged"),
        Field("amplifier.guard_open_loop_gain", "Open-loop gain of the guard", "100000", "not judged"),
        Field("amplifier.guard_unity_gain_frequency", "Unity-gain frequency, guard", "1 MHz", "not judged"),
        Field("amplifier.guard_slew_rate", "Slew rate of the guard", "0.5 V/µs", "not judged"),
    )),
    Group("People and surroundings", "These answers raise the safety gates.", (
        Field("surroundings.wet", "Wet place"),
        Field("surroundings.mains_nearby", "Mains nearby"),
        Field("surroundings.patient", "Patient connected"),
        Field("surroundings.explosive_atmosphere", "Explosive atmosphere"),
        Field("surroundings.acknowledged", "Cautions read by", "", "an amber gate holds verdicts"),
    )),
)  # fmt: skip

FAULT_FIELDS = (
    Field("name", "Name", "F1"),
    Field("kind", "Kind"),
    Field("voltage", "Voltage", "15 V, at mains frequency rms"),
    Field("both_signs", "Both signs"),
    Field("duration", "Duration", "continuous or 1 min"),
    Field("power", "Board is"),
    Field("source_resistance", "Resistance of the fault source", "42 Ω"),
    Field("channels", "Inputs hit at once", "1"),
    Field("frequency", "Frequency, if of the mains", "50 Hz"),
    Field("outcome", "Outcome class"),
    Field("standard", "Standard", "IEC 61000-4-2, contact", "nothing follows", wide=True),
)


def fault_fields(number: int) -> tuple[Field, ...]:
    """The fields of one fault of the sheet, counted from 1."""
    return tuple(
        Field(f"faults.{number}.{f.name}", f.label, f.example, f.empty, f.wide)
        for f in FAULT_FIELDS
    )


def every_field() -> Iterable[Field]:
    """Every field that the page can show; of the faults those of the first."""
    for group in GROUPS:
        yield from (*group.fields, *group.more)
    yield from fault_fields(1)
