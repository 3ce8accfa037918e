"""Uncertainty layer against the worked examples of JCGM 100:2008 and JCGM 101:2008."""

import csv
from math import inf, sqrt
from pathlib import Path

import mpmath
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampwright import uncertain
from clampwright.errors import InputError

DATA = Path(__file__).parent / "data"


def table(name: str) -> list[dict[str, float]]:
    with open(DATA / name, encoding="utf-8", newline="") as file:
        return [{k: float(v) for k, v in row.items()} for row in csv.DictReader(file)]


# JCGM 100:2008, H.1, Table H.1; nanometres, input figures rounded as published
GAUGE = {
    "ls": (50000623, 25, 18),
    "d": (215, 9.7, 25.6),
    "dalpha": (0, 5.8e-7, 50),
    "theta": (-0.1, 0.41, inf),
    "alpha_s": (1.15e-5, 1.2e-6, inf),
    "dtheta": (0, 0.029, 2),
}


def gauge_length(ls, d, dalpha, theta, alpha_s, dtheta):
    return ls + d - ls * (dalpha * theta + alpha_s * dtheta)


def test_end_gauge_first_order():
    inputs = [uncertain.measured(v, u, nu, name) for name, (v, u, nu) in GAUGE.items()]
    length = gauge_length(*inputs)
    assert uncertain.value_of(length) == pytest.approx(50000838, abs=0.1)
    assert uncertain.standard_uncertainty(length) == pytest.approx(31.7106, abs=0.05)
    assert uncertain.degrees_of_freedom(length) == pytest.approx(16.656, abs=0.02)
    share = {c.name: c.standard_uncertainty for c in uncertain.components(length, inputs)}
    assert share["ls"] == pytest.approx(25, abs=0, rel=1e-9)
    assert share["d"] == pytest.approx(9.7, abs=0, rel=1e-9)
    assert share["dalpha"] == pytest.approx(2.9, abs=0.05)
    assert share["dtheta"] == pytest.approx(16.68, abs=0.01)
    assert share["alpha_s"] == share["theta"] == 0
    # published U99 = 93 nm uses 16 whole degrees of freedom and u = 32
    assert round(uncertain.coverage_factor(16, 0.99), 2) == 2.92
    factor = uncertain.coverage_factor(uncertain.degrees_of_freedom(length), 0.99)
    assert factor * uncertain.standard_uncertainty(length) == pytest.approx(93, abs=1.5)


def test_correlated_resistance_reactance_impedance():
    """JCGM 100:2008, H.2, Tables H.2–H.4: inputs read together keep their correlation."""
    import GTC
    from GTC import ta

    rows = table("gum_h2.csv")
    voltage, current, phase = ta.multi_estimate_real(
        [[r["V_V"] for r in rows], [r["I_mA"] / 1000 for r in rows], [r["phi_rad"] for r in rows]],
        labels=["V", "I", "phase"],
    )
    impedance = voltage / current
    resistance, reactance = impedance * GTC.cos(phase), impedance * GTC.sin(phase)
    for result, value, spread in (
        (resistance, 127.73217, 0.071071),
        (reactance, 219.846512, 0.295582),
        (impedance, 254.259702, 0.236336),
    ):
        assert uncertain.value_of(result) == pytest.approx(value, rel=1e-6, abs=0)
        assert uncertain.standard_uncertainty(result) == pytest.approx(spread, abs=1e-5)


def test_calibration_line():
    """JCGM 100:2008, H.3, Table H.6: correction of a thermometer and its value at 30 °C."""
    from GTC import ta

    rows = table("gum_h3.csv")
    line = ta.line_fit([r["t_C"] - 20 for r in rows], [r["b_C"] for r in rows])
    intercept, slope = line.a_b
    at_30 = intercept + slope * 10
    assert uncertain.value_of(intercept) == pytest.approx(-0.17120379, abs=1e-7)
    assert uncertain.value_of(slope) == pytest.approx(0.0021827, abs=1e-7)
    assert uncertain.standard_uncertainty(intercept) == pytest.approx(0.0028776, abs=1e-7)
    assert uncertain.standard_uncertainty(slope) == pytest.approx(0.00066794, abs=1e-7)
    assert uncertain.value_of(at_30) == pytest.approx(-0.14937681, abs=1e-7)
    assert uncertain.standard_uncertainty(at_30) == pytest.approx(0.0041386, abs=1e-7)
    assert uncertain.degrees_of_freedom(at_30) == pytest.approx(9, abs=0, rel=1e-9)


def test_welch_satterthwaite_example():
    """JCGM 100:2008, G.4.2 EXAMPLE: relative uncertainties of a product, ν_eff 19.0."""
    product = 1.0
    for spread, nu in ((0.25e-2, 9), (0.57e-2, 4), (0.82e-2, 14)):
        product = product * uncertain.measured(1.0, spread, nu)
    assert 100 * uncertain.standard_uncertainty(product) == pytest.approx(1.0295, abs=1e-4)
    assert uncertain.degrees_of_freedom(product) == pytest.approx(18.9987, abs=1e-3)
    factor = uncertain.coverage_factor(uncertain.degrees_of_freedom(product))
    expanded = factor * uncertain.standard_uncertainty(product)
    assert 100 * expanded == pytest.approx(2.15, abs=0.006)


@pytest.mark.parametrize("row", range(28))
def test_coverage_factors(row):
    """JCGM 100:2008, Table G.2, probabilities as its heading prints them."""
    with open(DATA / "gum_table_g2_t_factors.csv", encoding="utf-8") as file:
        line = list(csv.DictReader(file))[row]
    for name, published in line.items():
        if name != "dof":
            p = float(name[1:]) / 100
            assert uncertain.coverage_factor(float(line["dof"]), p) == pytest.approx(
                float(published), abs=6e-5
            )


def test_sharing_an_input_keeps_correlation():
    """GUM 5.2.2: a common scale cancels in a ratio and adds fully in a sum."""
    scale = uncertain.measured(1.0, 0.01, label="scale")
    a, b = 3.0 * scale, 5.0 * scale
    assert uncertain.standard_uncertainty(a / b) == pytest.approx(0, abs=1e-15)
    assert uncertain.standard_uncertainty(a + b) == pytest.approx(0.08, abs=0, rel=1e-9)


def test_type_b():
    """GUM: rectangle 4.3.7; 95 % normal 4.3.4."""
    assert uncertain.standard_uncertainty(uncertain.rectangular(0, 3)) == pytest.approx(
        sqrt(3),
        abs=0,
        rel=1e-9,
    )
    assert uncertain.standard_uncertainty(uncertain.normal(0, 1.959964)) == pytest.approx(
        1, abs=1e-6
    )


@pytest.mark.parametrize("ratio", [-8.0, -3.0, -1.0, 0.0, 0.5, 2.0, 10.0])
def test_upper_bound_against_fifty_digits(ratio):
    """The bound b leaves 5 % of the positive part of N(ratio, 1) above it (mpmath, 50 digits)."""
    bound = uncertain.upper_bound(ratio * 2e-12, 2e-12) / 2e-12
    with mpmath.workdps(50):
        tail = mpmath.erfc((mpmath.mpf(bound) - ratio) / mpmath.sqrt(2))
        positive = mpmath.erfc(-mpmath.mpf(ratio) / mpmath.sqrt(2))
        assert float(tail / positive) == pytest.approx(0.05, rel=1e-9, abs=0)


@given(st.floats(-20, 20), st.floats(1e-15, 1e-6), st.sampled_from([2.0, 9.0, 30.0, inf]))
def test_upper_bound_is_positive_and_above_the_value(ratio, spread, nu):
    bound = uncertain.upper_bound(ratio * spread, spread, nu)
    assert bound > 0
    assert bound > ratio * spread


def test_upper_bound_student_tends_to_normal_and_takes_arrays():
    values = np.array([-1e-12, 0, 1e-12])
    normal = uncertain.upper_bound(values, 1e-12)
    assert normal.shape == (3,)
    assert uncertain.upper_bound(values, 1e-12, 1e7) == pytest.approx(normal, rel=1e-5, abs=0)
    with pytest.raises(InputError, match="needs an uncertainty"):
        uncertain.upper_bound(1e-12, 0.0)


def test_four_normals():
    """JCGM 101:2008, 9.2.2: half-width 3.92 of the sum of four unit normals."""
    total = sum(uncertain.measured(0, 1) for _ in range(4))
    spread = uncertain.standard_uncertainty(total)
    assert uncertain.NORMAL_95 * spread == pytest.approx(3.91993, abs=1e-5)


@pytest.mark.parametrize("wrong", [(1.0, -1.0, inf), (1.0, float("nan"), inf), (1.0, 1.0, 0.0)])
def test_impossible_inputs_are_refused(wrong):
    with pytest.raises(InputError, match="expected"):
        uncertain.measured(*wrong)
