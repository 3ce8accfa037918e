"""The shortlist page: candidates once they are ranked, as a chart and as a table."""

from __future__ import annotations

import math
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse, Response

from clampwright.quantities import read
from clampwright.record.pareto_chart import pareto_svg
from clampwright.record.shortlist import ShownCandidate
from clampwright.web.api import Name
from clampwright.web.pages import design_page, open_design
from clampwright.web.sliders import sliders

router = APIRouter(include_in_schema=False)


@router.get("/w/{place}/{design}/shortlist")
def shortlist_page(request: Request, place: Name, design: Name) -> Response:
    """Candidates, once they are ranked."""
    table, opened = open_design(request, place, design)
    ranking = table.rankings.get(opened.case.hash)
    rank = ranking.result if ranking else None

    outer = opened.case.design.network.outer_resistor.count
    stops = sliders(opened.case)[0].stops

    def address(candidate: Any) -> str:
        return network_address(place, design, candidate, nearest(candidate, stops, outer))

    chart = pareto_svg(rank, address) if rank else ""
    return design_page(
        request, table, opened, "shortlist", rank=rank, ranking=ranking, chart=chart,
        address=address, sought=sought,
    )  # fmt: skip


@router.get("/w/{place}/{design}/shortlist/pareto.svg")
def pareto_file(request: Request, place: Name, design: Name) -> Response:
    """The chart as a file of its own."""
    table, opened = open_design(request, place, design)
    ranking = table.rankings.get(opened.case.hash)
    if ranking is None or ranking.result is None:
        return PlainTextResponse("the shortlist is not ranked yet: start it first", 409)
    headers = {
        "cache-control": "no-store",
        "content-disposition": 'attachment; filename="error-against-survivability.svg"',
    }
    svg = pareto_svg(ranking.result, in_page=False)
    return Response(svg, media_type="image/svg+xml; charset=utf-8", headers=headers)


def sought(shown: ShownCandidate) -> str:
    """What the filter looks through, a line each: verdict, circuit, how it is known, the clamps."""
    first = shown.first
    verdict = first.verdict.value if first.verdict else ""
    clamps = (f"{c.part} {c.wiring}" for c in shown.members)
    return "\n".join((verdict, first.topology, shown.row()[-1], *clamps)).lower()


def nearest(candidate: Any, stops: tuple[str, ...], count: int) -> str:
    """The stop of the resistor slider next to what a candidate wants of each of `count` resistors."""
    if not candidate.series_resistance:
        return ""
    each = candidate.series_resistance / count
    return min(stops, key=lambda text: abs(math.log(read(text, "resistance") / each)))


def network_address(place: str, design: str, candidate: Any, resistor: str = "") -> str:
    """The network page with a candidate put in, to be looked at before it is kept."""
    asked = {
        "topology": candidate.topology,
        "clamp": f"{candidate.part} {candidate.wiring}".strip() if candidate.wiring else "",
        "resistor": resistor,
    }
    given = urlencode({name: text for name, text in asked.items() if text})
    return f"/w/{quote(place, safe='')}/{quote(design, safe='')}/network?{given}"
