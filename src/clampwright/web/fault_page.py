"""The fault page: stresses against ratings, lowest margin first."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from clampwright.web.pages import Name, design_page, open_design, tried
from clampwright.web.views import fault_schematic

router = APIRouter(include_in_schema=False)


@router.get("/w/{place}/{design}/faults")
def faults(request: Request, place: Name, design: Name) -> Response:
    """Every fault, lowest margin first."""
    table, opened = open_design(request, place, design)
    found = tried(lambda: table.faults(opened))
    if not found:
        return design_page(request, table, opened, "unusable")
    drawing, case = fault_schematic(table.check(opened), found)
    return design_page(request, table, opened, "faults", faults=found, drawing=drawing, drawn=case)
