"""The record page and the files to take along."""

from __future__ import annotations

from datetime import date
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response

from clampwright.record import shortlist, tables
from clampwright.record.page import record_html
from clampwright.web.pages import Name, design_page, open_design, tried

router = APIRouter(include_in_schema=False)
DOWNLOADS = {
    "record.html": "text/html; charset=utf-8",
    "budget.csv": "text/csv; charset=utf-8",
    "shortlist.csv": "text/csv; charset=utf-8",
}


@router.get("/w/{place}/{design}/record")
def record(request: Request, place: Name, design: Name) -> Response:
    """What is in the record, and the files to take along."""
    table, opened = open_design(request, place, design)
    ranking = table.rankings.get(opened.case.hash)
    check = tried(lambda: table.check(opened))
    stress = tried(lambda: table.faults(opened))
    if not check or not stress:
        return design_page(request, table, opened, "unusable")
    defaults = tuple(dict.fromkeys((*check.defaults, *stress.defaults)))
    return design_page(
        request, table, opened, "record", ranking=ranking, check=check, defaults=defaults
    )


@router.get("/w/{place}/{design}/record/{file}")
def record_file(request: Request, place: Name, design: Name, file: Name, save: bool = False) -> Any:
    """The record itself or a table of it; `save` offers it as a download."""
    table, opened = open_design(request, place, design)
    if file not in DOWNLOADS:
        return PlainTextResponse(f"there is no such file; expected {', '.join(DOWNLOADS)}", 404)
    ranking = table.rankings.get(opened.case.hash)
    if file != "budget.csv" and (ranking is None or ranking.result is None):
        return PlainTextResponse("the shortlist is not ranked yet: start it first", 409)
    rank = ranking.result if ranking else None
    text = _record_text(file, table.check_further(opened), table.faults(opened), rank)
    headers = {"cache-control": "no-store"}
    if save:
        headers["content-disposition"] = f'attachment; filename="{_plain(design)}-{file}"'
    return Response(text, media_type=DOWNLOADS[file], headers=headers)


def _record_text(file: str, check: Any, faults: Any, rank: Any) -> str:
    if file == "budget.csv":
        return tables.budget_csv(check)
    if file == "shortlist.csv":
        return shortlist.shortlist_csv(rank)
    return record_html(check, faults, rank, made_on=date.today().isoformat())


def _plain(name: str) -> str:
    return "".join(c if c.isascii() and (c.isalnum() or c in "-_") else "-" for c in name)
