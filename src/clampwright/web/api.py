"""The JSON API beside the pages: the same frozen results as the command line prints."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from fastapi.requests import HTTPConnection
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from clampwright import actions
from clampwright.actions.topology_values import refuse_missing
from clampwright.errors import InputError
from clampwright.web.pages import fragment
from clampwright.web.ranking import Ranking
from clampwright.web.table import Opened, Table
from clampwright.web.views import said

router = APIRouter(prefix="/api")

Name = Annotated[str, Path(min_length=1, max_length=120)]
FieldName = Annotated[str, StringConstraints(min_length=1, max_length=100)]
FieldText = Annotated[str, StringConstraints(max_length=500)]
Hash = Annotated[str, StringConstraints(pattern=r"^[0-9a-z:]{8,100}$")]
DEMO_FOLDER = "demo-{}"


class Body(BaseModel):
    """Base of what is sent: nothing unknown."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class NothingBody(Body):
    """No field at all: what is asked for takes none."""


Nothing = NothingBody | None


class ChangeBody(Body):
    """Fields of a design sheet by dotted name, and the sheet they were read from."""

    base: Hash = Field(description="hash of the design sheet the changes refer to")
    changes: dict[FieldName, FieldText] = Field(
        max_length=60, description='text with its unit, such as "200 lx"; "" removes the field'
    )


class DemoBody(Body):
    """Which invented demonstration to make."""

    name: Annotated[str, StringConstraints(max_length=40)]


class DesignEntry(BaseModel):
    """One design of a workspace."""

    workspace: str
    design: str


class HashReply(BaseModel):
    """Hash of the design sheet and of all inputs, to notice a change made elsewhere."""

    design_hash: str
    inputs_hash: str


class FolderReply(BaseModel):
    """A sign of everything in the folder that is served, to notice a change made elsewhere."""

    state: str


class SaidReply(BaseModel):
    """A verdict in words, and `html` to show it; `title` of the design where it is asked for."""

    title: str = ""
    shape: str
    word: str
    sentence: str
    html: str


class PictureReply(BaseModel):
    """A piece of a page and the sentence that says what it shows."""

    html: str
    sentence: str


class RankingReply(BaseModel):
    """How far a ranking is: "none" when it was never started."""

    state: str
    done: int = 0
    total: int = 0
    error: str = ""


async def known_query(asked: HTTPConnection) -> None:
    """Refuse what stands in the address of a request to the API and means nothing there.

    Asynchronous only so that it needs no thread of its own.
    """
    if not asked.url.path.startswith("/api/"):
        return
    known = {p.alias for p in asked.scope["route"].dependant.query_params}
    for name in asked.query_params:
        if name not in (*known, "token"):
            raise InputError(
                f'"{name[:40]}" is not asked for here',
                where="query",
                expected=", ".join(sorted(known)) or "nothing after the address",
            )


def table_of(request: Request) -> Table:
    """The table this server works at."""
    table: Table = request.app.state.table
    return table


def _opened(request: Request, place: str, design: str) -> tuple[Table, Opened]:
    table = table_of(request)
    return table, table.open(place, design)


def _frozen(result: BaseModel) -> Response:
    """The result as the command line prints it with --json."""
    return Response(result.model_dump_json(indent=2), media_type="application/json")


@router.get("/designs")
def designs(request: Request) -> list[DesignEntry]:
    """Every design of every workspace that is served."""
    shelves = table_of(request).workspaces().values()
    return [DesignEntry(workspace=s.name, design=d) for s in shelves for d in s.designs]


@router.get("/folder")
def folder(request: Request) -> FolderReply:
    """Whether anything in the folder was changed since a page was loaded."""
    return FolderReply(state=table_of(request).state())


@router.post("/demo", status_code=201)
def demo(request: Request, body: DemoBody) -> DesignEntry:
    """Make an invented demonstration in a subfolder of its own."""
    if body.name not in actions.DEMOS:
        shown = ", ".join(actions.DEMOS)
        raise InputError("there is no such demonstration", expected=f"one of {shown}")
    folder = DEMO_FOLDER.format(body.name)
    made = actions.demo_workspace(table_of(request).root / folder, body.name)
    return DesignEntry(workspace=folder, design=made.stem)


@router.post("/new", status_code=201)
def new(request: Request, body: Nothing = None) -> DesignEntry:
    """Make a workspace to start from in the subfolder `first`."""
    made = actions.new_workspace(table_of(request).root / "first")
    shelf = table_of(request).workspace(made.name)
    return DesignEntry(workspace=shelf.name, design=next(iter(shelf.designs)))


@router.get("/designs/{place}/{design}/hash")
def hashes(request: Request, place: Name, design: Name) -> HashReply:
    """Hashes of what is on disk now."""
    _, opened = _opened(request, place, design)
    return HashReply(design_hash=opened.case.design_hash, inputs_hash=opened.case.hash)


@router.get("/designs/{place}/{design}/check", response_model=actions.CheckResult)
def check(request: Request, place: Name, design: Name) -> Any:
    """Error, noise, bandwidth and settling against the allowance."""
    table, opened = _opened(request, place, design)
    return _frozen(table.check_further(opened))


@router.get("/designs/{place}/{design}/faults", response_model=actions.FaultsResult)
def faults(request: Request, place: Name, design: Name) -> Any:
    """Stress against rating under every fault."""
    table, opened = _opened(request, place, design)
    return _frozen(table.faults(opened))


@router.get("/designs/{place}/{design}/verdict")
def verdict(request: Request, place: Name, design: Name) -> SaidReply:
    """The verdict of a design in one sentence."""
    table, opened = _opened(request, place, design)
    line = said(table.check(opened), table.faults(opened))
    return SaidReply(
        title=opened.case.design.title,
        shape=line.shape,
        word=line.word,
        sentence=line.sentence,
        html=fragment("_line.html", said=line),
    )


@router.post("/designs/{place}/{design}/change")
def change(request: Request, place: Name, design: Name, body: ChangeBody) -> HashReply:
    """Write changed fields into the sheet, comments kept; 409 when it was changed elsewhere.

    A change of the network after which its topology lacks a value it needs is refused.
    """
    table, opened = _opened(request, place, design)
    of_network = any(f.startswith(("network.", "amplifier.guard_offset")) for f in body.changes)
    if of_network and opened.case.design_hash == body.base:
        refuse_missing(table.what_if(opened, body.changes).case.design)
    actions.change_design(opened.path, body.changes, body.base)
    case = table.open(place, design).case
    return HashReply(design_hash=case.design_hash, inputs_hash=case.hash)


@router.post("/designs/{place}/{design}/rank", status_code=202)
def start_ranking(
    request: Request, place: Name, design: Name, body: Nothing = None
) -> RankingReply:
    """Start ranking beside the pages; another one that runs is cancelled."""
    table, opened = _opened(request, place, design)
    return _progress(table.rankings.start(opened.case))


@router.get("/designs/{place}/{design}/rank")
def ranking(request: Request, place: Name, design: Name) -> RankingReply:
    """How far the ranking is."""
    table, opened = _opened(request, place, design)
    return _progress(table.rankings.get(opened.case.hash))


@router.delete("/designs/{place}/{design}/rank")
def cancel_ranking(request: Request, place: Name, design: Name) -> RankingReply:
    """Ask the ranking to stop at its next step."""
    table, opened = _opened(request, place, design)
    table.rankings.cancel(opened.case.hash)
    return _progress(table.rankings.get(opened.case.hash))


@router.get("/designs/{place}/{design}/shortlist", response_model=actions.RankResult)
def shortlist(
    request: Request,
    place: Name,
    design: Name,
    limit: Annotated[int, Query(ge=1, le=10_000, description="candidates at most")] = 10_000,
) -> Any:
    """The finished ranking; 409 while there is none."""
    table, opened = _opened(request, place, design)
    found = table.rankings.get(opened.case.hash)
    if found is None or found.result is None:
        return JSONResponse({"error": "there is no finished ranking; start one"}, 409)
    return _frozen(
        found.result.model_copy(update={"candidates": found.result.candidates[:limit]})
    )  # fmt: skip


@router.get("/parts/{place}/{part}", response_model=actions.PartResult)
def part(request: Request, place: Name, part: Name) -> Any:
    """Wirings, ratings, laws, evidence and curves of a part."""
    return _frozen(table_of(request).part(place, part))


@router.get("/parts/{place}/{part}/wirings")
def wirings(request: Request, place: Name, part: Name) -> PictureReply:
    """The wirings of a part as a table of the evidence page."""
    found = table_of(request).part(place, part)
    return PictureReply(html=fragment("_wirings.html", part=found), sentence=found.title)


def _progress(ranking: Ranking | None) -> RankingReply:
    if ranking is None:
        return RankingReply(state="none")
    return RankingReply(
        state=ranking.state, done=ranking.done, total=ranking.total, error=ranking.error
    )
