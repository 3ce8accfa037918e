"""Build the app and serve it on the loopback address, or wider with a token."""

from __future__ import annotations

import ipaddress
import secrets
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from threading import Timer

from clampwright import actions
from clampwright.errors import ClampwrightError, InputError
from clampwright.web.first_pages import FirstPages
from clampwright.web.guard import LARGEST_BODY, App, Door, Guard
from clampwright.web.table import Table
from clampwright.web.views import schematic

LOOPBACK = "127.0.0.1"
PATIENCE = 2  # [s] that a page which follows a meter may hold up the end of the server
WARM_AFTER = 1.5  # [s] a page asked for at once is served first


def make_app(root: Path, door: Door | None = None, table: Table | None = None) -> Guard:
    """The whole app over the workspaces in `root`; nothing outside that folder can be reached."""
    return Guard(_whole(table or Table(root)), door or Door())


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
    app = FirstPages(table, _whole)
    warming = Timer(WARM_AFTER, _warm, args=(app,))
    warming.daemon = True
    warming.start()
    say(f"Clampwright is at http://{host}:{port}/{f'?token={token}' if token else ''}")
    say("Stop it with Ctrl-C.")
    door = Door(token=token, wide=beyond)
    uvicorn.run(
        Guard(app, door), host=host, port=port, log_level="warning", server_header=False,
        timeout_graceful_shutdown=PATIENCE, ws_max_size=LARGEST_BODY, lifespan="off",
        ws_per_message_deflate=False,  # takes longer than the way within one machine
    )  # fmt: skip


def _whole(table: Table) -> App:
    from clampwright.web.app import whole_app

    return whole_app(table)


def _warm(app: FirstPages) -> None:
    """Load what is not there yet, then judge and draw one design, so that no page need wait for it."""
    app.load()
    table = app.table
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
