"""Read one quantity from text, strictly: what is uncertain is refused with a helpful sentence."""

from __future__ import annotations

import math
import re
from decimal import Context, Decimal
from functools import lru_cache

from clampwright.errors import InputError
from clampwright.quantities.dimensions import DIMENSIONS, Dimension, Unit

LONGEST_TEXT = 64
"""Longest text read, in characters; no honest quantity needs more."""

MOST_READ = 2048
"""Texts whose value is kept: a sheet is read again and again with one field changed."""

_EXACT = Context(prec=2 * LONGEST_TEXT)
"""Wide enough that only the last step, to a float, rounds."""

_LOOKALIKES = str.maketrans(
    {
        "\u2212": "-",  # minus sign
        "\u00a0": " ",  # no-break space
        "\u2009": " ",  # thin space
        "\u202f": " ",  # narrow no-break space
        "\u03bc": "µ",  # Greek mu → micro sign
        "\u2126": "Ω",  # ohm sign → Greek omega
        "\u00ba": "°",  # masculine ordinal
        "\u02da": "°",  # ring above
    }
)
_NUMBER = re.compile(
    r"(?P<sign>[+-]?)"
    r"(?P<whole>[0-9]{1,3}(?: [0-9]{3})+(?![0-9])|[0-9]*)"
    r"(?:(?P<point>[.,])(?P<fraction>[0-9]+))?"
    r"(?P<power>[eE][+-]?[0-9]{1,3}(?![0-9]))?"
)
_FRACTION = re.compile(r"(?P<top>[+-]?[0-9]+)\s*/\s*(?P<bottom>[0-9]+)")
_MEGA = re.compile(r"meg", re.IGNORECASE)
_NOT_FINITE = re.compile(r"[+-]?(inf(inity)?|nan|∞|unlimited|not a number)\b.*", re.IGNORECASE)


def is_number(text: str) -> bool:
    """Whether a text is a plain number, without any unit."""
    try:
        float(text)
    except ValueError:
        return False
    return True


def read(text: str, dimension: str, *, where: str = "") -> float:
    """One quantity as an SI float; a temperature comes back in kelvin.

    text      : number and unit ("6.2 nA", "4,7 kΩ", "1 000 V"); resistance and capacitance also
                take a code of IEC 60062 ("4k7", "p33") or a number with a prefix ("10k");
                a ratio needs no unit
    dimension : a key of `DIMENSIONS`; KeyError otherwise
    where     : file and field, put in front of the message

    The value is the float nearest to the decimal written; never infinite, never not-a-number.
    Raises InputError for everything that can be understood in two ways or in none.
    """
    kind = DIMENSIONS[dimension]
    try:
        value = _value(_tidy(text), dimension)
    except _Refused as refusal:
        raise InputError(
            refusal.wrong, where=where, expected=kind.expected, mend=refusal.mend
        ) from None
    if kind.minimum is not None and value < kind.minimum:
        limit = "absolute zero" if dimension == "temperature" else "zero"
        raise InputError(
            f'"{text.strip()}" lies below {limit}', where=where, expected=kind.expected
        )
    return value


class _Refused(Exception):
    """Why a text cannot be read, and how to mend it."""

    def __init__(self, wrong: str, mend: str = "") -> None:
        self.wrong, self.mend = wrong, mend
        super().__init__(wrong)


def _tidy(text: str) -> str:
    tidy = " ".join(text.translate(_LOOKALIKES).split())
    if not tidy:
        raise _Refused("the text is empty")
    if not tidy.isprintable():
        raise _Refused(f"{tidy[:20]!a} has a character that cannot be seen")
    if len(tidy) > LONGEST_TEXT:
        raise _Refused(f'"{tidy[:20]}…" is too long for a quantity')
    return tidy


@lru_cache(maxsize=MOST_READ)
def _value(text: str, dimension: str) -> float:
    kind = DIMENSIONS[dimension]
    fraction = _FRACTION.fullmatch(text)
    if fraction and dimension == "ratio":
        return _divided(text, int(fraction["top"]), int(fraction["bottom"]))
    if kind.codes:
        coded = _code(text, kind)
        if coded is not None:
            return coded
    match = _NUMBER.match(text)
    assert match is not None  # every part of the pattern may be empty
    number = _decimal(match, text)
    rest = text[match.end() :]
    if rest == " K" and kind.codes:
        raise _Refused(f'"{text}" is a temperature, not {kind.words}', 'kilo is a small "k"')
    rest = rest.strip().replace(" /", "/").replace("/ ", "/")
    return _scale(number, _unit(rest, text, dimension, kind), text)


def _divided(text: str, top: int, bottom: int) -> float:
    if bottom == 0:
        raise _Refused(f'"{text}" divides by zero')
    return top / bottom


def _code(text: str, kind: Dimension) -> float | None:
    """A letter-and-digit code of IEC 60062, the letter standing for the decimal point, or None."""
    letters = "".join(kind.codes) + "u"
    match = re.match(rf"([+-]?)([0-9]*)([{letters}])([0-9]+)", text)
    if match is None:
        return None
    sign, whole, letter, fraction = match.groups()
    rest = text[match.end() :].strip()
    if rest not in ("", kind.unit) and kind.units.get(rest) != Unit():
        raise _Refused(f'"{text}" has "{rest}" after the code "{match[0]}"')
    exponent = kind.codes["µ" if letter == "u" else letter]
    return _scale(Decimal(f"{sign}{whole or 0}.{fraction}"), Unit(exponent), text)


def _decimal(match: re.Match[str], text: str) -> Decimal:
    sign, whole, point, fraction, power = match.groups()
    if not whole and not fraction:
        if _NOT_FINITE.fullmatch(text):
            raise _Refused(f'"{text}" is not a finite number')
        raise _Refused(f'"{text}" does not begin with a number')
    rest = text[match.end() :]
    if rest[:1] in tuple(".,'") and not rest[1:2].isdigit():
        raise _Refused(
            f'"{text}" has "{rest[0]}" and no digit after it', 'write such as "12.4" or "12"'
        )
    if rest[:1] in tuple(".,'"):
        raise _Refused(
            f'"{text}" mixes signs for thousands and decimals', 'group with spaces, as in "1 000.5"'
        )
    if point == "," and len(fraction) == 3 and whole.isdigit() and _could_be_thousands(whole):
        raise _Refused(
            f'"{text}" is ambiguous: its comma may mean thousands or a decimal point',
            f'write "{whole}.{fraction}{rest}" or "{whole}{fraction}{rest}"',
        )
    digits = whole.replace(" ", "") or "0"
    return Decimal(f"{sign}{digits}.{fraction or 0}{power or ''}")


def _could_be_thousands(whole: str) -> bool:
    return len(whole) <= 3 and not whole.startswith("0")


def _unit(rest: str, text: str, dimension: str, kind: Dimension) -> Unit:
    unit = _lookup(rest, kind)
    if unit is not None:
        return unit
    if not rest:
        raise _Refused(f'"{text}" has no unit', "write the unit")
    if _MEGA.match(rest):
        number = text[: len(text) - len(rest)].strip()
        mega = f"M{kind.unit}"
        raise _Refused(f'"{rest}" is not a unit: mega is a capital M', f'write "{number} {mega}"')
    others = [other.words for name, other in DIMENSIONS.items() if _is_of(rest, name, other)]
    if others:
        raise _Refused(f'"{text}" is {" or ".join(others)}, not {kind.words}')
    raise _Refused(f'"{rest}" in "{text}" is not a unit of {kind.words}', _hint(rest, kind))


def _lookup(rest: str, kind: Dimension) -> Unit | None:
    unit = kind.units.get(rest)
    if unit is None and "u" in rest:
        unit = kind.units.get(re.sub(r"(^|/)u", r"\1µ", rest))
    return unit


def _is_of(rest: str, name: str, other: Dimension) -> bool:
    """Whether a unit belongs to another dimension; a lone prefix or code letter names none."""
    return rest not in other.codes and _lookup(rest, other) is not None and name != "ratio"


def _hint(rest: str, kind: Dimension) -> str:
    if rest + kind.unit in kind.units and not kind.codes:
        return f'a prefix needs its unit: "{rest}{kind.unit}"'
    if rest == "m" and kind.codes:
        return f'write "m{kind.unit}" for milli or "M{kind.unit}" for mega'
    alike = [unit for unit in kind.units if unit.lower() == rest.lower()]
    return f"capitals matter: {' or '.join(alike)}" if alike else ""


def _scale(number: Decimal, unit: Unit, text: str) -> float:
    exact = _EXACT.fma(_EXACT.scaleb(number, unit.exponent), unit.factor, unit.offset)
    value = float(exact)
    if not math.isfinite(value):
        raise _Refused(f'"{text}" is too large')
    if value == 0.0 and exact != 0:
        raise _Refused(f'"{text}" is too small to tell from zero')
    return value
