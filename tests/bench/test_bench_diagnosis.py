"""Diagnosis of planted effects: each is made by its own physics, and must come out first."""

from math import exp

import pytest

from clampwright.bench.diagnosis import EFFECTS, FEATURES, diagnose, features_of
from clampwright.errors import InputError
from clampwright.parts.evidence import EvidencePoint

K = 8.617333262e-5  # [eV/K] CODATA
TEMPERATURES = (296.15, 318.15, 333.15)


def points(current, noise=5e-14):
    """Readings of a `current(V, T)` at 2.5 and 5 V, three temperatures, and ±50 mV."""
    conditions = [(5.0, t) for t in TEMPERATURES] + [(2.5, 296.15), (0.05, 296.15), (-0.05, 296.15)]
    return [EvidencePoint(v, t, 0.0, current(v, t), noise) for v, t in conditions]


def arrhenius(energy, t):
    return exp(energy / K * (1 / 296.15 - 1 / t))


def junction(size, energy, exponent, ideality):
    def current(v, t):
        thermal = ideality * K * t
        wide = ((v + 0.7) / 5.7) ** exponent if v > 0 else (0.7 / 5.7) ** exponent
        return size * arrhenius(energy, t) * wide * (1 - exp(-v / thermal))

    return current


PLANTED = [
    ("offset, not leakage", lambda v, t: 5e-12, {"zero_share": (1.0, 0.05)}),
    (
        "film or leak of the fixture",
        lambda v, t: 100e-12 * v / 5 * arrhenius(0.2, t),
        {"fixture_share": (0.95, 0.05)},
    ),
    (
        "light",
        lambda v, t: 60e-12,
        {"zero_share": (0.95, 0.03), "fixture_share": (0.0, 0.02)},
    ),
    ("generation in the junction", junction(4e-12, 0.64, 0.5, 1.6), {}),
    ("diffusion in the junction", junction(2e-12, 1.12, 0.0, 1.0), {}),
    ("Schottky barrier", junction(4e-7, 0.55, 0.25, 1.05), {}),
    (
        "film on the part",
        lambda v, t: 100e-12 * v / 5 * arrhenius(0.3, t),
        {"fixture_share": (0.0, 0.03)},
    ),
    (
        "leads swapped: the junction is forward",
        lambda v, t: -junction(1e-12, 0.6, 0.5, 1.6)(-min(v, 0.5), t),
        {},
    ),
    (
        "near breakdown (emitter–base, or a voltage too high)",
        lambda v, t: junction(3e-10, 0.15, 3.0, 1.6)(v, t),
        {},
    ),
    ("lifetime-killed part (fast switching type)", junction(1.2e-9, 0.56, 0.5, 1.9), {}),
]


@pytest.mark.parametrize(("effect", "current", "shares"), PLANTED, ids=[p[0] for p in PLANTED])
def test_planted_effects_come_out_first(effect, current, shares):
    found = diagnose(features_of(points(current), **shares))
    assert found.ranked[0].effect == effect, found.words
    assert sum(r.weight for r in found.ranked) == pytest.approx(1, abs=1e-9)
    assert effect in found.words
    assert ("To tell them apart: " in found.words) == (found.ranked[1].weight >= 0.01)


def test_every_effect_and_feature_is_known_to_the_other():
    assert all(set(expected) <= set(FEATURES) for expected in EFFECTS.values())
    assert {f for expected in EFFECTS.values() for f in expected} == set(FEATURES)


def test_the_next_test_is_one_not_made_and_parts_the_first_two():
    alone = diagnose({"energy": (0.60, 0.05)})
    assert {alone.ranked[0].effect, alone.ranked[1].effect} <= {
        "Schottky barrier", "generation in the junction", "lifetime-killed part (fast switching type)",
    }  # fmt: skip
    assert alone.next_test == FEATURES["size"].test
    flat = diagnose({"growth": (0.02, 0.05), "energy": (0.0, 0.03)})
    assert flat.next_test in {FEATURES["shade"].test, FEATURES["left_at_zero"].test}


def test_contrary_evidence_is_told():
    found = diagnose({"energy": (0.63, 0.02), "left_at_zero": (1.0, 0.05)})
    told = {r.effect: r.against for r in found.ranked}
    assert told["generation in the junction"] == ("1.00 of the current is still there at 0 V",)


def test_nothing_to_go_by():
    with pytest.raises(InputError, match="nothing to go by"):
        diagnose({})
    with pytest.raises(InputError, match="no feature"):
        diagnose({"colour": (1, 1)})
