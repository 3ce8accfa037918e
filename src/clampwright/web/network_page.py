"""The network page: schematic, sliders, live budget; what a move changes, and two designs side by side.

A move is answered in two steps: `try`, or `moves` over an open line, gives what must follow the hand
(verdict of the error, budget, leakage, noise), `rest` and `window` what may come a moment later
(faults, schematic, resistor window).
"""

from __future__ import annotations

from functools import cache
from hashlib import blake2s
from typing import Any

from fastapi import APIRouter, Request, WebSocket
from fastapi.responses import Response
from pydantic import Field

from clampwright import actions
from clampwright.errors import ConflictError
from clampwright.record.csv_text import csv_text
from clampwright.record.look import themed
from clampwright.record.schematic import topology_svg
from clampwright.record.tables import budget_csv
from clampwright.web.api import (
    Body,
    ChangeBody,
    FieldName,
    FieldText,
    Name,
    PictureReply,
    SaidReply,
    table_of,
)
from clampwright.web.beside import beside_view
from clampwright.web.charts import together, window_svg
from clampwright.web.judged import judged
from clampwright.web.network_view import first_view
from clampwright.web.open_line import keep_line
from clampwright.web.pages import fragment, open_design
from clampwright.web.problems import field_problems
from clampwright.web.table import NotThere, Opened, Table
from clampwright.web.views import (
    law_where_it_sits,
    live,
    said,
    schematic,
)

router = APIRouter()
BASE = "/api/designs/{place}/{design}"
LIVE = ("verdict", "why", "budget", "leakage", "noise", "figures")  # follow the hand


class MoveBody(ChangeBody):
    """Changed fields, and the marks of the parts that the page shows already."""

    seen: dict[FieldName, FieldText] = Field(default_factory=dict, max_length=20)


class MoveReply(SaidReply):
    """The verdict in words; of the page only the parts that differ from what it shows already.

    fields : why something of it is not judged, by field of the sheet
    """

    html: str = ""
    parts: dict[str, str]
    marks: dict[str, str]
    fields: dict[str, str] = Field(default_factory=dict)


class BesideBody(Body):
    """The present design with its changes, and another one or a variant of it to set beside it."""

    changes: dict[FieldName, FieldText] = Field(max_length=60)
    other: FieldName = Field(description="name of a design of the same workspace")
    other_changes: dict[FieldName, FieldText] = Field(max_length=60)


@router.get("/w/{place}/{design}/network", include_in_schema=False)
def network(request: Request, place: Name, design: Name) -> Response:
    """Schematic, sliders, live budget and verdict."""
    return first_view(request, table_of(request), place, design)


@router.post(f"{BASE}/try", response_model=MoveReply)
async def try_changes(request: Request, place: Name, design: Name, body: MoveBody) -> Response:
    """What the error would be with some fields changed; nothing is written, faults come with `rest`.

    Refused where the topology lacks a value it needs, even where the error alone could be judged.
    Answered where the request comes in, without another thread, and written once: it follows the hand.
    """
    reply = _tried(request.app.state.table, place, design, body)
    return Response(reply, media_type="application/json")


@router.websocket(f"{BASE}/moves")
async def follow_moves(line: WebSocket, place: Name, design: Name) -> None:
    """The same over a line that stays open: one answer, or what `try` would refuse, to each message."""
    table: Table = line.app.state.table
    await keep_line(line, table.root, MoveBody, lambda body: _tried(table, place, design, body))


def _tried(table: Table, place: str, design: str, body: MoveBody) -> str:
    """The answer to a move, in JSON."""
    varied = _moved(table, place, design, body)
    shown = live(table, varied)
    line = said(shown["check"], table.kept("faults", varied))
    parts = {p: fragment(f"_{p}.html", said=line, **shown) for p in LIVE}
    return _reply(line, parts, body.seen).model_dump_json()


@router.post(f"{BASE}/rest")
def rest(request: Request, place: Name, design: Name, body: MoveBody) -> MoveReply:
    """What else follows from some fields changed: the verdict of the faults and the schematic."""
    table: Table = request.app.state.table
    varied = _moved(table, place, design, body)
    line, why = judged(table, varied)
    drawing = fragment("_drawing.html", schematic=schematic(table.check(varied)))
    parts = {"verdict": fragment("_verdict.html", said=line), "drawing": drawing}
    return _reply(line, parts, body.seen).model_copy(update={"fields": field_problems(why)})


@router.post(f"{BASE}/window")
def window(request: Request, place: Name, design: Name, body: ChangeBody) -> PictureReply:
    """The window of the series resistor as a picture, with some fields changed."""
    table: Table = request.app.state.table
    varied = _moved(table, place, design, body)
    found = table.window(varied)
    return PictureReply(html=window_svg(found), sentence=found.reason)


@router.post(f"{BASE}/beside")
def beside(request: Request, place: Name, design: Name, body: BesideBody) -> PictureReply:
    """Two designs side by side on one scale: verdict, margin, budget and key figures."""
    table, opened = open_design(request, place, design)
    left = table.what_if(opened, body.changes) if body.changes else opened
    right = table.open(place, body.other)
    right = table.what_if(right, body.other_changes) if body.other_changes else right
    html = fragment("_beside.html", **beside_view(table, left, right))
    return PictureReply(html=html, sentence=f"{design} beside {body.other}")


@router.post(f"{BASE}/table/{{chart}}.csv", include_in_schema=False)
def chart_table(
    request: Request, place: Name, design: Name, chart: Name, body: ChangeBody
) -> Response:
    """The data of a chart with some fields changed, SI floats."""
    table: Table = request.app.state.table
    varied = _moved(table, place, design, body)
    text = _table_text(table, varied, chart)
    return Response(
        text, media_type="text/csv; charset=utf-8", headers={"cache-control": "no-store"}
    )


@router.get("/api/topologies")
def topologies() -> PictureReply:
    """Every topology with a small drawing and when to use it."""
    return PictureReply(html=_topologies(), sentence="Topologies")


@cache
def _topologies() -> str:
    known = [
        (n, title, when, themed(topology_svg(n)))
        for n, (title, when) in actions.topologies().items()
    ]
    return fragment("_topologies.html", topologies=known)


def _moved(table: Table, place: str, design: str, body: ChangeBody) -> Opened:
    opened = table.reopen(place, design, body.base)
    if opened.case.design_hash != body.base:
        raise ConflictError(
            "the sheet was changed elsewhere since this page was loaded", mend="load it again"
        )
    return table.what_if(opened, body.changes) if body.changes else opened


def _reply(line: Any, parts: dict[str, str], seen: dict[str, str]) -> MoveReply:
    marks = {
        name: blake2s(html.encode(), digest_size=8).hexdigest() for name, html in parts.items()
    }
    return MoveReply(
        shape=line.shape, word=line.word, sentence=line.sentence, marks=marks,
        parts={name: html for name, html in parts.items() if seen.get(name) != marks[name]},
    )  # fmt: skip


def _table_text(table: Table, opened: Opened, chart: str) -> str:
    check = table.check(opened)
    if chart == "budget":
        return budget_csv(check)
    if chart == "leakage" and check.clamp is not None:
        heads = ["kind", "temperature_K", "voltage_V", "leakage_A", "low_A", "high_A", "source"]
        points = (*check.clamp.points, *check.clamp.curve, *law_where_it_sits(opened, check))
        return csv_text(
            heads,
            (
                (p.basis, p.temperature, p.voltage, p.leakage, p.low, p.high, p.source)
                for p in points
            ),
        )
    if chart == "noise":
        moving = check.dynamics
        rows: list[tuple[object, ...]] = [(t.name, t.value, "V/√Hz") for t in moving.noise_terms]
        rows += [
            ("together", together(moving.noise_terms), "V/√Hz"),
            ("in the band", moving.integrated_noise, "V rms"),
            ("allowed", moving.allowed_noise, "V rms"),
        ]
        return csv_text(["cause", "value", "unit"], rows)
    if chart == "window":
        found = table.window(opened)
        rows = [(w.name, w.side, w.value, w.reason) for w in found.walls]
        return csv_text(["wall", "side", "resistance_ohm", "why"], rows)
    raise NotThere("there is no such chart: budget, leakage, noise or window")
