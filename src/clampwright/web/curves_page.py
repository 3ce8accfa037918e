"""Curves: clamp laws over each other, to play with and to show to others."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, WebSocket
from fastapi.responses import Response
from pydantic import BaseModel, Field, StringConstraints

from clampwright.actions.candidates import Candidates
from clampwright.actions.curves import (
    LONGEST_SPAN,
    MOST_LAWS,
    CurvesResult,
    DrawnLaw,
    curves,
)
from clampwright.quantities import ZERO_CELSIUS
from clampwright.record.part_rows import told_as
from clampwright.record.words import interval, nominal, quantity
from clampwright.web.api import Body, Name
from clampwright.web.open_line import keep_line
from clampwright.web.pages import design_page, open_design
from clampwright.web.sliders import LIGHT
from clampwright.web.table import Table

router = APIRouter()
ClampName = Annotated[str, StringConstraints(max_length=120)]
COLDEST, HOTTEST = -40, 150  # [°C]
MOST_LIGHT = 1e5  # [lx]
SPANS = (1.0, 5.0, 20.0, 100.0)  # [V]
VOLTS = (0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 1, 2, 2.5, 5, 10, 15, 20, 50, 100)  # [V]
ROOM = 23.0  # [°C]
FORWARD = (0.001, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 1.0)  # [V]

Laws = Annotated[list[ClampName], Field(min_length=1, max_length=MOST_LAWS)]
Celsius = Annotated[float, Field(ge=COLDEST, le=HOTTEST, allow_inf_nan=False)]
Lux = Annotated[float, Field(ge=0, le=MOST_LIGHT, allow_inf_nan=False)]
Volt = Annotated[float, Field(ge=-LONGEST_SPAN, le=FORWARD[-1], allow_inf_nan=False)]
Span = Annotated[float, Field(ge=0.1, le=LONGEST_SPAN, allow_inf_nan=False)]


class CurvesAsked(Body):
    """Which laws, and at which temperature (°C), light (lx), voltage (V) and reverse span (V)."""

    law: Laws
    celsius: Celsius = ROOM
    lux: Lux = 0.0
    volt: Volt = -5.0
    span: Span = 20.0


class LawWords(BaseModel):
    """What is read off one law, written."""

    clamp: str
    title: str
    known: str
    at_voltage: str
    zero_bias_resistance: str
    doubling: str


class CurvesReply(BaseModel):
    """Laws over each other, what is read off them, and one sentence that says what is drawn."""

    sentence: str
    words: tuple[LawWords, ...]
    limits: dict[str, str]
    curves: CurvesResult


@router.get("/w/{place}/{design}/curves", include_in_schema=False)
def page_of_curves(request: Request, place: Name, design: Name) -> Response:
    """Choice of laws, sliders, and the chart."""
    table, opened = open_design(request, place, design)
    candidates = table.candidates(place)
    known = {n: c.fitted.basis for n, c in candidates.clamps.items()}
    measured = [n for n, basis in known.items() if basis == "measured"]
    own = opened.case.design.network.clamp or ""
    first = own if own in known else next(iter(measured or known), "")
    return design_page(
        request, table, opened, "curves", measured=measured,
        others=[n for n in known if n not in measured], first=first,
        instruments=candidates.detection_limits, volts=_voltages(), lights=_lights(), spans=SPANS,
        nominal=nominal, coldest=COLDEST, hottest=HOTTEST,
    )  # fmt: skip


@router.get("/api/curves/{place}", response_model=CurvesReply)
def curves_of(
    request: Request,
    place: Name,
    law: Annotated[Laws, Query()],
    celsius: Celsius = ROOM,
    lux: Lux = 0.0,
    volt: Volt = -5.0,
    span: Span = 20.0,
) -> Response:
    """Current against voltage of up to nine clamps at one temperature and light."""
    asked = CurvesAsked(law=law, celsius=celsius, lux=lux, volt=volt, span=span)
    return Response(
        _drawn(request.app.state.table.candidates(place), asked), media_type="application/json"
    )


@router.websocket("/api/curves/{place}/moves")
async def follow_sliders(line: WebSocket, place: Name) -> None:
    """The same over a line that stays open."""
    table: Table = line.app.state.table
    await keep_line(
        line, table.root, CurvesAsked, lambda asked: _drawn(table.candidates_lately(place), asked)
    )


def _drawn(candidates: Candidates, asked: CurvesAsked) -> str:
    """The answer in JSON."""
    found = curves(
        candidates, asked.law, temperature=asked.celsius + ZERO_CELSIUS,
        illuminance=asked.lux, voltage=max(asked.volt, -asked.span), span=asked.span,
    )  # fmt: skip
    reply = CurvesReply(
        sentence=_sentence(found),
        words=tuple(_words(one) for one in found.laws),
        limits={
            limit.instrument: quantity(limit.current, "current") for limit in found.limits
        },
        curves=found,
    )  # fmt: skip
    return reply.model_dump_json()


def _words(law: DrawnLaw) -> LawWords:
    return LawWords(
        clamp=law.clamp,
        title=law.title,
        known=told_as(law.basis, law.known_by) + _outside(law),
        at_voltage=_current(law),
        zero_bias_resistance=quantity(law.zero_bias_resistance, "resistance"),
        doubling=quantity(law.doubling, "temperature_difference"),
    )


def _outside(law: DrawnLaw) -> str:
    beyond = law.basis == "measured" and law.covered_from_volt is None
    return ", beyond their reach here" if beyond else ""


def _current(law: DrawnLaw) -> str:
    if law.at_voltage is None:
        return "beyond breakdown"
    if law.at_voltage_low is None or law.at_voltage_high is None:
        return f"{quantity(law.at_voltage, 'current', signed=True)}, by its class"
    return interval(law.at_voltage, law.at_voltage_low, law.at_voltage_high, "current", signed=True)


def _sentence(found: CurvesResult) -> str:
    light = nominal(found.illuminance, "illuminance") if found.illuminance else "dark"
    told = "; ".join(
        f"{law.clamp} {_current(law)}, slope resistance at 0 V "
        f"{quantity(law.zero_bias_resistance, 'resistance')}"
        for law in found.laws
    )
    return (
        f"Current into the anode against voltage at {quantity(found.temperature, 'temperature')}, "
        f"{light}. At {quantity(found.voltage, 'voltage', signed=True)}: {told}."
    )


def _voltages() -> list[tuple[float, str]]:
    values = [*(-v for v in reversed(VOLTS)), 0.0, *FORWARD]
    return [(v, nominal(v, "voltage", signed=v != 0)) for v in values]


def _lights() -> list[tuple[float, str]]:
    return [(x, "dark" if x == 0 else nominal(x, "illuminance")) for x in LIGHT]
