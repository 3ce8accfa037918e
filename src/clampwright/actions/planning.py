"""Before anyone sits down to measure: how hot, which range, how often, or that it cannot be done so.

Part of `actions`, which gives these on to every face. Floor 6; may import floors 0 to 5.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from clampwright.actions.evidence import Evidence
from clampwright.bench.instrument import Profile
from clampwright.bench.methods import LARGEST_BURDEN, Method, feedback_adapter
from clampwright.bench.planner import (
    TEMPERATURES,
    Advice,
    Expectation,
    Plan,
    plan_claim,
    plan_to_see,
    zero_scatter,
)
from clampwright.bench.readings import read_readings
from clampwright.errors import InputError
from clampwright.parts.clamp_part import Clamp
from clampwright.parts.law_apparent import apparent_energy
from clampwright.parts.law_interval import Interval, leakage_interval
from clampwright.parts.sheet import PartSheet
from clampwright.parts.wirings import Wiring, wiring_named, wirings
from clampwright.physics.constants import ROOM_TEMPERATURE
from clampwright.quantities import read, write
from clampwright.quantities.fields import (
    ActivationEnergy,
    Current,
    Frequency,
    Ratio,
    Temperature,
    Time,
    Voltage,
)
from clampwright.uncertain import CONFIDENCE
from clampwright.verdict.known import Known, known_at, known_words
from clampwright.verdict.results import Result
from clampwright.workspace.folder import Workspace, open_workspace, workspace_of

MOST_OTHERS = 5  # shown in words; the result holds all
LEAST_CONFIDENCE, MOST_CONFIDENCE = 0.5, 0.9999


class PlanLine(Result):
    """One way to read the part; `upper_bound` is what could be claimed at 23 °C."""

    method: str
    temperature: Temperature
    gate: Time
    count: int
    wait: Time
    duration: Time
    expected: Current
    signal: Voltage
    detection_limit: Current
    relative: Ratio
    upper_bound: Current
    words: str


class PlanResult(Result):
    """Which temperature, range, gate and number of readings a part needs, or why none will do."""

    part: str
    wiring: str
    reverse_voltage: Voltage
    expected: Current  # at 23 °C, dark
    expected_low: Current
    expected_high: Current
    basis: str
    known_by: Known | None
    activation_energy: ActivationEnergy
    claim: Current | None
    confidence: Ratio
    mains_frequency: Frequency
    plan: PlanLine | None
    others: tuple[PlanLine, ...]
    answer: str
    notes: tuple[str, ...]

    def text(self) -> str:
        """Expectation, plan, other ways and notes, a line each."""
        low, high = (write(v, "current", digits=2) for v in (self.expected_low, self.expected_high))
        lines = [
            f"{self.part} {self.wiring} at {write(self.reverse_voltage, 'voltage')} reverse: "
            f"{write(self.expected, 'current', digits=2)} expected at 23 °C, dark "
            f"({low} … {high}; {known_words(self.basis, self.known_by)})",
            f"{self.answer[0].upper()}{self.answer[1:]}.",
        ]
        if self.plan:
            lines.append(
                f"The meter then shows about {write(self.plan.signal, 'voltage', digits=2)} over its "
                f"zero; take the same number of zeros before and after."
            )
        if self.others:
            lines.append("Or:")
            lines += [f"  {line.words}" for line in self.others[:MOST_OTHERS]]
        return "\n".join([*lines, *(f"{note}." for note in self.notes)])


def plan_readings(
    root: Path,
    part: str,
    *,
    instruments: Sequence[str] = (),
    wiring: str = "",
    voltage: str = "5 V",
    claim: str = "",
    confidence: str = "95 %",
    mains: str = "50 Hz",
) -> PlanResult:
    """What the readings of a part need with the instruments of a workspace.

    part : id of a part sheet, or its file; wiring : the first that evidence names, else the first
    instruments : ids; all of the workspace when none is named
    claim : such as "< 1 pA", at 23 °C and `voltage`; without one the part is to be read to 10 %
    """
    root, part = _placed(root, part)
    workspace = open_workspace(root)
    sheet = _sheet(workspace, part)
    chosen = _wiring(sheet, wiring)
    volts = read(voltage, "voltage", where="voltage")
    clamp = Evidence(workspace).clamp(sheet, chosen)
    there = leakage_interval(clamp.fitted, volts, ROOM_TEMPERATURE)
    expectation = _expectation(clamp, volts, there)
    methods, notes = _methods(workspace, instruments)
    goal = _Goal(
        limit=_limit(claim) if claim else None,
        confidence=_confidence(confidence),
        mains=read(mains, "frequency", where="mains"),
    )
    advice = goal.advice(methods, expectation)
    return PlanResult(
        part=sheet.id,
        wiring=chosen.name,
        reverse_voltage=volts,
        expected=there.median,
        expected_low=there.low,
        expected_high=there.high,
        basis=clamp.fitted.basis,
        known_by=known_at(clamp, volts, ROOM_TEMPERATURE),
        activation_energy=expectation.energy,
        claim=goal.limit,
        confidence=CONFIDENCE if goal.limit is None else goal.confidence,
        mains_frequency=goal.mains,
        plan=_line(advice.plan) if advice.plan else None,
        others=tuple(_line(p) for p in advice.others),
        answer=advice.words,
        notes=(
            *notes,
            *_burden_note(methods, advice.plan),
            *_claim_note(goal.limit, expectation, there),
        ),
    )


@dataclass(frozen=True)
class _Goal:
    """What the readings are for: a number, or a claim "below `limit` (A)" with a confidence."""

    limit: float | None
    confidence: float
    mains: float  # [Hz]

    def advice(self, methods: Sequence[Method], part: Expectation) -> Advice:
        """The quickest plan that reaches it, or words about what else would."""
        if self.limit is None:
            return plan_to_see(methods, part, self.mains)
        return plan_claim(methods, part, self.limit, self.mains, self.confidence)


def _burden_note(methods: Sequence[Method], plan: Plan | None) -> Iterator[str]:
    """What the chosen way takes from the part, where that is no longer small."""
    for method in methods:
        if plan and plan.method == method.name:
            lost = method.burden(plan.expected)
            if lost > LARGEST_BURDEN:
                yield (
                    f"{write(lost, 'voltage', digits=2)} is lost across {method.name}, more than "
                    f"{write(LARGEST_BURDEN, 'voltage')}: so much less is across the part"
                )


def _claim_note(limit: float | None, part: Expectation, there: Interval) -> Iterator[str]:
    """The part may be within what is expected and still above the claim."""
    if limit is not None and part.leakage < limit <= there.high:
        high = write(there.high, "current", digits=2)
        yield f"The part may leak up to {high}: then no reading supports this claim"


def _line(plan: Plan) -> PlanLine:
    known = {k: v for k, v in vars(plan).items() if k in PlanLine.model_fields}
    return PlanLine(**known, duration=60 * plan.minutes, words=plan.words())


def _placed(root: Path, part: str) -> tuple[Path, str]:
    """The workspace and the id of a part that may be given as its file."""
    path = Path(part)
    if path.suffix != ".toml":
        return root, part
    workspace = open_workspace(workspace_of(path))
    names = {name: key for key, name in workspace.names.items()}
    return workspace.root, names.get(f"parts/{path.name}", path.stem)


def _sheet(workspace: Workspace, part: str) -> PartSheet:
    if part not in workspace.parts:
        raise InputError(
            f'there is no part sheet "{part}"',
            where=str(workspace.root),
            expected=", ".join(sorted(workspace.parts)) or "a sheet under parts/",
        )
    return workspace.parts[part]


def _wiring(sheet: PartSheet, wiring: str) -> Wiring:
    named = wiring or next((e.wiring for e in sheet.evidence), "")
    if named:
        return wiring_named(sheet, named, sheet.id)
    usable = [w for w in wirings(sheet) if not w.rejected and w.clamp_class is not None]
    if not usable:
        raise InputError("no wiring of this part is a clamp", where=sheet.id)
    return usable[0]


def _expectation(clamp: Clamp, volts: float, there: Interval) -> Expectation:
    if not there.median > 0:
        raise InputError("no leakage is expected at that voltage", where="voltage")
    energy = apparent_energy(clamp.fitted, volts, ROOM_TEMPERATURE, TEMPERATURES[-1])
    return Expectation(
        leakage=there.median,
        energy=energy.value,
        energy_uncertainty=energy.standard_uncertainty,
        reach=max(there.high / there.median, 1.0),
    )


def _profiles(workspace: Workspace, instruments: Sequence[str]) -> list[Profile]:
    for name in instruments:
        if name not in workspace.instruments:
            raise InputError(
                f'there is no instrument "{name}"',
                where=str(workspace.root),
                expected=", ".join(sorted(workspace.instruments)) or "a sheet under instruments/",
            )
    names = instruments or sorted(workspace.instruments)
    if not names:
        raise InputError(
            "the workspace has no instrument", where=str(workspace.root / "instruments")
        )
    return [workspace.instruments[name] for name in names]


def _methods(workspace: Workspace, instruments: Sequence[str]) -> tuple[list[Method], list[str]]:
    """The methods of the instruments, and where the scatter of each comes from."""
    found = [_method(workspace, profile) for profile in _profiles(workspace, instruments)]
    return [method for method, _ in found], [note for _, note in found]


def _method(workspace: Workspace, profile: Profile) -> tuple[Method, str]:
    """The method of an instrument with its scatter as it was read, stated, or hoped for."""
    read_before = [
        zero_scatter(read_readings(d, n), profile.id) for n, d in workspace.readings.items()
    ]
    read_before += [zero_scatter(s.readings, profile.id) for s in workspace.sessions.values()]
    known = [found for found in read_before if found]
    name = f"{profile.id}: a reading of its zero scatters by"
    if known:
        freedom = sum(n for _, n in known)
        scatter = (sum(n * s**2 for s, n in known) / freedom) ** 0.5
        note = f"{name} {write(scatter, 'voltage', digits=2)}, from {freedom} repeated zeros here"
    elif profile.noise is not None:
        scatter = profile.noise
        note = f"{name} {write(scatter, 'voltage', digits=2)}, as its sheet states"
    else:
        note = f"{profile.id}: no scatter is known; thermal noise of its resistor stands in, a hope"
        return _named(feedback_adapter(profile), profile), note
    return _named(feedback_adapter(profile, scatter), profile), note


def _named(method: Method, profile: Profile) -> Method:
    return replace(method, name=profile.id)


def _limit(claim: str) -> float:
    text = claim.strip()
    for word in ("<", "≤", "below "):
        text = text.removeprefix(word).strip()
    limit = read(text, "current", where="claim")
    if not limit > 0:
        raise InputError("a claim needs a current above 0 A", where="claim", expected='"< 1 pA"')
    return limit


def _confidence(text: str) -> float:
    sure = read(text, "ratio", where="confidence")
    if not LEAST_CONFIDENCE <= sure <= MOST_CONFIDENCE:
        raise InputError(
            f'a confidence of "{text}" cannot be planned for',
            expected=f"{100 * LEAST_CONFIDENCE:g} % to {100 * MOST_CONFIDENCE:g} %",
        )
    return sure


__all__ = ["PlanLine", "PlanResult", "plan_readings"]
