"""Frozen results of `check`, `faults` and `rank`: what the record draws and the faces print.

Every number is SI inside and leaves as {"value": …, "unit": …} in JSON.
"""

from __future__ import annotations

from enum import StrEnum
from math import inf
from typing import Literal

from pydantic import BaseModel, ConfigDict

from clampwright.quantities.fields import (
    Capacitance,
    Current,
    CurrentNoise,
    Frequency,
    Illuminance,
    Power,
    Ratio,
    Resistance,
    Temperature,
    Time,
    Voltage,
    VoltageNoise,
    VoltageRate,
)
from clampwright.verdict.design import Design
from clampwright.verdict.known import Known


class Result(BaseModel):
    """Base of every result: frozen, complete."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Verdict(StrEnum):
    """The four verdicts; a safety gate is a separate statement (`Gate`)."""

    PASS = "PASS"
    FAIL = "FAIL"
    UNDECIDED = "UNDECIDED"
    NOT_MEASURED = "NOT MEASURED"


Basis = Literal["measured", "typical", "maximum", "assumed", "defined"]
"""How a number is known (LOOK of every table and chart); `defined` is a choice of the designer."""

Group = Literal["clamp", "light", "bias", "leak", "amplifier"]
"""What causes a term of the error."""


class Corner(Result):
    """One corner of heat, light and signal at which the circuit was solved."""

    sensor_temperature: Temperature
    board_temperature: Temperature
    illuminance: Illuminance
    signal: Voltage
    source_resistance: Resistance

    def words(self) -> str:
        """The corner in one short phrase."""
        from clampwright.quantities import write

        return (
            f"sensor {write(self.sensor_temperature, 'temperature')}, "
            f"board {write(self.board_temperature, 'temperature')}, "
            f"{write(self.illuminance, 'illuminance')}, "
            f"signal {write(self.signal, 'voltage', signed=True)}"
        )


class Term(Result):
    """One contribution to the error at the pin at one corner, with its 95 % interval.

    known_by : what stands behind a basis "measured" at this corner
    """

    name: str
    value: Voltage
    low: Voltage
    high: Voltage
    basis: Basis
    group: Group
    source: str
    known_by: Known | None = None


class Judgement(Result):
    """One comparison of an error with its allowance: |E| with its interval against L.

    room : the largest error that the amplifier can show at this corner; beyond it, it saturates
    volts_per_ampere : what turns its volts into a current at the input, where one is asked for
    """

    name: str
    error: Voltage
    low: Voltage
    high: Voltage
    allowance: Voltage
    verdict: Verdict
    corner: Corner
    terms: tuple[Term, ...]
    worst_case: Voltage
    reason: str
    room: Voltage = inf
    volts_per_ampere: Resistance | None = None


NEVER_SURVIVES = "a stress beyond its rating with any value"
NEVER_MET = "not met by any value"
"""Reasons of a wall that leaves no window at all."""


class ResistorWall(Result):
    """One wall of the allowed window of the series resistor."""

    name: str
    side: Literal["minimum", "maximum"]
    value: Resistance | None
    reason: str


class ResistorWindow(Result):
    """The allowed window: minimum from faults, maximum from each accuracy term."""

    walls: tuple[ResistorWall, ...]
    minimum: Resistance
    maximum: Resistance | None
    chosen: Resistance
    open: bool
    reason: str


class Allowance(Result):
    """Allowed net leakage at one sensor temperature."""

    sensor_temperature: Temperature
    source_resistance: Resistance
    error: Voltage
    leakage: Current
    leakage_with_series_resistance: Current


class Dynamics(Result):
    """Noise, bandwidth and settling at one corner (the worst); `volts_per_ampere` as in `Judgement`."""

    corner: Corner
    noise_density: VoltageNoise
    integrated_noise: Voltage
    allowed_noise: Voltage | None
    noise_bandwidth: Frequency
    shot_noise: CurrentNoise
    bandwidth: Frequency
    required_bandwidth: Frequency
    settling_time: Time
    settle_to: Ratio
    allowed_settling_time: Time | None
    common_mode_rejection: float | None  # dB at the mains frequency, worst mismatch of two legs
    required_rejection: float | None  # dB
    capacitance: Capacitance
    clamp_capacitance: Capacitance = 0.0  # junctions of the clamps where they sit
    clamp_loading: Capacitance = 0.0  # what of it loads the node; a guard carries the rest
    noise_terms: tuple[Term, ...] = ()
    volts_per_ampere: Resistance | None = None
    verdict: Verdict
    reason: str


class TransferError(Result):
    """Offset (at the middle of the signal range), gain error and nonlinearity at one corner.

    corner : its signal is the middle of the range, where the offset holds
    """

    corner: Corner
    offset: Voltage
    gain_error: Ratio
    nonlinearity: Voltage


class LeakagePoint(Result):
    """One evidence point or one law point of leakage against temperature."""

    temperature: Temperature
    voltage: Voltage
    leakage: Current
    low: Current
    high: Current
    basis: Literal["measured", "not detected", "typical", "maximum", "predicted", "assumed"]
    source: str


class ClampPlace(Result):
    """One clamp of the circuit in normal use: anode minus cathode and leakage at its worst corner."""

    side: str
    words: str
    sits_at: Voltage
    leakage: Current
    leakage_low: Current
    leakage_high: Current
    board_temperature: Temperature | None = None
    known_by: Known | None = None


class ClampSummary(Result):
    """The clamp as it is wired: leads, where it sits, leakage, law and what each number rests on.

    drawn : the same places at the corner of the judgement that decides, as the schematic draws them
    """

    part: str
    title: str
    wiring: str
    wiring_words: str
    junction: str
    anode_leads: tuple[str, ...]
    cathode_leads: tuple[str, ...]
    places: tuple[ClampPlace, ...]
    drawn: tuple[ClampPlace, ...] = ()
    sits_at: Voltage
    sits_at_words: str
    leakage: Current
    leakage_low: Current
    leakage_high: Current
    leakage_basis: Basis
    known_by: Known | None = None
    zero_bias_resistance: Resistance
    law: dict[str, str]
    known: tuple[str, ...]
    assumed: tuple[str, ...]
    points: tuple[LeakagePoint, ...]
    curve: tuple[LeakagePoint, ...]


class Gate(Result):
    """A safety gate: amber holds the verdict until acknowledged, red shows numbers only."""

    level: Literal["none", "amber", "red"]
    reasons: tuple[str, ...]
    cautions: tuple[str, ...]
    acknowledged: str
    held: bool


class Figure(Result):
    """One number of an answer, in the SI unit that stands beside it ("1" for a ratio, "dB")."""

    name: str
    value: float
    unit: str


class Answer(Result):
    """One further answer at its worst corner, or the reason why there is none.

    figures : empty where something is not stated or does not apply; `note` says which
    """

    key: str
    name: str
    figures: tuple[Figure, ...] = ()
    corner: Corner | None = None
    note: str = ""
    formula: str = ""
    source: str = ""


class CheckResult(Result):
    """Everything `check` finds; `further` only where it was asked for."""

    design: Design
    design_hash: str
    inputs: dict[str, str]
    topology_title: str
    topology_words: str
    clamp: ClampSummary | None
    allowances: tuple[Allowance, ...]
    judgements: tuple[Judgement, ...]
    transfers: tuple[TransferError, ...]
    dynamics: Dynamics
    residual: float
    defaults: tuple[str, ...]
    open_risks: tuple[str, ...]
    flags: tuple[str, ...]
    gate: Gate
    verdict: Verdict
    reason: str
    further: tuple[Answer, ...] = ()


class StressLine(Result):
    """One rating of one part under one fault: stress, rating, derating, ratio."""

    part: str
    quantity: str
    stress: float
    unit: str
    rating: float | None
    derating: float
    ratio: float | None
    verdict: Verdict
    basis: Basis
    note: str = ""


class FaultCase(Result):
    """One fault with one sign and power state, solved.

    Currents are the largest, before a rail rises; voltages at clamp node and pin are where they end,
    with the rail where it settles.
    """

    name: str
    words: str
    voltage: Voltage
    power: str
    fault_current: Current
    fault_current_rms: Current
    pin_current: Current
    clamp_current: Current
    clamp_node_voltage: Voltage
    pin_voltage: Voltage
    rail: str
    rail_current: Current
    rail_load: Current | None
    rail_rate: VoltageRate
    rail_settles_at: Voltage | None
    resistor_power: Power
    resistor_voltage: Voltage
    stresses: tuple[StressLine, ...]
    survivability: float | None
    verdict: Verdict
    reason: str


class FaultsResult(Result):
    """Everything `faults` finds, lowest margin first."""

    design: Design
    design_hash: str
    cases: tuple[FaultCase, ...]
    deratings: dict[str, str]
    defaults: tuple[str, ...]
    gate: Gate
    survivability: float | None
    verdict: Verdict
    reason: str


class Candidate(Result):
    """One clamp wiring in one topology with one series resistor, or the reason it was rejected.

    room : the largest error that the amplifier can show; beyond it, it saturates
    """

    part: str
    title: str
    wiring: str
    topology: str
    series_resistance: Resistance | None
    error: Voltage | None
    error_low: Voltage | None
    error_high: Voltage | None
    accuracy_margin: float | None
    survivability: float | None
    leakage_basis: Basis | None
    known_by: Known | None = None
    verdict: Verdict | None
    rejected: bool
    reason: str
    room: Voltage = inf
    volts_per_ampere: Resistance | None = None
    dominated_by: str = ""


class RankResult(Result):
    """The sorted shortlist and the window of the series resistor.

    left_out : the circuits that were not tried, and what they need, one group a sentence
    """

    design: Design
    design_hash: str
    window: ResistorWindow
    candidates: tuple[Candidate, ...]
    every_resistor: tuple[Candidate, ...] = ()
    evaluated: int
    left_out: tuple[str, ...] = ()
    gate: Gate
    verdict: Verdict
    reason: str
