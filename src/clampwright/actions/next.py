"""Which reading to take next.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from clampwright.actions.case import Case
from clampwright.actions.judging import check, judged_clamp
from clampwright.bench.methods import feedback_adapter
from clampwright.verdict.next_measurement import next_measurement
from clampwright.verdict.next_results import NextResult
from clampwright.verdict.results import CheckResult


def next_readings(case: Case, checked: CheckResult | None = None) -> NextResult:
    """Bench actions by the chance of a decision they add for each minute, or "stop measuring".

    checked : what `check` found for this very case, to save doing it again
    """
    methods = [feedback_adapter(p) for p in case.workspace.instruments.values()]
    return next_measurement(checked or check(case), judged_clamp(case), methods)
