"""What a hostile or careless caller sends: the whole API by its own description, and hand-made bodies.

The description of the API (OpenAPI 3.1) is read from the running server and schemathesis, a
general-purpose tester of such descriptions, draws requests from it, valid and not. Whatever comes,
the server answers with a status below 500 and in time, and no file outside its own words changes.
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import httpx
import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.schemas import OpenApiSchema
from served import orchard, serving

OUR_FAULT = 500
SCRIPT = "<script>alert(1)</script>"
NAMES = {"place": "orchard", "design": "orchard-probe", "part": "npn-small"}
EXAMPLES = 12  # requests for each operation; `make nightly` draws more
LONG_EXAMPLES = 150


@pytest.fixture(scope="module")
def own_shelf(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that these requests may change."""
    root = tmp_path_factory.mktemp("hostile")
    orchard(root / "orchard")
    return root


@pytest.fixture(scope="module")
def own_address(own_shelf: Path) -> Iterator[str]:
    """Where that folder is served."""
    with serving(own_shelf) as where:
        yield where


@pytest.fixture(scope="module")
def described(own_address: str) -> OpenApiSchema:
    """The API as it describes itself."""
    return schemathesis.openapi.from_url(f"{own_address}/api/openapi.json")


def _with_real_names(case: Any) -> Any:
    """Every other request names things that are there, so that it gets past the first lookup."""
    if case.path_parameters and len(repr(case.path_parameters)) % 2:
        for key, value in NAMES.items():
            if key in case.path_parameters:
                case.path_parameters[key] = value
    return case


def _draw_from_everything(described: OpenApiSchema, examples: int) -> int:
    """Draw requests for every operation; gives how many operations there are."""
    asked = 0
    for result in described.get_all_operations():
        assert isinstance(result, Ok), result
        operation = result.ok()

        @settings(max_examples=examples, deadline=None, suppress_health_check=list(HealthCheck))
        @given(case=operation.as_strategy())
        def never_our_fault(case: Any) -> None:
            answer = _with_real_names(case).call(timeout=120)
            assert answer.status_code < OUR_FAULT, (case.as_curl_command(), answer.text[:300])
            assert "Traceback" not in answer.text

        never_our_fault()
        asked += 1
    return asked


def test_no_request_that_fits_the_description_is_our_fault(described: OpenApiSchema) -> None:
    assert _draw_from_everything(described, EXAMPLES) > 10


@pytest.mark.long
def test_many_requests_that_fit_the_description(described: OpenApiSchema) -> None:
    assert _draw_from_everything(described, LONG_EXAMPLES) > 10


def _base(client: httpx.Client) -> str:
    found: str = client.get("/api/designs/orchard/orchard-probe/hash").json()["design_hash"]
    return found


@pytest.fixture
def caller(own_address: str) -> Iterator[httpx.Client]:
    """A real client of that server."""
    with httpx.Client(base_url=own_address, trust_env=False, timeout=60) as found:
        yield found


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("rails.positive", "nan V"),
        ("rails.positive", "inf V"),
        ("network.outer_resistor.value", "-1 kΩ"),
        ("network.outer_resistor.value", SCRIPT),
        ("network.topology", "T99"),
        ("no.such.field", "1 V"),
        ("source", "1 V"),
        ("__class__", "x"),
        ("amplifier.family", "cmos\n[evil]\nx = 1"),
    ],
)
def test_a_hostile_field_is_refused_and_nothing_is_written(
    caller: httpx.Client, own_shelf: Path, field: str, text: str
) -> None:
    before = {p: p.read_bytes() for p in own_shelf.rglob("*.toml")}
    body = {"base": _base(caller), "changes": {field: text}}
    for verb in ("try", "change"):
        answer = caller.post(f"/api/designs/orchard/orchard-probe/{verb}", json=body)
        assert answer.status_code in (409, 422), (verb, answer.status_code, answer.text)
        assert answer.json()["error"].strip(), "a refusal says why"
    assert before == {p: p.read_bytes() for p in own_shelf.rglob("*.toml")}


def test_a_name_that_climbs_is_only_a_name(caller: httpx.Client) -> None:
    body = {"base": _base(caller), "changes": {"network.clamp": "../../../etc/passwd C/B"}}
    answer = caller.post("/api/designs/orchard/orchard-probe/try", json=body)
    assert answer.status_code == 422
    assert 'no part sheet "../../../etc/passwd"' in answer.json()["error"]


@pytest.mark.parametrize("title", [SCRIPT, '"><img src=x onerror=alert(1)>', "{{ 7*7 }}", "‮evil"])
def test_text_of_a_sheet_is_shown_as_text(caller: httpx.Client, title: str) -> None:
    body = {"base": _base(caller), "changes": {"title": title}}
    answer = caller.post("/api/designs/orchard/orchard-probe/change", json=body)
    assert answer.status_code in (200, 422)
    for page in ("requirement", "network", "faults", "shortlist", "evidence", "record"):
        text = caller.get(f"/w/orchard/orchard-probe/{page}").text
        assert SCRIPT not in text and "<img src=x" not in text and "‮" not in text, page
        assert "{{ 7*7 }}" in text or "49" not in title


def _zip_bomb() -> bytes:
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("readings.csv", b"0" * 10_000_000)
    return packed.getvalue()


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"null", b'"x"', b"{", b'{"base": 1}', b"\xff\xfe\x00", b"[" * 5000, _zip_bomb()],
    ids=["empty", "list", "null", "text", "broken", "wrong type", "not text", "deep", "packed"],
)
def test_a_body_of_the_wrong_kind_is_refused(caller: httpx.Client, body: bytes) -> None:
    headers = {"content-type": "application/json"}
    for path in ("/api/demo", "/api/designs/orchard/orchard-probe/try"):
        answer = caller.post(path, content=body, headers=headers)
        assert answer.status_code in (400, 413, 415, 422), (path, answer.status_code)


def test_what_is_not_asked_for_is_refused(caller: httpx.Client) -> None:
    asked = [
        ("POST", "/api/new", {"json": {"name": "../../x"}}, "name"),
        ("POST", "/api/designs/orchard/orchard-probe/rank", {"json": {"x": 1}}, "x"),
        ("GET", "/api/ruler/orchard", {"params": {"voltage": "nan"}}, "expected celsius, volt"),
        ("GET", "/api/ruler/orchard", {"params": {"volt": "nan"}}, "volt"),
        ("GET", "/api/ruler/orchard", {"params": {"volt": "1e9"}}, "100"),
        ("GET", "/api/ruler/orchard", {"params": {"volt": "-1"}}, "greater"),
    ]
    for verb, path, sent, words in asked:
        answer = caller.request(verb, path, **sent)
        assert answer.status_code == 422, (path, sent, answer.text)
        assert words in answer.json()["error"], answer.text
