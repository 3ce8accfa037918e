"""A law from few readings: its interval carries the Student factor of each reading.

Coverage is counted over many draws with known truth (the frequentist meaning of JCGM 101).
"""

from dataclasses import replace

import numpy as np
import pytest

from clampwright.parts.catalogue import class_prior, junction_class
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.law_fit import fit_law
from clampwright.parts.law_interval import leakage_interval
from clampwright.parts.law_model import law_with, reverse_leakage

ROOM, HOT = 296.15, 343.15  # [K]
PRIOR = class_prior(junction_class("npn collector-base"))


def test_normal_equivalent_of_few_readings():
    """t(0.975, 1) = 12.706 and t(0.975, 9) = 2.262 (GUM Table G.2), over 1.960."""
    point = EvidencePoint(5.0, ROOM, 0.0, 3e-12, 1e-12)
    assert point.normal_equivalent == 1e-12
    for freedom, factor in ((1, 12.706), (9, 2.262)):
        few = replace(point, degrees_of_freedom=freedom)
        assert few.normal_equivalent == pytest.approx(factor / 1.95996e12, rel=1e-4, abs=0)
        assert few.interval[1] == pytest.approx(3e-12 + factor * 1e-12, rel=1e-4, abs=0)
    assert point.detected and not replace(point, degrees_of_freedom=1).detected


def test_what_the_reduction_said_is_kept():
    point = EvidencePoint(5.0, ROOM, 0.0, 3e-12, 1e-12, decision_limit=4e-12, reported=(0.0, 9e-12))
    assert not point.detected
    assert point.interval == (0.0, 9e-12)


def few(generator, law, voltage, temperature, count):
    """One point from `count` readings with a scatter of 3 %, its uncertainty from them alone."""
    truth = float(reverse_leakage(law, voltage, temperature))
    values = truth * (1 + 0.03 * generator.standard_normal(count))
    u = float(values.std(ddof=1) / np.sqrt(count))
    return EvidencePoint(
        voltage, temperature, 0.0, float(values.mean()), u, degrees_of_freedom=count - 1
    )


def covered(lots: int, count: int, seed: int, *, carried: bool) -> float:
    """Share of laws from two points of `count` readings whose interval holds the truth there."""
    generator, hits = np.random.default_rng(seed), []
    for _ in range(lots):
        theta = generator.multivariate_normal(PRIOR.values, PRIOR.covariance)
        law = law_with(PRIOR.law, PRIOR.names, theta)
        points = [few(generator, law, 5.0, t, count) for t in (ROOM, HOT)]
        if not carried:
            points = [replace(p, degrees_of_freedom=np.inf) for p in points]
        fitted = fit_law(PRIOR, points)
        for t in (ROOM, HOT):
            low, high = leakage_interval(fitted, 5.0, t)[1:]
            hits.append(low <= float(reverse_leakage(law, 5.0, t)) <= high)
    return float(np.mean(hits))


@pytest.mark.parametrize("count", [2, 3, 5])
def test_laws_from_few_readings_cover_what_they_say(count):
    assert covered(150, count, 1, carried=True) >= 0.93


def test_without_the_student_factor_they_would_not():
    """The check can fail: two readings taken as well known cover about 70 % (t of one degree)."""
    assert covered(150, 2, 1, carried=False) < 0.85


@pytest.mark.long
@pytest.mark.parametrize("count", [2, 3, 5, 10])
def test_laws_from_few_readings_cover_what_they_say_long(count):
    held = covered(1500, count, 2, carried=True)
    print(f"{count} readings a point: {held:.3f} of the laws' intervals hold the truth")
    assert 0.94 <= held <= 0.99
