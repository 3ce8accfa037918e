"""The requirement page: every field with its unit and range, faults to add and to remove."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Annotated, Any

from fastapi import APIRouter, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field, StringConstraints

from clampwright import actions
from clampwright.quantities import write
from clampwright.quantities.reading import is_number
from clampwright.record.answers import every_default
from clampwright.record.cautions import cautions_to_print
from clampwright.web.api import Body, ChangeBody, Hash, HashReply, Name
from clampwright.web.fields import GROUPS, fault_fields
from clampwright.web.fields import Field as Asked
from clampwright.web.pages import design_page, open_design, tried

router = APIRouter()
BASE = "/api/designs/{place}/{design}/faults"
IMPULSES = ("esd", "surge", "burst")  # how long they last is in their wave
KINDS = Asked("faults.1.kind", "Kind")


class AddBody(Body):
    """Which preset to add, and the sheet it was chosen for."""

    base: Hash = Field(description="hash of the design sheet")
    preset: Annotated[str, StringConstraints(min_length=1, max_length=60)]


class RemoveBody(Body):
    """Which fault to take out, counted from 1, and the sheet it was counted in."""

    base: Hash = Field(description="hash of the design sheet")
    number: Annotated[int, Field(ge=1, le=1000)]


class UnderstoodReply(BaseModel):
    """What changed fields would come to, in words by field; nothing is written."""

    echoes: dict[str, str]


@dataclass(frozen=True)
class Shown:
    """One field as it stands on the page.

    example  : what could be written, "" for a choice
    span     : what is accepted, "" where anything is
    unstated : what follows from leaving it empty
    choices  : word of the sheet and plain words
    of       : name of the fault it belongs to
    """

    asked: Asked
    value: str
    example: str
    span: str
    unstated: str
    choices: tuple[tuple[str, str], ...]
    required: bool
    echo: str
    of: str = ""


@dataclass(frozen=True)
class FaultRow:
    """One fault of the sheet: its number, its name, what it is in a line, and its fields."""

    number: int
    name: str
    words: str
    fields: tuple[Shown, ...]


@router.get("/w/{place}/{design}/requirement", include_in_schema=False)
def requirement(request: Request, place: Name, design: Name) -> Response:
    """Every field of the requirement with its unit."""
    table, opened = open_design(request, place, design)
    written = actions.written_fields(opened.path, opened.case.design_hash)
    check = tried(lambda: table.check(opened))
    stress = tried(lambda: table.faults(opened))
    echoes = understood(opened.case.design, written)

    def shown(field: Asked, of: str = "") -> Shown:
        return _shown(field, written, echoes, of)

    faults = tuple(
        FaultRow(n, fault.name, fault_words(fault), tuple(shown(f, fault.name) for f in fault_fields(n)))
        for n, fault in enumerate(opened.case.design.faults, 1)
    )  # fmt: skip
    return design_page(
        request, table, opened, "requirement", groups=GROUPS, shown=shown, fault_rows=faults,
        written=written, cautions=cautions_to_print(check.gate.cautions) if check else (), check=check,
        defaults=every_default(check, stress) if check and stress else (),
        presets=groupby(actions.fault_presets(), key=lambda preset: preset.group),
    )  # fmt: skip


@router.post("/api/designs/{place}/{design}/understood")
def read(request: Request, place: Name, design: Name, body: ChangeBody) -> UnderstoodReply:
    """How the sheet would be understood with some fields changed; 422 names the field that is wrong."""
    _, opened = open_design(request, place, design)
    written = actions.written_fields(opened.path, body.base)
    changed = actions.what_if(opened.case, opened.path, body.changes)
    return UnderstoodReply(echoes=understood(changed.design, {**written, **body.changes}))


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


def understood(design: Any, written: Mapping[str, str]) -> dict[str, str]:
    """What accuracy and share come to, and every bare ratio as a percentage: `0.1` is 10 %."""
    accuracy, share = actions.accuracy_words(design)
    found = {"requirement.accuracy": accuracy, "requirement.protection_share": share}
    for name, facts in actions.design_fields().items():
        if facts.dimension != "ratio" or name in found or not is_number(written.get(name, "")):
            continue
        value = design
        for part in name.split("."):
            value = getattr(value, part, None)
        if value is not None:
            found[name] = f"= {write(value, 'ratio')}"
    return found


def _shown(field: Asked, written: Mapping[str, str], echoes: Mapping[str, str], of: str) -> Shown:
    facts = actions.design_fields()[field.generic]
    return Shown(
        asked=field,
        value=written.get(field.name, ""),
        example="" if facts.choices else field.example,
        span=facts.span,
        unstated=_unstated(field, facts),
        choices=tuple((choice, field.words(choice)) for choice in facts.choices),
        required=facts.required,
        echo=echoes.get(field.name, ""),
        of=of,
    )


def _unstated(field: Asked, facts: actions.FieldFacts) -> str:
    """What follows where nothing is stated, in one line."""
    if facts.required:
        return "Needed."
    default = f"“{field.words(facts.default)}”" if facts.choices else facts.default
    taken = f"{default} is taken" if facts.default else field.empty
    if not taken:
        return ""
    return f"Not stated: {taken}{', listed as a default' if facts.listed else ''}."


def fault_words(fault: Any) -> str:
    """A fault in one line, with what is taken where the sheet says nothing."""
    signs = "±" if fault.both_signs else ""
    lasts = fault.duration if isinstance(fault.duration, str) else write(fault.duration, "time")
    shown = [
        f"{signs}{write(fault.voltage, 'voltage')}" + (" rms" if fault.kind == "mains-frequency" else ""),
        KINDS.words(fault.kind),
        "both signs" if fault.both_signs else "one sign",
        "" if fault.kind in IMPULSES else lasts,
        f"board {fault.power}",
    ]  # fmt: skip
    if fault.source_resistance:
        shown.append(f"through {write(fault.source_resistance, 'resistance')}")
    if fault.channels > 1:
        shown.append(f"{fault.channels} inputs at once")
    if fault.standard:
        shown.append(fault.standard)
    words = ", ".join(filter(None, shown))
    return words.replace("-", "\u2212", 1) if fault.voltage < 0 else words
