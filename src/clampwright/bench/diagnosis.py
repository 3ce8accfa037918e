"""What a strange reading probably is: patterns of leakage against what each effect would show.

Each effect expects a range for each feature (energy, growth with voltage, share left at 0 V …). The
weight of an effect is the product of how well its ranges hold the features that were measured, all
effects equally likely before. The ranges are common practice and textbook values, no statistics:
weights rank, they are not probabilities of anything in particular.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

from clampwright.bench.fits import energy_fit
from clampwright.errors import InputError
from clampwright.parts.evidence import EvidencePoint
from clampwright.physics.constants import BOLTZMANN_PER_CHARGE, BUILT_IN_VOLTAGE

ROOM = (288.15, 303.15)  # [K] readings compared over voltage
SMALL_VOLTAGE = 0.1  # [V] up to here two signs are compared
TYPICAL_IDEALITY = 1.5  # [1]
NO_RIVAL = 0.01  # [1] weight below which the second effect is not worth a test
AGAINST = 2.0  # [1] standard deviations off from which a feature speaks against an effect


@dataclass(frozen=True)
class Feature:
    """Something the readings show, with the test that gets it and how it is said."""

    name: str
    test: str
    said: str  # with a place for the value


FEATURES = {
    f.name: f
    for f in (
        Feature(
            "energy",
            "read again at 45 and 60 °C: the temperature decides",
            "apparent activation energy {:.2f} eV",
        ),
        Feature(
            "growth",
            "read at twice the voltage: the exponent decides",
            "grows with voltage as (V + 0.7 V)^{:.2f}",
        ),
        Feature(
            "left_at_zero",
            "read with the part fitted at 0 V, against the open-lead zero",
            "{:.2f} of the current is still there at 0 V",
        ),
        Feature(
            "odd",
            "read at +50 and −50 mV: what does not change sign is no leakage",
            "{:.2f} of the current changes sign with the voltage",
        ),
        Feature(
            "rectifies",
            "compare +50 and −50 mV: a junction passes more forward",
            "forward over reverse, {:.2f} of what a junction shows",
        ),
        Feature(
            "fixture",
            "take the fixture zero with the bias applied and no part",
            "fixture without part shows {:.2f} of it",
        ),
        Feature(
            "shade",
            "cover the part with black tape, or switch the lamp off, and read again",
            "{:.2f} of the current goes away in the dark",
        ),
        Feature(
            "touch",
            "wait untouched with the cables taped, then tap the bench",
            "{:.2f} of the readings are disturbed",
        ),
        Feature(
            "size",
            "compare with another part of the same lot",
            "ln of the current at a few volts and 23 °C {:.1f}",
        ),
    )
}

Expected = Mapping[str, tuple[float, float]]  # feature → expected value, standard deviation
EFFECTS: Mapping[str, Expected] = {
    "offset, not leakage": {
        "energy": (0, 0.06), "growth": (0, 0.1), "left_at_zero": (1, 0.2), "odd": (0, 0.15),
        "fixture": (0.5, 0.5), "shade": (0, 0.05), "size": (-25, 3),
    },
    "film or leak of the fixture": {
        "energy": (0.2, 0.15), "growth": (1, 0.15), "left_at_zero": (0, 0.1), "odd": (1, 0.1),
        "rectifies": (0, 0.15), "fixture": (0.9, 0.2), "shade": (0, 0.05), "size": (-23, 3),
    },
    "light": {
        "energy": (0.02, 0.05), "growth": (0.03, 0.08), "left_at_zero": (0.95, 0.1), "odd": (0, 0.3),
        "fixture": (0, 0.05), "shade": (0.95, 0.1), "size": (-24, 3),
    },
    "generation in the junction": {
        "energy": (0.63, 0.04), "growth": (0.45, 0.12), "left_at_zero": (0, 0.05), "odd": (1, 0.1),
        "rectifies": (1, 0.25), "fixture": (0, 0.1), "shade": (0, 0.05), "touch": (0, 0.03),
        "size": (-26, 1.3),
    },
    "diffusion in the junction": {
        "energy": (1.1, 0.08), "growth": (0, 0.08), "left_at_zero": (0, 0.05), "odd": (1, 0.1),
        "rectifies": (1.4, 0.2), "fixture": (0, 0.1), "shade": (0, 0.05), "touch": (0, 0.03),
        "size": (-30, 3),
    },
    "Schottky barrier": {
        "energy": (0.6, 0.1), "growth": (0.35, 0.2), "left_at_zero": (0, 0.05), "odd": (1, 0.1),
        "rectifies": (1.4, 0.2), "fixture": (0, 0.1), "shade": (0, 0.05), "touch": (0, 0.03),
        "size": (-15, 2),
    },
    "film on the part": {
        "energy": (0.3, 0.12), "growth": (1, 0.15), "left_at_zero": (0, 0.1), "odd": (1, 0.1),
        "rectifies": (0, 0.15), "fixture": (0, 0.1), "shade": (0, 0.05), "size": (-23, 2.5),
    },
    "leads swapped: the junction is forward": {
        "energy": (0.4, 0.25), "growth": (8, 3), "left_at_zero": (0, 0.05), "odd": (1, 0.1),
        "rectifies": (-1, 0.3), "fixture": (0, 0.1), "shade": (0, 0.05), "size": (-8, 5),
    },
    "near breakdown (emitter–base, or a voltage too high)": {
        "energy": (0.2, 0.2), "growth": (3, 1.5), "left_at_zero": (0, 0.05), "odd": (1, 0.1),
        "rectifies": (1, 0.25), "fixture": (0, 0.1), "shade": (0, 0.05), "size": (-22, 4),
    },
    "lifetime-killed part (fast switching type)": {
        "energy": (0.57, 0.04), "growth": (0.45, 0.12), "left_at_zero": (0, 0.05), "odd": (1, 0.1),
        "rectifies": (0.8, 0.2), "fixture": (0, 0.1), "shade": (0, 0.05), "size": (-20.5, 1.3),
    },
    "cable or charge moving": {
        "energy": (0, 0.5), "growth": (0, 1), "left_at_zero": (1, 0.6), "odd": (0, 0.5),
        "touch": (0.2, 0.12), "size": (-23, 3),
    },
}  # fmt: skip


@dataclass(frozen=True)
class Ranked:
    """One effect: weight (all together 1), what speaks for it and what against."""

    effect: str
    weight: float
    favour: tuple[str, ...]
    against: tuple[str, ...]


@dataclass(frozen=True)
class Diagnosis:
    """Effects by weight, and the one test that would part the first two best."""

    ranked: tuple[Ranked, ...]
    next_test: str
    words: str


def diagnose(features: Mapping[str, tuple[float, float]]) -> Diagnosis:
    """Rank the effects by measured features (name of `FEATURES` → value, standard uncertainty)."""
    if unknown := set(features) - set(FEATURES):
        raise InputError(f'no feature "{min(unknown)}"', expected=", ".join(FEATURES))
    if not features:
        raise InputError(
            "nothing to go by", mend="read at a second voltage, a second temperature, or at 0 V"
        )
    scores = {effect: _score(expected, features) for effect, expected in EFFECTS.items()}
    best = max(scores.values())
    total = sum(exp(s - best) for s in scores.values())
    ranked = tuple(
        Ranked(effect, exp(scores[effect] - best) / total, *_spoken(EFFECTS[effect], features))
        for effect in sorted(scores, key=scores.__getitem__, reverse=True)
    )
    test = _next_test(ranked[0].effect, ranked[1].effect, features)
    return Diagnosis(ranked, test, _words(ranked, test))


def features_of(
    points: Sequence[EvidencePoint],
    *,
    fixture_share: tuple[float, float] | None = None,
    zero_share: tuple[float, float] | None = None,
    disturbed_share: float | None = None,
) -> dict[str, tuple[float, float]]:
    """What the reduced readings of one wiring of one part show; absent where not measured.

    fixture_share, zero_share : (Z2 − Z1) and (Z3 − Z1) over the result, with uncertainty
    disturbed_share           : share of readings in events of a run
    """
    dark = [p for p in points if p.illuminance == 0]
    found: dict[str, tuple[float, float]] = {}
    by_voltage: dict[float, list[EvidencePoint]] = {}
    for p in dark:
        by_voltage.setdefault(round(p.reverse_voltage, 3), []).append(p)
    for some in sorted(by_voltage.values(), key=len, reverse=True)[:1]:
        try:
            fit = energy_fit(some)
        except InputError:
            break
        found["energy"] = (fit.energy, fit.energy_uncertainty)
    cool = [p for p in dark if ROOM[0] <= p.temperature <= ROOM[1]]
    _add(found, "growth", _growth(dark))
    found.update(_signs(cool))
    found.update(_size(cool))
    for name, share in (("fixture", fixture_share), ("left_at_zero", zero_share)):
        _add(found, name, share)
    if disturbed_share is not None:
        found["touch"] = (disturbed_share, 0.02)
    return found


def _add(
    found: dict[str, tuple[float, float]], name: str, value: tuple[float, float] | None
) -> None:
    if value is not None:
        found[name] = value


def _growth(dark: Sequence[EvidencePoint]) -> tuple[float, float] | None:
    """Exponent over V + 0.7 V, at the temperature whose voltages lie farthest apart."""
    pairs = [
        (p, q)
        for p in dark
        for q in dark
        if SMALL_VOLTAGE < p.reverse_voltage < q.reverse_voltage / 1.3
        and abs(p.temperature - q.temperature) < 1
        and p.detected
        and q.detected
        and min(p.leakage, q.leakage) > 0
    ]
    if not pairs:
        return None
    low, high = max(pairs, key=lambda pair: pair[1].reverse_voltage / pair[0].reverse_voltage)
    span = log((high.reverse_voltage + BUILT_IN_VOLTAGE) / (low.reverse_voltage + BUILT_IN_VOLTAGE))
    spread = sqrt(sum((p.normal_equivalent / p.leakage) ** 2 for p in (low, high)))
    return log(high.leakage / low.leakage) / span, spread / span


def _signs(cool: Sequence[EvidencePoint]) -> dict[str, tuple[float, float]]:
    """Share that changes sign, and rectification, from small voltages of both signs."""
    small = [p for p in cool if 0 < abs(p.reverse_voltage) <= SMALL_VOLTAGE]
    pairs = [
        (p, q)
        for p in small
        for q in small
        if p.reverse_voltage > 0 and abs(p.reverse_voltage + q.reverse_voltage) < 1e-3
    ]
    if not pairs:
        return {}
    reverse, forward = pairs[0]
    i, j = reverse.leakage, -forward.leakage  # both positive for a leakage
    u = sqrt(reverse.normal_equivalent**2 + forward.normal_equivalent**2)
    size = abs(i) + abs(j)
    if size < 3 * u:
        return {}
    found = {"odd": (abs(i + j) / size, u / size)}
    if i > 2 * reverse.normal_equivalent and j > 2 * forward.normal_equivalent:
        step = reverse.reverse_voltage / (
            TYPICAL_IDEALITY * BOLTZMANN_PER_CHARGE * reverse.temperature
        )
        spread = sqrt(sum((p.normal_equivalent / p.leakage) ** 2 for p in (reverse, forward)))
        found["rectifies"] = (log(j / i) / step, spread / step)
    return found


def _size(cool: Sequence[EvidencePoint]) -> dict[str, tuple[float, float]]:
    high = [p for p in cool if p.reverse_voltage >= 1 and p.detected and p.leakage > 0]
    if not high:
        return {}
    best = max(high, key=lambda p: p.reverse_voltage)
    return {"size": (log(best.leakage), best.normal_equivalent / best.leakage)}


def _score(expected: Expected, features: Mapping[str, tuple[float, float]]) -> float:
    """Sum of log likelihoods; a feature an effect says nothing of is held against no one."""
    total = 0.0
    for name, (value, uncertainty) in features.items():
        widths = [e[name][1] for e in EFFECTS.values() if name in e]
        if name not in expected:
            total += -0.5 * 4.0 - log(max(widths))
            continue
        centre, spread = expected[name]
        width = sqrt(spread**2 + uncertainty**2)
        total += max(-0.5 * ((value - centre) / width) ** 2, -12.5) - log(width)
    return total


def _spoken(
    expected: Expected, features: Mapping[str, tuple[float, float]]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    favour, against = [], []
    for name, (value, uncertainty) in features.items():
        if name not in expected:
            continue
        centre, spread = expected[name]
        off = abs(value - centre) / sqrt(spread**2 + uncertainty**2)
        text = FEATURES[name].said.format(value)
        if off > AGAINST:
            against.append(text)
        elif spread < max(e[name][1] for e in EFFECTS.values() if name in e):
            favour.append(text)
    return tuple(favour), tuple(against)


def _next_test(first: str, second: str, features: Mapping[str, tuple[float, float]]) -> str:
    """The feature, not measured yet, whose expected values lie farthest apart."""
    one, other = EFFECTS[first], EFFECTS[second]
    apart = {
        name: abs(one[name][0] - other[name][0]) / sqrt(one[name][1] ** 2 + other[name][1] ** 2)
        for name in FEATURES
        if name in one and name in other and name not in features
    }
    if not apart or max(apart.values()) < 1:
        return "no simple test parts these two: measure another part of the lot"
    return FEATURES[max(apart, key=apart.__getitem__)].test


def _words(ranked: Sequence[Ranked], test: str) -> str:
    first, second = ranked[0], ranked[1]
    text = f"most likely {first.effect} (weight {first.weight:.2f})"
    if first.favour:
        text += ": " + "; ".join(first.favour)
    if first.against:
        text += "; against it: " + "; ".join(first.against)
    if second.weight < NO_RIVAL:
        return f"{text}; nothing else comes near"
    return f"{text}. Next {second.effect} ({second.weight:.2f}). To tell them apart: {test}"


__all__ = ["EFFECTS", "FEATURES", "Diagnosis", "Ranked", "diagnose", "features_of"]
