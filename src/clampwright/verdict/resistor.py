"""Ratings of the series resistor: working voltage, power with heat derating, by chip size."""

from __future__ import annotations

from dataclasses import dataclass

from clampwright.verdict.design import Resistor

# size: (power at 70 °C [W], working voltage [V]); thick-film vendor tables, the vendor's data govern
CHIP_RATINGS = {
    "0201": (0.05, 25.0),
    "0402": (0.0625, 50.0),
    "0603": (0.1, 50.0),
    "0805": (0.125, 150.0),
    "1206": (0.25, 200.0),
    "1210": (0.3333333333333333, 200.0),
    "1812": (0.5, 200.0),
    "2010": (0.75, 200.0),
    "2512": (1.0, 200.0),
}
KNEE_TEMPERATURE = 343.15  # [K] 70 °C, where thick-film derating begins; common practice
ZERO_POWER_TEMPERATURE = 428.15  # [K] 155 °C
DEFAULT_PACKAGE = "1206"


@dataclass(frozen=True)
class ResistorRating:
    """Rating of one resistor body: working voltage (V), power (W) at the board temperature."""

    working_voltage: float
    power: float
    assumed: bool
    words: str


def resistor_rating(resistor: Resistor, board_temperature: float) -> ResistorRating:
    """Rating at a board temperature (K): the sheet's figures, else those of the chip size.

    The power falls linearly from its 70 °C value to zero at 155 °C (common practice).
    """
    known = resistor.package in CHIP_RATINGS
    power, voltage = CHIP_RATINGS.get(resistor.package, CHIP_RATINGS[DEFAULT_PACKAGE])
    assumed = resistor.power_rating is None or resistor.working_voltage is None
    power = resistor.power_rating if resistor.power_rating is not None else power
    voltage = resistor.working_voltage if resistor.working_voltage is not None else voltage
    fall = (ZERO_POWER_TEMPERATURE - board_temperature) / (
        ZERO_POWER_TEMPERATURE - KNEE_TEMPERATURE
    )
    size = resistor.package
    if not known:
        size = f"{DEFAULT_PACKAGE} taken, {resistor.package} is not known"
    return ResistorRating(
        working_voltage=voltage,
        power=power * min(1.0, max(0.0, fall)),
        assumed=assumed,
        words=f"chip size {size}" if assumed else "design sheet",
    )
