"""The words of the trade as a page and for hovering, and the steps of the tour."""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files

from fastapi import APIRouter, Request
from fastapi.responses import Response
from pydantic import BaseModel, ConfigDict

from clampwright.web.pages import page

router = APIRouter()


class Entry(BaseModel):
    """One word: the forms in which it is marked in the pages, and what it means."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    term: str
    also: tuple[str, ...] = ()
    words: str


class TourStep(BaseModel):
    """One step of the tour: page, what to see there, and the place that is marked."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    page: str
    title: str
    words: str
    look: str


@cache
def glossary() -> tuple[Entry, ...]:
    """Every word, in the order of the alphabet."""
    entries = [Entry.model_validate(e) for e in _table("glossary.toml")["entry"]]
    return tuple(sorted(entries, key=lambda entry: entry.term.casefold()))


@cache
def tour() -> tuple[TourStep, ...]:
    """The steps of the tour in their order."""
    return tuple(TourStep.model_validate(s) for s in _table("tour.toml")["step"])


def _table(name: str) -> dict[str, list[dict[str, object]]]:
    return tomllib.loads((files("clampwright.web") / name).read_text("utf-8"))


@router.get("/glossary", include_in_schema=False)
def glossary_page(request: Request) -> Response:
    """Every word with what it means."""
    return page(request, "glossary.html", entries=glossary())


@router.get("/api/glossary")
def glossary_words() -> tuple[Entry, ...]:
    """The words of the trade as this app uses them."""
    return glossary()


@router.get("/api/tour")
def tour_steps() -> tuple[TourStep, ...]:
    """The steps of the tour through the orchard demonstration."""
    return tour()
