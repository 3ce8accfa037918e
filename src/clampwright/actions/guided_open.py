"""Open a guided session: which voltages, how long to wait, under which name.

Part of `actions`. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from clampwright.actions.case import Case, open_case
from clampwright.actions.evidence import Evidence
from clampwright.actions.judging import check
from clampwright.actions.session_state import GuidedState, state_of
from clampwright.bench.flags import COLDEST_PART, HOTTEST_PART
from clampwright.bench.session import (
    WARM,
    Aim,
    Plan,
    guided_session,
    hurried,
    sitting_voltages,
)
from clampwright.errors import InputError
from clampwright.parts.law_model import reverse_leakage
from clampwright.parts.wirings import Wiring, wiring_named
from clampwright.physics.constants import ROOM_TEMPERATURE
from clampwright.quantities import read, write
from clampwright.verdict.layout import topology_of
from clampwright.workspace.folder import Workspace, open_workspace
from clampwright.workspace.names import must_name_a_session

if TYPE_CHECKING:
    from clampwright.workspace.database import Store

WIDEST_BIAS = (-1000.0, 1000.0)  # [V] common practice, no source; beyond 60 V the session cautions
LIGHT_AT_A_BENCH = (0.0, 150_000.0)  # [lx] a little above full sun, from memory: 1.2e5 lx
PART_STANDS = (COLDEST_PART, HOTTEST_PART)  # [K]
ALIKE = 0.9  # [1] of a larger voltage: a smaller one above it is not read as well


def open_guided(
    root: Path,
    instrument: str,
    part: str,
    wiring: str,
    *,
    design: Path | None = None,
    voltages: tuple[str, ...] = (),
    light: str = "",
    warm: tuple[str, ...] | None = None,
    session: str = "",
    who: str = "",
    conditions: str = "",
    wait_share: float | str = 1.0,
    why: str = "",
) -> GuidedState:
    """Begin a guided session in the workspace `root`; its plan is on the disk when this returns.

    design : takes the voltages at which it holds the clamp, and its light, unless they are given
    warm : temperatures such as "45 °C"; 45 and 60 °C when None
    wait_share : of the usual waiting times, 0…1 or text such as "2 %"; below 1 `why` must say the
        reason

    Raises InputError that lists every field that cannot be used, one sentence a line.
    """
    workspace = open_workspace(root)
    must_know(workspace.parts, part, "part sheet")
    must_know(workspace.instruments, instrument, "instrument")
    named = wiring_named(workspace.parts[part], wiring)
    asked = _Asked()
    given = asked.each(voltages, "voltage", "voltages", WIDEST_BIAS)
    warmed = WARM if warm is None else asked.each(warm, "temperature", "warm", PART_STANDS)
    lux = asked.each((light,) if light else (), "illuminance", "light", LIGHT_AT_A_BENCH)
    share = asked.share(wait_share, why)
    asked.name(workspace, session)
    asked.must_be_right()
    case = open_case(design) if design else None
    found = given or _sits_at(case)
    aim = Aim(
        part=part,
        wiring=named.name,
        voltages=found,
        expected=_expected(case, workspace, part, named, found),
        light=lux[0] if lux else _light(case),
        warm=warmed,
        warm_up=workspace.instruments[instrument].warm_up,
    )
    plan = Plan(
        instrument=instrument, part=part, wiring=named.name, wait_share=share, why=why.strip(),
        design=design.stem if design else "", steps=hurried(guided_session(aim), share),
    )  # fmt: skip
    return _begun(workspace, plan, session, who, conditions)


class _Asked:
    """What was asked of a session, field by field; what cannot be used is collected."""

    def __init__(self) -> None:
        self._wrong: dict[str, list[InputError]] = {}

    def each(
        self, texts: tuple[str, ...], dimension: str, field: str, span: tuple[float, float]
    ) -> tuple[float, ...]:
        """Every text as an SI float within `span`; those that are not are told and left out."""
        return tuple(
            value
            for text in texts
            if (value := self._one(text, dimension, field, span)) is not None
        )

    def share(self, given: float | str, why: str) -> float:
        """The share of the usual waiting times, with its reason where it is less than all."""
        value = self._one(str(given), "ratio", "wait_share", (0.0, 1.0))
        if value is not None and value < 1 and not why.strip():
            self._wrong["why"] = [
                InputError(
                    f"waiting {100 * value:g} % of the usual times needs a reason",
                    expected='words such as "demonstration"',
                    mend="or wait 100 %",
                )
            ]
        return 1.0 if value is None else value

    def name(self, workspace: Workspace, session: str) -> None:
        """A name that can be given and that nothing else has."""
        from clampwright.workspace.database import has_store, open_store
        from clampwright.workspace.store import sessions

        if not session:
            return
        try:
            must_name_a_session(session)
        except InputError as error:
            self._wrong["session"] = [error]
            return
        taken = "readings" if session in workspace.readings else ""
        if not taken and has_store(workspace.root):
            with open_store(workspace.root) as store:
                taken = "session" if session in {s.name for s in sessions(store)} else ""
        if taken:
            wrong = f'there is a session "{session}" already'
            if taken == "readings":
                wrong = f'the name "{session}" belongs to a file of readings'
            self._wrong["session"] = [InputError(wrong, mend="give another name")]

    def must_be_right(self) -> None:
        """InputError with a line for every field that cannot be used; nothing was begun then."""
        lines = []
        for field, errors in self._wrong.items():
            sentences = (str(error) for error in errors)
            told = " ".join(s if n == 0 else s[0].upper() + s[1:] for n, s in enumerate(sentences))
            lines.append(f"new session, {field}: {told}")
        if lines:
            raise InputError("\n".join(lines))

    def _one(
        self, text: str, dimension: str, field: str, span: tuple[float, float]
    ) -> float | None:
        low, high = span
        try:
            value = read(text, dimension)
        except InputError as error:
            self._wrong.setdefault(field, []).append(error)
            return None
        if low <= value <= high:
            return value
        ends = " to ".join(_end(end, dimension) for end in span)
        mend = "check number and unit"
        if dimension == "ratio" and 1 < value <= 100 and "%" not in text:
            mend = f'write "{value:g} %" if that is meant'
        wrong = f'"{text.strip()[:24]}" is not possible here'
        self._wrong.setdefault(field, []).append(InputError(wrong, expected=ends, mend=mend))
        return None


def _end(value: float, dimension: str) -> str:
    return f"{100 * value:g} %" if dimension == "ratio" else write(value, dimension)


def _begun(
    workspace: Workspace, plan: Plan, session: str, who: str, conditions: str
) -> GuidedState:
    """The session on the disk, with its plan; a free name when it has none."""
    from clampwright.workspace.database import open_store, read_settings
    from clampwright.workspace.guided import sitting, write_plan
    from clampwright.workspace.store import start_session

    with open_store(workspace.root) as store:
        name = session or _free_name(store, workspace, plan.part)
        whose = who or read_settings(workspace.root).owner
        made = start_session(store, name, who=whose, conditions=conditions)
        write_plan(store, made, plan)
        return state_of(sitting(store, name), workspace.instruments[plan.instrument])


def suggested_voltages(design: Path) -> tuple[str, ...]:
    """Reverse voltages at which a design holds its clamp, as text."""
    return tuple(f"{volts:.4g} V" for volts in _sits_at(open_case(design)))


def _sits_at(case: Case | None) -> tuple[float, ...]:
    """Reverse voltages (V) at which a design holds its clamp; both signs of 10 mV near zero."""
    if case is None or not topology_of(case.design).has_clamp:
        return ()
    clamp = check(case).clamp
    if clamp is None:
        return ()
    sits = [
        round(-place.sits_at, 2) if abs(place.sits_at) > 0.05 else 0.0 for place in clamp.places
    ]
    found: list[float] = []
    for volts in sorted(sitting_voltages(sits, (0.0,)), reverse=True):
        if not any(0 < ALIKE * other < volts < other for other in found):
            found.append(volts)
    return tuple(sorted(found, key=lambda v: (abs(v), -v)))


def _light(case: Case | None) -> float | None:
    lux = case.design.board.illuminance_maximum if case else 0.0
    return lux or None


def _expected(
    case: Case | None, workspace: Workspace, part: str, wiring: Wiring, voltages: tuple[float, ...]
) -> float:
    """Leakage (A) that the law so far gives at 23 °C, for waiting times; 1 pA without a law."""
    if wiring.clamp_class is None or not voltages:
        return 1e-12
    evidence = case.evidence if case else Evidence(workspace)
    clamp = evidence.clamp(workspace.parts[part], wiring)
    return max(abs(float(reverse_leakage(clamp.fitted.law, v, ROOM_TEMPERATURE))) for v in voltages)


def must_know(there: Mapping[str, Any], key: str, kind: str) -> None:
    """Raise an InputError that lists what is there when `key` is not."""
    if key not in there:
        raise InputError(
            f'there is no {kind} "{key}"', expected=", ".join(sorted(there)) or f"a {kind}"
        )


def _free_name(store: Store, workspace: Workspace, part: str) -> str:
    """The day and the part, with a number when that name is taken."""
    from clampwright.workspace.store import sessions

    taken = {s.name for s in sessions(store)} | set(workspace.readings)
    base = f"{datetime.now(UTC).date().isoformat()} {part}"[:90]
    names = (base, *(f"{base} {n}" for n in range(2, 10_000)))
    return next(name for name in names if name not in taken)


__all__ = ["must_know", "open_guided", "suggested_voltages"]
