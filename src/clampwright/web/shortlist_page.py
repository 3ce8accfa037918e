"""The shortlist page: candidates, once they are ranked."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import Response

from clampwright.web.pages import Name, design_page, open_design

router = APIRouter(include_in_schema=False)


@router.get("/w/{place}/{design}/shortlist")
def shortlist_page(request: Request, place: Name, design: Name) -> Response:
    """Candidates, once they are ranked."""
    table, opened = open_design(request, place, design)
    ranking = table.rankings.get(opened.case.hash)
    rank = ranking.result if ranking else None
    return design_page(request, table, opened, "shortlist", rank=rank, ranking=ranking)
