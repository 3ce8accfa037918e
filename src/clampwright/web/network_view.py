"""A design's network page as it first stands; the page that readers come to, so nothing else is loaded."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from clampwright import actions
from clampwright.errors import ClampwrightError
from clampwright.record.look import themed
from clampwright.record.schematic import topology_svg
from clampwright.web.judged import judged, refusal
from clampwright.web.pages import design_page
from clampwright.web.sliders import sliders
from clampwright.web.table import Table
from clampwright.web.value_fields import value_fields
from clampwright.web.views import live, schematic, topology_choices

UNJUDGED: dict[str, Any] = {
    "check": None, "judgement": None, "budget": "", "leakage": "", "noise": "",
}  # fmt: skip


def first_view(request: Request, table: Table, place: str, design: str) -> Response:
    """Schematic, sliders, live budget and verdict."""
    opened = table.open(place, design)
    now = opened.case.design.network.topology
    try:
        shown = live(table, opened) | {"said": judged(table, opened)[0]}
        shown["schematic"] = schematic(shown["check"])
    except ClampwrightError as error:
        drawing = themed(topology_svg(now)) if now in actions.topologies() else ""
        shown = UNJUDGED | {"said": refusal(str(error)), "schematic": drawing}
    return design_page(
        request, table, opened, "network", sliders=sliders(opened.case),
        clamps=opened.case.clamp_names(), topologies=topology_choices(now),
        values=value_fields(opened), topology=now, designs=list(table.workspace(place).designs), **shown,
    )  # fmt: skip
