"""Rail clamp nodes in lanes against 50 digits, the general solver, and symmetry."""

import numpy as np
import pytest
from mpmath import expm1, mp, mpf

from clampwright.errors import InputError
from clampwright.network.batch import Values
from clampwright.network.compiled import solve_compiled
from clampwright.network.rail_node import CIRCUIT, RailNodes, solve_rail_nodes
from clampwright.physics.clamp import ClampLaw, at_conditions

DIGITS = 50


def nodes(cases, seed, faults):
    """Source resistors 1 kΩ…100 MΩ; with faults half the sources reach 1 kV at up to 10 mA."""
    random = np.random.default_rng(seed)
    kelvin = random.uniform(253, 398, cases)

    def clamp():
        law = ClampLaw(
            diffusion_current=10 ** random.uniform(-18, -13, cases),
            generation_current=10 ** random.uniform(-15, -11, cases),
            grading=random.uniform(0.3, 0.5, cases),
            film_conductance=np.where(
                random.random(cases) < 0.5, 10 ** random.uniform(-15, -12, cases), 0.0
            ),
            responsivity=1e-14,
            series_resistance=np.where(
                random.random(cases) < 0.5, 10 ** random.uniform(-1, 2, cases), 0.0
            ),
        )
        return at_conditions(law, kelvin, np.where(random.random(cases) < 0.5, 100.0, 0.0))

    source = random.uniform(-12, 12, cases)
    resistance = 10 ** random.uniform(3, 8, cases)
    if faults:
        struck = random.random(cases) < 0.5
        high = np.sign(random.random(cases) - 0.5) * 10 ** random.uniform(1.2, 3, cases)
        source = np.where(struck, high, source)
        resistance = np.where(struck, np.maximum(resistance, np.abs(source) / 1e-2), resistance)
    bias = random.uniform(-1, 1, cases) * 10 ** random.uniform(-15, -11, cases)
    return RailNodes(resistance, source, 15.0, -15.0, bias, clamp(), clamp())


class Junction:
    """Current and slope in 50 digits. Sources: Shockley 1949; Sah, Noyce and Shockley 1957."""

    def __init__(self, state, case):
        values = {k: np.ravel(v)[case if np.size(v) > 1 else 0] for k, v in vars(state).items()}
        self.p = {name: mpf(float(value)) for name, value in values.items()}

    def __call__(self, v):
        p = self.p
        reverse = max(-v, mpf(0))
        width = (1 + reverse / p["built_in_voltage"]) ** p["grading"]
        fast, slow = (
            p[k + "_ideality"] * p["thermal_voltage"] for k in ("diffusion", "generation")
        )
        narrower = -p["grading"] * width / (p["built_in_voltage"] + reverse) if v < 0 else mpf(0)
        form = expm1(v / slow)
        current = p["diffusion_current"] * expm1(v / fast) + p["generation_current"] * width * form
        slope = p["diffusion_current"] * (1 + expm1(v / fast)) / fast
        slope += p["generation_current"] * (width * (1 + form) / slow + narrower * form)
        film = p["film_conductance"]
        return current + film * v - p["photocurrent"], slope + film


def exact_error(nodes, case, start):
    """Error voltage in 50 digits and R·Σ|I|: plain Newton from `start`, until all balances close.

    The balance is monotone in the error voltage, so whatever closes it is the one answer.
    """
    r, source, bias = (mpf(float(v[case])) for v in (nodes.resistance, nodes.source, nodes.bias))
    upper, lower = Junction(nodes.upper, case), Junction(nodes.lower, case)
    r_u, r_l = upper.p["series_resistance"], lower.p["series_resistance"]
    d = mpf(float(start))
    x = inner(upper, source + d - nodes.rail_positive, r_u)
    y = inner(lower, nodes.rail_negative - source - d, r_l)
    for _ in range(60):
        (i, g), (j, k) = upper(x), lower(y)
        balance = d + r * (i - j - bias)
        miss_x = source + d - nodes.rail_positive - x - r_u * i
        miss_y = nodes.rail_negative - source - d - y - r_l * j
        a, b = 1 + r_u * g, 1 + r_l * k
        step = -(balance + r * (g * miss_x / a - k * miss_y / b)) / (1 + r * (g / a + k / b))
        d, x, y = d + step, x + (miss_x + step) / a, y + (miss_y - step) / b
        size = abs(d) + r * (abs(i) + abs(j) + abs(bias))
        if max(abs(step), abs(balance)) < mpf(10) ** -40 * size:
            return d, r * (abs(i) + abs(j) + abs(bias))
    raise AssertionError(f"the reference of case {case} did not close")


def inner(junction, voltage, resistance):
    """Junction voltage behind the series resistance, by halving to a double's precision."""
    low, high = min(voltage, mpf(0)), max(voltage, mpf(0)) + resistance * junction.p["photocurrent"]
    high = min(high, mpf(3)) if resistance else voltage
    low = voltage if not resistance else low
    for _ in range(60):
        middle = (low + high) / 2
        below = middle + resistance * junction(middle)[0] < voltage
        low, high = (middle, high) if below else (low, middle)
    return high


@pytest.mark.parametrize("faults", [False, True], ids=["leakage", "half in fault"])
@pytest.mark.parametrize("cases", [150, pytest.param(4000, marks=pytest.mark.long)])
def test_every_error_against_fifty_digits(cases, faults):
    batch = nodes(cases, 2, faults)
    solution = solve_rail_nodes(batch, cases)
    assert solution.converged.all()
    with mp.workdps(DIGITS):
        for case in range(cases):
            error, drops = exact_error(batch, case, solution.error[case])
            condition = max(drops / abs(error), mpf(1))
            allowed = 4 * condition * mpf(np.finfo(float).eps)
            assert abs(mpf(float(solution.error[case])) / error - 1) <= allowed


def general(batch):
    return solve_compiled(
        CIRCUIT,
        Values(
            {"source": batch.source, "rail positive": 15.0, "rail negative": -15.0},
            {"R": batch.resistance},
            {"upper": batch.upper, "lower": batch.lower},
            {"bias": batch.bias},
            {},
        ),
    )


def test_lanes_equal_the_general_solver():
    cases = 3001
    for faults in (False, True):
        batch = nodes(cases, 5, faults)
        fast, slow = solve_rail_nodes(batch, cases), general(batch)
        drops = batch.resistance * (np.abs(slow.clamp_current["upper"]) + np.abs(batch.bias))
        drops += batch.resistance * np.abs(slow.clamp_current["lower"])
        assert np.all(np.abs(fast.error - slow.deviation["pin"]) <= 2e-15 * drops)
        for side, current in (("upper", fast.upper), ("lower", fast.lower)):
            assert current == pytest.approx(slow.clamp_current[side], rel=1e-9, abs=1e-30)


def test_other_mechanisms_go_to_the_general_solver():
    cases = 200
    batch = nodes(cases, 6, True)
    zener = at_conditions(
        ClampLaw(generation_current=1e-12, breakdown_voltage=np.linspace(20, 40, cases)), 300.0
    )
    batch = RailNodes(**(vars(batch) | {"lower": zener}))
    solution = solve_rail_nodes(batch, cases)
    assert np.array_equal(solution.error, general(batch).deviation["pin"])
    assert solution.converged.all()


def test_mirror_and_order():
    cases = 500
    batch = nodes(cases, 8, True)
    here = solve_rail_nodes(batch, cases)
    mirrored = RailNodes(
        batch.resistance, -batch.source, 15.0, -15.0, -batch.bias, batch.lower, batch.upper
    )
    there = solve_rail_nodes(mirrored, cases)
    assert np.array_equal(there.error, -here.error)
    assert np.array_equal(there.upper, here.lower)
    first = nodes(cases, 8, True)
    again = solve_rail_nodes(first, cases)
    assert np.array_equal(again.error, here.error)


def test_extreme_nodes_are_solved_or_flagged():
    batch = nodes(64, 9, False)
    source = np.array(batch.source)
    source[5] = np.nan
    batch = RailNodes(**(vars(batch) | {"source": source}))
    assert list(np.flatnonzero(~solve_rail_nodes(batch, 64).converged)) == [5]
    with pytest.raises(InputError, match="rail node: a resistance is not positive"):
        solve_rail_nodes(RailNodes(**(vars(batch) | {"resistance": 0.0})), 64)
