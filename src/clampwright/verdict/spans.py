"""How far the figures of a design can go before they are a slip of the pen.

Wide on purpose (common practice, no source). They hold for what people type into a design sheet: a
board at "45 K" or a rail of "5 kV" is refused, what a program computes is not.
"""

from __future__ import annotations

from typing import Annotated

from clampwright.quantities.fields import (
    Capacitance,
    Current,
    CurrentDrift,
    CurrentNoise,
    Frequency,
    Illuminance,
    Ratio,
    Resistance,
    Temperature,
    TemperatureDifference,
    Time,
    Voltage,
    VoltageDrift,
    VoltageNoise,
    VoltageRate,
    Within,
)

SensorTemperature = Annotated[Temperature, Within("temperature", "-200 °C", "1000 °C")]
BoardTemperature = Annotated[Temperature, Within("temperature", "-100 °C", "250 °C")]
DoublingInterval = Annotated[
    TemperatureDifference, Within("temperature_difference", "1 K", "100 K")
]
SignalVoltage = Annotated[Voltage, Within("voltage", "-10 kV", "10 kV")]
RailVoltage = Annotated[Voltage, Within("voltage", "-1 kV", "1 kV")]
FaultVoltage = Annotated[Voltage, Within("voltage", "-100 kV", "100 kV")]
SmallVoltage = Annotated[Voltage, Within("voltage", "-10 V", "10 V")]
HumVoltage = Annotated[Voltage, Within("voltage", "0 V", "1 kV")]
RmsVoltage = Annotated[Voltage, Within("voltage", "0 V", "10 V")]
LoadCurrent = Annotated[Current, Within("current", "0 A", "100 A")]
BiasCurrent = Annotated[Current, Within("current", "-10 mA", "10 mA")]
PinCurrent = Annotated[Current, Within("current", "0 A", "10 A")]
SourceResistance = Annotated[Resistance, Within("resistance", "0 Ω", "100 TΩ")]
SignalCapacitance = Annotated[Capacitance, Within("capacitance", "0 F", "1 mF")]
RailCapacitance = Annotated[Capacitance, Within("capacitance", "0 F", "10 F")]
SignalFrequency = Annotated[Frequency, Within("frequency", "0 Hz", "10 GHz")]
Span = Annotated[Time, Within("time", "0 s", "4000 d")]
Light = Annotated[Illuminance, Within("illuminance", "0 lx", "1000 klx")]
OffsetDrift = Annotated[VoltageDrift, Within("voltage_drift", "-100 mV/K", "100 mV/K")]
BiasDrift = Annotated[CurrentDrift, Within("current_drift", "-1 mA/K", "1 mA/K")]
NoiseVoltage = Annotated[VoltageNoise, Within("voltage_noise", "0 V/√Hz", "1 mV/√Hz")]
NoiseCurrent = Annotated[CurrentNoise, Within("current_noise", "0 A/√Hz", "1 µA/√Hz")]
SlewRate = Annotated[VoltageRate, Within("voltage_rate", "0 V/s", "100 kV/µs")]
GainError = Annotated[Ratio, Within("ratio", "-100 %", "100 %")]
