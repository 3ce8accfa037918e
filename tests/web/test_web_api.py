"""The API against the command line and against hostile input."""

from __future__ import annotations

import json
import math
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from served import orchard, serving

from clampwright.web.sliders import sliders
from clampwright.web.table import MOST_KEPT, Table

DESIGN = "/api/designs/orchard/orchard-probe"
LIGHT = "board.illuminance_maximum"


def design_hash(client: httpx.Client, design: str = DESIGN) -> str:
    """Hash of the sheet as it is now."""
    found: str = client.get(f"{design}/hash").json()["design_hash"]
    return found


@pytest.mark.parametrize("command", ["check", "faults"])
def test_the_api_answers_as_the_command_line(
    client: httpx.Client, shelf: Path, command: str
) -> None:
    sheet = shelf / "orchard" / "designs" / "orchard-probe.toml"
    line = [sys.executable, "-m", "clampwright.cli", command, str(sheet), "--json"]
    said = subprocess.run(line, capture_output=True, text=True, check=False)
    assert said.returncode == 2, said.stderr  # held by the gate of a wet place
    ours = client.get(f"{DESIGN}/{command}").json()
    assert not list(_differences(ours, json.loads(said.stdout)))


def _differences(one: Any, other: Any, where: str = "") -> Iterator[tuple[str, Any, Any]]:
    """Numbers count as equal to 1e-9: a fresh process may use the plain solver, ours the compiled.

    The residual is what is left of rounding: it must be small in both.
    """
    if where.endswith("residual"):
        if max(one, other) > 1e-10:
            yield where, one, other
    elif isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key in one:
            yield from _differences(one[key], other[key], f"{where}.{key}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for place, pair in enumerate(zip(one, other, strict=True)):
            yield from _differences(*pair, f"{where}.{place}")
    elif isinstance(one, float) and isinstance(other, float):
        if not math.isclose(
            one, other, rel_tol=1e-9, abs_tol=1e-18
        ):  # [SI] below any printed digit
            yield where, one, other
    elif one != other:
        yield where, one, other


def test_a_try_writes_nothing_and_less_light_means_less_error(
    client: httpx.Client, shelf: Path
) -> None:
    sheet = shelf / "orchard" / "designs" / "orchard-probe.toml"
    before, base = sheet.read_bytes(), design_hash(client)
    words = {}
    for light in ("0 lx", "200 lx", "50 klx"):
        answer = client.post(f"{DESIGN}/try", json={"base": base, "changes": {LIGHT: light}})
        assert answer.status_code == 200, answer.text
        words[light] = answer.json()
    assert "error PASS" in words["0 lx"]["word"] and "error FAIL" in words["50 klx"]["word"]
    assert words["200 lx"]["sentence"] != words["0 lx"]["sentence"]
    assert "<svg" in words["0 lx"]["parts"]["budget"]
    assert sheet.read_bytes() == before


@pytest.mark.parametrize(("field", "text", "said"), [
    (LIGHT, "5 V", "is a voltage, not an illuminance"),
    (LIGHT, "200", "has no unit"),
    (LIGHT, "inf lx", "not a finite number"),
    (LIGHT, "nan lx", ""),
    (LIGHT, "-1 lx", ""),
    (LIGHT, "1e999 lx", ""),
    ("requirement.accuracy", "inf", ""),
    ("requirement.common_mode_rejection", "nan", ""),
    ("network.outer_resistor.count", "1000000", ""),
    ("network.outer_resistor.count", "1.5", ""),
    ("network.topology", "T99", ""),
    ("faults.99.voltage", "1 V", "no such item"),
    ("nothing.there", "1 V", "no such field"),
    ("board", "1 V", "section"),
    ("__class__", "1", "no such field"),
    ("title", "a\nb = 1", "cannot be printed"),
    ("network.clamp", "../../secret C/B", "no part sheet"),
    ("rails.positive", "1" * 400 + " V", ""),
    ("source.resistance", "1e30 Ω", ""),
])  # fmt: skip
def test_a_bad_value_is_refused_beside_its_field(
    client: httpx.Client, field: str, text: str, said: str
) -> None:
    body = {"base": design_hash(client), "changes": {field: text}}
    answer = client.post(f"{DESIGN}/try", json=body)
    assert answer.status_code == 422, answer.text
    found = answer.json()
    assert said in found["error"]
    assert set(found["fields"]) <= {field} or field == "network.clamp"
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("body", [
    None, [], {"base": "x"}, {"base": 1, "changes": {}}, {"base": "a" * 64, "changes": {"x": 1}},
    {"base": "a" * 64, "changes": {"x" * 200: "1"}}, {"base": "a" * 64, "changes": {"x": "y" * 501}},
    {"base": "a" * 64, "changes": {f"f{n}": "1" for n in range(61)}},
    {"base": "a" * 64, "changes": {}, "more": 1},
])  # fmt: skip
def test_a_body_of_another_shape_is_refused(client: httpx.Client, body: object) -> None:
    for ending in ("try", "change"):
        answer = client.post(f"{DESIGN}/{ending}", json=body)
        assert answer.status_code == 422 and answer.json()["error"], answer.text


@pytest.mark.parametrize("limit", ["0", "-1", "1e9", "inf", "nan", "x"])
def test_numbers_of_the_query_are_bounded(client: httpx.Client, limit: str) -> None:
    assert client.get(f"{DESIGN}/shortlist", params={"limit": limit}).status_code == 422


def test_what_is_kept_keeps_comments_and_a_conflict_is_shown(tmp_path: Path) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    with (
        serving(tmp_path) as where,
        httpx.Client(base_url=where, trust_env=False, timeout=60) as client,
    ):
        base = design_hash(client)
        body = {"base": base, "changes": {LIGHT: "0 lx"}}
        answer = client.post(f"{DESIGN}/change", json=body)
        assert answer.status_code == 200
        text = sheet.read_text("utf-8")
        assert 'illuminance_maximum = "0 lx"      # translucent lid' in text
        assert answer.json()["design_hash"] == design_hash(client) != base
        late = client.post(f"{DESIGN}/change", json=body)  # a second window with the old sheet
        assert late.status_code == 409 and "changed elsewhere" in late.json()["error"]
        assert sheet.read_text("utf-8") == text
        sheet.write_text(text.replace('0 lx"      #', '7 lx"      #'), "utf-8")  # by hand
        assert (
            client.get(f"{DESIGN}/check").json()["design"]["board"]["illuminance_maximum"]["value"]
            == 7
        )


def test_text_of_a_sheet_is_never_html(tmp_path: Path) -> None:
    folder = orchard(tmp_path / "orchard")
    evil = "<script>alert(1)</script><img src=x onerror=alert(2)>\"'"
    sheet = folder / "designs" / "orchard-probe.toml"
    text = sheet.read_text("utf-8").replace('title = "Orchard probe"', f"title = '''{evil[:-1]}'''")
    sheet.write_text(text.replace('name = "F1"', "name = '<b>F1</b>'"), "utf-8")
    part = folder / "parts" / "npn-small.toml"
    words = part.read_text("utf-8").replace('title = "', 'title = "<i onclick=x>')
    part.write_text(words, "utf-8")
    with (
        serving(tmp_path) as where,
        httpx.Client(base_url=where, trust_env=False, timeout=60) as client,
    ):
        for page in (
            "requirement",
            "network",
            "faults",
            "shortlist",
            "evidence",
            "evidence/npn-small",
            "record",
        ):
            shown = client.get(f"/w/orchard/orchard-probe/{page}")
            assert shown.status_code == 200, page
            for raw in ("<script>alert", "<img src=x", "<b>F1", "<i onclick"):
                assert raw not in shown.text, (page, raw)
            assert "&lt;script&gt;alert" in shown.text
        tried = client.post(
            f"{DESIGN}/try", json={"base": design_hash(client), "changes": {}}
        ).json()
        assert "<i onclick" not in "".join(tried["parts"].values())


def test_a_sheet_that_cannot_be_read_is_one_sentence(tmp_path: Path) -> None:
    sheet = orchard(tmp_path / "orchard") / "designs" / "orchard-probe.toml"
    sheet.write_text("title = \n", "utf-8")
    with (
        serving(tmp_path) as where,
        httpx.Client(base_url=where, trust_env=False, timeout=60) as client,
    ):
        page = client.get("/w/orchard/orchard-probe/network")
        assert page.status_code == 422 and "not TOML" in page.text
        assert client.get(f"{DESIGN}/check").json()["error"].startswith("orchard-probe.toml")


def test_a_ranking_runs_beside_the_pages_and_can_be_cancelled(tmp_path: Path) -> None:
    orchard(tmp_path / "orchard")
    with (
        serving(tmp_path) as where,
        httpx.Client(base_url=where, trust_env=False, timeout=60) as client,
    ):
        assert client.get(f"{DESIGN}/rank").json()["state"] == "none"
        assert client.get(f"{DESIGN}/shortlist").status_code == 409
        assert client.post(f"{DESIGN}/rank").status_code == 202
        began = time.monotonic()
        assert client.get("/").status_code == 200
        assert time.monotonic() - began < 5.0
        client.delete(f"{DESIGN}/rank")
        assert _ended(client) == "cancelled"


def _ended(client: httpx.Client) -> str:
    for _ in range(600):
        state: str = client.get(f"{DESIGN}/rank").json()["state"]
        if state != "running":
            return state
        time.sleep(0.05)
    raise AssertionError("the ranking does not end")


def test_an_empty_folder_makes_demonstrations_and_a_new_workspace(tmp_path: Path) -> None:
    with (
        serving(tmp_path) as where,
        httpx.Client(base_url=where, trust_env=False, timeout=60) as client,
    ):
        assert "Nothing is here yet" in client.get("/").text
        assert client.post("/api/demo", json={"name": "../x"}).status_code == 422
        made = client.post("/api/demo", json={"name": "press"})
        assert made.status_code == 201 and made.json()["design"] == "press-load"
        new = client.post("/api/new").json()
        assert client.get(f"/w/{new['workspace']}/{new['design']}/requirement").status_code == 200
        assert client.post("/api/new").status_code == 422  # never written over
    assert sorted(p.name for p in tmp_path.iterdir()) == ["demo-press", "first"]


def test_the_openapi_text_describes_every_path(client: httpx.Client) -> None:
    found = client.get("/api/openapi.json").json()
    assert {"/api/designs", "/api/designs/{place}/{design}/try"} <= set(found["paths"])
    assert all(path.startswith("/api/") for path in found["paths"])
    assert "CheckResult" in json.dumps(found)


def test_slider_stops_are_texts_the_sheet_reads_back(shelf: Path) -> None:
    from clampwright import actions

    path = shelf / "orchard" / "designs" / "orchard-probe.toml"
    case = actions.open_case(path)
    for slider in sliders(case):
        for text in (slider.stops[0], slider.stops[slider.chosen], slider.stops[-1]):
            actions.what_if(case, path, {slider.field: text})


def test_a_design_stays_open_however_many_moves_it_makes(shelf: Path) -> None:
    table = Table(shelf)
    opened = table.open("orchard", "orchard-probe")
    for n in range(2 * MOST_KEPT):
        again = table.reopen("orchard", "orchard-probe", opened.case.design_hash)
        assert again is opened  # with its readings reduced and its clamps fitted
        table.check(table.what_if(again, {"network.outer_resistor.value": f"{n + 1} kΩ"}))
