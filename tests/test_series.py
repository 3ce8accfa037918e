"""Preferred values against the lists of IEC 60063."""

import json
import math
from pathlib import Path

import pytest

from clampwright.errors import InputError
from clampwright.quantities import series_values

# Source: IEC 60063, Preferred number series for resistors and capacitors.
PUBLISHED: dict[str, list[float]] = json.loads(
    (Path(__file__).parent / "data" / "e_series.json").read_text(encoding="utf-8")
)["series"]


@pytest.mark.parametrize("name", PUBLISHED)
def test_one_decade_is_the_published_list(name: str) -> None:
    assert series_values(name, 1.0, 9.999) == tuple(PUBLISHED[name])


@pytest.mark.parametrize("name", PUBLISHED)
def test_decades_repeat_and_both_limits_are_included(name: str) -> None:
    values = series_values(name, 1e3, 1e6)
    assert len(values) == 3 * len(PUBLISHED[name]) + 1
    assert (values[0], values[-1]) == (1e3, 1e6)
    assert list(values) == sorted(set(values))


def test_values_are_the_floats_a_person_would_type() -> None:
    assert 4.7e3 in series_values("E12", 1e3, 1e4)
    assert 3.3e-12 in series_values("E12", 1e-12, 1e-11)
    assert 9.2e5 in series_values("E192", 9.2e5, 9.3e5)  # the exception of the standard: not 9.19


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_no_preferred_value_exists(value: float) -> None:
    with pytest.raises(InputError, match="positive finite number"):
        series_values("E24", value, value)


def test_unknown_series_and_limits_out_of_order() -> None:
    with pytest.raises(InputError, match=r'"E7" is not a series.*expected E3, E6'):
        series_values("E7", 1.0, 10.0)
    with pytest.raises(InputError, match="lies above"):
        series_values("E12", 10.0, 1.0)
