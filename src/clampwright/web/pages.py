"""The pages: rendered here from frozen results; every text from a sheet is escaped."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import HTMLResponse

from clampwright import actions
from clampwright.errors import ClampwrightError
from clampwright.record import fault_cases, part_rows, shortlist, tables
from clampwright.record.printing import templates
from clampwright.record.words import (
    SCOPE_LINE,
    corner_words,
    headline_words,
    prose,
    quantity,
    times,
    verdict_mark,
    verdict_words,
)
from clampwright.web.judged import judged
from clampwright.web.leakage_chart import evidence_voltages
from clampwright.web.views import (
    failed,
    first_up,
    shape_of,
    steps,
)

if TYPE_CHECKING:
    from jinja2 import Environment

    from clampwright.web.table import Opened, Table

THEMES = ("light", "dark")
MACROS = (("_shapes.html", "shape"), ("_figure.html", "tools"))  # that many templates call


@cache
def _environment() -> Environment:
    environment = templates("clampwright.web")
    environment.globals.update(
        scope_line=SCOPE_LINE, prose=prose, times=times, corner_words=corner_words, tables=tables,
        quantity=quantity, fault_cases=fault_cases, shortlist=shortlist, part_rows=part_rows,
        shape_of=shape_of, verdict_words=verdict_words, headline_words=headline_words,
        verdict_mark=verdict_mark, first_up=first_up,
        evidence_voltages=evidence_voltages,
    )  # fmt: skip
    for file, macro in MACROS:
        environment.globals[macro] = getattr(environment.get_template(file).module, macro)
    return environment


def fragment(template: str, **shown: Any) -> str:
    """A piece of a page, rendered as the whole page would."""
    return _environment().get_template(template).render(**shown)


def page(request: Request, template: str, status: int = 200, **shown: Any) -> HTMLResponse:
    """A whole page in the theme the reader chose."""
    theme = request.cookies.get("clampwright-theme", "")
    text = fragment(template, theme=theme if theme in THEMES else "", **shown)
    return HTMLResponse(text, status, {"cache-control": "no-store"})


def start_page(request: Request, table: Table) -> HTMLResponse:
    """Designs of the folder that is served, demonstrations, a new workspace."""
    shelves = table.workspaces()
    made = {name: f"demo-{name}" in shelves for name in actions.DEMOS}
    return page(
        request, "start.html", shelves=shelves, made=made, demos=actions.DEMOS, state=table.state()
    )


def open_design(request: Request, place: str, design: str) -> tuple[Table, Opened]:
    """The table of this server and a design as it is on disk now."""
    table: Table = request.app.state.table
    return table, table.open(place, design)


def tried(ask: Any) -> Any:
    """What `ask` gives, None where an input cannot be used."""
    try:
        return ask()
    except ClampwrightError:
        return None


def design_page(
    request: Request, table: Table, opened: Opened, name: str, **shown: Any
) -> HTMLResponse:
    """A page of one design: steps at the left, verdict with its margin always at the top."""
    try:
        headline = judged(table, opened)[0]
    except ClampwrightError as error:
        headline = failed(error)
    last = request.url.path.split("/")[-1]
    current = {"part": "evidence", "readings": "evidence", "unusable": last}.get(name, name)
    return page(
        request, f"{name}.html", place=opened.place, name=opened.name, design=opened.case.design,
        design_hash=opened.case.design_hash, inputs_hash=opened.case.hash,
        steps=steps(table, opened), current=current, **{"said": headline, **shown},
    )  # fmt: skip
