"""What the tests of further answers share: the small design, answers by name, variants of a case."""

from __future__ import annotations

from dataclasses import replace

import pytest
from small_designs import diode, leak

from clampwright import actions
from clampwright.verdict.check import PROTECTION, check_design
from clampwright.verdict.further import further_answers

ROOM = 296.15  # [K] where the small design's board stays
BOLTZMANN, ELEMENTARY = 1.380649e-23, 1.602176634e-19  # SI 2019
THERMAL = BOLTZMANN * ROOM / ELEMENTARY
OUTER, SOURCE = 2e5, 1e6  # [Ω] of the small design
CLAMP = diode([leak("10 pA")])


def near(value, rel=1e-6):
    return pytest.approx(value, rel=rel, abs=0)


def answers(sheet, clamp=CLAMP):
    found = further_answers(sheet, clamp, check_design(sheet, clamp))
    return {a.key: a for a in found}


def figure(answer, name, unit=""):
    """The figure of that name, with or without a unit to choose by."""
    plain = name.replace("\u2009", " ")
    return next(
        f.value
        for f in answer.figures
        if f.name.replace("\u2009", " ") == plain and unit in ("", f.unit)
    )


def protection(sheet, clamp=CLAMP):
    result = check_design(sheet, clamp)
    return next(j for j in result.judgements if j.name == PROTECTION)


def term(judgement, words):
    return next(t for t in judgement.terms if words in t.name)


def changed(case: actions.Case, **network) -> actions.Case:
    inner = case.design.network.model_copy(update=network)
    return replace(case, design=case.design.model_copy(update={"network": inner}))


def found(case: actions.Case):
    return {a.key: a for a in actions.check(case).further}
