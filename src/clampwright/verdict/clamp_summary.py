"""The clamp as it is wired, for people: where it sits, what it leaks, what each number rests on."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from clampwright.network.topologies import Topology
from clampwright.parts.clamp_part import Clamp, sheet_figures
from clampwright.parts.law_interval import leakage_intervals
from clampwright.parts.law_model import reverse_leakage
from clampwright.physics.clamp import at_conditions, current_and_slope
from clampwright.physics.constants import ROOM_TEMPERATURE
from clampwright.quantities import write
from clampwright.verdict.corners import Corners
from clampwright.verdict.design import Design
from clampwright.verdict.known import known_at_each
from clampwright.verdict.places import sits, sits_over
from clampwright.verdict.results import ClampPlace, ClampSummary, Corner, LeakagePoint

Sitting = tuple[float, float]  # V across a clamp (anode minus cathode), K
Place = tuple[str, float, float]  # side, and how it sits

FORWARD_DROP = 0.6  # [V] of the conducting clamp, added to the rail span; common practice
CURVE_POINTS = 41
CURVE_MARGIN = 5.0  # [K] drawn beyond the board's own range
MOST_KEPT = 200  # of anything that a slider often leaves alone
COMPARED_VOLTAGE = (
    5.0  # [V] the curve of a bootstrapped clamp is drawn here, where bench readings lie
)


def off_state_voltage(design: Design) -> float:
    """What the idle rail clamp must stand off (V): the rail span and the other clamp's forward drop."""
    return design.rails.positive - design.rails.negative + FORWARD_DROP


def light_is_known(clamp: Clamp) -> bool:
    """Whether readings determine the photocurrent (or the clamp has none)."""
    if "responsivity" not in clamp.fitted.names:
        return True
    return any(text.startswith("photocurrent") for text in clamp.fitted.known)


def clamp_summary(
    design: Design, topology: Topology, clamp: Clamp, grid: Corners, shown: Corner | None = None
) -> ClampSummary:
    """Summary of the clamp at the corner where it leaks most.

    shown : the corner that is drawn; a network of one's own, whose nodes differ, has none
    """
    most = _most(design, topology, clamp, grid)
    drawn: list[Place] = []
    if shown and topology.name != "own":
        heat = shown.board_temperature
        drawn = [(s, sits(design, topology, s, shown.signal, heat), heat) for s in topology.sides]
    found = _placed(topology.name, clamp, (*most, *drawn))
    places = found[: len(most)]
    worst = max(places, key=lambda p: (p.sits_at <= 0, abs(p.leakage)))
    hottest = float(grid.board_temperature.max())
    slope = _slope_at_zero(clamp, hottest)
    drawn_at = -worst.sits_at if -worst.sits_at > 0.5 else COMPARED_VOLTAGE
    wiring = clamp.wiring
    anode = wiring.second if wiring.anode == "second" else wiring.first
    cathode = wiring.first if wiring.anode == "second" else wiring.second
    return ClampSummary(
        part=clamp.sheet.id,
        title=clamp.sheet.title,
        wiring=wiring.name,
        wiring_words=wiring.words,
        junction=wiring.clamp_class or "",
        anode_leads=anode,
        cathode_leads=cathode,
        places=places,
        drawn=found[len(most) :],
        sits_at=worst.sits_at,
        sits_at_words=worst.words,
        leakage=worst.leakage,
        leakage_low=worst.leakage_low,
        leakage_high=worst.leakage_high,
        leakage_basis=clamp.fitted.basis,
        known_by=worst.known_by,
        zero_bias_resistance=1.0 / slope if slope > 0 else float("inf"),
        law=law_words(clamp),
        known=clamp.fitted.known,
        assumed=clamp.fitted.assumed,
        points=evidence_points_drawn(clamp),
        curve=_curve(design, clamp, drawn_at),
    )


def _most(design: Design, topology: Topology, clamp: Clamp, grid: Corners) -> list[Place]:
    """Where each clamp leaks most in reverse, in the dark."""
    found = []
    for side in topology.sides:
        across = sits_over(design, topology, side, grid)
        every = zip(across.tolist(), grid.board_temperature.tolist(), strict=True)
        found.append((side, *_worst(clamp, tuple(dict.fromkeys(every)))))
    return found


@lru_cache(maxsize=MOST_KEPT)
def _worst(clamp: Clamp, places: tuple[Sitting, ...]) -> Sitting:
    """Where of some places the clamp leaks most in the dark."""
    across, heat = np.array(places).T
    leak = np.abs(reverse_leakage(clamp.fitted.law, -across, heat))
    return max(zip(leak.tolist(), places, strict=True))[1]


@lru_cache(maxsize=MOST_KEPT)
def _slope_at_zero(clamp: Clamp, temperature: float) -> float:
    """Slope (S) of the law at 0 V and a temperature (K), in the dark."""
    return float(current_and_slope(0.0, at_conditions(clamp.fitted.law, temperature))[1])


@lru_cache(maxsize=MOST_KEPT)
def _placed(topology: str, clamp: Clamp, places: tuple[Place, ...]) -> tuple[ClampPlace, ...]:
    """Each clamp at its place in the dark, the law asked once; topology : its name."""
    reverse = [(-volts, heat) for _, volts, heat in places]
    intervals = leakage_intervals(
        clamp.fitted, [v for v, _ in reverse], [t for _, t in reverse], lot=clamp.lot
    )
    known = known_at_each(clamp, reverse)
    return tuple(
        ClampPlace(
            side=side,
            words=_sits_at_words(topology, side, volts, heat),
            sits_at=volts,
            leakage=float(median),
            leakage_low=float(low),
            leakage_high=float(high),
            board_temperature=heat,
            known_by=ground,
        )
        for (side, volts, heat), median, low, high, ground in zip(
            places, *intervals, known, strict=True
        )
    )


def _sits_at_words(topology: str, side: str, volts: float, heat: float) -> str:
    size = write(abs(volts), "voltage")
    if side in ("upper", "lower"):
        rails = "clamp rail" if topology == "T3" else "rail"
        return (
            f"{size} reverse, against the {'positive' if side == 'upper' else 'negative'} {rails}"
        )
    if topology in ("T5", "T9"):
        what = "the offset of the guard" if topology == "T5" else "against the middle node"
        return f"{size}, {what}, either way round"
    if topology in ("T4", "T13"):
        warm = f" at {write(heat, 'temperature')}" if topology == "T13" else ""
        return f"{size}, the offset voltage of the amplifier{warm}, either way round"
    return f"{size} {'forward' if volts > 0 else 'reverse'}"


@lru_cache(maxsize=MOST_KEPT)
def law_words(clamp: Clamp) -> Mapping[str, str]:
    """The fitted parameters by their full names."""
    law = clamp.fitted.law
    leak = float(reverse_leakage(law, 5.0, ROOM_TEMPERATURE))
    words = {
        "reverse leakage at 5 V, 23 °C, dark": write(leak, "current"),
        "activation energy (apparent)": write(
            float(law.generation_activation_energy), "activation_energy"
        ),
        "grading exponent": f"{float(law.grading):.2f}",
        "ideality near 0 V": f"{float(law.generation_ideality):.2f}",
        "responsivity": write(float(law.responsivity), "responsivity"),
        "law": "generation with depletion widening, diffusion, film and photocurrent",
    }
    return MappingProxyType(words)


@lru_cache(maxsize=MOST_KEPT)
def evidence_points_drawn(clamp: Clamp) -> tuple[LeakagePoint, ...]:
    """Dark reverse evidence and data-sheet figures, each with what kind of number it is."""
    points = []
    for p in clamp.points:
        if p.illuminance > 0 or p.reverse_voltage < 0.5:
            continue
        low, high = p.interval
        points.append(
            LeakagePoint(
                temperature=p.temperature,
                voltage=p.reverse_voltage,
                leakage=p.leakage,
                low=low,
                high=high,
                basis="measured" if p.detected else "not detected",
                source=p.source,
            )
        )
    typical, maxima = sheet_figures(clamp.sheet, clamp.wiring)
    kinds = [("typical", f) for f in typical] + [("maximum", f) for f in maxima]
    for kind, figure in kinds:
        points.append(
            LeakagePoint(
                temperature=figure.temperature,
                voltage=figure.reverse_voltage,
                leakage=figure.leakage,
                low=0.0 if kind == "maximum" else figure.leakage,
                high=figure.leakage,
                basis=kind,
                source=figure.source,
            )
        )
    return tuple(points)


def _curve(design: Design, clamp: Clamp, voltage: float) -> tuple[LeakagePoint, ...]:
    """The law against temperature at the drawn voltage, over the board's range and the evidence."""
    edges = [design.board.temperature_minimum, design.board.temperature_maximum]
    if clamp.fitted.temperature_range:
        edges += list(clamp.fitted.temperature_range)
    ends = (min(edges) - CURVE_MARGIN, max(edges) + CURVE_MARGIN)
    return _drawn(clamp, voltage, ends)


@lru_cache(maxsize=MOST_KEPT)
def _drawn(clamp: Clamp, voltage: float, ends: tuple[float, float]) -> tuple[LeakagePoint, ...]:
    grid = np.linspace(*ends, CURVE_POINTS)
    kind = "assumed" if clamp.fitted.basis == "assumed" else "predicted"
    source = f"law at {write(voltage, 'voltage')}"
    found = leakage_intervals(clamp.fitted, [voltage], grid, lot=clamp.lot)
    return tuple(
        LeakagePoint(
            temperature=float(t),
            voltage=voltage,
            leakage=float(median),
            low=float(low),
            high=float(high),
            basis=kind,
            source=source,
        )
        for t, median, low, high in zip(grid, *found, strict=True)
    )
