"""What an instrument answers, as IEEE 488.2 and SCPI-1999 write it (both from memory), and its sheet."""

from __future__ import annotations

import pytest

from clampwright.bench.instruments.meter import Meter
from clampwright.bench.instruments.scpi import Garbled, Overloaded, number


@pytest.mark.parametrize(
    ("answer", "value"),
    [("+1.25E-06", 1.25e-6), (" 3.5 ", 3.5), ("-.5,VDC,12", -0.5), ("7", 7.0), ("1.0 E+3", 1e3)],
)
def test_numbers_as_ieee_488_2_writes_them(answer: str, value: float) -> None:
    assert number(answer, "") == value


@pytest.mark.parametrize(
    "answer", ["", "nan", "inf", "1,2e", "1e", "12V", "0x1F", "1_000", "1.2.3"]
)
def test_what_is_no_number_is_not_guessed(answer: str) -> None:
    if answer == "1,2e":  # the first field is a number
        assert number(answer, "") == 1.0
        return
    with pytest.raises(Garbled, match="is no number"):
        number(answer, "")


@pytest.mark.parametrize("answer", ["9.9E+37", "-9.9E37", "9.91E+37"])
def test_infinity_and_not_a_number_are_overload(answer: str) -> None:
    with pytest.raises(Overloaded, match="higher range"):
        number(answer, "")


def test_a_sheet_is_bounded() -> None:
    for wrong in (
        {"timeout": "0 s"},
        {"timeout": "2 h"},
        {"scale": float("nan")},
        {"read": "READ?\n*RST"},
        {"baud": 1},
        {"colour": "red"},
    ):
        with pytest.raises(ValueError, match=next(iter(wrong))):
            Meter.model_validate({"address": "TCPIP::127.0.0.1::5025::SOCKET", **wrong})
