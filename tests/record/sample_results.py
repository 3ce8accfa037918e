"""Sample results for the record's tests: an invented orchard logger, in the four topologies.

The numbers are plausible, not computed; the record must draw whatever the results say.
"""

from __future__ import annotations

from typing import Any

from clampwright.verdict.design import (
    Amplifier,
    Board,
    Design,
    Fault,
    Network,
    Rails,
    Requirement,
    Resistor,
    Source,
    Surroundings,
)
from clampwright.verdict.results import (
    Allowance,
    CheckResult,
    ClampPlace,
    ClampSummary,
    Corner,
    Dynamics,
    Gate,
    Judgement,
    LeakagePoint,
    Term,
    TransferError,
    Verdict,
)

ZERO_CELSIUS = 273.15  # [K]
HASH = "3f9a51c07be24d18"
NO_GATE = Gate(level="none", reasons=(), cautions=(), acknowledged="", held=False)
AMBER_GATE = Gate(
    level="amber",
    reasons=("34 V peak in a wet place is above 22.6 V peak (IEC 61010-1, check the edition)",),
    cautions=(
        "Clearances, protective earth and enclosure are judged elsewhere.",
        "An input that survived may have raised its bias current: repeat the leakage test.",
    ),
    acknowledged="",
    held=True,
)
TITLES = {
    "T1": ("Series resistor only", "The junctions inside the amplifier clamp the pin."),
    "T2": ("Resistor and clamps to the supply rails", "Each clamp stands off the rail."),
    "T5": ("Antiparallel pair to a guard", "The second pole of the pair follows the signal."),
    "T6": ("Resistor, clamp, resistor", "The inner resistor limits the current of the pin."),
}


def celsius(value: float) -> float:
    return value + ZERO_CELSIUS


def sample_design(topology: str = "T5", **changes: Any) -> Design:
    """The orchard logger: glass electrode, ±2.5 V rails, ±0.05 pH."""
    network = Network(
        topology=topology,
        outer_resistor=Resistor(value=470e3, count=2, package="1206"),
        inner_resistor=None if topology == "T1" else Resistor(value=10e3),
        guard_resistor=Resistor(value=4.7e3) if topology == "T5" else None,
        clamp=None if topology == "T1" else "npn-small C/B+E",
    )
    values: dict[str, Any] = {
        "title": "Orchard logger, pH input",
        "revision": "B",
        "note": "B: clamp returned to the guard follower; A: clamps to the rails, failed at 45 °C.",
        "requirement": Requirement(
            quantity="soil pH, glass electrode",
            signal_minimum=-0.177,
            signal_maximum=0.237,
            signal_law="absolute temperature",
            accuracy=0.05,
            accuracy_unit="pH",
            sensitivity=0.05916,
            bandwidth=1.0,
            settle_to=1e-3,
            settle_time=5.0,
        ),
        "source": Source(
            resistance=50e6,
            law="glass electrode",
            interval=8.0,
            temperature_minimum=celsius(8),
            temperature_maximum=celsius(30),
            cable_capacitance=300e-12,
        ),
        "board": Board(
            temperature_minimum=celsius(-10),
            temperature_maximum=celsius(45),
            illuminance_maximum=200.0,
            lamp="daylight through the lid",
        ),
        "rails": Rails(
            positive=2.5, negative=-2.5, load=2e-3, minimum_load=60e-6, capacitance=10e-6
        ),
        "amplifier": Amplifier(
            offset_voltage=150e-6,
            offset_drift=1e-6,
            bias_current=20e-15,
            bias_doubling=10.0,
            pin_current_maximum=10e-3,
            guard_offset=250e-6,
        ),
        "network": network,
        "faults": (
            Fault(name="battery lead", voltage=15.0),
            Fault(
                name="valve wire", kind="mains-frequency", voltage=34.0, duration=60.0, power="on"
            ),
            Fault(name="static discharge", kind="esd", voltage=8000.0, standard="IEC 61000-4-2"),
        ),
        "surroundings": Surroundings(wet=True),
    }
    return Design(**(values | changes))


def sample_corner() -> Corner:
    return Corner(
        sensor_temperature=celsius(8),
        board_temperature=celsius(45),
        illuminance=200.0,
        signal=0.2235,
        source_resistance=218e6,
    )


def sample_points() -> tuple[LeakagePoint, ...]:
    """Bench points of a small transistor at 5 V, and a law point at the voltage it sits at."""
    rows = [
        (23, 5.0, 3.7e-12, 2.2e-12, 5.2e-12, "measured"),
        (45, 5.0, 21.9e-12, 19.9e-12, 23.9e-12, "measured"),
        (60, 5.0, 66.1e-12, 62e-12, 70e-12, "measured"),
        (70, 5.0, 127e-12, 120e-12, 134e-12, "measured"),
        (10, 5.0, 0.0, 0.0, 1.9e-12, "not detected"),
        (25, 5.0, 50e-9, 50e-9, 50e-9, "maximum"),
        (25, 5.0, 90e-12, 90e-12, 90e-12, "typical"),
    ]
    return tuple(
        LeakagePoint(
            temperature=celsius(t), voltage=v, leakage=i, low=a, high=b, basis=k, source="bench"
        )
        for t, v, i, a, b, k in rows
    )


def sample_curve(voltage: float, reference: float) -> tuple[LeakagePoint, ...]:
    """A smooth rise of about 0.66 eV from -10 to 85 °C with a band that widens when cold."""
    points = []
    for step in range(20):
        t = -10 + 5 * step
        rise = reference * 2.0 ** ((t - 23) / 8.6)
        spread = 1.15 + abs(t - 55) / 80
        points.append(
            LeakagePoint(
                temperature=celsius(t),
                voltage=voltage,
                leakage=rise,
                low=rise / spread,
                high=rise * spread,
                basis="predicted",
                source="law fitted to four temperatures",
            )
        )
    return tuple(points)


def sample_places(bootstrapped: bool) -> tuple[ClampPlace, ...]:
    """Anode minus cathode: a pair either way round at the offset of a guard, or two rail clamps."""
    if bootstrapped:
        words = "250 µV, the offset of the guard, either way round"
        rows = [
            ("forward", words, -250e-6, 35e-15, 25e-15, 50e-15),
            ("backward", words, 250e-6, -34e-15, -49e-15, -24e-15),
        ]
    else:
        rows = [
            ("upper", "2.68 V reverse, against the positive rail", -2.68, 16e-12, 12e-12, 20e-12),
            ("lower", "2.74 V reverse, against the negative rail", -2.74, 17e-12, 13e-12, 21e-12),
        ]
    return tuple(
        ClampPlace(
            side=side, words=words, sits_at=at, leakage=i, leakage_low=low, leakage_high=high
        )
        for side, words, at, i, low, high in rows
    )


def sample_clamp(topology: str) -> ClampSummary:
    bootstrapped = topology == "T5"
    curve = sample_curve(5.0, 3.7e-12)
    if bootstrapped:
        curve += sample_curve(250e-6, 5.8e-15)
    return ClampSummary(
        part="npn-small",
        title="small NPN transistor, TO-92",
        wiring="C/B+E",
        wiring_words="collector against base and emitter tied",
        junction="collector–base",
        anode_leads=("E", "B"),
        cathode_leads=("C",),
        places=sample_places(bootstrapped),
        sits_at=250e-6 if bootstrapped else 2.74,
        sits_at_words="the guard follower's offset" if bootstrapped else "rail minus signal, upper",
        leakage=0.035e-12 if bootstrapped else 17e-12,
        leakage_low=0.025e-12 if bootstrapped else 13e-12,
        leakage_high=0.05e-12 if bootstrapped else 21e-12,
        leakage_basis="measured",
        zero_bias_resistance=7.1e9,
        law={
            "saturation current": "1.1 fA",
            "activation energy": "0.66 ± 0.03 eV",
            "grading exponent": "0.50",
            "responsivity": "4 fA/lx",
        },
        known=("leakage at 5 V, 23 to 70 °C", "responsivity at 1000 lx, LED lamp"),
        assumed=("ideality near 0 V: class prior", "grading exponent: class prior"),
        points=sample_points(),
        curve=curve,
    )


def sample_terms(topology: str) -> tuple[Term, ...]:
    rows: list[tuple[str, float, float, float, str, str, str]] = [
        ("amplifier bias current", -17e-6, -34e-6, -8e-6, "typical", "bias", "data sheet"),
    ]
    if topology == "T5":
        rows.insert(
            0, ("clamp pair", 19.3e-6, 13e-6, 27e-6, "measured", "clamp", "npn-small 2026-11-23")
        )
        rows.append(
            ("light, one lit one dark", 0.17e-3, 0.1e-3, 0.3e-3, "assumed", "light", "4 fA/lx")
        )
    elif topology != "T1":
        rows.insert(
            0, ("clamps", 3.7e-3, 2.9e-3, 4.5e-3, "measured", "clamp", "npn-small 2026-11-23")
        )
        rows.append(("photocurrent", 0.17e-3, 0.0, 0.3e-3, "assumed", "light", "4 fA/lx"))
    return tuple(
        Term(name=n, value=v, low=a, high=b, basis=k, group=g, source=s)
        for n, v, a, b, k, g, s in rows
    )


def sample_judgement(topology: str, verdict: Verdict) -> Judgement:
    passing = topology in ("T1", "T5")
    return Judgement(
        name="probable, lit",
        error=0.172e-3 if passing else 3.85e-3,
        low=0.09e-3 if passing else 3.0e-3,
        high=0.30e-3 if passing else 4.7e-3,
        allowance=0.93e-3,
        verdict=verdict,
        corner=sample_corner(),
        terms=sample_terms(topology),
        worst_case=0.36e-3 if passing else 4.9e-3,
        reason="the whole interval lies below the allowance"
        if passing
        else "the whole interval lies above the allowance",
    )


def sample_check(
    topology: str = "T5", verdict: Verdict = Verdict.PASS, gate: Gate = NO_GATE, **changes: Any
) -> CheckResult:
    """A `check` of the orchard logger; the verdict is what the caller wants to see drawn."""
    design = sample_design(topology)
    title, words = TITLES[topology]
    dark = sample_judgement(topology, verdict).model_copy(
        update={"name": "probable, dark", "corner": sample_corner()}
    )
    values: dict[str, Any] = {
        "design": design,
        "design_hash": HASH,
        "inputs": {
            "designs/orchard.toml": "3f9a51c07be24d18",
            "parts/npn-small.toml": "97b00d1155aa0c3e",
            "readings npn-small 2026-11-23": "c11f58e2203b9d70",
        },
        "topology_title": title,
        "topology_words": words,
        "clamp": None if topology == "T1" else sample_clamp(topology),
        "allowances": (
            Allowance(
                sensor_temperature=celsius(8),
                source_resistance=218e6,
                error=0.93e-3,
                leakage=4.3e-12,
                leakage_with_series_resistance=4.25e-12,
            ),
            Allowance(
                sensor_temperature=celsius(30),
                source_resistance=32.4e6,
                error=1.0e-3,
                leakage=30.9e-12,
                leakage_with_series_resistance=30.0e-12,
            ),
        ),
        "judgements": (sample_judgement(topology, verdict), dark),
        "transfers": (
            TransferError(
                corner=sample_corner(), offset=17e-6, gain_error=-2.1e-5, nonlinearity=0.4e-6
            ),
        ),
        "dynamics": Dynamics(
            corner=sample_corner(),
            noise_density=1.84e-6,
            integrated_noise=2.3e-6,
            allowed_noise=50e-6,
            noise_bandwidth=1.57,
            shot_noise=0.15e-15,
            bandwidth=2.3,
            required_bandwidth=1.0,
            settling_time=0.47,
            settle_to=1e-3,
            allowed_settling_time=5.0,
            capacitance=310e-12,
            common_mode_rejection=None,
            required_rejection=None,
            verdict=Verdict.PASS,
            reason="settles in 0.47 s of the 5 s allowed",
        ),
        "residual": 3e-14,
        "defaults": (
            "ideality near 0 V is assumed (1.3 to 2.0), not measured",
            "one clamp lit and one dark is assumed",
        ),
        "open_risks": (
            "hum of 30 mV peak shifts the mismatch of the pair",
            "board film at 90 % humidity is not measured",
        ),
        "flags": ("amplifier bias is larger than the clamp",),
        "gate": gate,
        "verdict": verdict,
        "reason": "|E| + U = 0.30 mV stays below the 0.93 mV allowance at every corner",
    }
    return CheckResult(**(values | changes))
