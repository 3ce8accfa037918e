"""Preferred values against the lists of IEC 60063."""

import json
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampwright.errors import InputError
from clampwright.quantities import nearest, series_values

# Source: IEC 60063, Preferred number series for resistors and capacitors.
PUBLISHED: dict[str, list[float]] = json.loads(
    (Path(__file__).parent / "data" / "e_series.json").read_text(encoding="utf-8")
)["series"]

names = st.sampled_from(sorted(PUBLISHED))
magnitudes = st.floats(min_value=1e-13, max_value=1e14)


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


def _brute(name: str, value: float) -> list[float]:
    """Every published value within three decades, made without the code under test."""
    middle = math.floor(math.log10(value))
    return [
        float(f"{mantissa}e{decade}")
        for decade in range(middle - 2, middle + 3)
        for mantissa in PUBLISHED[name]
    ]


@given(value=magnitudes, name=names)
def test_nearest_has_the_smallest_ratio(value: float, name: str) -> None:
    def ratio(candidate: float) -> float:
        return max(candidate / value, value / candidate)

    best = min(ratio(candidate) for candidate in _brute(name, value))
    assert ratio(nearest(value, name)) == pytest.approx(best, rel=1e-14, abs=0)


@given(name=names, decade=st.integers(-12, 12), index=st.integers(0, 191))
def test_a_preferred_value_is_its_own_neighbour(name: str, decade: int, index: int) -> None:
    value = float(f"{PUBLISHED[name][index % len(PUBLISHED[name])]}e{decade}")
    assert nearest(value, name) == value


def test_nearest_goes_by_ratio_not_by_difference() -> None:
    # between 2.2 and 4.7 the middle by ratio is √(2.2 · 4.7) = 3.2156, by difference 3.45
    assert nearest(3.3e3, "E3") == 4.7e3


@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_no_preferred_value_exists(value: float) -> None:
    with pytest.raises(InputError, match="positive finite number"):
        nearest(value, "E24")


def test_unknown_series_and_limits_out_of_order() -> None:
    with pytest.raises(InputError, match=r'"E7" is not a series.*expected E3, E6'):
        series_values("E7", 1.0, 10.0)
    with pytest.raises(InputError, match="lies above"):
        series_values("E12", 10.0, 1.0)
