"""The whole app: every page and the JSON API."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

from fastapi import Depends, FastAPI, Request
from fastapi.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from fastapi.staticfiles import StaticFiles

from clampwright import actions
from clampwright.web import (
    api,
    bench_page,
    curves_page,
    evidence_page,
    fault_page,
    network_page,
    next_page,
    pages,
    record_page,
    requirement_page,
    shortlist_page,
    start_page,
    words_page,
)
from clampwright.web.bench_takes import Takes
from clampwright.web.first_pages import STATIC
from clampwright.web.problems import KINDS, problem_of
from clampwright.web.table import Table

YEAR = 31_536_000  # [s]


def whole_app(table: Table) -> FastAPI:
    """The app over the workspaces at a table; nothing outside its folder can be reached."""
    actions.load_all()
    app = FastAPI(
        title="Clampwright",
        description="The same frozen results as the command line prints with --json.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        dependencies=[Depends(api.known_query)],
    )
    app.state.table = table
    app.state.takes = Takes()
    app.include_router(api.router)
    shown = (
        start_page, network_page, bench_page, requirement_page, fault_page, shortlist_page, evidence_page,
        curves_page, next_page, record_page, words_page,
    )  # fmt: skip
    for some in shown:
        app.include_router(some.router)
    app.add_api_route("/static/plotly.js", _plotly, include_in_schema=False)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    for kind in KINDS:
        app.add_exception_handler(kind, _answer)
    return app


def _plotly() -> FileResponse:
    """The plotting library as it lies in its own package."""
    script = Path(str(files("plotly") / "package_data" / "plotly.min.js"))
    headers = {"cache-control": f"max-age={YEAR}"}
    return FileResponse(script, media_type="text/javascript", headers=headers)


async def _answer(request: Request, error: Exception) -> Response:
    """The sentence of an error in the form that who asked can use."""
    told = problem_of(error, request.app.state.table.root)
    if request.url.path.startswith("/api/"):
        return JSONResponse({"error": told.sentence, "fields": told.fields}, told.status)
    if request.url.path.startswith("/static/"):
        return PlainTextResponse(told.sentence, told.status)
    return pages.page(request, "problem.html", told.status, sentence=told.sentence)
