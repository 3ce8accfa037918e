"""The record of a design: written as a page or for print, kept with its inputs, compared.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from clampwright.actions.case import Case
from clampwright.actions.judging import Progress, check, faults, rank
from clampwright.errors import InputError
from clampwright.verdict.results import CheckResult, FaultsResult, RankResult
from clampwright.workspace.edit import written_fields
from clampwright.workspace.folder import check_writable, write_bytes, write_text
from clampwright.workspace.revisions import Revision, keep_revision, read_revision, revisions

PAGES, PRINTS = (".html", ".htm"), (".pdf",)
STORED_CANDIDATES = 20  # of the shortlist, in the file of a revision


class RecordDifference(BaseModel):
    """What differs between two records of a design: name, before and after."""

    model_config = ConfigDict(frozen=True)

    design: str
    before: int
    after: int
    made_before: str
    made_after: str
    inputs: tuple[tuple[str, str, str], ...]
    answers: tuple[tuple[str, str, str], ...]


def record(
    case: Case,
    target: Path,
    progress: Progress | None = None,
    ranked: RankResult | None = None,
    *,
    paper: str = "a4",
    kept: str = "",
) -> Path:
    """Write the design record as one self-contained page or as PDF, by the ending of its name.

    ranked : what `rank` found, to save ranking again; paper : "a4" or "letter", for PDF
    kept : number under which `keep_record` kept it, printed with it
    """
    check_target(target)
    shortlist = ranked if ranked is not None else rank(case, progress)
    results = (check(case), faults(case), shortlist)
    made_on = date.today().isoformat()
    if target.suffix.lower() in PRINTS:
        from clampwright.record.pdf import record_pdf

        write_bytes(target, record_pdf(*results, made_on=made_on, kept=kept, paper=paper))
    else:
        from clampwright.record.page import record_html

        write_text(target, record_html(*results, made_on=made_on, kept=kept))
    return target


def check_target(target: Path) -> None:
    """InputError for an ending that is neither that of a page nor of a PDF, or no place to write."""
    if target.suffix.lower() not in (*PAGES, *PRINTS):
        raise InputError(
            f'a record cannot be written as "{target.suffix or "no kind at all"}"',
            where=str(target),
            expected="a name that ends in .html or .pdf",
        )
    check_writable(target)


def keep_record(
    case: Case,
    path: Path,
    ranked: RankResult,
    checked: CheckResult | None = None,
    stressed: FaultsResult | None = None,
) -> Revision:
    """Keep the record of a design under the next number, with its inputs and answers.

    path : of the design sheet, whose name the folder of the records has
    The same inputs make no new record: the latest one is given back.
    """
    from clampwright.record.answers import record_answers

    found = checked or check(case)
    stress = stressed or faults(case)
    few = ranked.model_copy(
        update={"candidates": ranked.candidates[:STORED_CANDIDATES], "every_resistor": ()}
    )
    draft = Revision(
        number=0,
        made_on=date.today().isoformat(),
        design=path.stem,
        design_hash=case.hash,
        inputs=case.inputs,
        sheet=written_fields(path, case.design_hash),
        answers=record_answers(found, stress, ranked),
        results={
            "check": found.model_dump(mode="json"),
            "faults": stress.model_dump(mode="json"),
            "rank": few.model_dump(mode="json"),
        },
    )
    return keep_revision(case.workspace.root, draft)


def kept_records(case: Case, path: Path) -> tuple[int, ...]:
    """Numbers of the records kept of a design, oldest first."""
    return revisions(case.workspace.root, path.stem)


def kept_record(case: Case, path: Path, number: int) -> Revision:
    """One record as it was; InputError when there is none of that number."""
    return read_revision(case.workspace.root, path.stem, number)


def record_difference(case: Case, path: Path, before: int, after: int) -> RecordDifference:
    """Changed fields, changed files and changed answers between two kept records."""
    from clampwright.record.answers import changed_rows

    one, other = kept_record(case, path, before), kept_record(case, path, after)
    files = changed_rows(_short(one.inputs), _short(other.inputs))
    return RecordDifference(
        design=path.stem,
        before=before,
        after=after,
        made_before=one.made_on,
        made_after=other.made_on,
        inputs=tuple(changed_rows(one.sheet, other.sheet) + files),
        answers=tuple(changed_rows(one.answers, other.answers)),
    )


def _short(inputs: dict[str, str]) -> dict[str, str]:
    """Files by the beginning of their hash; the design itself is compared field by field."""
    return {f"file {name}": value[:12] for name, value in inputs.items() if name != "design"}
