"""Moves over the open line: the same answers and refusals as by request, and the browser uses it.

The other end is `websockets`, a general-purpose client of RFC 6455.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import httpx
import numpy as np
import pytest
from moves import timed_moves
from playwright.sync_api import Page, WebSocket
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.sync.client import ClientConnection, connect

from clampwright.web.guard import LARGEST_BODY

DESIGN = "/api/designs/orchard/orchard-probe"
CHANGED = {"network.outer_resistor.value": "470 kΩ"}


@pytest.fixture
def line(address: str) -> Iterator[ClientConnection]:
    """An open line to one design."""
    with _line(address) as found:
        yield found


def _line(address: str, path: str = f"{DESIGN}/moves", **more: Any) -> ClientConnection:
    found: ClientConnection = connect(address.replace("http:", "ws:") + path, proxy=None, **more)
    return found


def _ask(line: ClientConnection, body: Any) -> Any:
    line.send(json.dumps(body))
    return json.loads(line.recv())


def _base(client: httpx.Client) -> str:
    return str(client.get(f"{DESIGN}/hash").json()["design_hash"])


def test_the_line_answers_as_a_request_does(client: httpx.Client, line: ClientConnection) -> None:
    body = {"base": _base(client), "changes": CHANGED}
    by_request = client.post(f"{DESIGN}/try", json=body).json()
    assert _ask(line, body) == by_request
    seen = _ask(line, {**body, "seen": by_request["marks"]})
    assert not seen["parts"] and seen["marks"] == by_request["marks"]


def test_what_is_refused_by_request_is_refused_over_the_line_and_the_line_goes_on(
    client: httpx.Client, line: ClientConnection
) -> None:
    base = _base(client)
    refused: tuple[Any, ...] = (
        {"base": base, "changes": {"network.outer_resistor.value": "12 apples"}},
        {"base": base, "changes": {"network.nothing": "1"}},
        {"base": "0" * 64, "changes": {}},
        {"base": base},
        {"base": base, "changes": CHANGED, "more": 1},
        [],
    )
    for body in refused:
        by_request = client.post(f"{DESIGN}/try", json=body)
        told = _ask(line, body)
        assert told["status"] == by_request.status_code in (409, 422)
        if "body" not in by_request.json()["error"]:  # a request names its body in front
            assert {k: told[k] for k in ("error", "fields")} == by_request.json()
    for text in ("", "{", b"\x00\xff"):
        line.send(text)
        assert json.loads(line.recv())["status"] == 422
    assert _ask(line, {"base": base, "changes": CHANGED})["word"]


def test_curves_come_over_a_line_too(client: httpx.Client, address: str) -> None:
    asked = {"law": ["npn-small C+B/E", "jfet-small G/D+S"], "celsius": 60.0, "volt": -2.5}
    with _line(address, "/api/curves/orchard/moves") as line:
        assert _ask(line, asked) == client.get("/api/curves/orchard", params=asked).json()
        for wrong in ({"law": []}, {**asked, "celsius": 200.0}, {**asked, "more": 1}):
            assert _ask(line, wrong)["status"] == 422
        assert "clamp" in _ask(line, {"law": ["nothing A/B"]})["error"]


def test_a_message_too_large_is_refused(client: httpx.Client, line: ClientConnection) -> None:
    told = _ask(line, {"base": _base(client), "changes": {"a": "x" * LARGEST_BODY}})
    assert told["status"] == 413 and str(LARGEST_BODY) in told["error"]


def test_a_design_that_is_not_there_is_told(address: str) -> None:
    with _line(address, "/api/designs/orchard/nothing/moves") as line:
        assert _ask(line, {"base": "0" * 64, "changes": {}})["status"] == 404


@pytest.mark.parametrize(
    ("path", "headers"),
    [
        (f"{DESIGN}/moves", {"Origin": "https://evil.example"}),
        (f"{DESIGN}/moves", {"Sec-Fetch-Site": "cross-site"}),
        (f"{DESIGN}/moves?more=1", {}),
        (f"/api/designs/orchard/{'x' * 121}/moves", {}),
        (f"{DESIGN}/rest", {}),
    ],
)
def test_a_line_from_elsewhere_or_to_nowhere_is_not_opened(
    address: str, path: str, headers: dict[str, str]
) -> None:
    with (
        pytest.raises((InvalidStatus, ConnectionClosed)),
        _line(address, path, additional_headers=headers) as line,
    ):
        line.recv(timeout=10)


def test_the_page_moves_over_the_line_and_by_request_where_it_is_not_open(
    page: Page, address: str
) -> None:
    lines: list[WebSocket] = []
    asked: list[str] = []
    page.on("websocket", lambda line: lines.append(line))
    page.on("request", lambda request: asked.append(request.url))
    page.goto(f"{address}/w/orchard/orchard-probe/network")
    page.wait_for_selector("body[data-rested]")
    assert not lines  # who only reads needs none
    with page.expect_websocket() as opening:
        page.locator("#s1").focus()
    page.wait_for_timeout(500)  # open by then
    assert opening.value is lines[0]
    said = [_moved(page) for _ in range(2)]
    assert len(lines) == 1 and lines[0].url.endswith("/orchard-probe/moves")
    assert not [one for one in asked if one.endswith("/try")]
    page.add_init_script("WebSocket = class extends EventTarget { static OPEN = 1 }")  # never opens
    page.reload()
    page.wait_for_selector("body[data-rested]")
    assert [_moved(page) for _ in range(2)] == said
    assert [one for one in asked if one.endswith("/try")]


SAME = """
async () => {
  const { changes } = await import("/static/network_controls.js");
  const { place, design, hash } = document.body.dataset;
  const answer = await fetch(`/api/designs/${place}/${design}/try`, {
    method: "POST", headers: { "content-type": "application/json" },
    body: JSON.stringify({ base: hash, changes: changes(), seen: {} }),
  });
  const plain = (html) => {
    const drawn = document.createElement("template");
    drawn.innerHTML = html;
    for (const term of drawn.content.querySelectorAll("button.term")) term.replaceWith(...term.childNodes);
    for (const more of drawn.content.querySelectorAll("details")) more.removeAttribute("open");
    return drawn.innerHTML;
  };
  const { parts } = await answer.json();
  delete parts.verdict; // the faults follow a moment later
  return Object.entries(parts).filter(([name, html]) =>
    plain(html) !== plain(document.getElementById(`part-${name}`).innerHTML)).map(([name]) => name);
}
"""  # parts of the page that are not what the server draws


@pytest.mark.parametrize("seed", range(2))
def test_after_any_moves_the_page_shows_what_the_server_draws(
    page: Page, address: str, seed: int
) -> None:
    random = np.random.default_rng(seed)
    page.goto(f"{address}/w/orchard/orchard-probe/network")
    page.wait_for_selector("body[data-rested]")
    for _ in range(6):
        timed_moves(
            page, 3, random.choice(["s1", "s2", "s3", "s4", "s5"], 3), seed=int(random.integers(99))
        )
        page.locator("#topology").select_option(str(random.choice(["T2", "T5", "T6"])))
        timed_moves(page, 1, ("s1",), seed=int(random.integers(99)))
        assert page.evaluate(SAME) == []


def _moved(page: Page) -> str:
    settled = int(page.locator("body").get_attribute("data-settled") or 0)
    page.locator("#s1").press("ArrowRight" if settled % 2 else "ArrowLeft")
    page.wait_for_selector(f"body[data-settled='{settled + 1}']")
    return page.locator("#part-budget").inner_text()
