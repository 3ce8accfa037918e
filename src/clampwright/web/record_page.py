"""The record page: preview, what is to be signed off, files to take along, records that were kept."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import PlainTextResponse, Response
from pydantic import BaseModel

from clampwright import actions
from clampwright.errors import ClampwrightError, InputError
from clampwright.record import answers, shortlist, tables
from clampwright.record.page import record_html
from clampwright.record.pdf import first_page_png, record_pdf
from clampwright.record.record_figures import record_figures
from clampwright.web.api import Name
from clampwright.web.pages import design_page, open_design, tried

router = APIRouter()
SVG = "image/svg+xml; charset=utf-8"
CSV = "text/csv; charset=utf-8"
FIGURES = {
    "schematic": "Schematic",
    "budget": "Error budget",
    "leakage": "Leakage against temperature",
    "window": "Window of the series resistor",
    "stress": "Stress against rating",
}
DOWNLOADS = {
    "record.html": "text/html; charset=utf-8",
    "record.pdf": "application/pdf",
    "preview.png": "image/png",
    "budget.csv": CSV,
    "shortlist.csv": CSV,
    **{f"{name}.svg": SVG for name in FIGURES},
}
WITHOUT_SHORTLIST = ("budget.csv",)
Number = Annotated[int, Query(ge=0, le=999_999)]
Paper = Annotated[str, Query(max_length=20, description="a4 or letter")]


class KeptReply(BaseModel):
    """Number under which the record of these very inputs is kept."""

    number: int


@router.get("/w/{place}/{design}/record", include_in_schema=False)
def record(
    request: Request, place: Name, design: Name, before: Number = 0, after: Number = 0
) -> Response:
    """What is in the record, the files to take along, and two kept records side by side."""
    table, opened = open_design(request, place, design)
    ranking = table.rankings.get(opened.case.hash)
    check = tried(lambda: table.check(opened))
    stress = tried(lambda: table.faults(opened))
    if not check or not stress:
        return design_page(request, table, opened, "unusable")
    defaults = answers.every_default(check, stress)
    kept, problem, difference = [], "", None
    try:
        numbers = actions.kept_records(opened.case, opened.path)
        kept = [actions.kept_record(opened.case, opened.path, n) for n in numbers[-20:]][::-1]
        if before and after:
            difference = actions.record_difference(opened.case, opened.path, before, after)
    except ClampwrightError as error:
        problem = str(error)
    return design_page(
        request, table, opened, "record", ranking=ranking, check=check, defaults=defaults,
        kept=kept, difference=difference, kept_problem=problem, figures=FIGURES,
        heads=answers.HEADS, both_verdicts=answers.both_verdicts,
    )  # fmt: skip


@router.get("/w/{place}/{design}/record/{file}", include_in_schema=False)
def record_file(
    request: Request, place: Name, design: Name, file: Name, save: bool = False, paper: Paper = "a4"
) -> Any:
    """The record itself, a table or a picture of it; `save` offers it as a download."""
    table, opened = open_design(request, place, design)
    if file not in DOWNLOADS:
        return PlainTextResponse(f"there is no such file; expected {', '.join(DOWNLOADS)}", 404)
    ranking = table.rankings.get(opened.case.hash)
    if file not in WITHOUT_SHORTLIST and (ranking is None or ranking.result is None):
        return PlainTextResponse("the shortlist is not ranked yet: start it first", 409)
    results = (
        table.check_further(opened), table.faults(opened), ranking.result if ranking else None,
    )  # fmt: skip
    made = _made(file, results, paper)
    if made is None:
        return PlainTextResponse("there is no such picture in this record", 404)
    headers = {"cache-control": "no-store"}
    if save:
        headers["content-disposition"] = f'attachment; filename="{_plain(design)}-{file}"'
    return Response(made, media_type=DOWNLOADS[file], headers=headers)


@router.post("/api/designs/{place}/{design}/records", status_code=201)
def keep(request: Request, place: Name, design: Name) -> KeptReply:
    """Keep the record of what is on disk now; the same inputs keep their number.

    422 while the shortlist is not ranked.
    """
    table, opened = open_design(request, place, design)
    ranking = table.rankings.get(opened.case.hash)
    if ranking is None or ranking.result is None:
        raise InputError("the shortlist is not ranked yet", mend="rank it first")
    kept = actions.keep_record(
        opened.case, opened.path, ranking.result, table.check_further(opened), table.faults(opened)
    )
    return KeptReply(number=kept.number)


@router.get(
    "/api/designs/{place}/{design}/records/difference", response_model=actions.RecordDifference
)
def difference(request: Request, place: Name, design: Name, before: Number, after: Number) -> Any:
    """Changed inputs and changed answers between two kept records."""
    _, opened = open_design(request, place, design)
    found = actions.record_difference(opened.case, opened.path, before, after)
    return Response(found.model_dump_json(indent=2), media_type="application/json")


def _made(file: str, results: Any, paper: str) -> str | bytes | None:
    """The content of a file; None for a picture that this record does not have."""
    check, _, rank = results
    made_on = date.today().isoformat()
    if file == "record.pdf":
        return record_pdf(*results, made_on=made_on, paper=paper)
    if file == "preview.png":
        return first_page_png(*results, made_on=made_on)
    if file == "budget.csv":
        return tables.budget_csv(check)
    if file == "shortlist.csv":
        return shortlist.shortlist_csv(rank)
    if file.endswith(".svg"):
        return record_figures(*results).get(file.removesuffix(".svg"), (None, ""))[0]
    return record_html(*results, made_on=made_on)


def _plain(name: str) -> str:
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in name)
