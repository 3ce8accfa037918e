"""The result type of each action, for schemas. Part of `actions`."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import BaseModel

from clampwright.actions.evidence import ReduceResult
from clampwright.actions.mending import MendResult
from clampwright.actions.planning import PlanResult
from clampwright.actions.recordings import LogResult, SessionResult, SessionsResult
from clampwright.actions.records import RecordDifference
from clampwright.actions.session_state import GuidedState
from clampwright.bench.board_views import SeparationResult, TrendResult
from clampwright.bench.study import StudyResult
from clampwright.verdict.fault_waves import FaultWaves
from clampwright.verdict.next_results import NextResult
from clampwright.verdict.part_fault_results import PartFaultsResult
from clampwright.verdict.part_view import PartResult
from clampwright.verdict.results import CheckResult, FaultsResult, RankResult

RESULTS: Mapping[str, type[BaseModel]] = {
    "reduce": ReduceResult,
    "study": StudyResult,
    "check": CheckResult,
    "faults": FaultsResult,
    "rank": RankResult,
    "next": NextResult,
    "fault waves": FaultWaves,
    "difference": RecordDifference,
    "part": PartResult,
    "part faults": PartFaultsResult,
    "log": LogResult,
    "import": SessionResult,
    "enter": SessionResult,
    "plan": PlanResult,
    "mend": MendResult,
    "separate": SeparationResult,
    "trend": TrendResult,
    "sessions": SessionsResult,
    "session": GuidedState,
}
"""Result type of each action, for schemas."""
