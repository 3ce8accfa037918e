"""Reduction of readings to leakages: hand-worked budgets, flags, coverage by simulation."""

import json
from math import inf, sqrt
from pathlib import Path

import bench_sessions
import numpy as np
import pytest
from bench_sessions import adapter, readings, rows, scattered

from clampwright import uncertain
from clampwright.bench.grouping import grouped
from clampwright.bench.leakage import Leakage, evidence_points, sentence
from clampwright.bench.reduce import reduce_readings
from clampwright.errors import InputError

DATA = Path(__file__).parents[1] / "data"
A1 = {"A1": adapter()}


def one(*blocks, profiles=None) -> Leakage:
    (leakage,) = reduce_readings(readings(*blocks), profiles or A1, "day")
    return leakage


def usual(mean: float, spread: float = 1.3, **changes) -> Leakage:
    """Zeros 12.4 and 13.0 µV (s 1.1 µV, n 10) around ten readings."""
    return one(
        rows("zero fixture", scattered(12.4, 1.1)),
        rows("reading", scattered(mean, spread), **changes),
        rows("zero fixture", scattered(13.0, 1.1)),
    )


def test_budget_by_hand():
    """Every line of the budget of (16.1 − 12.7) µV ÷ 1 mV/nA worked by hand (JCGM 100:2008)."""
    found = usual(16.1)
    expected = {
        "scatter of reading": (1.3 / sqrt(10), 9, "A", False),
        "scatter of zero": (1.1 / sqrt(20), 18, "A", True),
        "drift of zero": (0.6 / 2, 1, "B", True),
        "resolution of the meter": (0.5 / sqrt(3), inf, "B", False),
        "scale of the adapter": (3.4 * 0.01 / sqrt(3), inf, "B", True),
    }
    assert {c.name for c in found.components} == set(expected)
    for c in found.components:
        size, freedom, evaluation, shared = expected[c.name]
        assert c.value == pytest.approx(size * 1e-12, abs=0, rel=1e-9)
        assert (c.degrees_of_freedom, c.evaluation, c.shared) == (freedom, evaluation, shared)
    combined = sqrt(sum(size**2 for size, *_ in expected.values()))
    others = [(size, nu) for name, (size, nu, *_) in expected.items() if "drift" not in name]
    steady = sqrt(sum(size**2 for size, _ in others))
    steady_freedom = steady**4 / sum(size**4 / nu for size, nu in others)
    factor = (
        steady**2 * uncertain.coverage_factor(steady_freedom) + 0.3**2 * 12.706204736
    ) / combined**2  # Cochran (1964); t(0.975, 1) from GUM Table G.2
    assert found.value == pytest.approx(3.4e-12, abs=0, rel=1e-9)
    assert found.zero == pytest.approx(12.7e-6, abs=0, rel=1e-9)
    assert found.standard_uncertainty == pytest.approx(combined * 1e-12, abs=0, rel=1e-9)
    assert found.expanded_uncertainty == pytest.approx(factor * combined * 1e-12, abs=0, rel=1e-9)
    assert found.relative_scale_uncertainty == pytest.approx(0.01 / sqrt(3), abs=0, rel=1e-9)
    assert found.independent_uncertainty == pytest.approx(
        sqrt(combined**2 - (3.4 * 0.01 / sqrt(3)) ** 2) * 1e-12,
        abs=0,
        rel=1e-9,
    )


def test_limits_by_hand():
    """u_0² = s²(1/n + 1/n_0) + (a/2)² + q²/12; t(0.95, ν)·u_0, twice that, 10·u_0 (Currie 1968).

    s pooled of zeros (1.1 µV, ν 18) and readings (1.3 µV, ν 9), whose F is 1.40.
    """
    found = usual(16.1)
    scatter = (18 * 1.1**2 + 9 * 1.3**2) / 27 * (1 / 10 + 1 / 20)
    steady, u_0 = sqrt(scatter + 1 / 12), sqrt(scatter + 0.3**2 + 1 / 12)
    freedom = uncertain.joined_freedom((steady, 27 * (steady**2 / scatter) ** 2), (0.3, 1))
    decision = uncertain.one_sided_factor(freedom) * u_0 * 1e-12
    assert found.decision_limit == pytest.approx(decision, abs=0, rel=1e-9)
    assert found.detection_limit == pytest.approx(2 * decision, abs=0, rel=1e-9)
    assert found.quantification_limit == pytest.approx(10 * u_0 * 1e-12, abs=0, rel=1e-9)


@pytest.mark.parametrize(
    ("mean", "outcome"),
    [(12.2, "not detected"), (13.4, "not detected"), (16.1, "detected"), (34.3, "quantified")],
)
def test_outcomes(mean, outcome):
    found = usual(mean)
    assert found.outcome == outcome
    assert (found.upper_bound is not None) == (outcome == "not detected")


def test_bound_of_a_non_detect_is_the_truncated_distribution():
    found = usual(13.2)
    assert found.upper_bound == pytest.approx(
        uncertain.upper_bound(0.5e-12, found.standard_uncertainty, found.degrees_of_freedom),
        abs=0,
        rel=1e-9,
    )
    assert found.upper_bound > found.value
    assert sentence(found).startswith("not detected, ≤ ")
    assert "pA" in sentence(found)


def test_printed_results_never_say_zero():
    assert sentence(usual(16.1)).replace("\u2009", " ") == "3.4 ± 2.8 pA"
    printed = sentence(usual(12.7))
    assert printed.startswith("not detected, ≤ 2.")
    negative = sentence(usual(10.0))
    assert negative.startswith(("-2.7 ± ", "−2.7 ± "))
    assert "significantly negative: check sign, zero, photocurrent" in negative


def test_negative_results_are_kept():
    found = usual(10.0)
    assert found.outcome == "negative"
    assert found.value == pytest.approx(-2.7e-12, abs=0, rel=1e-9)
    assert found.upper_bound is None
    assert found.flags[-1].startswith("significantly negative")


def test_sign_rules():
    """An inverting adapter shows reverse current as a falling reading; forward bias is negative."""
    inverting = {"A1": adapter(inverting=True)}
    falling = one(
        rows("zero fixture", scattered(12.4, 1.1)),
        rows("reading", scattered(-87.6, 1.3)),
        rows("zero fixture", scattered(12.4, 1.1)),
        profiles=inverting,
    )
    assert falling.value == pytest.approx(100e-12, abs=0, rel=1e-9)
    assert falling.outcome == "quantified"
    forward = one(
        rows("zero fixture", scattered(12.4, 1.1), reverse_voltage=-0.01),
        rows("reading", scattered(-87.6, 1.3), reverse_voltage=-0.01),
    )
    assert forward.value == pytest.approx(-100e-12, abs=0, rel=1e-9)
    assert forward.outcome == "quantified"


def test_shared_scale_cancels_in_a_ratio_of_parts():
    """Two parts of the same adapter: relative doubt of each 0.58 %, common; independent far less."""
    found = reduce_readings(
        readings(
            rows("zero fixture", scattered(12.4, 1.1)),
            rows("reading", scattered(10_012.4, 2.0)),
            rows("reading", scattered(20_012.4, 2.0), part="other"),
            rows("zero fixture", scattered(12.4, 1.1)),
        ),
        A1,
    )
    for leakage in found:
        relative = leakage.standard_uncertainty / leakage.value
        assert relative == pytest.approx(0.01 / sqrt(3), rel=1e-2, abs=0)
        assert leakage.independent_uncertainty < 0.02 * leakage.standard_uncertainty
    assert found[0].relative_scale_uncertainty == found[1].relative_scale_uncertainty


def test_zero_at_the_same_voltage_wins():
    found = one(
        rows("zero open", scattered(12.0, 0.5)),
        rows("zero fixture", scattered(99.0, 0.5), reverse_voltage=2.5),
        rows("zero fixture", scattered(12.4, 0.5)),
        rows("reading", scattered(112.4, 1.3)),
        rows("zero fixture", scattered(12.4, 0.5)),
    )
    assert found.value == pytest.approx(100e-12, abs=0, rel=1e-9)
    assert found.flags == ()


def test_last_zero_before_and_first_after_are_used():
    found = reduce_readings(
        readings(
            rows("zero fixture", scattered(50.0, 0.5)),
            rows("reading", scattered(50.0, 1.3), part="earlier"),
            rows("zero fixture", scattered(12.0, 0.5)),
            rows("reading", scattered(112.5, 1.3)),
            rows("zero fixture", scattered(13.0, 0.5)),
            rows("reading", scattered(50.0, 1.3), part="later"),
            rows("zero fixture", scattered(90.0, 0.5)),
        ),
        A1,
    )[1]
    assert found.zero == pytest.approx(12.5e-6, abs=0, rel=1e-9)
    assert found.value == pytest.approx(100e-12, abs=0, rel=1e-9)


def flags_of(*blocks, profiles=None) -> str:
    return " | ".join(one(*blocks, profiles=profiles).flags)


def test_flags():
    zero = rows("zero fixture", scattered(12.4, 1.1))
    read = rows("reading", scattered(112.4, 1.3))
    assert "drift is not known" in flags_of(zero, read)
    leads = rows("zero open", scattered(12.4, 1.1))
    assert "open leads" in flags_of(leads, read, leads)
    assert "fixture leakage" in flags_of(leads, rows("zero fixture", scattered(82.4, 1.1)), read)
    assert "session fails" in flags_of(leads, rows("zero fixture", scattered(82.4, 1.1)), read)
    assert "zero moved by" in flags_of(zero, read, rows("zero fixture", scattered(52.4, 1.1)))
    assert "single reading: scatter taken" in flags_of(zero, rows("reading", [112.4]), zero)
    fitted = rows("zero part-fitted", scattered(40.0, 1.1))
    assert "fitting the part moves the zero by +27.6" in flags_of(leads, zero, fitted, read, zero)
    lit = rows("reading", scattered(112.4, 1.3), light=1000.0)
    assert "lamp not named" in flags_of(zero, lit, zero)
    clean = rows("zero fixture", scattered(12.4, 1.1))
    assert flags_of(clean, read, clean) == ""


def test_no_zero_is_refused_with_advice():
    with pytest.raises(InputError) as caught:
        one(rows("reading", scattered(16.1, 1.3)))
    assert "1 condition has no zero, first npn C/B+E at 5.00" in str(caught.value)
    assert "zero fixture" in str(caught.value)
    with pytest.raises(InputError, match='instrument "A9" that has no profile'):
        one(rows("reading", scattered(16.1, 1.3), instrument="A9"))


def test_following_readings_count_less():
    """A slow drift through the readings: n_eff = n(1 − ρ)/(1 + ρ) (Bayley and Hammersley 1946)."""
    slow = np.linspace(-3, 3, 40) + np.tile([0.2, -0.2], 20)
    found = one(
        rows("zero fixture", scattered(12.4, 1.1)),
        rows("reading", (112.4 + slow).tolist()),
        rows("zero fixture", scattered(12.4, 1.1)),
    )
    assert any("readings follow each other" in flag for flag in found.flags)
    scatter = next(c for c in found.components if c.name == "scatter of reading")
    assert scatter.value > 2 * slow.std(ddof=1) / sqrt(40) * 1e-12


def test_mean_spread_and_autocorrelation_are_certified():
    """NIST StRD univariate sets Lew, Mavro and Michelso: certified mean and standard deviation."""
    certified = {
        "Lew": (-177.435, 277.332168044316, -0.307304800605679),
        "Mavro": (2.001856, 0.000429123454003053, 0.9379891834382406),
        "Michelso": (299.8524, 0.0790105478190518, 0.5351996686212633),
    }
    stored = json.loads((DATA / "nist_strd_univariate.json").read_text(encoding="utf-8"))
    for name, (mean, spread, rho) in certified.items():
        values = stored[name]["data"] if isinstance(stored[name], dict) else stored[name]
        (group,) = grouped(readings(rows("reading", values)))
        assert group.mean * 1e6 == pytest.approx(mean, rel=1e-12, abs=0)
        assert group.spread * 1e6 == pytest.approx(spread, rel=1e-9, abs=0)
        assert group.autocorrelation == pytest.approx(rho, rel=1e-8, abs=0)


def test_groups_follow_every_condition():
    """Instrument, part, wiring, voltage, temperature, light and lamp each make a condition."""
    base = rows("reading", [1, 2])
    others = [
        rows("reading", [3, 4], **change)
        for change in (
            {"instrument": "A2"},
            {"part": "jfet"},
            {"wiring": "C+B/E"},
            {"reverse_voltage": 2.5},
            {"temperature": 318.15},
            {"light": 200.0, "lamp": "LED"},
            {"light": 200.0, "lamp": "sun"},
        )
    ]
    groups = grouped(readings(base, *others, base))
    assert [g.count for g in groups] == [4, 2, 2, 2, 2, 2, 2, 2]
    dark_with_lamp_named = rows("reading", [5], lamp="LED")
    assert grouped(readings(base, dark_with_lamp_named))[0].count == 3


def test_evidence_for_a_law_fit():
    found = usual(16.1)
    (point,) = evidence_points([found])
    assert point.leakage == found.value
    assert point.standard_uncertainty == found.independent_uncertainty
    assert point.scale_uncertainty == found.relative_scale_uncertainty
    assert point.session == "day A1"
    assert point.temperature_uncertainty == 1.0
    total = sqrt(point.standard_uncertainty**2 + (point.scale_uncertainty * point.leakage) ** 2)
    assert total == pytest.approx(found.standard_uncertainty, abs=0, rel=1e-9)


def test_result_survives_json():
    found = usual(12.7)
    assert Leakage.model_validate_json(found.model_dump_json()) == found


def test_blanks_are_seldom_called_present():
    """Nothing there: decision limit with 5 % risk, 1 000 sessions."""
    made, profiles = bench_sessions.wandering_sessions(
        1000, 0.0, wander=0.3e-6, resolution=1e-7, seed=5
    )
    found = reduce_readings(made, profiles)
    false = np.mean([x.outcome in ("detected", "quantified") for x in found])
    assert 0.01 <= false <= 0.07


def test_a_million_readings_reduce_in_two_seconds():
    random = np.random.default_rng(1)
    values = np.round(random.normal(12, 1.1, 1_000_000))
    small = readings(
        rows("zero fixture", scattered(12.4, 1.1)),
        *(rows("reading", [1.0], part=f"p{k}") for k in range(1000)),
        rows("zero fixture", scattered(12.4, 1.1)),
    )
    index = np.concatenate(
        [np.arange(10), np.repeat(np.arange(10, 1010), 1000), np.arange(1010, 1020)]
    )
    large = type(small)(**{name: _taken(getattr(small, name), index) for name in vars(small)})
    shown = large.reading.copy()
    shown[10:-10] = values * 1e-6
    large = type(small)(**(vars(large) | {"reading": shown}))
    reduce_readings(small, A1)
    found = reduce_readings(large, A1)
    assert len(found) == 1000
    assert found[7].count == 1000


def _taken(column, index):
    if isinstance(column, np.ndarray):
        return column[index]
    return type(column)(column.codes[index], column.names)
