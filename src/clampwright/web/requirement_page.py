"""The requirement page: every field with its unit, faults to add and to remove."""

from __future__ import annotations

from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Request
from fastapi.responses import Response
from pydantic import Field, StringConstraints

from clampwright import actions
from clampwright.record.cautions import cautions_to_print
from clampwright.web.api import Body, Hash, HashReply
from clampwright.web.fields import groups
from clampwright.web.pages import Name, design_page, open_design, tried

router = APIRouter()
BASE = "/api/designs/{place}/{design}/faults"


class AddBody(Body):
    """Which preset to add, and the sheet it was chosen for."""

    base: Hash = Field(description="hash of the design sheet")
    preset: Annotated[str, StringConstraints(min_length=1, max_length=60)]


class RemoveBody(Body):
    """Which fault to take out, counted from 1, and the sheet it was counted in."""

    base: Hash = Field(description="hash of the design sheet")
    number: Annotated[int, Field(ge=1, le=1000)]


@router.get("/w/{place}/{design}/requirement", include_in_schema=False)
def requirement(request: Request, place: Name, design: Name) -> Response:
    """Every field of the requirement with its unit."""
    table, opened = open_design(request, place, design)
    written = actions.written_fields(opened.path, opened.case.design_hash)
    check = tried(lambda: table.check(opened))
    return design_page(
        request, table, opened, "requirement", written=written, groups=groups(written),
        cautions=cautions_to_print(check.gate.cautions) if check else (), check=check,
        presets=groupby(actions.fault_presets(), key=lambda preset: preset.group),
    )  # fmt: skip


@router.post(f"{BASE}/add")
def add(request: Request, place: Name, design: Name, body: AddBody) -> HashReply:
    """Add a fault of the presets to the sheet; 409 when it was changed elsewhere."""
    table, opened = open_design(request, place, design)
    actions.add_fault(opened.path, body.preset, body.base)
    return _now(table.open(place, design).case)


@router.post(f"{BASE}/remove")
def remove(request: Request, place: Name, design: Name, body: RemoveBody) -> HashReply:
    """Take a fault out of the sheet; 409 when it was changed elsewhere."""
    table, opened = open_design(request, place, design)
    actions.remove_fault(opened.path, body.number, body.base)
    return _now(table.open(place, design).case)


def _now(case: actions.Case) -> HashReply:
    return HashReply(design_hash=case.design_hash, inputs_hash=case.hash)
