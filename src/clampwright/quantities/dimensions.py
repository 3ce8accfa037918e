"""The kinds of quantity we know, every unit each one accepts, and the units each is printed in.

A unit is looked up whole in a table that is made here once. Nothing is guessed from parts of a
text, so "Pa" can never turn into peta-amperes nor "meg" into milli.

Named tuples, because they load faster than dataclasses and every command pays for this import.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import MappingProxyType
from typing import NamedTuple

EXACT_ZERO_CELSIUS = Decimal("273.15")  # [K] of 0 °C, by definition (SI Brochure)
ZERO_CELSIUS = float(EXACT_ZERO_CELSIUS)

PREFIXES = {
    "a": -18,
    "f": -15,
    "p": -12,
    "n": -9,
    "µ": -6,
    "m": -3,
    "": 0,
    "k": 3,
    "M": 6,
    "G": 9,
    "T": 12,
}
"""SI prefixes of this trade (SI Brochure, table 7); peta and above are left out on purpose."""


class Unit(NamedTuple):
    """One accepted spelling: SI value = number · 10^exponent · factor + offset."""

    exponent: int = 0
    factor: Decimal = Decimal(1)
    offset: Decimal = Decimal(0)


class Rung(NamedTuple):
    """One printed unit: its size in SI and the least magnitude it is used for."""

    symbol: str
    size: Decimal
    least: Decimal


class Dimension(NamedTuple):
    """One kind of quantity.

    words    : how a sentence names it, with its article
    unit     : symbol of the SI unit used inside
    units    : accepted spelling → Unit
    ladder   : printed units, largest first
    examples : two texts that can be read
    minimum  : least value that makes sense, in SI, or None
    codes    : letters of IEC 60062 that stand for the decimal point → exponent
    """

    words: str
    unit: str
    units: Mapping[str, Unit]
    ladder: tuple[Rung, ...]
    examples: tuple[str, str]
    minimum: float | None = None
    codes: Mapping[str, int] = MappingProxyType({})

    @property
    def expected(self) -> str:
        """The words of an error message: `a resistance such as "4k7" or "50 MΩ"`."""
        return f'{self.words} such as "{self.examples[0]}" or "{self.examples[1]}"'


def _prefixed(*symbols: str, allowed: str = "afpnµm kMGT") -> dict[str, Unit]:
    """Every allowed prefix before every symbol; a space in `allowed` means no prefix."""
    names = [prefix.strip() for prefix in allowed]
    return {name + symbol: Unit(PREFIXES[name]) for symbol in symbols for name in names}


def _quotient(numerators: Mapping[str, Unit], denominators: Mapping[str, Unit]) -> dict[str, Unit]:
    return {
        f"{top}/{bottom}": Unit(above.exponent - below.exponent)
        for top, above in numerators.items()
        for bottom, below in denominators.items()
    }


def _plain(*symbols: str) -> dict[str, Unit]:
    return {symbol: Unit() for symbol in symbols}


def _ladder(unit: str, allowed: str = "afpnµm kMGT") -> tuple[Rung, ...]:
    names = (prefix.strip() for prefix in reversed(allowed))
    return tuple(_rung(name + unit, f"1e{PREFIXES[name]}") for name in names)


def _rung(symbol: str, size: str, least: str = "") -> Rung:
    return Rung(symbol, Decimal(size), Decimal(least or size))


_OHMS = ("Ω", "ohm", "ohms", "Ohm")
_LUX = ("lx", "lux")
_CELSIUS = ("°C", "℃", "degC")
_KELVIN_STEPS = ("K", *_CELSIUS)
_ROOT_HERTZ = _plain("√Hz", "rtHz", "sqrt(Hz)", "√(Hz)")
_RESISTOR_CODES = {"R": 0, "k": 3, "K": 3, "M": 6, "G": 9, "T": 12}
_CAPACITOR_CODES = {"p": -12, "n": -9, "µ": -6, "m": -3, "F": 0}

_VOLTS = _prefixed("V")
_AMPERES = _prefixed("A")
_SECONDS = _prefixed("s", allowed="afpnµm k")
_RESISTANCES = _prefixed(*_OHMS)

DIMENSIONS: Mapping[str, Dimension] = {
    "voltage": Dimension("a voltage", "V", _VOLTS, _ladder("V"), ("15 V", "-12.4 µV")),
    "current": Dimension("a current", "A", _AMPERES, _ladder("A"), ("6.2 nA", "0.5 fA")),
    "resistance": Dimension(
        "a resistance",
        "Ω",
        _RESISTANCES | {letter: Unit(power) for letter, power in _RESISTOR_CODES.items()},
        _ladder("Ω"),
        ("4k7", "50 MΩ"),
        minimum=0.0,
        codes=_RESISTOR_CODES,
    ),
    "conductance": Dimension(
        "a conductance", "S", _prefixed("S"), _ladder("S"), ("20 nS", "1.5 mS")
    ),
    "capacitance": Dimension(
        "a capacitance",
        "F",
        _prefixed("F", allowed="afpnµm ")
        | {letter: Unit(power) for letter, power in _CAPACITOR_CODES.items()},
        _ladder("F", "afpnµm "),
        ("4n7", "100 pF"),
        minimum=0.0,
        codes=_CAPACITOR_CODES,
    ),
    "inductance": Dimension(
        "an inductance",
        "H",
        _prefixed("H", allowed="fpnµm "),
        _ladder("H", "fpnµm "),
        ("10 µH", "1.5 mH"),
        minimum=0.0,
    ),
    "charge": Dimension("a charge", "C", _prefixed("C"), _ladder("C"), ("30 nC", "1.5 pC")),
    "power": Dimension("a power", "W", _prefixed("W"), _ladder("W"), ("250 mW", "0.5 W")),
    "energy": Dimension("an energy", "J", _prefixed("J"), _ladder("J"), ("7.5 mJ", "2 µJ")),
    "temperature": Dimension(
        "a temperature",
        "K",
        {name: Unit(offset=EXACT_ZERO_CELSIUS) for name in (*_CELSIUS, "C")} | _plain("K"),
        (_rung("°C", "1"),),
        ("23 °C", "296.15 K"),
        minimum=0.0,
    ),
    "temperature_difference": Dimension(
        "a temperature difference",
        "K",
        _plain(*_CELSIUS) | _prefixed("K", allowed="nµm "),
        _ladder("K", "nµm "),
        ("8 K", "8 °C"),
    ),
    "illuminance": Dimension(
        "an illuminance",
        "lx",
        _prefixed(*_LUX, allowed="µm k"),
        _ladder("lx", "µm k"),
        ("200 lx", "50 klx"),
        minimum=0.0,
    ),
    "time": Dimension(
        "a time",
        "s",
        _SECONDS
        | {
            "min": Unit(factor=Decimal(60)),
            "h": Unit(factor=Decimal(3600)),
            "d": Unit(factor=Decimal(86400)),
        },
        (_rung("d", "86400"), _rung("h", "3600"), _rung("min", "60"), *_ladder("s", "afpnµm ")),
        ("10 ms", "30 min"),
    ),
    "frequency": Dimension(
        "a frequency",
        "Hz",
        _prefixed("Hz", allowed="nµm kMGT"),
        _ladder("Hz", "nµm kMGT"),
        ("10 Hz", "1.2 MHz"),
        minimum=0.0,
    ),
    "ratio": Dimension(
        "a ratio",
        "1",
        {"": Unit(), "%": Unit(-2), "‰": Unit(-3), "ppm": Unit(-6), "ppb": Unit(-9)},
        (
            _rung("", "1", least="10"),
            _rung("%", "0.01", least="0.001"),
            _rung("ppm", "1e-6"),
            _rung("ppb", "1e-9"),
        ),
        ("1 %", "1/3"),
    ),
    "responsivity": Dimension(
        "a photocurrent for each lux",
        "A/lx",
        _quotient(_AMPERES, _plain(*_LUX)),
        _ladder("A/lx"),
        ("4 fA/lx", "1.2 nA/lx"),
    ),
    "thermal_resistance": Dimension(
        "a thermal resistance",
        "K/W",
        _quotient(_plain(*_KELVIN_STEPS), _plain("W"))
        | _quotient(_plain(*_KELVIN_STEPS), {"mW": Unit(-3)}),
        (_rung("K/W", "1"),),
        ("350 K/W", "62.5 °C/W"),
        minimum=0.0,
    ),
    "transresistance": Dimension(
        "a volts-for-amperes factor",
        "V/A",
        _quotient(_VOLTS, _AMPERES) | _RESISTANCES,
        _ladder("V/A"),
        ("1 mV/nA", "1 GΩ"),
    ),
    "voltage_noise": Dimension(
        "a voltage noise density",
        "V/√Hz",
        _quotient(_VOLTS, _ROOT_HERTZ),
        _ladder("V/√Hz"),
        ("15 nV/√Hz", "1.2 µV/rtHz"),
        minimum=0.0,
    ),
    "current_noise": Dimension(
        "a current noise density",
        "A/√Hz",
        _quotient(_AMPERES, _ROOT_HERTZ),
        _ladder("A/√Hz"),
        ("0.8 fA/√Hz", "2 pA/rtHz"),
        minimum=0.0,
    ),
    "voltage_drift": Dimension(
        "a voltage drift with temperature",
        "V/K",
        _quotient(_VOLTS, _plain(*_KELVIN_STEPS)),
        _ladder("V/K"),
        ("2.5 µV/K", "-2 mV/°C"),
    ),
    "current_drift": Dimension(
        "a current drift with temperature",
        "A/K",
        _quotient(_AMPERES, _plain(*_KELVIN_STEPS)),
        _ladder("A/K"),
        ("2 pA/K", "-50 fA/°C"),
    ),
    "voltage_rate": Dimension(
        "a rate of change of voltage",
        "V/s",
        _quotient(_VOLTS, _SECONDS),
        _ladder("V/s"),
        ("2 V/µs", "10 mV/s"),
    ),
    "activation_energy": Dimension(
        "an activation energy",
        "eV",
        _prefixed("eV", allowed="m "),
        (_rung("eV", "1"),),
        ("0.60 eV", "638 meV"),
    ),
}
"""Name of the dimension → what it accepts and prints. The SI unit inside is `unit`."""
