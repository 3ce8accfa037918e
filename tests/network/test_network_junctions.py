"""Compiled junction voltages against the plain search, and against the equation they solve."""

from __future__ import annotations

import numpy as np
import pytest
from random_networks import random_law

from clampwright.errors import InternalError
from clampwright.network.junctions import junction_voltages, solve_junctions
from clampwright.physics.clamp import ClampState, current_and_slope
from clampwright.physics.kernels import PARAMETERS
from clampwright.physics.terminal import at_junction, junction_voltage

CASES = 4000
NEAR = 1e-12  # relative; both solve the same equation to a few spacings of a double


@pytest.fixture(params=range(3))
def both(request):
    random = np.random.default_rng(request.param)
    state = random_law(random, CASES)
    size = 10 ** random.uniform(-6, np.log10(300), CASES)
    return np.where(random.random(CASES) < 0.5, size, -size), state


def test_the_compiled_search_finds_what_the_plain_one_finds(both):
    voltage, state = both
    plain, found = junction_voltage(voltage, state), junction_voltages(voltage, state)
    assert found == pytest.approx(plain, rel=NEAR, abs=1e-18)
    currents = [at_junction(voltage, x, state)[0] for x in (plain, found)]
    assert currents[1] == pytest.approx(currents[0], rel=1e-9, abs=1e-24)


def test_junction_and_drop_make_up_the_terminal_voltage(both):
    voltage, state = both
    found = junction_voltages(voltage, state)
    current, slope = current_and_slope(found, state)
    drop = state.series_resistance
    rounding = np.abs(found) * (1 + drop * slope) + np.abs(voltage) + drop * np.abs(current)
    assert (np.abs(found + drop * current - voltage) <= 4e-15 * rounding + 1e-300).all()
    assert (found * voltage >= 0).all() or np.any(state.photocurrent)


def test_shapes_spread_as_arrays_do():
    state = random_law(np.random.default_rng(5), 7)
    rows = junction_voltages(np.linspace(-5, 1, 3)[:, None], state)
    assert rows.shape == (3, 7)
    one = ClampState(**{n: np.asarray(x).flat[0] for n, x in vars(state).items()})
    assert junction_voltages(-5.0, one) == pytest.approx(rows[0, 0], rel=NEAR, abs=1e-18)


def test_what_is_no_number_is_not_passed_off_as_found():
    state = random_law(np.random.default_rng(6), 2)
    with pytest.raises(InternalError, match="1 of 2 junction voltages were not found"):
        junction_voltages(np.array([np.nan, 1.0]), state)
    assert (
        solve_junctions(np.ones(1), np.ones(1), np.ones((1, len(PARAMETERS))), np.empty(1))[0] == 0
    )
