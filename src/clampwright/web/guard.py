"""Who may talk to the server: checks before any page is asked, and headers on every answer.

A page of another site in the same browser must neither read nor write here (foreign Host after a
changed name lookup, cross-site posts, websockets), and a body may not grow without limit.
"""

from __future__ import annotations

import ipaddress
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs, urlsplit

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST_BODY = 200_000  # [byte]
LARGEST_CSV = 5_000_000  # [byte] of a file of readings
CSV = "text/csv"
CSV_ENDING = "/csv"  # paths of the API that take such a file
LONGEST_TARGET = 2_000  # [byte] of path and query together
READING = ("GET", "HEAD", "OPTIONS")
COOKIE = "clampwright-token"
POLICY_VIOLATION = 1008  # close code of RFC 6455

HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data: blob:; connect-src 'self'; font-src 'self'; base-uri 'none'; "
        "form-action 'self'; frame-ancestors 'none'"
    ),  # inline style is needed by drawings that take their colours from the page; scripts never
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}


@dataclass(frozen=True)
class Door:
    """What is let in. `token` is empty on the loopback address, where only this machine can call.

    wide : the server listens on other addresses too; then every request must show the token
    """

    token: str = ""
    wide: bool = False

    def knows_host(self, host: str) -> bool:
        """Whether a Host header names this machine: loopback, or any plain address when wide."""
        try:
            name = urlsplit(f"//{host}").hostname or ""
        except ValueError:
            return False
        if name == "localhost":
            return True
        try:
            address = ipaddress.ip_address(name)
        except ValueError:
            return False
        return address.is_loopback or self.wide


class Guard:
    """Middleware that refuses what does not come from our own pages or a local program."""

    def __init__(self, app: App, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer with a refusal, or pass the request on with size limit and headers."""
        if scope["type"] not in ("http", "websocket"):
            return await self.app(scope, receive, send)
        headers = {k.decode("latin-1"): v.decode("latin-1") for k, v in scope["headers"]}
        refusal = _refusal(scope, headers, self.door)
        if scope["type"] == "websocket":
            if refusal is not None:
                await receive()
                return await send({"type": "websocket.close", "code": POLICY_VIOLATION})
            return await self.app(scope, receive, send)
        send = _with_headers(send, self._cookie(scope) if refusal is None else "")
        if refusal is None:
            body, refusal = await _limited(receive, LARGEST_CSV if _csv(scope) else LARGEST_BODY)
        if refusal is not None:
            return await _refuse(send, *refusal)
        return await self.app(scope, _replayed(body, receive), send)

    def _cookie(self, scope: Scope) -> str:
        """The cookie that keeps a token which came in the address, so that links need not."""
        if not self.door.token or not _query_token(scope):
            return ""
        return f"{COOKIE}={self.door.token}; HttpOnly; SameSite=Strict; Path=/"


Refusal = tuple[int, str]


def _refusal(scope: Scope, headers: dict[str, str], door: Door) -> Refusal | None:
    host = headers.get("host", "")
    names = [name for name, _ in scope["headers"] if name == b"host"]
    if len(names) != 1 or not door.knows_host(host):
        return 403, "this server answers to its own address only, not to another name"
    target = len(scope["path"]) + len(scope.get("query_string", b""))
    if target > LONGEST_TARGET:
        return 414, f"the address is longer than {LONGEST_TARGET} characters"
    if "origin" in headers and not _own_origin(headers, host):
        return 403, "a page of another site may neither read nor write here"
    writes = scope["type"] == "websocket" or scope["method"] not in READING
    if writes and not _own_origin(headers, host):
        return 403, "a page of another site may not write here"
    if headers.get("sec-fetch-site") == "cross-site" and (
        writes or headers.get("sec-fetch-mode") != "navigate"
    ):
        return 403, "a page of another site may not read here"
    if scope["type"] == "http" and writes and _csv(scope):
        if _kind(headers) != CSV:
            return 415, "a file of readings must be sent as text/csv"
    elif scope["type"] == "http" and writes and not _json_or_empty(headers):
        return 415, "a request that changes something must carry JSON (application/json)"
    if door.token and not _shows_token(scope, headers, door.token):
        return 401, "the token is missing; open the address that was printed when serving began"
    return None


def _own_origin(headers: dict[str, str], host: str) -> bool:
    """A browser always sends Origin with a write; a local program such as curl sends none."""
    origin = headers.get("origin")
    if origin is None:
        return headers.get("sec-fetch-site", "none") in ("none", "same-origin")
    try:
        parts = urlsplit(origin)
    except ValueError:
        return False
    return parts.scheme in ("http", "https") and parts.netloc == host


def _csv(scope: Scope) -> bool:
    path: str = scope["path"]
    return path.startswith("/api/") and path.endswith(CSV_ENDING)


def _kind(headers: dict[str, str]) -> str:
    return headers.get("content-type", "").partition(";")[0].strip().lower()


def _json_or_empty(headers: dict[str, str]) -> bool:
    kind = _kind(headers)
    empty = headers.get("content-length", "0") == "0" and "transfer-encoding" not in headers
    return kind == "application/json" or (empty and not kind)


def _query_token(scope: Scope) -> str:
    query: str = scope.get("query_string", b"").decode("latin-1")
    return parse_qs(query).get("token", [""])[0]


def _shows_token(scope: Scope, headers: dict[str, str], token: str) -> bool:
    cookies = SimpleCookie()
    try:
        cookies.load(headers.get("cookie", ""))
    except CookieError:
        cookies.clear()
    kept = cookies[COOKIE].value if COOKIE in cookies else ""
    bearer = headers.get("authorization", "").removeprefix("Bearer ")
    shown = (kept, bearer, _query_token(scope))
    return any(secrets.compare_digest(s.encode(), token.encode()) for s in shown)


async def _limited(receive: Receive, most: int) -> tuple[bytes, Refusal | None]:
    body, more = b"", True
    while more:
        message = await receive()
        if message["type"] == "http.disconnect":
            return b"", (400, "the request broke off")
        body += message.get("body", b"")
        more = message.get("more_body", False)
        if len(body) > most:
            return b"", (413, f"the request is larger than {most} bytes")
    return body, None


def _replayed(body: bytes, receive: Receive) -> Receive:
    waiting = [{"type": "http.request", "body": body, "more_body": False}]

    async def replay() -> Message:
        return waiting.pop() if waiting else await receive()

    return replay


def _with_headers(send: Send, cookie: str) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            added = [(k.encode(), v.encode()) for k, v in HEADERS.items()]
            if cookie:
                added.append((b"set-cookie", cookie.encode()))
            given = [(k, v) for k, v in message.get("headers", []) if k.decode() not in HEADERS]
            message["headers"] = [*given, *added]
        await send(message)

    return sending


async def _refuse(send: Send, status: int, sentence: str) -> None:
    body = f"clampwright: {sentence}.\n".encode()
    head = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": status, "headers": head})
    await send({"type": "http.response.body", "body": body})
