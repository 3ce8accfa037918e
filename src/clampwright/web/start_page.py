"""Where a reader comes in: the start page, and a design without the name of a page."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from clampwright.web.api import Name, table_of
from clampwright.web.pages import start_page

router = APIRouter(include_in_schema=False)


@router.get("/")
def start(request: Request) -> Response:
    """Designs of the folder that is served, demonstrations, a new workspace."""
    return start_page(request, table_of(request))


@router.get("/w/{place}/{design}")
def first(place: Name, design: Name) -> Response:
    """The network is the page to start with."""
    return RedirectResponse(f"/w/{quote(place, safe='')}/{quote(design, safe='')}/network", 307)
