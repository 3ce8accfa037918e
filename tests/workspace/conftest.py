"""The two engines of the readings database: SQLite in a folder, and a real PostgreSQL started here."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from clampwright.workspace.database import Store, open_store

UNPRIVILEGED = "nobody"  # the server refuses to run as root
_numbers = count(1)


def binaries() -> Path | None:
    """Where the distribution keeps the newest server."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return found[-1].parent if found else None


def unprivileged() -> dict[str, Any]:
    """Arguments of subprocess that give up root, where we are root."""
    if os.geteuid() != 0:
        return {}
    return {"user": UNPRIVILEGED, "group": "nogroup", "extra_groups": []}


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """Address of a fresh PostgreSQL on the loopback address; skipped loudly where there is none."""
    place = binaries()
    if place is None:
        pytest.skip("POSTGRESQL IS NOT INSTALLED: NOT TESTED (apt-get install postgresql)")
    folder = Path(tempfile.mkdtemp(prefix="clampwright-server-"))
    if os.geteuid() == 0:
        shutil.chown(folder, UNPRIVILEGED)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    data = str(folder / "data")

    def run(*words: str) -> None:
        done = subprocess.run(
            words, cwd=folder, capture_output=True, text=True, check=False, **unprivileged()
        )
        log = folder / "log"
        assert done.returncode == 0, done.stderr + (log.read_text() if log.exists() else "")

    run(f"{place}/initdb", "-D", data, "-A", "trust", "-U", "bench", "-E", "UTF8", "--no-sync")
    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c fsync=off"  # not killed here
    start = (f"{place}/pg_ctl", "-D", data, "-l", str(folder / "log"), "-o", options, "-w", "start")
    run(*start)
    yield f"postgresql://bench@127.0.0.1:{port}"
    run(f"{place}/pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
    shutil.rmtree(folder)


@pytest.fixture
def new_database(server: str) -> Callable[[], str]:
    """Makes addresses of empty schemas on the server: quicker than whole databases."""
    import psycopg

    def make() -> str:
        name = f"bench_{os.getpid()}_{next(_numbers)}"
        with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
            connection.execute(f"CREATE SCHEMA {name}")
        return f"{server}/postgres?options=-csearch_path%3D{name}"

    return make


@pytest.fixture(params=["sqlite", "postgresql"])
def root(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A workspace folder whose readings are kept by each engine."""
    if request.param == "postgresql":
        url = request.getfixturevalue("new_database")()
        (tmp_path / "workspace.toml").write_text(f'database = "{url}"\n')
    return tmp_path


@pytest.fixture
def store(root: Path) -> Iterator[Store]:
    """An open readings database of each engine."""
    with open_store(root) as opened:
        yield opened
