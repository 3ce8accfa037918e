"""The accuracy of a requirement as people write it: in volts, or in a unit of their own."""

from __future__ import annotations

from clampwright.errors import InputError
from clampwright.quantities import DIMENSIONS
from clampwright.quantities.fields import collected, quantity_text
from clampwright.quantities.plausible import plausible
from clampwright.quantities.reading import is_number

BARE_REFUSED = {"V": "5 µV", "A": "0.5 pA"}
"""Electrical unit → what to write: a bare number there may mean anything between pico and mega."""


def accuracy_in_unit(written: object, unit: str, sensitivity: float, *, typed: bool) -> object:
    """`written` as a number of `unit`; what is neither text nor number is handed back.

    written     : a number of `unit`, text in it ("0.05 pH"), or a voltage ("3 mV"), which is divided
                  by the sensitivity; with a unit of current also any other ("500 fA")
    sensitivity : V that one `unit` makes, not zero
    typed       : a person wrote it, so a bare number in volts or amperes is refused, and what is too
                  large or too small to be meant as a voltage

    Errors are gathered with the others of the sheet.
    """
    if isinstance(written, bool):
        raise collected(
            InputError(f"{str(written).lower()} is not an accuracy", mend="write a number")
        )
    if not isinstance(written, str | int | float):
        return written
    volts_per_unit = 1.0 if unit == "V" else abs(sensitivity)
    if isinstance(written, str):
        number = _from_text(written.strip(), unit, volts_per_unit)
    else:
        if typed and unit in BARE_REFUSED:
            raise collected(_no_unit(f"{written:g}", unit))
        number = written
    if typed:
        if number <= 0:
            raise collected(InputError(f"{written} cannot be used", expected=_above_nothing(unit)))
        _plausible(number * volts_per_unit, f"{written}")
    return number


def _from_text(text: str, unit: str, volts_per_unit: float) -> float:
    currents = DIMENSIONS["current"].units
    if unit in BARE_REFUSED and is_number(text):
        raise collected(_no_unit(text, unit))
    if unit == "V":
        return quantity_text(text, "voltage")
    if unit in currents and text.endswith("A"):
        return quantity_text(text, "current") / quantity_text(f"1 {unit}", "current")
    if text.endswith(unit):
        return quantity_text(text.removesuffix(unit), "ratio")
    return quantity_text(text, "voltage") / volts_per_unit


def _no_unit(shown: str, unit: str) -> InputError:
    return InputError(f"{shown} has no unit", mend=f'write the unit, as in "{BARE_REFUSED[unit]}"')


def _above_nothing(unit: str) -> str:
    if unit in BARE_REFUSED:
        kind = "voltage" if unit == "V" else "current"
        return f'a {kind} above 0 {unit}, such as "{BARE_REFUSED[unit]}"'
    return f'an accuracy above 0 {unit}, such as "0.05 {unit}" or "3 mV"'


def _plausible(volts: float, shown: str) -> None:
    try:
        plausible(volts, "voltage", shown)
    except InputError as error:
        raise collected(error) from None


__all__ = ["BARE_REFUSED", "accuracy_in_unit"]
