"""The strict reader and the printer of quantities.

Prefixes: SI Brochure (9th edition), table 7. Letter codes: IEC 60062 (examples from memory).
"""

import math
import subprocess
import sys
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampwright.errors import InputError
from clampwright.quantities import DIMENSIONS, read, write, write_uncertain, writing

THIN = "\u2009"

READABLE = [
    ("15 V", "voltage", 15.0),
    ("15V", "voltage", 15.0),
    ("+3.3 V", "voltage", 3.3),
    (".5 V", "voltage", 0.5),
    ("-12.4 µV", "voltage", -12.4e-6),
    ("\u221212.4 \u03bcV", "voltage", -12.4e-6),  # minus sign, Greek mu
    ("6.2 nA", "current", 6.2e-9),
    ("0.5 fA", "current", 0.5e-15),
    ("1e-12 A", "current", 1e-12),
    ("2 uA", "current", 2e-6),
    ("50 MΩ", "resistance", 50e6),
    ("50 M\u2126", "resistance", 50e6),  # ohm sign
    ("50 Mohm", "resistance", 50e6),
    ("10 mΩ", "resistance", 10e-3),
    ("470 ohms", "resistance", 470.0),
    ("10 M", "resistance", 10e6),
    ("10k", "resistance", 10e3),
    ("4,7K", "resistance", 4.7e3),
    ("4,7 kΩ", "resistance", 4.7e3),
    ("1 000 Ω", "resistance", 1000.0),
    ("1\u2009000\u00a0000 Ω", "resistance", 1e6),
    ("1 000,5 Ω", "resistance", 1000.5),
    ("0,125 Ω", "resistance", 0.125),  # a leading zero cannot be thousands
    ("20 nS", "conductance", 20e-9),
    ("1 F", "capacitance", 1.0),
    ("1 fF", "capacitance", 1e-15),
    ("100p", "capacitance", 100e-12),
    ("100n", "capacitance", 100e-9),
    ("10 µH", "inductance", 10e-6),
    ("30 nC", "charge", 30e-9),
    ("250 mW", "power", 0.25),
    ("7.5 mJ", "energy", 7.5e-3),
    ("23 °C", "temperature", 296.15),
    ("23 ℃", "temperature", 296.15),
    ("23 degC", "temperature", 296.15),
    ("23C", "temperature", 296.15),
    ("296.15 K", "temperature", 296.15),
    ("-273.15 °C", "temperature", 0.0),
    ("8 °C", "temperature_difference", 8.0),
    ("8 K", "temperature_difference", 8.0),
    ("20 mK", "temperature_difference", 0.02),
    ("200 lx", "illuminance", 200.0),
    ("200 lux", "illuminance", 200.0),
    ("50 klx", "illuminance", 50e3),
    ("10 ms", "time", 0.01),
    ("30 min", "time", 1800.0),
    ("1.5 h", "time", 5400.0),
    ("2 d", "time", 172800.0),
    ("1.2 MHz", "frequency", 1.2e6),
    ("3 mHz", "frequency", 3e-3),
    ("1 %", "ratio", 0.01),
    ("50 ppm", "ratio", 50e-6),
    ("0.33", "ratio", 0.33),
    ("1/3", "ratio", 1 / 3),
    ("4 fA/lx", "responsivity", 4e-15),
    ("4 fA / lux", "responsivity", 4e-15),
    ("350 K/W", "thermal_resistance", 350.0),
    ("62.5 °C/W", "thermal_resistance", 62.5),
    ("1 mV/nA", "transresistance", 1e6),
    ("1 mV/pA", "transresistance", 1e9),
    ("1 GΩ", "transresistance", 1e9),
    ("15 nV/√Hz", "voltage_noise", 15e-9),
    ("15 nV/rtHz", "voltage_noise", 15e-9),
    ("15 nV/sqrt(Hz)", "voltage_noise", 15e-9),
    ("0.8 fA/√Hz", "current_noise", 0.8e-15),
    ("2.5 µV/°C", "voltage_drift", 2.5e-6),
    ("2 V/us", "voltage_rate", 2e6),
    ("638 meV", "activation_energy", 0.638),
]

CODES = [
    ("4k7", "resistance", 4.7e3),
    ("4K7", "resistance", 4.7e3),
    ("R47", "resistance", 0.47),
    ("0R5", "resistance", 0.5),
    ("47R", "resistance", 47.0),
    ("2M2", "resistance", 2.2e6),
    ("1G0", "resistance", 1e9),
    ("59R04", "resistance", 59.04),
    ("4k7 Ω", "resistance", 4.7e3),
    ("4n7", "capacitance", 4.7e-9),
    ("1u5", "capacitance", 1.5e-6),
    ("1µ5", "capacitance", 1.5e-6),
    ("p33", "capacitance", 0.33e-12),
]


@pytest.mark.parametrize(("text", "dimension", "value"), READABLE + CODES)
def test_reads_to_the_nearest_float(text: str, dimension: str, value: float) -> None:
    assert read(text, dimension) == pytest.approx(value, rel=4e-16, abs=0)


REFUSED = [
    ("4k7", "voltage", "not a unit of a voltage"),
    ("4k7", "capacitance", "not a unit of a capacitance"),
    ("2M2 V", "resistance", 'has "V" after the code "2M2"'),
    ("4k7k", "resistance", 'has "k" after the code "4k7"'),
    ("1u5", "current", "not a unit of a current"),
    ("4,700", "resistance", "ambiguous.*thousands or a decimal point"),
    ("4,700 kΩ", "resistance", 'ambiguous.*write "4.700 kΩ" or "4700 kΩ"'),
    ("1,000.5 V", "voltage", "mixes signs"),
    ("1.000,5 V", "voltage", "mixes signs"),
    ("1,000,000 V", "voltage", "mixes signs"),
    ("1'000 V", "voltage", "mixes signs"),
    ("12,x µV", "voltage", "no digit after it"),
    ("12. µV", "voltage", "no digit after it"),
    ("1 00 V", "voltage", "not a unit"),
    ("1 0000 V", "voltage", "not a unit"),
    ("10 meg", "resistance", 'mega is a capital M.*write "10 MΩ"'),
    ("10 Meg", "resistance", 'mega is a capital M.*write "10 MΩ"'),
    ("10 megohm", "resistance", 'mega is a capital M.*write "10 MΩ"'),
    ("10MEG", "resistance", 'mega is a capital M.*write "10 MΩ"'),
    ("10 MOHM", "resistance", "capitals matter"),
    ("300 K", "resistance", 'is a temperature, not a resistance.*kilo is a small "k"'),
    ("10m", "resistance", 'write "mΩ" for milli or "MΩ" for mega'),
    ("5 Pa", "current", "not a unit of a current"),
    ("5 PA", "current", "not a unit of a current"),
    ("1 f", "capacitance", "not a unit of a capacitance"),
    ("5 m", "voltage", 'a prefix needs its unit: "mV"'),
    ("5 m", "time", "not a unit of a time"),
    ("50 MHZ", "frequency", "capitals matter: mHz or MHz"),
    ("470", "resistance", "has no unit.*write the unit"),
    ("0", "voltage", "has no unit"),
    ("inf V", "voltage", "not a finite number"),
    ("-Infinity", "voltage", "not a finite number"),
    ("nan", "ratio", "not a finite number"),
    ("NaN V", "voltage", "not a finite number"),
    ("unlimited", "resistance", "not a finite number"),
    ("1e999 V", "voltage", "too large"),
    ("1e-999 V", "voltage", "too small"),
    ("", "voltage", "text is empty"),
    (" \u2009 ", "voltage", "text is empty"),
    ("V", "voltage", "does not begin with a number"),
    ("1" * 65 + " V", "voltage", "too long"),
    ("5\u200b V", "voltage", "cannot be seen"),
    ("5 V V", "voltage", "not a unit"),
    ("5 V 3 A", "voltage", "not a unit"),
    ("5 kmV", "voltage", "not a unit"),
    ("15 V", "resistance", "is a voltage, not a resistance"),
    ("200 lx", "voltage", "is an illuminance, not a voltage"),
    ("15 nV/Hz", "voltage_noise", "not a unit"),
    ("23 K/W", "temperature", "is a thermal resistance, not a temperature"),
    ("74 °F", "temperature", "not a unit of a temperature"),
    ("-274 °C", "temperature", "below absolute zero"),
    ("-1 K", "temperature", "below absolute zero"),
    ("-5 Ω", "resistance", "below zero"),
    ("-1 lx", "illuminance", "below zero"),
    ("1/0", "ratio", "divides by zero"),
    ("1/3", "voltage", "not a unit"),
    ("-80 dB", "ratio", "not a unit of a ratio"),
    ("\u0661\u0662 V", "voltage", "does not begin with a number"),  # Arabic-Indic digits
]


@pytest.mark.parametrize(("text", "dimension", "message"), REFUSED)
def test_refuses_with_one_sentence(text: str, dimension: str, message: str) -> None:
    with pytest.raises(InputError, match=message) as caught:
        read(text, dimension, where="designs/a.toml, source.resistance")
    sentence = str(caught.value)
    assert sentence.startswith("designs/a.toml, source.resistance: ")
    assert f"expected {DIMENSIONS[dimension].expected}" in sentence
    assert "\n" not in sentence


def test_the_sentence_in_full() -> None:
    with pytest.raises(InputError) as caught:
        read("10 meg", "resistance", where="a.toml, source.resistance")
    assert str(caught.value) == (
        'a.toml, source.resistance: "meg" is not a unit: mega is a capital M; '
        'expected a resistance such as "4k7" or "50 MΩ"; write "10 MΩ".'
    )


@pytest.mark.parametrize("dimension", DIMENSIONS)
def test_examples_in_messages_can_be_read(dimension: str) -> None:
    for example in DIMENSIONS[dimension].examples:
        assert math.isfinite(read(example, dimension))


PREFIX_POWERS = {"f": -15, "p": -12, "n": -9, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6, "G": 9}
PREFIXED = {"voltage": "V", "current": "A", "resistance": "Ω", "charge": "C", "power": "W"}

decimals = st.decimals(min_value=0, max_value=99999, places=4)


@given(
    number=decimals,
    prefix=st.sampled_from(sorted(PREFIX_POWERS)),
    dimension=st.sampled_from(sorted(PREFIXED)),
    comma=st.booleans(),
    space=st.sampled_from(["", " ", THIN, "\u00a0", "\u202f"]),
)
def test_every_prefix_is_its_power_of_ten(
    number: Decimal, prefix: str, dimension: str, comma: bool, space: str
) -> None:
    digits = f"{number:.4f}"
    text = (digits.replace(".", ",") if comma else digits) + space + prefix + PREFIXED[dimension]
    assert read(text, dimension) == float(f"{digits}e{PREFIX_POWERS[prefix]}")


magnitudes = st.floats(min_value=1e-30, max_value=1e30)
dimensions = st.sampled_from(sorted(DIMENSIONS))
signs = st.sampled_from([1.0, -1.0])


def _signed(magnitude: float, sign: float, dimension: str) -> float:
    return magnitude if DIMENSIONS[dimension].minimum is not None else sign * magnitude


@pytest.mark.parametrize("dimension", DIMENSIONS)
@given(magnitude=magnitudes, sign=signs, digits=st.integers(1, 9), show=st.booleans())
def test_what_is_printed_reads_back_to_the_printed_digits(
    dimension: str, magnitude: float, sign: float, digits: int, show: bool
) -> None:
    value = _signed(magnitude, sign, dimension)
    text = write(value, dimension, digits=digits, signed=show)
    back = read(text, dimension)
    if dimension == "temperature":
        half_step = 0.5 * 10.0 ** -max(digits - 2, 0)
    else:
        steps = (86400.0, 3600.0, 60.0, 1.0) if dimension == "time" else (1.0,)
        shown = [u for u in steps if abs(value) >= u] or [1.0]  # minutes, hours and days are shown
        half_step = max(
            0.5 * u * 10.0 ** (math.floor(math.log10(abs(value) / u)) - digits + 1) for u in shown
        )
    assert abs(back - value) <= half_step * (1 + 1e-9) + 1e-15 * abs(value)


SAME_WORDS = [
    {"temperature", "temperature_difference"},
    {"resistance", "transresistance"},
    {"temperature", "charge"},  # "5 C" typed where a temperature belongs is 5 °C
]


@pytest.mark.parametrize("made", DIMENSIONS)
@given(magnitude=st.floats(min_value=1e-20, max_value=1e20), asked=dimensions)
def test_never_accepts_another_dimension(made: str, magnitude: float, asked: str) -> None:
    text = write(magnitude, made)
    if made == asked or {made, asked} in SAME_WORDS:
        return
    with pytest.raises(InputError, match=r"not a unit|has no unit|, not an? "):
        read(text, asked)


pieces = st.sampled_from(
    [*"0123456789.,-+ eEkKmMGTRpnuµΩVAFCKxh%/°", "meg", "inf", "nan", "lx", "Hz", THIN, "10", "ohm"]
)


@given(text=st.lists(pieces, max_size=8).map("".join) | st.text(max_size=12), dimension=dimensions)
def test_any_text_gives_a_finite_number_or_a_sentence(text: str, dimension: str) -> None:
    try:
        value = read(text, dimension)
    except InputError as error:
        assert "\n" not in str(error)
    else:
        assert math.isfinite(value)


def test_every_printed_unit_can_be_read() -> None:
    for kind in DIMENSIONS.values():
        printed = {rung.symbol for rung in kind.ladder}
        assert printed <= set(kind.units)


WRITTEN = [
    (6.2e-9, "current", f"6.20{THIN}nA"),
    (999.96, "voltage", f"1.00{THIN}kV"),
    (-12.4e-6, "voltage", f"-12.4{THIN}µV"),
    (0.0, "voltage", f"0{THIN}V"),
    (-0.0, "voltage", f"0{THIN}V"),
    (296.15, "temperature", f"23.0{THIN}°C"),
    (273.15, "temperature", f"0.0{THIN}°C"),
    (200.0, "illuminance", f"200{THIN}lx"),
    (0.33, "ratio", f"33.0{THIN}%"),
    (50e-6, "ratio", f"50.0{THIN}ppm"),
    (12.5, "ratio", "12.5"),
    (5400.0, "time", f"1.50{THIN}h"),
    (0.638, "activation_energy", f"0.638{THIN}eV"),
    (15e-9, "voltage_noise", f"15.0{THIN}nV/√Hz"),
    (1e-25, "current", f"1.00e-25{THIN}A"),
    (math.nan, "current", "not a number"),
    (math.inf, "resistance", "unlimited"),
    (-math.inf, "voltage", "-unlimited"),
]


@pytest.mark.parametrize(("value", "dimension", "text"), WRITTEN)
def test_prints(value: float, dimension: str, text: str) -> None:
    assert write(value, dimension) == text


def test_prints_a_sign_when_asked() -> None:
    assert write(1e-3, "voltage", signed=True) == f"+1.00{THIN}mV"
    assert write(-1e-3, "voltage", signed=True) == f"-1.00{THIN}mV"
    assert write(0.0, "voltage", signed=True) == f"0{THIN}V"


UNCERTAIN = [
    (3.7e-12, 0.85e-12, "current", f"3.70 ± 0.85{THIN}pA"),
    # digits of the example of JCGM 100:2008, 7.2.4 (value from memory): 100.02147 ± 0.00079
    (100.02147, 0.00079, "voltage", f"100.02147 ± 0.00079{THIN}V"),
    (370e-12, 120e-12, "current", f"0.37 ± 0.12{THIN}nA"),
    (0.03e-12, 0.85e-12, "current", f"0.03 ± 0.85{THIN}pA"),
    (-3.7e-12, 0.85e-12, "current", f"-3.70 ± 0.85{THIN}pA"),
    (1.0, 0.000996, "voltage", f"1.0000 ± 0.0010{THIN}V"),
    (296.15, 0.3, "temperature", f"23.00 ± 0.30{THIN}°C"),
    (0.33, 0.02, "ratio", f"33.0 ± 2.0{THIN}%"),
    (1.0, 0.0, "voltage", f"1.00{THIN}V ± 0{THIN}V"),
    (1.0, math.inf, "voltage", f"1.00{THIN}V ± unlimited"),
    (math.nan, 1.0, "voltage", f"not a number ± 1.00{THIN}V"),
    (296.15, math.nan, "temperature", f"23.0{THIN}°C ± not a number"),
]


@pytest.mark.parametrize(("value", "expanded", "dimension", "text"), UNCERTAIN)
def test_prints_an_uncertainty(value: float, expanded: float, dimension: str, text: str) -> None:
    assert write_uncertain(value, expanded, dimension) == text


@given(magnitude=magnitudes, sign=signs, share=st.floats(1e-8, 1e3))
def test_value_and_uncertainty_share_unit_and_place(
    magnitude: float, sign: float, share: float
) -> None:
    value, expanded = sign * magnitude, share * magnitude
    numbers, _, unit = write_uncertain(value, expanded, "voltage").rpartition(THIN)
    first, second = numbers.split(" ± ")
    assert len(first.partition(".")[2]) == len(second.partition(".")[2])
    assert read(f"{second}{unit}", "voltage") == pytest.approx(expanded, rel=0.051, abs=0)
    assert abs(read(f"{first}{unit}", "voltage") - value) <= 0.051 * expanded


def test_impossible_requests_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be negative"):
        write_uncertain(1.0, -1.0, "voltage")
    with pytest.raises(ValueError, match="digits must be at least 1"):
        write(1.0, "voltage", digits=0)
    with pytest.raises(KeyError):
        read("1 V", "no such dimension")


def test_import_stays_light() -> None:
    heavy = {"pydantic", "numpy", "quantiphy", "scipy", "typer"}
    code = "import sys, clampwright.quantities; print(*sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert "clampwright.quantities" in loaded
    assert not heavy & {name.partition(".")[0] for name in loaded}


@given(st.floats(allow_nan=False), st.sampled_from(sorted(DIMENSIONS)), st.integers(1, 6))
def test_what_was_written_before_is_what_is_written_again(value, dimension, digits):
    for number in (value, -value, value + 0.0):
        for signed in (False, True):
            again = [write(number, dimension, digits=digits, signed=signed) for _ in range(2)]
            if math.isfinite(number):
                plain = writing._written.__wrapped__(number, dimension, digits, signed)
                assert again == [plain, plain]


def test_whole_numbers_and_both_zeros_are_written_alike():
    assert write(5, "voltage") == write(5.0, "voltage") == "5.00" + THIN + "V"
    for zero in (0.0, -0.0, 0):
        assert write(zero, "voltage", signed=True) == "0" + THIN + "V"


@pytest.mark.parametrize("text", ["0.1 V", "1e400 V", "5 A", ""])
def test_what_was_read_before_is_read_again_or_refused_again(text):
    def told():
        try:
            return read(text, "voltage")
        except InputError as error:
            return str(error)

    assert told() == told()
