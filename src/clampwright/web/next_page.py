"""The page of the next reading: what to measure, how long it takes, what it may decide."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import Response

from clampwright import actions
from clampwright.record import next_text
from clampwright.record.csv_text import csv_text
from clampwright.record.next_chart import chances_svg
from clampwright.record.words import quantity
from clampwright.web.api import Name, PictureReply
from clampwright.web.pages import design_page, fragment, open_design
from clampwright.web.views import shape_of

router = APIRouter()
BASE = "/api/designs/{place}/{design}/next"
CSV_HEADS = [
    "action", "input", "minutes", "gain", "gain_per_minute", "passed", "failed", "low_V", "high_V",
    "seen", "how",
]  # fmt: skip


@router.get("/w/{place}/{design}/next", include_in_schema=False)
def next_page(request: Request, place: Name, design: Name) -> Response:
    """The frame of the page; its answer takes seconds and is fetched after it."""
    table, opened = open_design(request, place, design)
    return design_page(request, table, opened, "next")


@router.get(BASE, response_model=actions.NextResult)
def next_result(request: Request, place: Name, design: Name) -> Any:
    """Readings ranked by the chance of a decision they add for each minute."""
    table, opened = open_design(request, place, design)
    found = table.next_readings(opened)
    return Response(found.model_dump_json(indent=2), media_type="application/json")


@router.get(f"{BASE}/shown")
def next_shown(request: Request, place: Name, design: Name) -> PictureReply:
    """The same as a piece of a page."""
    table, opened = open_design(request, place, design)
    found = table.next_readings(opened)
    chart = chances_svg(found)
    html = fragment(
        "_next.html", found=found, next_text=next_text, chart=chart, quantity=quantity,
        shape=shape_of(found.verdict, found.gate),
    )  # fmt: skip
    return PictureReply(html=html, sentence=found.reason)


@router.get(f"{BASE}.csv", include_in_schema=False)
def next_csv(request: Request, place: Name, design: Name) -> Response:
    """The ranked readings as a table."""
    table, opened = open_design(request, place, design)
    rows = [
        (a.action, a.input, a.minutes, a.gain, a.per_minute, a.passed, a.failed, a.low, a.high,
         "yes" if a.seen else "no", a.how)
        for a in table.next_readings(opened).actions
    ]  # fmt: skip
    headers = {
        "content-disposition": 'attachment; filename="next.csv"',
        "cache-control": "no-store",
    }
    return Response(
        csv_text(CSV_HEADS, rows), media_type="text/csv; charset=utf-8", headers=headers
    )
