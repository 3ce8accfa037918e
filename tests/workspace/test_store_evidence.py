"""Kept readings as evidence: the same answer from a file, a session and a bundle of somebody else."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from clampwright import actions
from clampwright.parts.evidence import EvidencePoint
from clampwright.workspace.database import open_store
from clampwright.workspace.folder import open_workspace
from clampwright.workspace.store import Correction, correct, session_named

DEMO_DESIGN = Path("designs") / "orchard-probe.toml"


@pytest.fixture
def orchard(tmp_path: Path) -> Callable[[str], Path]:
    """The invented demonstration whose readings moved from the file to the database."""

    def make(way: str) -> Path:
        folder = tmp_path / way
        actions.demo_workspace(folder)
        file = folder / actions.demo_bench("orchard")
        if way == "file":
            return folder
        file.rename(tmp_path / file.name)
        if way == "session":
            actions.import_readings(tmp_path / file.name, folder)
        else:
            giver = tmp_path / "giver"
            actions.demo_workspace(giver)
            (giver / actions.demo_bench("orchard")).unlink()
            actions.import_readings(tmp_path / file.name, giver)
            actions.write_bundle(file.stem, giver, tmp_path / "e.zip", origin="Lab of Nobody")
            actions.read_bundle(tmp_path / "e.zip", folder)
        return folder

    return make


def points(folder: Path) -> list[EvidencePoint]:
    case = actions.open_case(folder / DEMO_DESIGN)
    return [p for some in case.evidence.points.values() for p in some]


def test_evidence_is_the_same_from_file_session_and_bundle(
    orchard: Callable[[str], Path],
) -> None:
    design = DEMO_DESIGN
    file, session, bundle = (orchard(way) for way in ("file", "session", "bundle"))
    one, two, three = (
        actions.check(actions.open_case(f / design)) for f in (file, session, bundle)
    )
    errors = [[j.error for j in result.judgements] for result in (one, two, three)]
    assert errors[1] == pytest.approx(errors[0], rel=1e-9, abs=0)
    assert errors[2] == pytest.approx(errors[0], rel=1e-6, abs=0)  # twelve digits went through text
    assert (one.verdict, one.reason) == (three.verdict, three.reason)
    assert [p.leakage for p in points(session)] == [p.leakage for p in points(file)]
    assert all(p.source.startswith("bench, ") for p in points(session))
    assert all(p.source.startswith("evidence of Lab of Nobody, ") for p in points(bundle))


def test_a_correction_changes_the_hash_of_a_case(orchard: Callable[[str], Path]) -> None:
    folder = orchard("session")
    case = actions.open_case(folder / DEMO_DESIGN)
    name = actions.demo_bench("orchard").stem
    assert f"readings.db, session {name}" in case.inputs
    with open_store(folder) as store:
        told = Correction(1, 1, "note", "seen again", "for the test", "me")
        correct(store, session_named(store, name), told)
    assert actions.open_case(folder / DEMO_DESIGN).hash != case.hash


def test_foreign_evidence_is_reduced_with_its_own_instruments(
    orchard: Callable[[str], Path],
) -> None:
    folder = orchard("bundle")
    before_that = [p.leakage for p in points(folder)]
    for sheet in (folder / "instruments").glob("*.toml"):
        sheet.write_text(sheet.read_text("utf-8").replace('"1 mV/', '"3 mV/'), "utf-8")
    assert open_workspace(folder).instruments["A1"].scale == 3e6
    assert [p.leakage for p in points(folder)] == before_that
