"""Evidence: all candidates on one ruler, lots, every part, and what the readings say of each."""

from __future__ import annotations

import math
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from clampwright import actions
from clampwright.actions.ruler import REVERSE, RulerResult, lots, ruler
from clampwright.errors import ClampwrightError
from clampwright.quantities import ZERO_CELSIUS
from clampwright.record import part_page
from clampwright.record.words import nominal, quantity
from clampwright.web.api import Name, PictureReply
from clampwright.web.pages import design_page, fragment, open_design, tried
from clampwright.web.ruler_chart import (
    lots_svg,
    residual_svg,
    ruler_caption,
    ruler_sentence,
    ruler_svg,
    shared_scale,
)
from clampwright.web.table import NotThere, Opened, Table
from clampwright.web.views import leads, sit_voltage
from clampwright.web.views import ruler as part_ruler

router = APIRouter()
Volt = Annotated[float, Query(ge=1e-6, le=100, allow_inf_nan=False)]
Celsius = Annotated[float, Query(ge=-40, le=150, allow_inf_nan=False)]
VOLTAGES = (0.01, 0.1, 1.0, 2.5, 5.0, 10.0, 15.0, 30.0)  # [V] to choose from
SAME = 1e-3  # relative; so near a voltage is that of the circuit
USUAL = 5.0  # [V] where no circuit says


@router.get("/w/{place}/{design}/evidence", include_in_schema=False)
def evidence(request: Request, place: Name, design: Name) -> Response:
    """Ruler, lots, readings with their origin, and every part."""
    table, opened = open_design(request, place, design)
    sheets, names = opened.case.workspace.parts, opened.case.workspace.names
    parts = {names[i].split("/")[-1].removesuffix(".toml"): sheet for i, sheet in sheets.items()}
    check = tried(lambda: table.check(opened))
    volts, chosen = _choices(sit_voltage(check) if check else None)
    return design_page(
        request, table, opened, "evidence", parts=parts, readings=_readings(opened),
        volts=volts, chosen=chosen,
    )  # fmt: skip


def _choices(sits: float | None) -> tuple[list[tuple[float, str]], float]:
    """Voltages to choose from with their names, and the one to begin with: that of the circuit."""
    found = [(volt, nominal(volt, "voltage")) for volt in VOLTAGES]
    if sits is None or not REVERSE[0] <= sits <= REVERSE[1]:
        return found, USUAL
    shown = nominal(sits, "voltage")  # 2.505 V prints as 2.5 V: one entry for both
    own = (sits, f"as in the circuit, {shown}")
    return [own, *(one for one in found if one[1] != shown)], sits


@router.get("/w/{place}/{design}/evidence/{part}", include_in_schema=False)
def part(request: Request, place: Name, design: Name, part: Name) -> Response:
    """One part: ruler, wirings, curves."""
    table, opened = open_design(request, place, design)
    found = table.part(place, part)
    return design_page(
        request, table, opened, "part", part=found, part_name=part, ruler=part_ruler(found),
        leads=leads(found), ruler_sentence=part_page.ruler_sentence(found),
    )  # fmt: skip


@router.get("/w/{place}/{design}/readings/{name}", include_in_schema=False)
def readings(request: Request, place: Name, design: Name, name: Name) -> Response:
    """What a readings file or session says: fits, diagnosis, lots, runs."""
    table, opened = open_design(request, place, design)
    if name not in {known for known, _, _ in _readings(opened)}:
        raise NotThere("there are no such readings in this workspace")
    is_file = name in opened.case.workspace.readings
    found = table.study(place, f"{name}.csv" if is_file else name)
    charts = {
        (n, k): residual_svg(fit, f"left{n}-{k}")
        for n, one in enumerate(found.parts)
        for k, fit in enumerate(one.fits)
    }
    return design_page(request, table, opened, "readings", study=found, charts=charts)


@router.get("/api/ruler/{place}", response_model=RulerResult)
def ruler_of(request: Request, place: Name, volt: Volt = 5.0, celsius: Celsius = 23.0) -> Any:
    """Every candidate in the dark at one reverse voltage and temperature, quietest first."""
    return _ruler(request, place, volt, celsius)


@router.get("/api/designs/{place}/{design}/ruler/shown")
def ruler_shown(
    request: Request, place: Name, design: Name, volt: Volt = 5.0, celsius: Celsius = 23.0
) -> PictureReply:
    """The same as a picture with the lots below it, the leakage this design allows drawn across."""
    table, opened = open_design(request, place, design)
    found = _ruler(request, place, volt, celsius)
    some = lots(table.candidates(place), volt, celsius + ZERO_CELSIUS)
    at = f"{nominal(volt, 'voltage')}, {quantity(found.temperature, 'temperature')}"
    allowed, sits = _allowed(table, opened)
    same = sits is not None and math.isclose(volt, sits, rel_tol=SAME)
    drawn = allowed if same else None
    scale = shared_scale(found, some, drawn) if found.rows else None
    html = fragment(
        "_ruler.html", ruler=ruler_svg(found, drawn, scale) if scale else "",
        caption=ruler_caption(found) if found.rows else "",
        elsewhere=nominal(sits, "voltage") if allowed and sits and not same else "",
        lots=lots_svg(some, at, scale) if some and scale else "",
        spans=some, at=at, left_out=found.left_out,
    )  # fmt: skip
    return PictureReply(html=html, sentence=ruler_sentence(found))


def _ruler(request: Request, place: str, volt: float, celsius: float) -> RulerResult:
    return ruler(request.app.state.table.candidates(place), volt, celsius + ZERO_CELSIUS)


def _allowed(table: Table, opened: Opened) -> tuple[float | None, float | None]:
    """The smallest leakage (A) that the design allows, and the voltage (V) at which it allows it."""
    check = tried(lambda: table.check(opened))
    if check is None:
        return None, None
    known = [a.leakage_with_series_resistance for a in check.allowances]
    return min((a for a in known if 0 < a < math.inf), default=None), sit_voltage(check)


def _readings(opened: Opened) -> list[tuple[str, str, str]]:
    """Name, whose they are and what is known of each readings file and session, files first."""
    workspace = opened.case.workspace
    found = [(name, "", "readings file") for name in workspace.readings]
    try:
        stored = actions.list_sessions(workspace.root).sessions
    except ClampwrightError:
        stored = ()
    for session in stored:
        what = f"session of {session.who or 'nobody named'}, {session.started[:10]}, {session.count} rows"
        found.append((session.name, session.origin, what))
    return found
