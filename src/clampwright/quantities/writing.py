"""Print a quantity with an engineering prefix, so that the text can be read back."""

from __future__ import annotations

import math
from decimal import Context, Decimal
from functools import cache, lru_cache

from clampwright.quantities.dimensions import DIMENSIONS, EXACT_ZERO_CELSIUS, Dimension, Rung

THIN_SPACE = "\u2009"
NOT_A_NUMBER = "not a number"
UNLIMITED = "unlimited"

UNCERTAINTY_DIGITS = 2
"""Significant digits of an expanded uncertainty (JCGM 100:2008, 7.2.6)."""

PRINTED_RANGE = (Decimal("0.001"), Decimal(1_000_000))
"""Numbers outside, when no prefix is left, are printed with a power of ten."""

SHARED_PREFIX_RANGE = Decimal("1e-9")
"""An uncertainty smaller than this part of its value gets a prefix of its own."""

MOST_WRITTEN = 4096
"""Texts kept: a page that is drawn again writes most of its numbers again."""

_WIDE = Context(prec=400)


def write(value: float, dimension: str, *, digits: int = 3, signed: bool = False) -> str:
    """A number with prefix, thin space and unit, for example "6.20 nA".

    value     : SI; a temperature in kelvin is printed in °C
    dimension : a key of `DIMENSIONS`; KeyError otherwise
    digits    : significant digits, ≥ 1; for a temperature two of them stand before the point
    signed    : also show "+" before a positive number

    Not-a-number gives "not a number", infinity "unlimited" or "-unlimited".
    """
    if digits < 1:
        raise ValueError(f"digits must be at least 1, not {digits}")
    if dimension not in DIMENSIONS:
        raise KeyError(dimension)
    if not math.isfinite(value):
        return _not_finite(value)
    return _written(float(value), dimension, digits, signed)


@lru_cache(maxsize=MOST_WRITTEN)
def _written(value: float, dimension: str, digits: int, signed: bool) -> str:
    """The text of a finite number; those of 0.0 and −0.0, which are one key, are the same."""
    kind, number = DIMENSIONS[dimension], _decimal(value, dimension)
    if dimension == "temperature":
        return _joined(_text(_to_place(number, -max(digits - 2, 0)), signed), "°C")
    rung = _rung(kind, _rounded(number, digits))
    scaled = _rounded(_WIDE.divide(number, rung.size), digits)
    low, high = PRINTED_RANGE
    if scaled and not low <= abs(scaled) < high:
        plus = "+" if signed else ""
        return _joined(f"{value:{plus}.{digits - 1}e}", _base(kind).symbol)
    return _joined(_text(scaled, signed), rung.symbol)


def write_uncertain(value: float, expanded: float, dimension: str) -> str:
    """A value with its expanded uncertainty under one prefix, for example "3.70 ± 0.85 pA".

    value, expanded : SI, `expanded` ≥ 0; a temperature in kelvin is printed in °C
    dimension       : a key of `DIMENSIONS`; KeyError otherwise

    The uncertainty has two significant digits and the value ends at the same place. An uncertainty
    that is zero, unlimited or below 10⁻⁹ of the value stands apart with its own unit.
    """
    if expanded < 0:
        raise ValueError(f"an expanded uncertainty cannot be negative: {expanded}")
    kind = DIMENSIONS[dimension]
    spread = "temperature_difference" if dimension == "temperature" else dimension
    if not (math.isfinite(value) and math.isfinite(expanded)) or expanded == 0.0:
        return f"{write(value, dimension)} ± {write(expanded, spread)}"
    number, half = _decimal(value, dimension), _rounded(_exact(expanded), UNCERTAINTY_DIGITS)
    if half < abs(number) * SHARED_PREFIX_RANGE:
        return f"{write(value, dimension, digits=10)} ± {write(expanded, spread, digits=2)}"
    rung = _shared_rung(kind, number, half)
    half_scaled = _rounded(_WIDE.divide(half, rung.size), UNCERTAINTY_DIGITS)
    place = half_scaled.adjusted() - UNCERTAINTY_DIGITS + 1
    scaled = _to_place(_WIDE.divide(number, rung.size), place)
    return _joined(f"{_text(scaled)} ± {_text(_to_place(half_scaled, place))}", rung.symbol)


def _not_finite(value: float) -> str:
    if math.isnan(value):
        return NOT_A_NUMBER
    return UNLIMITED if value > 0 else f"-{UNLIMITED}"


def _exact(value: float) -> Decimal:
    """The shortest decimal that means this float."""
    return Decimal(repr(float(value)))


def _decimal(value: float, dimension: str) -> Decimal:
    number = _exact(value)
    return _WIDE.subtract(number, EXACT_ZERO_CELSIUS) if dimension == "temperature" else number


def _rounded(number: Decimal, digits: int) -> Decimal:
    """To significant digits, trailing zeros kept."""
    if not number:
        return Decimal(0)
    return _to_place(_WIDE.plus(number), _context(digits).plus(number).adjusted() - digits + 1)


def _to_place(number: Decimal, place: int) -> Decimal:
    """To a power of ten, half to even."""
    return number.quantize(_step(place), context=_WIDE)


@cache
def _context(digits: int) -> Context:
    return Context(prec=digits)


@cache
def _step(place: int) -> Decimal:
    return Decimal(1).scaleb(place)


def _base(kind: Dimension) -> Rung:
    """The rung without a prefix; for zero and for numbers beyond every prefix."""
    return Rung("" if kind.unit == "1" else kind.unit, Decimal(1), Decimal(1))


def _rung(kind: Dimension, number: Decimal) -> Rung:
    """The largest printed unit that suits the number."""
    if not number:
        return _base(kind)
    fitting = (rung for rung in kind.ladder if rung.least <= abs(number))
    return next(fitting, kind.ladder[-1])


def _shared_rung(kind: Dimension, number: Decimal, half: Decimal) -> Rung:
    """The unit of the larger of both, or one in which the last digit of ± is no more than 1."""
    common = _rung(kind, max(abs(_rounded(number, 3)), half))
    if half < 100 * common.size:
        return common
    larger = (rung for rung in reversed(kind.ladder) if half < 100 * rung.size)
    return next(larger, common)


def _text(number: Decimal, signed: bool = False) -> str:
    if not number:
        return format(abs(number), "f")
    return format(number, "+f" if signed else "f")


def _joined(number: str, symbol: str) -> str:
    return f"{number}{THIN_SPACE}{symbol}" if symbol else number
