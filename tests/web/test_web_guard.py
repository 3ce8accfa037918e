"""Who may talk to the server: real requests with foreign names, origins, sizes and kinds.

Rules: a Host that is not this machine's (DNS rebinding) and a foreign Origin on anything that changes
state are refused, as RFC 6454 and the OWASP cheat sheet on cross-site request forgery advise.
"""

from __future__ import annotations

import asyncio
import socket
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest
from served import serving

from clampwright.errors import InputError
from clampwright.web.guard import LARGEST_BODY, Door, Guard
from clampwright.web.server import serve

DESIGN = "/api/designs/orchard/orchard-probe"


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1.evil.example", "", "10.0.0.7", "[::2]"]
)
@pytest.mark.parametrize("path", ["/", "/api/designs", "/static/app.js", "/nowhere"])
def test_a_foreign_host_is_refused(client: httpx.Client, host: str, path: str) -> None:
    answer = client.get(path, headers={"host": host})
    assert answer.status_code in (400, 403)
    assert "Orchard" not in answer.text


@pytest.mark.parametrize("host", ["localhost", "localhost:8440", "127.0.0.1", "[::1]:99"])
def test_names_of_this_machine_are_let_in(client: httpx.Client, host: str) -> None:
    assert client.get("/api/designs", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "origin", ["https://evil.example", "null", "http://127.0.0.1:1", "file://", "http://["]
)
def test_a_foreign_origin_may_not_write(client: httpx.Client, origin: str, shelf: Path) -> None:
    before = {p: p.read_bytes() for p in shelf.rglob("*.toml")}
    for method, path in (
        ("POST", f"{DESIGN}/rank"),
        ("DELETE", f"{DESIGN}/rank"),
        ("POST", "/api/new"),
    ):
        answer = client.request(method, path, headers={"origin": origin})
        assert answer.status_code == 403, (method, path)
    assert before == {p: p.read_bytes() for p in shelf.rglob("*.toml")}


def test_its_own_origin_may_write(client: httpx.Client, address: str) -> None:
    answer = client.delete(f"{DESIGN}/rank", headers={"origin": address})
    assert answer.status_code == 200


def test_a_page_of_another_site_may_not_read_the_api(client: httpx.Client) -> None:
    headers = {"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}
    assert client.get(f"{DESIGN}/hash", headers=headers).status_code == 403
    assert client.get("/", headers={**headers, "sec-fetch-mode": "navigate"}).status_code == 200


@pytest.mark.parametrize("kind", ["text/plain", "multipart/form-data; boundary=x", "application/zip",
                                  "application/x-www-form-urlencoded"])  # fmt: skip
def test_only_json_changes_something(client: httpx.Client, kind: str) -> None:
    answer = client.post("/api/demo", content=b'{"name": "press"}', headers={"content-type": kind})
    assert answer.status_code == 415


def test_a_body_is_limited_told_or_streamed(client: httpx.Client) -> None:
    def stream() -> Any:
        for _ in range(LARGEST_BODY // 1000 + 2):
            yield b" " * 1000

    headers = {"content-type": "application/json"}
    large = b'{"name": "' + b"x" * LARGEST_BODY + b'"}'
    assert client.post("/api/demo", content=large, headers=headers).status_code == 413
    assert client.post("/api/demo", content=stream(), headers=headers).status_code == 413
    assert client.get("/", params={"q": "x" * 3000}).status_code == 414


@pytest.mark.parametrize(
    "path", ["/", "/api/designs", "/static/app.css", "/nowhere", "/api/nowhere"]
)
def test_every_answer_carries_its_headers(client: httpx.Client, path: str) -> None:
    headers = client.get(path).headers
    policy = dict(p.strip().split(" ", 1) for p in headers["content-security-policy"].split(";"))
    assert policy["script-src"] == policy["connect-src"] == "'self'"
    assert policy["default-src"] == policy["frame-ancestors"] == "'none'"
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "access-control-allow-origin" not in headers


@pytest.mark.parametrize("path", [
    "/w/..%2f..%2fetc/passwd/network", "/w/orchard/..%2f..%2fsecret/network", "/w/%2e%2e/x/network",
    "/static/..%2f..%2fserver.py", "/static/%2e%2e/server.py",
    "/api/parts/orchard/..%2fdesigns%2forchard-probe",
    "/api/designs/orchard%00/orchard-probe/check", "/w/orchard/orchard-probe/record/..%2f..%2fx",
])  # fmt: skip
def test_no_path_leaves_the_folder(client: httpx.Client, shelf: Path, path: str) -> None:
    (shelf / "secret.toml").write_text("secret = 1\n", "utf-8")
    answer = client.get(path)
    assert answer.status_code in (404, 422), answer.text
    assert "secret =" not in answer.text and "root:" not in answer.text
    assert str(shelf) not in answer.text


def test_a_link_that_leads_out_is_not_followed(
    shelf: Path, client: httpx.Client, tmp_path: Path
) -> None:
    (tmp_path / "designs").mkdir()
    (tmp_path / "designs" / "outside.toml").write_text("title = 'outside'\n", "utf-8")
    link = shelf / "linked"
    link.symlink_to(tmp_path, target_is_directory=True)
    try:
        assert "linked" not in client.get("/api/designs").text
        assert client.get("/w/linked/outside/network").status_code == 404
    finally:
        link.unlink()


def test_a_wider_address_needs_the_token(shelf: Path) -> None:
    with (
        serving(shelf, Door(token="t0ken-of-the-test", wide=True)) as where,
        httpx.Client(base_url=where, trust_env=False) as client,
    ):
        assert client.get("/api/designs").status_code == 401
        assert client.get("/", params={"token": "wrong"}).status_code == 401
        bearer = {"authorization": "Bearer t0ken-of-the-test"}
        assert client.get("/api/designs", headers=bearer).status_code == 200
        assert (
            client.get("/api/designs", headers={"host": "evil.example", **bearer}).status_code
            == 403
        )
        first = client.get("/", params={"token": "t0ken-of-the-test"})
        assert first.status_code == 200
        assert {"HttpOnly", "SameSite=Strict"} <= set(first.headers["set-cookie"].split("; "))
        assert client.get("/api/designs").status_code == 200  # by the cookie


@pytest.mark.parametrize(("host", "where"), [("0.0.0.0", "--wide"), ("192.168.1.2", "--wide")])
def test_another_address_is_refused_unless_allowed(tmp_path: Path, host: str, where: str) -> None:
    with pytest.raises(InputError, match=where):
        serve(tmp_path, host=host, port=1, wide=False, say=lambda _: None)


def test_the_command_serves_and_says_where(shelf: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    line = [sys.executable, "-m", "clampwright.cli", "serve", str(shelf), "--port", str(port)]
    with subprocess.Popen(line, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            assert process.stdout.readline() == f"Clampwright is at http://127.0.0.1:{port}/\n"
            assert _answer(f"http://127.0.0.1:{port}/api/designs").status_code == 200
        finally:
            process.terminate()


def _answer(address: str) -> httpx.Response:
    for _ in range(200):
        try:
            return httpx.get(address, trust_env=False)
        except httpx.ConnectError:
            time.sleep(0.05)
    raise AssertionError("nothing answers")


def test_a_foreign_websocket_is_closed_before_the_app_sees_it() -> None:
    async def app(*_: Any) -> None:
        raise AssertionError("the app was asked")

    sent: list[Any] = []

    async def receive() -> Any:
        return {"type": "websocket.connect"}

    async def send(message: Any) -> None:
        sent.append(message)

    headers = [(b"host", b"127.0.0.1:8440"), (b"origin", b"https://evil.example")]
    scope = {"type": "websocket", "path": "/", "headers": headers}
    with ThreadPoolExecutor(1) as thread:  # the browser tests keep a loop running in this one
        thread.submit(lambda: asyncio.run(Guard(app, Door())(scope, receive, send))).result()
    assert sent == [{"type": "websocket.close", "code": 1008}]
