"""What may be called measured: only a figure with a reading near its own voltage, heat and light.

Nearness: 3 K and a factor 2.6 in voltage or light; common practice, no source.
"""

from __future__ import annotations

import numpy as np
import pytest
from small_designs import DIODE, diode

from clampwright.parts.clamp_part import Clamp, clamp_part
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.law_model import law_with, reverse_leakage
from clampwright.parts.law_words import left_to_class
from clampwright.parts.sheet import read_sheet
from clampwright.verdict.known import class_shares, known_at, known_words, light_known_at

ROOM, WARM = 296.15, 333.15  # [K] 23 and 60 °C


def point(volts: float, heat: float, amperes: float, u: float, lux: float = 0.0) -> EvidencePoint:
    return EvidencePoint(volts, heat, lux, amperes, u, session="s", source="bench")


def read(*points: EvidencePoint) -> Clamp:
    return clamp_part(read_sheet(DIODE, "parts/test-diode.toml"), "K/A", points)


READ = read(
    point(5.0, ROOM, 3.7e-12, 0.2e-12),
    point(5.0, WARM, 66e-12, 1e-12),
    point(5.0, ROOM, 4e-9, 0.1e-9, lux=1000.0),
)


def said(clamp: Clamp, volts: float, heat: float, *, short: bool = False) -> str:
    words = known_words(clamp.fitted.basis, known_at(clamp, volts, heat), short=short)
    return words.replace("\u2009", " ")


@pytest.mark.parametrize(
    ("volts", "heat", "words"),
    [
        (5.0, ROOM, "measured"),
        (2.0, ROOM + 2.9, "measured"),  # 5/2.6 = 1.92 V, 3 K
        (12.9, WARM, "measured"),  # 5·2.6 = 13 V
        (13.1, WARM, "predicted, partly from the class; readings at 5 V, 23…60 °C"),
        (1.9, ROOM, "predicted, partly from the class; readings at 5 V, 23…60 °C"),
        (5.0, ROOM + 10, "predicted from readings at 5 V, 23…60 °C"),
        (-5e-3, ROOM, "predicted, partly from the class; readings at 5 V, 23…60 °C"),
        (250e-6, ROOM, "predicted, partly from the class; readings at 5 V, 23…60 °C"),
    ],
)
def test_measured_only_near_a_reading(volts: float, heat: float, words: str) -> None:
    """The class has its say in the ideality near zero and in the growth far above the readings."""
    assert said(READ, volts, heat) == words


def test_the_short_form_has_no_conditions() -> None:
    assert said(READ, 5.0, ROOM, short=True) == "measured"
    assert said(READ, 5.0, ROOM + 10, short=True) == "from readings"
    assert said(READ, 250e-6, ROOM, short=True) == "partly from the class"


def test_a_reading_near_zero_carries_the_law_there_without_being_one() -> None:
    near = read(*READ.points, *(point(s * 0.01, ROOM, s * 0.3e-12, 3e-15) for s in (1, -1)))
    assert said(near, 250e-6, ROOM) == "predicted from readings at 10 mV…5 V, 23…60 °C"
    assert said(near, 0.01, ROOM) == said(near, -0.01, ROOM) == "measured"


def test_what_was_not_detected_is_a_bound_and_no_measurement() -> None:
    unseen = read(point(5.0, ROOM, 0.5e-12, 0.5e-12), *READ.points[1:])
    known = known_at(unseen, 5.0, ROOM)
    assert known is not None and known.kind == "not detected" and known.detected
    assert known.bound == pytest.approx(
        1.48e-12, abs=0.01e-12
    )  # 0.5 + 1.96 · 0.5 pA, two-sided 95 %
    assert said(unseen, 5.0, ROOM) == "not detected, ≤ 1.48 pA"
    assert said(unseen, 5.0, WARM) == "measured"
    assert said(unseen, 5.0, 318.15) == "predicted, partly from the class; readings at 5 V, 60 °C"


def test_light_counts_by_its_own_nearness() -> None:
    known = [light_known_at(READ, lux, ROOM) for lux in (400.0, 2500.0, 200.0)]
    assert [k and k.kind for k in known] == ["measured", "measured", "readings"]
    words = known_words("measured", known[2]).replace("\u2009", " ")
    assert words == "predicted from readings at 1 klx, 23 °C"
    assert light_known_at(read(*READ.points[:2]), 200.0, ROOM) is None


@pytest.mark.parametrize("basis", ["typical", "maximum", "assumed", "defined"])
def test_other_figures_are_told_as_they_are(basis: str) -> None:
    assert known_words(basis) == known_words(basis, short=True) == basis


def test_nothing_is_known_of_a_class_alone() -> None:
    assert known_at(diode(), 5.0, ROOM) is None


@pytest.mark.parametrize("volts", [250e-6, 1.0, 20.0])
def test_the_share_of_the_class_is_what_knowing_it_exactly_would_take_away(volts: float) -> None:
    """Against 4000 drawn laws: what a straight line in the class's parameters explains of ln I."""
    fitted = READ.fitted
    left = np.array(left_to_class(fitted))
    drawn = np.random.default_rng(7).multivariate_normal(
        fitted.values, fitted.covariance / 100, 4000
    )  # a tenth of the width, where a straight line holds
    logs = np.log([
        float(reverse_leakage(law_with(fitted.law, fitted.names, d), volts, ROOM)) for d in drawn
    ])  # fmt: skip
    rows = np.column_stack([np.ones(4000), drawn[:, left]])
    rest = logs - rows @ np.linalg.lstsq(rows, logs, rcond=None)[0]
    share = 1 - rest.var() / logs.var()
    assert class_shares(fitted, [(volts, ROOM)])[0] == pytest.approx(share, abs=0.03)
