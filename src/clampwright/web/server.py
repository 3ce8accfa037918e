"""Build the app and serve it on the loopback address, or wider with a token."""

from __future__ import annotations

import ipaddress
import secrets
from collections.abc import Callable
from contextlib import suppress
from importlib.resources import files
from pathlib import Path
from threading import Timer

from fastapi import Depends, FastAPI, Request
from fastapi.responses import FileResponse, JSONResponse, PlainTextResponse, Response
from fastapi.staticfiles import StaticFiles

from clampwright import actions
from clampwright.errors import ClampwrightError, InputError
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
    words_page,
)
from clampwright.web.bench_takes import Takes
from clampwright.web.guard import LARGEST_BODY, Door, Guard
from clampwright.web.problems import KINDS, problem_of
from clampwright.web.table import Table
from clampwright.web.views import schematic

LOOPBACK = "127.0.0.1"
PATIENCE = 2  # [s] that a page which follows a meter may hold up the end of the server
YEAR = 31_536_000  # [s]
WARM_AFTER = 1.5  # [s] a page asked for at once is served first


def make_app(root: Path, door: Door | None = None, table: Table | None = None) -> Guard:
    """The app over the workspaces in `root`; nothing outside that folder can be reached."""
    app = FastAPI(
        title="Clampwright",
        description="The same frozen results as the command line prints with --json.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        dependencies=[Depends(api.known_query)],
    )
    app.state.table = Table(root) if table is None else table
    app.state.takes = Takes()
    app.include_router(api.router)
    shown = (
        pages, network_page, bench_page, requirement_page, fault_page, shortlist_page, evidence_page,
        curves_page, next_page, record_page, words_page,
    )  # fmt: skip
    for some in shown:
        app.include_router(some.router)
    app.add_api_route("/static/plotly.js", _plotly, include_in_schema=False)
    here = Path(str(files("clampwright.web") / "static"))
    app.mount("/static", StaticFiles(directory=here), name="static")
    for kind in KINDS:
        app.add_exception_handler(kind, _answer)
    return Guard(app, door or Door())  # outermost, so that even a failure carries its headers


def serve(root: Path, *, host: str, port: int, wide: bool, say: Callable[[str], None]) -> None:
    """Serve until interrupted.

    Raises InputError for a folder that is not there, and for an address beyond this machine without
    `wide`; with it a token is made that every request must show.
    """
    import uvicorn

    if not root.is_dir():
        raise InputError(
            "there is no such folder",
            where=str(root),
            expected="a workspace or a folder of workspaces",
        )
    beyond = not _is_loopback(host)
    if beyond and not wide:
        raise InputError(
            "that address can be reached from other machines",
            where=f"--host {host}",
            expected=LOOPBACK,
            mend="add --wide to allow it; a token is then needed",
        )
    token = secrets.token_urlsafe(24) if beyond else ""
    table = Table(root)
    app = make_app(root, Door(token=token, wide=beyond), table)
    warming = Timer(WARM_AFTER, _warm, args=(table,))
    warming.daemon = True
    warming.start()
    say(f"Clampwright is at http://{host}:{port}/{f'?token={token}' if token else ''}")
    say("Stop it with Ctrl-C.")
    uvicorn.run(
        app, host=host, port=port, log_level="warning", server_header=False,
        timeout_graceful_shutdown=PATIENCE, ws_max_size=LARGEST_BODY,
    )  # fmt: skip


def _warm(table: Table) -> None:
    """Judge and draw one design, so that the first page need not wait for libraries to load."""
    opened = table.first()
    if opened is not None:
        with suppress(ClampwrightError):
            schematic(table.check(opened))
            table.faults(opened)
        with suppress(ClampwrightError):  # what the evidence page needs
            _ = table.candidates(opened.place).clamps
            actions.list_sessions(opened.case.workspace.root)


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


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
