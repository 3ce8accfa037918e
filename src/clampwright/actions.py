"""One typed function for each thing a user does; frozen results out.

Command line, app and notebooks call these and nothing deeper, so the same case gives the same answer
by every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from clampwright.bench.leakage import Leakage, evidence_points
from clampwright.bench.readings import read_readings
from clampwright.bench.reduce import reduce_readings
from clampwright.bench.study import StudyResult, study_of
from clampwright.errors import ClampwrightError, InputError
from clampwright.network.topologies import CATALOGUE
from clampwright.parts.clamp_part import Clamp, clamp_part
from clampwright.parts.evidence import EvidencePoint
from clampwright.parts.sheet import PartSheet
from clampwright.parts.wirings import Wiring, wiring_named, wirings
from clampwright.recordings import (
    LogResult,
    SessionResult,
    SessionsResult,
    correct_readings,
    export_readings,
    import_readings,
    list_sessions,
    log_readings,
    mark_session,
    read_bundle,
    write_bundle,
)
from clampwright.verdict.check import check_design
from clampwright.verdict.design import Design
from clampwright.verdict.faults import faults_of_design
from clampwright.verdict.layout import topology_of
from clampwright.verdict.part_faults import part_faults as part_faults_of
from clampwright.verdict.part_view import PartResult, part_view
from clampwright.verdict.rank import Option, rank_design
from clampwright.verdict.results import (
    CheckResult,
    FaultsResult,
    PartFaultsResult,
    RankResult,
    ResistorWindow,
)
from clampwright.verdict.window import resistor_window
from clampwright.workspace.edit import (
    Changes,
    change_design,
    changed_text,
    design_from,
    sheet_text,
    written_fields,
)
from clampwright.workspace.folder import (
    Workspace,
    check_writable,
    combined_hash,
    content_hash,
    open_workspace,
    read_bytes,
    read_design,
    workspace_of,
    write_text,
)
from clampwright.workspace.shelf import Shelved, find_workspaces
from clampwright.workspace.starter import copy_sheets

Progress = Callable[[int, int], None]
DEMOS = {"orchard": "orchard-probe", "press": "press-load", "darkbox": "dark-box"}
"""The invented demonstrations and the design each of them is about."""
DEMO_DESIGN = Path("designs") / "orchard-probe.toml"
DEMO_READINGS = Path("readings") / "orchard-bench.csv"


class ReduceResult(BaseModel):
    """Every leakage that a readings file supports."""

    model_config = ConfigDict(frozen=True)

    readings: str
    readings_hash: str
    rows: int
    leakages: tuple[Leakage, ...]
    origin: str = ""  # whose evidence; "" for this bench


@dataclass(frozen=True)
class Evidence:
    """The readings that part sheets refer to, reduced when they are first needed."""

    workspace: Workspace

    @cached_property
    def points(self) -> dict[tuple[str, str, str], tuple[EvidencePoint, ...]]:
        """Evidence by readings file or session, part and wiring name as written there."""
        found: dict[tuple[str, str, str], tuple[EvidencePoint, ...]] = {}
        for stem in sorted(self._readings_named()):
            result = reduce_named(stem, self.workspace)
            for leak in result.leakages:
                key = (stem, leak.part, leak.wiring)
                found[key] = found.get(key, ()) + evidence_points([leak], result.origin)
        return found

    def _readings_named(self) -> set[str]:
        named = {e.readings for sheet in self.workspace.parts.values() for e in sheet.evidence}
        there = {*self.workspace.readings, *self.workspace.sessions}
        missing = named - there
        if missing:
            raise InputError(
                f'a part sheet refers to readings "{min(missing)}", which are not there',
                where=str(self.workspace.root / "readings"),
                expected=", ".join(sorted(there)) or "a CSV file or a session",
            )
        return named

    def clamp(self, sheet: PartSheet, wiring: Wiring) -> Clamp:
        """The clamp a sheet makes in a wiring, with all its evidence."""
        points: tuple[EvidencePoint, ...] = ()
        for evidence in sheet.evidence:
            if wiring_named(sheet, evidence.wiring).name != wiring.name:
                continue
            for (stem, part, name), some in self.points.items():
                same = stem == evidence.readings and part == sheet.id
                if same and wiring_named(sheet, name).name == wiring.name:
                    points += some
        return clamp_part(sheet, wiring, points)


@dataclass(frozen=True)
class Case:
    """A design with the workspace around it; evidence is reduced when it is first needed."""

    design: Design
    design_hash: str
    workspace: Workspace
    name: str = "design"

    @cached_property
    def inputs(self) -> dict[str, str]:
        """Hash of every input by name."""
        return {"design": self.design_hash, **self.workspace.hashes}

    @cached_property
    def hash(self) -> str:
        """One hash over the design and everything in its workspace."""
        return combined_hash(self.inputs)

    @cached_property
    def evidence(self) -> Evidence:
        """The readings of the workspace, reduced when first needed."""
        return Evidence(self.workspace)

    def chosen_clamp(self) -> Clamp | None:
        """The clamp that the design names; InputError when it names none it needs."""
        topology = topology_of(self.design)
        named = self.design.network.clamp
        if not topology.has_clamp:
            return None
        if not named or " " not in named.strip():
            raise InputError(
                f"the clamp is {'missing' if not named else 'not a part and a wiring: ' + named}",
                where=f"{self.name}, network.clamp",
                expected='a part id and a wiring, such as "npn-small C/B+E"',
            )
        part, wiring = named.strip().split(None, 1)
        if part not in self.workspace.parts:
            raise InputError(
                f'there is no part sheet "{part}"',
                where=f"{self.name}, network.clamp",
                expected=", ".join(sorted(self.workspace.parts)) or "a sheet under parts/",
            )
        sheet = self.workspace.parts[part]
        return self.evidence.clamp(
            sheet, wiring_named(sheet, wiring, f"{self.name}, network.clamp")
        )

    def options(self) -> list[Option]:
        """Every wiring of every part, with its clamp or the reason it is none."""
        found = []
        for sheet in self.workspace.parts.values():
            for wiring in wirings(sheet):
                usable = not wiring.rejected and wiring.clamp_class is not None
                clamp = self.evidence.clamp(sheet, wiring) if usable else None
                found.append(Option(sheet.id, sheet.title, wiring, clamp))
        return found


def open_case(design_path: Path) -> Case:
    """Read a design sheet and its workspace."""
    design, design_hash = read_design(design_path)
    workspace = open_workspace(workspace_of(design_path))
    return Case(design, design_hash, workspace, design_path.name)


def reduce_file(readings_path: Path) -> ReduceResult:
    """Reduce a readings file, or a session of that name, with the instruments of its workspace."""
    workspace = open_workspace(workspace_of(readings_path))
    if not readings_path.exists():
        from clampwright.workspace.sessions import stored_sessions

        name = readings_path.name
        if found := stored_sessions(workspace.root, {name}):
            return reduce_named(name, replace(workspace, sessions=found))
    return reduce_bytes(read_bytes(readings_path), readings_path.name, workspace)


def study(readings_path: Path) -> StudyResult:
    """What the leakages of a readings file or session mean: fits, diagnosis, lots."""
    return study_of(reduce_file(readings_path).leakages, readings_path.name)


def reduce_named(name: str, workspace: Workspace) -> ReduceResult:
    """Reduce readings that a workspace has read: a file by its stem, or a session."""
    if name in workspace.readings:
        return reduce_bytes(workspace.readings[name], name, workspace)
    stored = workspace.sessions[name]
    profiles = stored.profiles_with(workspace.instruments)
    return ReduceResult(
        readings=name,
        readings_hash=stored.hash,
        rows=len(stored.readings),
        leakages=reduce_readings(stored.readings, profiles, name),
        origin=stored.origin,
    )


def reduce_bytes(data: bytes, name: str, workspace: Workspace) -> ReduceResult:
    """Reduce readings given as bytes; `name` is the session they belong to."""
    readings = read_readings(data, name)
    session = Path(name).stem
    leakages = reduce_readings(readings, workspace.instruments, session)
    return ReduceResult(
        readings=name,
        readings_hash=content_hash(data),
        rows=len(readings),
        leakages=leakages,
    )


def what_if(case: Case, path: Path, changes: Changes) -> Case:
    """The case with some fields of its design sheet changed; nothing is written."""
    text = changed_text(sheet_text(path, case.design_hash), changes, case.name)
    design = design_from(text, case.name)
    varied = replace(case, design=design, design_hash=content_hash(text.encode()))
    varied.__dict__["evidence"] = case.evidence  # same readings: not reduced again
    return varied


def topologies() -> dict[str, tuple[str, str]]:
    """Title and when-to-use line of every topology a verdict can be given for, by name."""
    return {t.name: (t.title, t.when) for t in CATALOGUE.values()}


def window(case: Case) -> ResistorWindow:
    """The allowed window of the series resistor, between the fault and the accuracy walls."""
    return resistor_window(case.design, case.chosen_clamp())


def check(case: Case) -> CheckResult:
    """Error, noise, bandwidth and settling of a design against its allowance."""
    clamp = case.chosen_clamp()
    return check_design(case.design, clamp, design_hash=case.hash, inputs=case.inputs)


def faults(case: Case) -> FaultsResult:
    """Stress against rating under every fault of a design."""
    return faults_of_design(case.design, case.chosen_clamp(), design_hash=case.hash)


def part_faults(case: Case) -> PartFaultsResult:
    """Each part of a design shorted and opened in turn."""
    return part_faults_of(case.design, case.chosen_clamp(), design_hash=case.hash)


def rank(case: Case, progress: Progress | None = None) -> RankResult:
    """Every clamp wiring × topology × series resistor for a design, sorted."""
    return rank_design(
        case.design,
        case.chosen_clamp(),
        case.options(),
        design_hash=case.hash,
        progress=progress,
    )


def part(sheet_path: Path) -> PartResult:
    """Wirings, ratings, laws, evidence and curves of a part sheet in its workspace."""
    workspace = open_workspace(workspace_of(sheet_path))
    name = f"parts/{sheet_path.name}"
    data = read_bytes(sheet_path)
    sheet = next((s for s in workspace.parts.values() if workspace.names[s.id] == name), None)
    if sheet is None:
        raise InputError(
            "this file is not among the parts of its workspace",
            where=str(sheet_path),
            expected="a TOML sheet in the folder parts/ of a workspace",
        )
    evidence = Evidence(workspace)
    return part_view(sheet, wirings(sheet), lambda w: evidence.clamp(sheet, w), content_hash(data))


def part_page(result: PartResult, target: Path) -> Path:
    """Write the curves and tables of a part as one self-contained HTML page."""
    _html(target)
    from clampwright.record.part_page import part_html

    write_text(target, part_html(result))
    return target


def _html(target: Path) -> None:
    if target.suffix.lower() not in (".html", ".htm"):
        raise InputError(
            f'a page cannot be written as "{target.suffix or "no kind at all"}"',
            where=str(target),
            expected="a name that ends in .html",
        )


def record(
    case: Case,
    target: Path,
    progress: Progress | None = None,
    ranked: RankResult | None = None,
) -> Path:
    """Write the design record as one self-contained HTML page; `ranked` saves ranking again."""
    _html(target)
    from clampwright.record.page import record_html

    check_writable(target)
    shortlist = ranked if ranked is not None else rank(case, progress)
    page = record_html(check(case), faults(case), shortlist, made_on=date.today().isoformat())
    write_text(target, page)
    return target


def new_workspace(target: Path) -> Path:
    """Make a workspace to start from: one design, one part and one instrument to change."""
    copy_sheets("starter", target, {})
    return target


def demo_workspace(target: Path, name: str = "orchard") -> Path:
    """Make an invented demonstration workspace, its readings drawn from a hidden truth.

    Returns the design it is about. InputError lists the demonstrations.
    """
    from clampwright.bench.pretend import demo_readings

    if name not in DEMOS:
        raise InputError(
            f'there is no demonstration "{name}"', expected="one of " + ", ".join(DEMOS)
        )
    copy_sheets(name, target, {demo_bench(name).as_posix(): demo_readings(name)}, again=True)
    return target / "designs" / f"{DEMOS[name]}.toml"


def demo_bench(name: str) -> Path:
    """Where a demonstration keeps its readings, inside its workspace."""
    return Path("readings") / f"{name}-bench.csv"


RESULTS: Mapping[str, type[BaseModel]] = {
    "reduce": ReduceResult,
    "study": StudyResult,
    "check": CheckResult,
    "faults": FaultsResult,
    "rank": RankResult,
    "part": PartResult,
    "part faults": PartFaultsResult,
    "log": LogResult,
    "import": SessionResult,
    "sessions": SessionsResult,
}
"""Result type of each action, for schemas."""

__all__ = [
    "RESULTS", "Case", "CheckResult", "ClampwrightError", "FaultsResult", "PartResult",
    "RankResult", "ResistorWindow", "Shelved", "change_design", "check", "correct_readings",
    "demo_workspace", "export_readings", "faults", "find_workspaces", "import_readings",
    "list_sessions", "log_readings", "mark_session", "new_workspace", "open_case", "part",
    "part_faults", "part_page", "rank", "read_bundle", "record", "reduce_file", "study",
    "topologies", "what_if", "window", "write_bundle", "written_fields",
]  # fmt: skip
