"""The first pages: answered before the rest of the app is loaded, and equal to its own."""

from __future__ import annotations

import asyncio
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from served import orchard

from clampwright.network import machine_code
from clampwright.web.app import whole_app
from clampwright.web.first_pages import STATIC, FirstPages
from clampwright.web.table import Table

NETWORK = "/w/orchard/orchard-probe/network"


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder: Path = tmp_path_factory.mktemp("served")
    orchard(folder / "orchard")
    return folder


@pytest.fixture(autouse=True)
def kernels_again() -> Iterator[None]:
    """What other tests of this process solve is solved as before."""
    yield
    machine_code.load()


def asked(app: Any, path: str, method: str = "GET") -> tuple[int, bytes]:
    """Status and body that an app answers to a request."""
    told: list[Any] = []

    async def send(message: Any) -> None:
        told.append(message)

    waiting = [{"type": "http.request", "body": b"", "more_body": False}]

    async def receive() -> Any:
        return waiting.pop() if waiting else await asyncio.sleep(600)

    scope = {
        "type": "http", "http_version": "1.1", "method": method, "path": path, "raw_path": path.encode(),
        "query_string": b"", "headers": [(b"host", b"127.0.0.1")], "scheme": "http", "root_path": "",
        "server": ("127.0.0.1", 80), "client": ("127.0.0.1", 1),
    }  # fmt: skip
    with ThreadPoolExecutor(1) as thread:  # the browser tests keep a loop running in this one
        thread.submit(lambda: asyncio.run(app(scope, receive, send))).result()
    return told[0]["status"], b"".join(m.get("body", b"") for m in told[1:])


def never(_: Table) -> Any:
    """A rest of the app that must not be asked for."""
    raise AssertionError("the whole app was loaded")


@pytest.mark.parametrize("path", ["/", NETWORK])
def test_a_first_page_is_that_of_the_whole_app(root: Path, path: str) -> None:
    first = asked(FirstPages(Table(root), never), path)
    machine_code.load()
    assert first[0] == 200
    assert first == asked(whole_app(Table(root)), path)


def test_every_file_of_the_pages_comes_before_the_whole_app(root: Path) -> None:
    app = FirstPages(Table(root), never)
    for file in STATIC.iterdir():
        assert asked(app, f"/static/{file.name}") == (200, file.read_bytes())


@pytest.mark.parametrize(
    ("path", "method", "status"),
    [
        ("/w/orchard/none/network", "GET", 404),
        ("/static/none.js", "GET", 404),
        ("/static/../server.py", "GET", 404),
        ("/w/orchard/orchard-probe", "GET", 307),
        ("/api/designs", "GET", 200),
        (NETWORK, "HEAD", 405),
    ],
)
def test_anything_else_is_answered_by_the_whole_app(
    root: Path, path: str, method: str, status: int
) -> None:
    app = FirstPages(Table(root), whole_app)
    assert asked(app, path, method)[0] == status


def test_what_was_found_before_is_found_again(root: Path) -> None:
    table = Table(root)
    app = FirstPages(table, whole_app)
    assert asked(app, NETWORK)[0] == 200
    opened = table.open("orchard", "orchard-probe")
    before = table.check(opened)
    app.load()
    assert table.check(table.open("orchard", "orchard-probe")) is not before
    assert app.load() is app.load()


def test_what_is_being_found_meanwhile_is_not_kept(root: Path) -> None:
    table = Table(root)

    def found() -> str:
        table.forget_results()
        return "before"

    assert table._once(("check", "x"), found) == "before"
    assert table._once(("check", "x"), lambda: "after") == "after"
    assert table._once(("check", "x"), lambda: "again") == "after"


def test_a_first_page_loads_neither_compiler_nor_api_nor_search(root: Path) -> None:
    code = (
        "import sys; from pathlib import Path; from starlette.requests import Request\n"
        "from clampwright.web.first_pages import FirstPages; from clampwright.web.table import Table\n"
        "app = FirstPages(Table(Path(sys.argv[1])), None)\n"
        "scope = {'type': 'http', 'path': sys.argv[2], 'headers': [], 'query_string': b''}\n"
        "assert app._first(Request(scope | {'server': ('127.0.0.1', 80)})) is not None\n"
        "heavy = ('numba', 'fastapi', 'scipy.optimize', 'scipy.special', 'matplotlib', 'sqlalchemy')\n"
        "print([name for name in heavy if name in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(root), NETWORK], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
