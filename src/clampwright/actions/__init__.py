"""One typed function for each thing a user does; frozen results out.

Command line, app and notebooks call these and nothing deeper, so the same case gives the same answer
by every face. Floor 6; may import floors 0 to 5. One module a theme: `workspaces` (to start from),
`evidence` (readings to leakage), `recordings` (the readings database), `case`, `judging`, `waves`
and `next` (designs), `guided` (a session at the bench), `pages` (parts and records).

Each name is imported when it is first asked for: a page or a command loads only what it needs.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import Any

    from clampwright.actions.boards import board_trend, separate_board
    from clampwright.actions.case import Case, open_case, what_if
    from clampwright.actions.evidence import reduce_file, study
    from clampwright.actions.fault_list import add_fault, fault_presets, remove_fault
    from clampwright.actions.field_facts import FieldFacts, accuracy_words, design_fields
    from clampwright.actions.guided import (
        finish_session,
        guided_result,
        guided_sessions,
        guided_state,
        move,
        take_live,
        take_values,
        voltage_on,
    )
    from clampwright.actions.guided_follow import Follower, Points
    from clampwright.actions.guided_import import import_evidence
    from clampwright.actions.guided_open import open_guided, suggested_voltages
    from clampwright.actions.judging import (
        Progress,
        check,
        faults,
        part_faults,
        rank,
        topologies,
        window,
    )
    from clampwright.actions.kernels import load_kernels, put_off_kernels
    from clampwright.actions.mending import mend
    from clampwright.actions.next import next_readings
    from clampwright.actions.pages import part, part_page
    from clampwright.actions.planning import plan_readings
    from clampwright.actions.recordings import (
        add_typed,
        correct_readings,
        export_readings,
        import_readings,
        list_sessions,
        log_readings,
        mark_session,
        read_bundle,
        write_bundle,
    )
    from clampwright.actions.records import (
        RecordDifference,
        check_target,
        keep_record,
        kept_record,
        kept_records,
        record,
        record_difference,
    )
    from clampwright.actions.results import RESULTS
    from clampwright.actions.session_state import FinishResult, GuidedState, evidence_words
    from clampwright.actions.waves import fault_waves
    from clampwright.actions.workspaces import DEMOS, demo_bench, demo_workspace, new_workspace
    from clampwright.errors import ClampwrightError
    from clampwright.verdict.fault_waves import FaultWaves
    from clampwright.verdict.next_results import NextResult
    from clampwright.verdict.part_fault_results import PartFaultsResult
    from clampwright.verdict.part_view import PartResult
    from clampwright.verdict.results import CheckResult, FaultsResult, RankResult, ResistorWindow
    from clampwright.workspace.edit import change_design, written_fields
    from clampwright.workspace.revisions import Revision
    from clampwright.workspace.shelf import Shelved, find_workspaces

_NAMES = {
    "actions.boards": "board_trend separate_board",
    "actions.case": "Case open_case what_if",
    "actions.evidence": "reduce_file study",
    "actions.fault_list": "add_fault fault_presets remove_fault",
    "actions.field_facts": "FieldFacts accuracy_words design_fields",
    "actions.guided": (
        "finish_session guided_result guided_sessions guided_state move take_live take_values "
        "voltage_on"
    ),
    "actions.guided_follow": "Follower Points",
    "actions.guided_import": "import_evidence",
    "actions.guided_open": "open_guided suggested_voltages",
    "actions.judging": "Progress check faults part_faults rank topologies window",
    "actions.kernels": "load_kernels put_off_kernels",
    "actions.mending": "mend",
    "actions.next": "next_readings",
    "actions.pages": "part part_page",
    "actions.planning": "plan_readings",
    "actions.recordings": (
        "add_typed correct_readings export_readings import_readings list_sessions log_readings "
        "mark_session read_bundle write_bundle"
    ),
    "actions.records": (
        "RecordDifference check_target keep_record kept_record kept_records record "
        "record_difference"
    ),
    "actions.results": "RESULTS",
    "actions.session_state": "FinishResult GuidedState evidence_words",
    "actions.waves": "fault_waves",
    "actions.workspaces": "DEMOS demo_bench demo_workspace new_workspace",
    "errors": "ClampwrightError",
    "verdict.fault_waves": "FaultWaves",
    "verdict.next_results": "NextResult",
    "verdict.part_fault_results": "PartFaultsResult",
    "verdict.part_view": "PartResult",
    "verdict.results": "CheckResult FaultsResult RankResult ResistorWindow",
    "workspace.edit": "change_design written_fields",
    "workspace.revisions": "Revision",
    "workspace.shelf": "Shelved find_workspaces",
}
_HOME = {name: f"clampwright.{home}" for home, names in _NAMES.items() for name in names.split()}

_SWAPPED = ("clampwright.uncertain.special", "clampwright.uncertain.tree")  # see there


def load_all() -> None:
    """Import every name now: a server does so before several threads ask.

    So that no thread meets a library that another one has loaded in part.
    """
    for home in dict.fromkeys((*_SWAPPED, *_HOME.values())):
        import_module(home)


if not TYPE_CHECKING:  # a checker of types knows the names from above, and no others

    def __getattr__(name: str) -> Any:
        """Import a name from its home, once."""
        if name not in _HOME:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        found = globals()[name] = getattr(import_module(_HOME[name]), name)
        return found


__all__ = [
    "DEMOS", "RESULTS", "Case", "CheckResult", "ClampwrightError", "FaultWaves", "FaultsResult",
    "FieldFacts", "FinishResult", "Follower", "GuidedState", "NextResult", "PartFaultsResult",
    "PartResult", "Points", "Progress", "RankResult", "RecordDifference", "ResistorWindow", "Revision",
    "Shelved", "accuracy_words", "add_fault", "add_typed", "board_trend", "change_design", "check",
    "check_target", "correct_readings", "demo_bench", "demo_workspace", "design_fields",
    "evidence_words", "export_readings", "fault_presets", "fault_waves", "faults", "find_workspaces",
    "finish_session", "guided_result", "guided_sessions", "guided_state", "import_evidence",
    "import_readings", "keep_record", "kept_record", "kept_records", "list_sessions", "load_all",
    "load_kernels",
    "log_readings", "mark_session", "mend", "move", "new_workspace", "next_readings", "open_case",
    "open_guided", "part", "part_faults", "part_page", "plan_readings", "put_off_kernels", "rank",
    "read_bundle", "record", "record_difference", "reduce_file", "remove_fault", "separate_board",
    "study", "suggested_voltages", "take_live", "take_values", "topologies", "voltage_on", "what_if",
    "window", "write_bundle", "written_fields",
]  # fmt: skip
