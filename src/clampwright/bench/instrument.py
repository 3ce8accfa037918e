"""Instrument profiles: how volts on the meter become amperes, and how well that is known.

A profile describes one measuring chain (adapter or shunt, meter, bias, thermometer) as its owner
knows it. Everything a specification states as "±x" is a half-width.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from clampwright.bench.instruments.meter import Meter
from clampwright.quantities.fields import (
    Current,
    Ratio,
    Resistance,
    TemperatureDifference,
    Time,
    Transresistance,
    Voltage,
    VoltageDrift,
)
from clampwright.quantities.sheets import validated

Method = Literal["feedback adapter", "shunt", "meter alone", "timed charge"]
ThermometerClass = Literal["", "Pt100 class A", "Pt100 class B", "type K class 1", "type K class 2"]
THROUGH_THE_METER = ("shunt", "meter alone")
CALIBRATION_INTERVAL = 365 * 86400.0  # [s] common practice, no source
METER_BIAS = 30e-12  # [A] of a common bench meter up to 30 °C, doubling each 8 °C; their manuals


class Profile(BaseModel):
    """One measuring chain; `scale` is volts on the meter for each ampere through the part.

    For a shunt, or the meter alone, the scale is the shunt in parallel with the input resistance of
    the meter; for a timed charge, time over capacitance. `tolerance` belongs to the scale.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: Annotated[str, Field(min_length=1)]
    title: str = ""
    method: Method = "feedback adapter"
    scale: Annotated[Transresistance, Field(gt=0)]
    tolerance: Annotated[Ratio, Field(ge=0, lt=1)]
    tolerance_shape: Literal["rectangular", "normal"] = "rectangular"  # normal: a 95 % interval
    inverting: bool = False
    offset_voltage: Annotated[Voltage, Field(ge=0)] = 0.0  # largest, across the part (burden)
    offset_drift: Annotated[VoltageDrift, Field(ge=0)] = 0.0
    feedback_resistance: Resistance | None = None
    bias_current: Annotated[Current, Field(ge=0)] | None = None  # largest, through the input
    bias_doubling: Annotated[TemperatureDifference, Field(gt=0)] = 8.0
    bench_change: Annotated[TemperatureDifference, Field(ge=0)] = 1.0  # largest, zero to reading
    noise: Annotated[Voltage, Field(gt=0)] | None = None  # standard deviation of one reading
    resolution: Annotated[Voltage, Field(ge=0)]
    meter_gain: Annotated[Ratio, Field(ge=0)] = 0.0  # of the reading
    meter_counts: Annotated[float, Field(ge=0)] = 0.0  # 0: same range for reading and zero
    mains_cycles: Annotated[float, Field(gt=0)] = 10.0
    calibrated: date | None = None
    calibration_interval: Annotated[Time, Field(gt=0)] = CALIBRATION_INTERVAL
    scale_drift: Annotated[Ratio, Field(ge=0)] = 0.0  # of the scale, half-width for each year
    warm_up: Annotated[Time, Field(ge=0)] = 1800.0
    bias_tolerance: Annotated[Voltage, Field(ge=0)] = 0.0
    temperature_uncertainty: Annotated[TemperatureDifference, Field(ge=0)] = 1.0  # standard
    thermometer_class: ThermometerClass = ""
    meter: Meter | None = None  # how to log it
    thermometer: Meter | None = None  # read before every reading, in °C
    light_meter: Meter | None = None  # the same, in lx

    @property
    def sign(self) -> float:
        """+1, or −1 for an inverting adapter: makes reverse current positive."""
        return -1.0 if self.inverting else 1.0

    @property
    def input_bias(self) -> float:
        """Bias current (A): as stated; where a meter carries the current itself, else the usual."""
        if self.bias_current is not None:
            return self.bias_current
        return METER_BIAS if self.method in THROUGH_THE_METER else 0.0

    @property
    def bias_change(self) -> float:
        """Half-width (A) by which the bias may change between zero and reading.

        Doubling for each `bias_doubling` over `bench_change`: the zero removes the rest.
        """
        return self.input_bias * (float(2.0 ** (self.bench_change / self.bias_doubling)) - 1.0)

    @property
    def whole_cycles(self) -> bool:
        """Whether a reading integrates whole cycles of the mains, so that hum averages out."""
        return self.mains_cycles >= 1 and self.mains_cycles == round(self.mains_cycles)


def read_profile(data: Mapping[str, Any], where: str) -> Profile:
    """A profile from the tables of a TOML file; `where` (file name) starts every message."""
    return validated(Profile, data, where)


__all__ = ["METER_BIAS", "THROUGH_THE_METER", "Method", "Profile", "read_profile"]
