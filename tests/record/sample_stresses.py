"""Sample faults, rankings and leakages for the record's tests; the numbers are plausible, not computed."""

from __future__ import annotations

from dataclasses import dataclass, field

from sample_results import HASH, NO_GATE, celsius, sample_design

from clampwright.verdict.results import (
    Candidate,
    FaultCase,
    FaultsResult,
    Gate,
    RankResult,
    ResistorWall,
    ResistorWindow,
    StressLine,
    Verdict,
)


def _stress(part: str, quantity: str, stress: float, unit: str, rating: float | None) -> StressLine:
    ratio = None if rating is None else rating / stress
    verdict = Verdict.NOT_MEASURED
    if ratio is not None:
        verdict = Verdict.PASS if ratio >= 1 else Verdict.FAIL
    return StressLine(
        part=part,
        quantity=quantity,
        stress=stress,
        unit=unit,
        rating=rating,
        derating=0.5,
        ratio=ratio,
        verdict=verdict,
        basis="maximum" if rating is not None else "assumed",
        note="derated by half, common practice",
    )


def sample_fault(name: str, voltage: float, stresses: tuple[StressLine, ...]) -> FaultCase:
    ratios = [line.ratio for line in stresses if line.ratio is not None]
    verdicts = [line.verdict for line in stresses]
    worst = Verdict.FAIL if Verdict.FAIL in verdicts else verdicts[0]
    return FaultCase(
        name=name,
        words=f"{name}, both signs, continuous, powered",
        voltage=voltage,
        power="on",
        fault_current=voltage / 0.94e6,
        fault_current_rms=voltage / 0.94e6,
        pin_current=0.1e-6,
        clamp_current=voltage / 0.94e6,
        clamp_node_voltage=3.05,
        pin_voltage=2.9,
        rail="positive",
        rail_current=voltage / 0.94e6,
        rail_load=60e-6,
        rail_rate=0.0,
        rail_settles_at=None,
        resistor_power=voltage**2 / 0.94e6,
        resistor_voltage=voltage / 2,
        stresses=stresses,
        survivability=min(ratios) if ratios else None,
        verdict=worst,
        reason="every stress is below its derated rating"
        if worst is Verdict.PASS
        else "a stress is above its derated rating",
    )


def sample_impulse() -> FaultCase:
    """An impulse that is named and not solved: every figure is missing."""
    case = sample_fault("impulse", 8000.0, (_stress("clamp", "peak current", 1.0, "A", None),))
    unknown = {
        name: float("nan")
        for name in type(case).model_fields
        if isinstance(getattr(case, name), float) and name != "voltage"
    }
    return case.model_copy(update=unknown | {"stresses": (), "survivability": None})


def sample_both_signs(name: str, voltage: float) -> tuple[FaultCase, FaultCase]:
    """One fault with either sign, the same figures against either rail."""
    cases = []
    for sign, rail in ((1.0, "positive"), (-1.0, "negative")):
        lines = (
            _stress(f"{rail} rail", "current into the rail", 12.7e-6, "A", 60e-6),
            _stress("outer resistor", "voltage", 6.0, "V", 160.0),
            _stress("clamp", "forward current", 8e-6, "A", 50e-3),
            _stress("amplifier pin", "current", 4.8e-6, "A", 2e-3),
        )
        word = "+" if sign > 0 else "-"
        cases.append(
            sample_fault(name, sign * voltage, lines).model_copy(
                update={
                    "words": f"{word}{voltage:g} V direct, continuous, powered on",
                    "rail": rail,
                    "fault_current": voltage / 0.94e6,
                    "fault_current_rms": voltage / 0.94e6,
                    "clamp_current": voltage / 0.94e6,
                    "rail_current": voltage / 0.94e6,
                    "clamp_node_voltage": sign * 3.05,
                    "pin_voltage": sign * 2.9,
                }
            )
        )
    return cases[0], cases[1]


def sample_faults(topology: str = "T5", gate: Gate = NO_GATE) -> FaultsResult:
    esd = (
        _stress("outer resistor", "flash-over voltage", 8000.0, "V", 4000.0),
        _stress("clamp", "peak current", 17.0, "A", None),
    )
    valve = (
        _stress("outer resistor", "power", 0.5e-3, "W", 0.125),
        _stress("outer resistor", "working voltage", 17.0, "V", 160.0),
        _stress("amplifier pin", "current", 0.2e-6, "A", 5e-3),
    )
    battery = (
        _stress("clamp", "forward current", 12.7e-6, "A", 50e-3),
        _stress("positive rail", "current into the rail", 12.7e-6, "A", 60e-6),
        _stress("outer resistor", "working voltage", 7.5, "V", 160.0),
    )
    return FaultsResult(
        design=sample_design(topology),
        design_hash=HASH,
        cases=(
            sample_fault("static discharge", 8000.0, esd),
            sample_fault("battery lead", 15.0, battery),
            sample_fault("valve wire", 34.0, valve),
        ),
        deratings={"power": "50 %, common practice", "voltage": "80 %, common practice"},
        defaults=("resistor flash-over at 1 kV/mm is assumed",),
        gate=gate,
        survivability=0.5,
        verdict=Verdict.FAIL,
        reason="static discharge: the outer resistor arcs at half the voltage",
    )


def sample_window(opened: bool = True) -> ResistorWindow:
    walls = (
        ("ESD at the connector", "minimum", 330e3 if opened else 5e6, "clamp peak current"),
        ("battery lead, 15 V", "minimum", 15e3, "pin current"),
        ("noise", "maximum", 8e6 if opened else 2e6, "share of the allowance"),
        ("clamp leakage", "maximum", 40e6, "share of the allowance"),
        ("settling", "maximum", None, "never binds with 300 pF"),
    )
    return ResistorWindow(
        walls=tuple(ResistorWall(name=n, side=s, value=v, reason=r) for n, s, v, r in walls),
        minimum=330e3 if opened else 5e6,
        maximum=8e6 if opened else 2e6,
        chosen=940e3,
        open=opened,
        reason="the ESD fault builds the lower wall, noise the upper"
        if opened
        else "the walls overlap: no single resistor",
    )


def sample_rank(
    verdict: Verdict = Verdict.PASS, *, opened: bool = True, gate: Gate = NO_GATE
) -> RankResult:
    rows: list[tuple[str, str, str, str, float | None, float | None, Verdict | None, str]] = [
        ("jfet-small", "G/D+S", "T5", "small n-channel JFET", 5.2e-6, 40.0, Verdict.PASS, ""),
        ("npn-small", "C/B+E", "T5", "small NPN", 19.3e-6, 48.0, Verdict.PASS, ""),
        ("jfet-small", "G/D+S", "T2", "small JFET", 0.81e-3, 1.1, Verdict.UNDECIDED, ""),
        ("npn-small", "C/B+E", "T2", "small NPN", 3.7e-3, 0.25, Verdict.FAIL, ""),
        ("led-red", "A/K", "T5", "red LED", None, None, Verdict.NOT_MEASURED, "no reading"),
        ("glass-diode", "A/K", "T5", "glass switching diode", 7.42e-3, 0.12, Verdict.FAIL, ""),
        ("npn-small", "C+B/E", "T2", "NPN", None, None, None, "stand-off 5.6 V above breakdown"),
        ("npn-small", "C/E", "T2", "NPN", None, None, None, "open base multiplies the leakage"),
    ]
    candidates = tuple(
        Candidate(
            part=part,
            title=title,
            wiring=wiring,
            topology=topology,
            series_resistance=940e3 if v is not None else None,
            error=error,
            error_low=None if error is None else error * 0.6,
            error_high=None if error is None else error * 1.5,
            accuracy_margin=margin,
            survivability=None if margin is None else 4.7,
            leakage_basis="measured" if error is not None else None,
            verdict=v,
            rejected=v is None,
            reason=reason or "sorted by verdict, then margin",
        )
        for part, wiring, topology, title, error, margin, v, reason in rows
    )
    return RankResult(
        design=sample_design(),
        design_hash=HASH,
        window=sample_window(opened),
        candidates=candidates,
        evaluated=1840,
        gate=gate,
        verdict=verdict,
        reason="two wirings pass with a margin above 30",
    )


@dataclass(frozen=True)
class SampleComponent:
    """The fields of one component of a bench leakage."""

    name: str
    evaluation: str
    value: float
    degrees_of_freedom: float
    shared: bool


@dataclass(frozen=True)
class SampleLeakage:
    """The fields of one reduced bench leakage that the terminal tables read."""

    part: str
    wiring: str
    reverse_voltage: float
    temperature: float
    illuminance: float
    value: float
    expanded_uncertainty: float
    decision_limit: float
    detection_limit: float
    quantification_limit: float
    outcome: str
    upper_bound: float
    components: tuple[SampleComponent, ...] = ()
    flags: tuple[str, ...] = field(default_factory=tuple)


def sample_leakages() -> list[SampleLeakage]:
    parts = (
        SampleComponent("repeatability", "A", 0.41e-12, 9, False),
        SampleComponent("adapter scale", "B", 0.02e-12, float("inf"), True),
    )
    limits = {
        "decision_limit": 0.9e-12,
        "detection_limit": 1.8e-12,
        "quantification_limit": 5e-12,
    }
    return [
        SampleLeakage(
            "npn-small", "C/B+E", 5.0, celsius(23), 0.0, 3.7e-12, 1.5e-12,
            outcome="detected", upper_bound=5.0e-12, components=parts, **limits,
        ),
        SampleLeakage(
            "npn-small", "C/B+E", 5.0, celsius(45), 0.0, 21.9e-12, 2.0e-12,
            outcome="quantified", upper_bound=23.6e-12, components=parts, **limits,
        ),
        SampleLeakage(
            "jfet-small", "G/D+S", 5.0, celsius(23), 0.0, 0.8e-12, 1.4e-12,
            outcome="not detected", upper_bound=1.9e-12, components=parts,
            flags=("the part-fitted zero differs from the open zero by more than 3 u",), **limits,
        ),
        SampleLeakage(
            "led-red", "A/K", 5.0, celsius(23), 0.0, -2.4e-12, 1.4e-12,
            outcome="negative", upper_bound=0.7e-12, components=parts,
            flags=("negative beyond the decision limit: check sign, zero and light",), **limits,
        ),
    ]  # fmt: skip
