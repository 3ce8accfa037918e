"""Frozen results of `next`: what keeps a verdict open and which reading is worth its minutes."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from clampwright.quantities.fields import Resistance, Voltage
from clampwright.verdict.design import Design
from clampwright.verdict.known import Known
from clampwright.verdict.results import Gate, Result, Verdict

Probability = Annotated[float, Field(ge=0, le=1)]


class Contribution(Result):
    """One uncertain input: its share of the squared width of the deciding error."""

    input: str
    share: Probability
    basis: str
    known_by: Known | None = None


class NextAction(Result):
    """One thing to do at the bench and how likely the verdict is decided after it.

    minutes : from the wait, the readings and their zeros
    passed, failed, decided : probability of each verdict after the reading, see `next_probability`
    gain : how much more likely a decision is than now; per_minute : the same for each minute
    low, high : interval of the deciding error if the reading finds what is expected now
    """

    action: str
    input: str
    how: str
    minutes: float
    passed: Probability
    failed: Probability
    decided: Probability
    gain: float
    per_minute: float
    low: Voltage
    high: Voltage
    seen: bool


class NextResult(Result):
    """Ranked readings, most gain for a minute first; `stop` when none can change the verdict.

    volts_per_ampere : what turns its volts into a current at the input, where one is asked for
    """

    design: Design
    design_hash: str
    judged: str
    error: Voltage
    low: Voltage
    high: Voltage
    allowance: Voltage
    volts_per_ampere: Resistance | None = None
    contributions: tuple[Contribution, ...]
    actions: tuple[NextAction, ...]
    beyond: Probability
    stop: bool
    gate: Gate
    verdict: Verdict
    reason: str
