"""The app that answers its first pages while the rest of it is not loaded yet.

Start page, a design's network page and the files that pages refer to need a fraction of the libraries;
everything else waits until all are there. Until then the network is solved by the plain path; what it
found, equal but for rounding, is forgotten as soon as the compiled kernels are there, so that the same
question gets the same bits by every face.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from threading import Lock

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import FileResponse

from clampwright import actions
from clampwright.web.guard import App, Receive, Scope, Send
from clampwright.web.network_view import first_view
from clampwright.web.pages import start_page
from clampwright.web.table import Table

STATIC = Path(__file__).parent / "static"
NETWORK = re.compile(r"/w/([^/]+)/([^/]+)/network")
FILE = re.compile(r"/static/([a-z_0-9]+\.[a-z0-9]+)")


class FirstPages:
    """The app over the workspaces at a table; `whole` makes the part that is loaded behind."""

    def __init__(self, table: Table, whole: Callable[[Table], App]) -> None:
        actions.put_off_kernels()
        self.table = table
        self._whole = whole
        self._app: App | None = None
        self._loading = Lock()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a first page at once; load the rest for anything else, and for what fails."""
        app = self._app
        if app is None and scope["type"] == "http" and scope["method"] == "GET":
            app = await run_in_threadpool(self._first, Request(scope))
        if app is None:
            app = await run_in_threadpool(self.load)
        await app(scope, receive, send)

    def load(self) -> App:
        """The whole app, made once; from then on it answers everything."""
        with self._loading:
            if self._app is None:
                app = self._whole(self.table)
                actions.load_kernels()
                self.table.forget_results()
                self._app = app
            return self._app

    def _first(self, request: Request) -> App | None:
        """The answer, which is sent like an app, None where it takes the whole app."""
        path = request.scope["path"]
        if file := FILE.fullmatch(path):
            there = STATIC / file[1]
            return FileResponse(there) if there.is_file() else None
        with self._loading:  # one thread at a time: none meets a library half loaded
            return self._app or self._page(request, path)

    def _page(self, request: Request, path: str) -> App | None:
        try:
            if path == "/":
                return start_page(request, self.table)
            if names := NETWORK.fullmatch(path):
                return first_view(request, self.table, *names.groups())
        except Exception:  # told, or found again, by the whole app
            return None
        return None
