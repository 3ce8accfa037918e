"""The rule of the four verdicts on intervals.

Rule: JCGM 106:2012, guarded acceptance and rejection with the expanded uncertainty as guard band
(value from memory). What is not measured neither passes nor fails.
"""

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clampwright.verdict.judge import (
    SEVERITY,
    combined,
    compare,
    judge,
    magnitude,
    verdict_of,
    worst,
)
from clampwright.verdict.judge_corners import Judged, Rows, worst_corner
from clampwright.verdict.results import Corner, Term, Verdict
from clampwright.verdict.terms import Interval
from clampwright.verdict.terms_at import SideTerm, terms_at

PASS, FAIL = Verdict.PASS, Verdict.FAIL
UNDECIDED, NOT_MEASURED = Verdict.UNDECIDED, Verdict.NOT_MEASURED
ORDER = [PASS, UNDECIDED, NOT_MEASURED, FAIL]
CORNER = Corner(
    sensor_temperature=281.15,
    board_temperature=318.15,
    illuminance=0.0,
    signal=0.2,
    source_resistance=218e6,
)


def term(value, low, high, basis="measured", group="clamp"):
    return Term(
        name=f"{group} term", value=value, low=low, high=high, basis=basis, group=group, source=""
    )


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0.5, 1.0, PASS),
        (-1.0, 1.0, PASS),
        (0.5, 1.1, UNDECIDED),
        (-1.1, 0.5, UNDECIDED),
        (-2.0, 2.0, UNDECIDED),
        (1.0, 2.0, UNDECIDED),
        (1.001, 2.0, FAIL),
        (-2.0, -1.001, FAIL),
    ],
)
def test_interval_against_the_allowance(low, high, expected):
    assert compare(low, high, 1.0) is expected


def test_values_add_and_halves_of_intervals_add_in_squares():
    value, low, high = combined((term(1.0, 0.6, 1.9), term(2.0, 1.7, 3.2)))
    assert value == pytest.approx(3.0, rel=1e-9, abs=0)
    assert low == pytest.approx(3 - sqrt(0.4**2 + 0.3**2), rel=1e-9, abs=0)
    assert high == pytest.approx(3 + sqrt(0.9**2 + 1.2**2), rel=1e-9, abs=0)
    assert combined(()) == (0, 0.0, 0.0)


def test_magnitude_of_an_interval_around_zero_starts_at_zero():
    assert magnitude(-3.0, 1.0) == (0.0, 3.0)
    assert magnitude(-3.0, -1.0) == (1.0, 3.0)


def test_the_worst_of_several():
    assert worst([PASS, UNDECIDED]) is UNDECIDED
    assert worst([NOT_MEASURED, UNDECIDED]) is NOT_MEASURED
    assert worst([FAIL, NOT_MEASURED]) is FAIL
    assert worst([]) is PASS


SMALL, LARGE = term(0.1, 0.05, 0.2), term(3.0, 2.0, 5.0)


@pytest.mark.parametrize(
    ("terms", "expected"),
    [
        ((term(0.1, 0.05, 0.2, "assumed"),), NOT_MEASURED),  # a clamp nobody measured never passes
        ((term(3.0, 2.0, 5.0, "assumed"),), NOT_MEASURED),  # nor does it fail
        ((term(0.1, 0.0, 0.9, "maximum"),), PASS),  # a maximum may prove enough
        ((term(0.1, 0.0, 5.0, "maximum"),), NOT_MEASURED),  # but never fails a part
        ((term(3.0, 2.0, 5.0, "maximum"),), NOT_MEASURED),
        ((term(0.1, 0.05, 0.2, "typical"),), PASS),
        ((SMALL, term(0.1, 0.0, 0.3, "assumed", "light")), PASS),  # whole class within
        ((SMALL, term(0.5, 0.1, 3.0, "assumed", "light")), NOT_MEASURED),
        ((SMALL, term(3.0, 2.0, 5.0, "assumed", "light")), NOT_MEASURED),
        ((LARGE, term(0.1, 0.0, 0.3, "assumed", "light")), FAIL),  # fails without the light
        ((SMALL, term(0.0, 0.0, 0.0, "assumed", "bias")), NOT_MEASURED),  # bias not stated
        ((LARGE, term(0.0, 0.0, 0.0, "assumed", "bias")), FAIL),
        ((term(3.0, 2.0, 5.0, "measured", "bias"), term(0.1, 0, 0.2, "assumed")), FAIL),
        ((term(3.0, 2.0, 5.0, "measured", "bias"), term(0.1, 0, 0.2, "maximum")), FAIL),
        ((term(3.0, 2.0, 5.0, "maximum", "bias"),), FAIL),  # only the clamp is excused
    ],
)
def test_what_a_verdict_rests_on(terms, expected):
    assert verdict_of(terms, 1.0) is expected
    assert judge("x", terms, 1.0, CORNER).verdict is expected


def test_the_sentence_names_numbers_corner_and_largest_term():
    bias = term(-17e-6, -140e-6, 140e-6, "typical", "bias")
    clamp = term(19e-6, 6e-6, 57e-6)
    found = judge("protection", (clamp, bias), 930e-6, CORNER)
    assert found.verdict is PASS
    assert found.terms[0] is bias
    assert found.worst_case == pytest.approx(197e-6, rel=1e-9, abs=0)
    for words in ("930 µV", "sensor 8.0 °C", "board 45.0 °C", "+200 mV", "-17 µV", "140 µV"):
        assert words in found.reason.replace("\u2009", " ").replace("\u2212", "-")
    assert "the amplifier's bias current is the larger term" in found.reason
    assert found.reason.endswith("a better clamp would gain little.")
    lit = judge("protection", (clamp, bias, term(2e-4, 1e-4, 3e-4, group="light")), 1.0, CORNER)
    assert lit.reason.endswith("gain little before it is shaded.")
    assert "larger term" not in judge("protection", (clamp,), 930e-6, CORNER).reason


size = st.floats(0, 10, allow_subnormal=False)
signed = st.floats(-10, 10, allow_subnormal=False)
basis = st.sampled_from(["measured", "typical", "maximum", "assumed"])
group = st.sampled_from(["clamp", "light", "bias", "amplifier"])


@st.composite
def terms(draw):
    found = []
    for _ in range(draw(st.integers(1, 4))):
        value, below, above = draw(signed), draw(size), draw(size)
        found.append(term(value, value - below, value + above, draw(basis), draw(group)))
    return tuple(found)


@given(terms(), st.floats(0.01, 20))
def test_the_sign_of_the_error_does_not_matter(some, allowance):
    mirrored = tuple(
        t.model_copy(update={"value": -t.value, "low": -t.high, "high": -t.low}) for t in some
    )
    assert verdict_of(mirrored, allowance) is verdict_of(some, allowance)


@given(terms(), st.floats(0.01, 20), st.floats(1, 100))
def test_more_allowance_never_makes_it_worse(some, allowance, factor):
    before, after = (ORDER.index(verdict_of(some, a)) for a in (allowance, allowance * factor))
    assert after <= before


@given(terms(), st.floats(0.01, 20), st.integers(0, 3), size, size)
def test_more_uncertainty_never_makes_it_better(some, allowance, which, below, above):
    """Never towards PASS; a FAIL may honestly become UNDECIDED or NOT MEASURED."""
    index = which % len(some)
    old = some[index]
    wider = old.model_copy(update={"low": old.low - below, "high": old.high + above})
    before = verdict_of(some, allowance)
    after = verdict_of((*some[:index], wider, *some[index + 1 :]), allowance)
    assert after is not PASS or before is PASS
    assert after is not FAIL or before is FAIL


def row(some, there):
    """The same term at every corner, and at which of them it is there."""
    ends = [np.full(len(there), x) for x in (some.value, some.low, some.high)]
    return SideTerm(
        some.name, Interval(*ends), np.array(there), some.basis, some.group, some.source
    )


@given(terms(), st.floats(0.01, 20), st.data())
def test_corners_judged_at_once_get_the_verdict_of_each(some, allowance, data):
    there = [data.draw(st.lists(st.booleans(), min_size=3, max_size=3)) for _ in some]
    rows = [row(t, mask) for t, mask in zip(some, there, strict=True)]
    groups = data.draw(st.sets(group))
    found = Rows(rows, 3).judge(groups, np.full(3, allowance))
    for corner in range(3):
        present = tuple(t for t in terms_at(rows, corner) if t.group in groups)
        assert SEVERITY[found.severity[corner]] is verdict_of(present, allowance)
        reach = magnitude(*combined(present)[1:])[1] / allowance
        assert found.ratio[corner] == pytest.approx(reach, rel=1e-12, abs=1e-300)


def test_the_worst_corner_is_first_of_the_worst_verdict_then_of_the_farthest_reach():
    passed = Judged(np.array([0, 0]), np.array([0.9, 0.2]))
    undecided = Judged(np.array([1, 1]), np.array([1.1, 1.3]))
    assert worst_corner([passed, undecided]) == (1, 1)
    assert worst_corner([passed, passed]) == (0, 0)
    nearly = passed._replace(ratio=passed.ratio * (1 + 1e-12))
    assert worst_corner([passed, nearly]) == (0, 0)  # rounding chooses no corner
    farther = passed._replace(ratio=passed.ratio * (1 + 1e-6))
    assert worst_corner([passed, farther])[0] == 1


def test_a_sum_of_nothing_passes_at_every_corner():
    found = Rows([], 2).judge({"clamp"}, np.ones(2))
    assert [SEVERITY[s] for s in found.severity] == [PASS, PASS]
