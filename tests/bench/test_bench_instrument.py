"""Instrument profiles: what a sheet may say, and what a wrong one is told."""

import tomllib

import pytest

from clampwright.bench.instrument import read_profile
from clampwright.errors import InputError

SHEET = """
id = "A1"
scale = "1 mV/nA"
tolerance = "1 %"
offset_voltage = "48 µV"
feedback_resistance = "1 MΩ"
resolution = "1 µV"
"""


def profile(extra: str = ""):
    return read_profile(tomllib.loads(SHEET + extra), "A1.toml")


def test_sheet_is_read_in_si():
    adapter = profile("inverting = true\ncalibrated = 2026-05-04\n")
    assert adapter.scale == pytest.approx(1e6, abs=0, rel=1e-9)
    assert adapter.tolerance == pytest.approx(0.01, abs=0, rel=1e-9)
    assert adapter.sign == -1
    assert profile().sign == 1
    assert adapter.calibrated.year == 2026


@pytest.mark.parametrize(
    ("extra", "sentence"),
    [
        ('tolerence = "1 %"\n', "tolerence"),
        ('warm_up = "30"\n', "warm_up"),
        ('method = "guess"\n', "method"),
        ("bias_tolerance = 0.1\n", "bias_tolerance"),
        ('meter_gain = "-1 %"\n', "meter_gain"),
    ],
)
def test_wrong_sheets_name_file_and_field(extra, sentence):
    with pytest.raises(InputError) as caught:
        profile(extra)
    assert "A1.toml" in str(caught.value)
    assert sentence in str(caught.value)


def test_missing_scale():
    data = tomllib.loads(SHEET)
    del data["scale"]
    with pytest.raises(InputError, match="scale"):
        read_profile(data, "A1.toml")
