"""The app really served on the loopback address, over a small invented workspace."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn

from clampwright import actions
from clampwright.web.guard import Door
from clampwright.web.server import make_app

KEPT_PARTS = {"npn-small", "jfet-small"}
KEPT_DESIGNS = {"orchard-probe", "orchard-rails-npn"}


@contextmanager
def serving(root: Path, door: Door | None = None) -> Iterator[str]:
    """The app on a free port of the loopback address; gives its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    config = uvicorn.Config(make_app(root, door), host="127.0.0.1", port=port, log_level="error")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive()
        time.sleep(0.02)
    yield f"http://127.0.0.1:{port}"
    server.should_exit = True
    thread.join(120)  # a request under way is let finish
    assert not thread.is_alive()


def orchard(folder: Path) -> Path:
    """The invented orchard demonstration with two of its parts and designs, so that it is quick."""
    actions.demo_workspace(folder, "orchard")
    for kind, kept in (("parts", KEPT_PARTS), ("designs", KEPT_DESIGNS)):
        for sheet in (folder / kind).glob("*.toml"):
            if sheet.stem not in kept:
                sheet.unlink()
    return folder
