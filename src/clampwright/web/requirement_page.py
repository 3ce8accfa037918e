"""The requirement page: every field with its unit."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from clampwright import actions
from clampwright.record.cautions import cautions_to_print
from clampwright.web.fields import groups
from clampwright.web.pages import Name, design_page, open_design, tried

router = APIRouter(include_in_schema=False)


@router.get("/w/{place}/{design}/requirement")
def requirement(request: Request, place: Name, design: Name) -> Response:
    """Every field of the requirement with its unit."""
    table, opened = open_design(request, place, design)
    written = actions.written_fields(opened.path, opened.case.design_hash)
    check = tried(lambda: table.check(opened))
    return design_page(
        request, table, opened, "requirement", written=written, groups=groups(written),
        cautions=cautions_to_print(check.gate.cautions) if check else (), check=check,
    )  # fmt: skip
