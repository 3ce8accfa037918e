"""Readings as CSV: the files people really have, and the sentence each bad one gets."""

import numpy as np
import pytest

from clampwright.bench.readings import read_readings, write_readings
from clampwright.errors import InputError

HEADER = (
    "part,wiring,state,reverse voltage (V),temperature (°C),light (lx),lamp,instrument,reading (µV)"
)
ROWS = (
    ",,zero open,,,,,A1,12.3",
    ",,zero fixture,5,,,,A1,12.4",
    "npn-small,C/B+E,reading,5,23,0,,A1,16.1",
    "npn-small,C/B+E,reading,-0.01,45,1000,LED lamp,A1,-34.3",
)
GOOD = "\n".join((HEADER, *ROWS)) + "\n"


def file_with(row: str, header: str = HEADER) -> str:
    return "\n".join((header, *ROWS[:2], row)) + "\n"


def check_good(readings):
    assert len(readings) == 4
    assert readings.reading == pytest.approx([12.3e-6, 12.4e-6, 16.1e-6, -34.3e-6], abs=0, rel=1e-9)
    assert readings.reverse_voltage[1:].tolist() == [5.0, 5.0, -0.01]
    assert np.isnan(readings.reverse_voltage[0])
    assert readings.temperature[2:].tolist() == [296.15, 318.15]
    assert readings.light[3] == 1000
    assert readings.part[2] == "npn-small"
    assert readings.wiring[2] == "C/B+E"
    assert readings.lamp[3] == "LED lamp"
    assert readings.state.names == ("zero open", "zero fixture", "reading")


semicolons = GOOD.replace(",", ";").replace(".", ",")
SPELLINGS = {
    "plain": GOOD.encode(),
    "byte order mark": b"\xef\xbb\xbf" + GOOD.encode(),
    "carriage returns": GOOD.replace("\n", "\r\n").encode(),
    "semicolon and decimal comma": semicolons.encode(),
    "tab": GOOD.replace(",", "\t").encode(),
    "Latin-1": GOOD.encode("latin-1"),
    "Greek mu": GOOD.replace("µ", "\u03bc").encode(),
    "minus sign": GOOD.replace(",-", ",\u2212").encode(),
    "blank lines": ("\n\n" + GOOD.replace("\n", "\n\n") + ",,,,,,,,\n").encode(),
    "trailing separators": GOOD.replace("\n", ",,\n").encode(),
    "upper case and spaces": GOOD.replace("reverse voltage (V)", " Reverse  Voltage [V] ").encode(),
    "quoted decimal comma": GOOD.replace("12.3", '"12,3"')
    .replace("12.4", '"12,4"')
    .replace("16.1", '"16,1"')
    .replace("-34.3", '"-34,3"')
    .replace("-0.01", '"-0,01"')
    .encode(),
    "decimal comma with units in the cells": semicolons.replace("12,3", "12,300 µV")
    .replace("16,1", "0,0161 mV")
    .replace("-34,3", "\u221234,300\u00a0µV")
    .encode(),
    "every cell quoted": "\n".join(
        ",".join(f'"{cell}"' for cell in line.split(",")) for line in GOOD.splitlines()
    ).encode(),
    "other units in the header": GOOD.replace("(µV)", "(mV)")
    .replace("12.3", "0.0123")
    .replace("12.4", "0.0124")
    .replace("16.1", "0.0161")
    .replace("34.3", "0.0343")
    .encode(),
    "units in the cells": GOOD.replace(" (µV)", "")
    .replace("12.3", "12.3 µV")
    .replace("12.4", "0.0124 mV")
    .replace("16.1", "16.1µV")
    .replace("-34.3", "-34.3e-6 V")
    .encode(),
}


@pytest.mark.parametrize("spelling", SPELLINGS)
def test_spellings(spelling):
    check_good(read_readings(SPELLINGS[spelling], "bench.csv"))


def test_written_text_reads_back_unchanged():
    readings = read_readings(GOOD)
    again = read_readings(write_readings(readings))
    check_good(again)
    assert list(again.rows())[2] == list(readings.rows())[2]
    assert np.array_equal(again.reading, readings.reading)


BAD = {
    "empty": ("", "bench.csv: the file is empty; expected a header and readings."),
    "header only": (HEADER + "\n", "a header but no readings"),
    "text for a number": (
        file_with("npn-small,C/B+E,reading,5,warm,0,,A1,16.1"),
        'bench.csv: line 4, column "temperature":',
    ),
    "missing cell": (
        file_with("npn-small,C/B+E,reading,5,,0,,A1,16.1"),
        'line 4, column "temperature": the temperature is missing',
    ),
    "missing instrument": (
        file_with("npn-small,C/B+E,reading,5,23,0,,,16.1"),
        'line 4, column "instrument": the instrument is missing',
    ),
    "no reading": (file_with(",,zero open,,,,,A1,"), "the reading is missing"),
    "zero without its bias": (
        file_with(",,zero fixture,,,,,A1,1"),
        'line 4, column "reverse voltage": the reverse voltage is missing',
    ),
    "duplicate column": (GOOD.replace("lamp", "state"), 'column "state" stands twice'),
    "misspelt column": (
        GOOD.replace("temperature", "temprature"),
        'there is no column "temprature", did you mean "temperature"?',
    ),
    "absent column": (
        "\n".join(line.rsplit(",", 2)[0] for line in GOOD.splitlines()),
        'column "instrument" is missing',
    ),
    "unknown unit": (GOOD.replace("(µV)", "(uX)"), 'column "reading"'),
    "no unit at all": (GOOD.replace(" (µV)", ""), '"12.3" has no unit'),
    "ragged": (file_with("npn-small,C/B+E,reading,5,23"), "line 4: 5 cells where the header has 9"),
    "decimal comma unquoted": (
        file_with("npn-small,C/B+E,reading,5,23,0,,A1,16,1"),
        "10 cells where the header has 9 (a decimal comma needs quotes, or semicolons)",
    ),
    "mixed decimal marks": (
        semicolons + "npn-small;C/B+E;reading;5;23;0;;A1;16.1\n",
        "decimal points and decimal commas are mixed",
    ),
    "a thousand or not": (
        file_with('npn-small,C/B+E,reading,5,23,0,,A1,"1,234"'),
        '"1,234" may mean a thousand or a decimal comma',
    ),
    "unknown state": (
        file_with("npn-small,C/B+E,zeroed,5,23,0,,A1,16.1"),
        'column "state": "zeroed", expected reading | zero open | zero fixture',
    ),
    "not a number": (file_with("npn-small,C/B+E,reading,5,23,0,,A1,nan"), 'column "reading"'),
    "infinite": (file_with("npn-small,C/B+E,reading,5,23,0,,A1,inf"), 'column "reading"'),
    "underscore": (file_with("npn-small,C/B+E,reading,5,23,0,,A1,1_6"), 'column "reading"'),
    "below absolute zero": (
        file_with("npn-small,C/B+E,reading,5,-300,0,,A1,16"),
        "below absolute zero",
    ),
    "negative light": (file_with("npn-small,C/B+E,reading,5,23,-1,,A1,16"), "below zero"),
    "open quotation": (file_with('npn-small,"C/B+E,reading,5,23,0,,A1,16.1'), "quotation mark"),
    "NUL": (GOOD.replace("16.1", "16\x001"), "line 4 holds a NUL"),
    "UTF-16": (GOOD.encode("utf-16"), "save it as UTF-8"),
    "a picture": (b"\x89PNG\r\n\x1a\n\0\0", "NUL byte"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_files_get_a_sentence(case):
    data, sentence = BAD[case]
    with pytest.raises(InputError) as caught:
        read_readings(data if isinstance(data, bytes) else data.encode(), "bench.csv")
    assert sentence in str(caught.value)
    assert str(caught.value).startswith("bench.csv")


def test_at_most_five_problems_are_named_with_true_line_numbers():
    """Line numbers count lines of the file, also after a cell that holds a line break."""
    note = HEADER + ",note\n"
    rows = 'npn-small,C/B+E,reading,5,23,0,,A1,16.1,"two\nlines"\n'
    rows += "npn-small,C/B+E,reading,5,23,0,,A1,wrong,\n" * 9
    with pytest.raises(InputError) as caught:
        read_readings(note + rows, "bench.csv")
    message = str(caught.value)
    assert 'line 4, column "reading"' in message
    assert 'line 8, column "reading"' in message
    assert "line 9" not in message
    assert "and more" in message
    assert "nothing was imported" in message


def test_a_million_rows():
    random = np.random.default_rng(1)
    values = np.char.mod("%.1f", random.normal(10, 1.1, 1_000_000))
    lines = [f"p{k // 1000},C/B+E,reading,5,23,0,,A1,{v}" for k, v in enumerate(values.tolist())]
    data = (HEADER + "\n" + "\n".join(lines)).encode()
    readings = read_readings(data, "long.csv")
    assert len(readings) == 1_000_000
    assert len(readings.part.names) == 1000
    assert readings.reading[123_456] == pytest.approx(
        1e-6 * float(values[123_456]), abs=0, rel=1e-9
    )


@pytest.mark.parametrize("cell", ["1e300", "1e300 V", "-1e13", "1e200 µV"])
def test_a_reading_that_cannot_be_meant_is_refused(cell):
    with pytest.raises(
        InputError, match=r'column "reading": .* is too large to be meant'
    ) as caught:
        read_readings(file_with(f"npn-small,C/B+E,reading,5,23,0,,A1,{cell}"), "x.csv")
    assert "1.00\u2009MV" in str(caught.value)


def test_thousands_or_decimal_comma_is_still_asked_where_commas_part_the_columns():
    with pytest.raises(InputError, match="ambiguous"):
        read_readings(file_with('npn-small,C/B+E,reading,5,23,0,,A1,"12,412 µV"'), "x.csv")
