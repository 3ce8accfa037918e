"""The fault page: every fault, lowest margin first, and the chosen one over time."""

from __future__ import annotations

from typing import Annotated, Any, NamedTuple

from fastapi import APIRouter, Path, Request
from fastapi.responses import Response

from clampwright import actions
from clampwright.actions.waves import impulses
from clampwright.record import part_faults_text
from clampwright.record.csv_text import csv_text
from clampwright.record.fault_cases import ShownCase, lowest_stresses, shown_cases
from clampwright.record.look import themed
from clampwright.record.wave_plot import waves_caption, waves_svg
from clampwright.record.words import quantity
from clampwright.web.api import Name, PictureReply
from clampwright.web.pages import design_page, fragment, open_design, tried
from clampwright.web.table import Opened
from clampwright.web.views import fault_schematic

router = APIRouter()
Number = Annotated[int, Path(ge=1, le=1000, description="which fault, as on the sheet, from 1")]
BASE = "/api/designs/{place}/{design}/faults"
CSV_HEADS = ["fault", "part", "quantity", "stress", "unit", "rating", "derating", "margin", "basis"]
PRIVATE = {"cache-control": "no-store"}


@router.get("/w/{place}/{design}/faults", include_in_schema=False)
def faults(request: Request, place: Name, design: Name) -> Response:
    """Every fault with its stresses, lowest margin first; the waves of one are fetched after it."""
    table, opened = open_design(request, place, design)
    found = tried(lambda: table.faults(opened))
    if not found:
        return design_page(request, table, opened, "unusable")
    drawing, case = fault_schematic(table.check(opened), found)
    shown = [_Row(case, _number(opened, case.name)) for case in shown_cases(found)]
    return design_page(
        request, table, opened, "faults", faults=found, drawing=drawing, drawn=case,
        judged=[row for row in shown if row.case.lines],
        unjudged=[row for row in shown if not row.case.lines], impulses=impulses(opened.case),
        quantity=quantity,
    )  # fmt: skip


class _Row(NamedTuple):
    """A fault as it is shown, and its number on the sheet."""

    case: ShownCase
    number: int


def _number(opened: Opened, name: str) -> int:
    """The number on the sheet, from 1, of a fault; of the first where several are shown as one."""
    names = [fault.name for fault in opened.case.design.faults]
    return next(
        n for n, known in enumerate(names, 1) if name == known or name.startswith(f"{known}, ")
    )


@router.get(f"{BASE}/waves/{{number}}.csv", include_in_schema=False)
def waves_csv(request: Request, place: Name, design: Name, number: Number) -> Response:
    """Every wave of a fault as columns."""
    table, opened = open_design(request, place, design)
    found = table.waves(opened, number)
    heads = ["time_s", *(f"{w.part} {w.quantity} ({w.unit})" for w in found.waves)]
    rows = zip(found.time, *(w.values for w in found.waves), strict=True)
    return _download(csv_text(heads, rows), f"fault-{number}-waves.csv")


@router.get(f"{BASE}/waves/{{number}}", response_model=actions.FaultWaves)
def waves(request: Request, place: Name, design: Name, number: Number) -> Any:
    """One fault over time, quasi-static; 422 for an impulse, which is not solved in time."""
    table, opened = open_design(request, place, design)
    found = table.waves(opened, number)
    return Response(found.model_dump_json(indent=2), media_type="application/json")


@router.get(f"{BASE}/waves/{{number}}/shown")
def waves_shown(request: Request, place: Name, design: Name, number: Number) -> PictureReply:
    """The same as a picture in the colours of the page."""
    table, opened = open_design(request, place, design)
    found = table.waves(opened, number)
    svg = themed(waves_svg(found, name=f"waves{number}"))
    return PictureReply(html=svg, sentence=waves_caption(found))


@router.get(f"{BASE}.csv", include_in_schema=False)
def margins_csv(request: Request, place: Name, design: Name) -> Response:
    """Every stress with its rating, lowest margin first."""
    table, opened = open_design(request, place, design)
    rows = [
        (name, s.part, s.quantity, s.stress, s.unit, s.rating, s.derating, s.ratio, s.basis)
        for name, s in lowest_stresses(table.faults(opened))
    ]
    return _download(csv_text(CSV_HEADS, rows), "faults.csv")


@router.get(f"{BASE}/parts", response_model=actions.PartFaultsResult)
def parts(request: Request, place: Name, design: Name) -> Any:
    """Each part shorted and opened in turn."""
    table, opened = open_design(request, place, design)
    return Response(
        table.part_faults(opened).model_dump_json(indent=2), media_type="application/json"
    )


@router.get(f"{BASE}/parts/shown")
def parts_shown(request: Request, place: Name, design: Name) -> PictureReply:
    """The same as a piece of a page."""
    table, opened = open_design(request, place, design)
    found = table.part_faults(opened)
    html = fragment("_part_faults.html", found=found, shown=part_faults_text)
    return PictureReply(html=html, sentence=part_faults_text.unnoticed_words(found))


def _download(text: str, name: str) -> Response:
    headers = {**PRIVATE, "content-disposition": f'attachment; filename="{name}"'}
    return Response(text, media_type="text/csv; charset=utf-8", headers=headers)
