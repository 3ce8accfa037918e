"""The sliders of the network page: each is a list of texts with units, never a free number."""

from __future__ import annotations

from dataclasses import dataclass

from clampwright import actions
from clampwright.quantities import ZERO_CELSIUS, series_values, write
from clampwright.record.words import nominal

LIGHT = (0, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1e3, 2e3, 5e3, 1e4, 2e4, 5e4, 1e5)  # [lx]
COLDEST, HOTTEST, DEGREES = -20, 125, 5  # [°C]
SIGNAL_STEPS = 40


@dataclass(frozen=True)
class Slider:
    """One field of the sheet, its label, the texts to choose from and which one is chosen."""

    field: str
    label: str
    stops: tuple[str, ...]
    chosen: int


def sliders(case: actions.Case) -> tuple[Slider, ...]:
    """Series resistor in preferred values, heat of board and sensor, light, highest signal."""
    design = case.design
    outer, board, need = design.network.outer_resistor, design.board, design.requirement
    source = design.source
    label = "Series resistor" if outer.count == 1 else f"Resistor, each of {outer.count}"
    heats = [c + ZERO_CELSIUS for c in range(COLDEST, HOTTEST + 1, DEGREES)]
    cold = [t for t in heats if t <= source.temperature_maximum]
    heats = [t for t in heats if t >= board.temperature_minimum]
    span = design.rails.positive - need.signal_minimum
    signals = [need.signal_minimum + span * n / SIGNAL_STEPS for n in range(1, SIGNAL_STEPS + 1)]
    return (
        _slider("network.outer_resistor.value", label, "resistance",
                list(series_values("E24", 10.0, 1e7)), outer.value),
        _slider("board.temperature_maximum", "Warmest board", "temperature", heats,
                board.temperature_maximum),
        _slider("source.temperature_minimum", "Coldest sensor", "temperature", cold,
                source.temperature_minimum),
        _slider("board.illuminance_maximum", "Light at the clamp", "illuminance",
                [x for x in LIGHT if x >= board.illuminance_minimum], board.illuminance_maximum),
        _slider("requirement.signal_maximum", "Highest signal", "voltage", signals,
                need.signal_maximum),
    )  # fmt: skip


def _slider(field: str, label: str, kind: str, values: list[float], now: float) -> Slider:
    """Stops in rising order, the present value among them."""
    rising = sorted({*(v for v in values if abs(v - now) > 1e-9 * abs(now)), now})
    words = nominal if kind == "resistance" else write
    texts = tuple(plain(words(value, kind)) for value in rising)
    return Slider(field, label, texts, rising.index(now))


def plain(text: str) -> str:
    """A written quantity as one types it: an ordinary space and hyphen."""
    return text.replace("\u2009", " ").replace("\u2212", "-")
