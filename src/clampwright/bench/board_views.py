"""What readings of an assembled board mean, frozen, in numbers and in words."""

from __future__ import annotations

from collections.abc import Sequence

from pydantic import BaseModel, ConfigDict

from clampwright.bench.board_terms import LIGHT, TERMS, BoardReading, kind_of
from clampwright.bench.board_trend import Trend
from clampwright.bench.separation import DETECTED, LACK_OF_FIT, Found, Separation
from clampwright.quantities import DIMENSIONS, write
from clampwright.quantities.fields import Current, Ratio, Voltage

OUTCOMES = ("found", "not detected", "not told apart")


class _View(BaseModel):
    model_config = ConfigDict(frozen=True)


class TermView(_View):
    """One term at 25 °C with half of its 95 % interval; `value` and `uncertainty` are in `unit`."""

    name: str
    outcome: str
    value: float | None
    uncertainty: float | None
    unit: str
    words: str


class BoardAgreement(_View):
    """Readings of a board against what a design predicts for them."""

    design: str
    agrees: bool
    inside: int
    conditions: int
    words: str


class SeparationResult(_View):
    """Clamps, amplifier and film of an assembled board, told apart as far as its readings allow."""

    board: str
    readings: str
    readings_hash: str
    rows: int
    conditions: int
    stated_voltage: Voltage
    terms: tuple[TermView, ...]
    net_current: Current
    net_uncertainty: Current
    net_words: str
    mixed: tuple[str, ...]
    chance: Ratio | None
    degrees_of_freedom: int
    assumed: tuple[str, ...]
    agreement: BoardAgreement | None = None
    kept: str = ""

    def text(self) -> str:
        """Terms, what is mixed up, what was assumed, and the prediction, a line each."""
        title = self.board or self.readings
        lines = [f"{title}: {self.rows} readings under {self.conditions} conditions"]
        lines += [f"  {term.words}" for term in self.terms]
        lines.append(f"  {self.net_words}")
        lines.append(
            f"Clamps at {write(self.stated_voltage, 'voltage')} reverse; all at 25 °C, ± 95 %, "
            "positive into the node."
        )
        lines += [f"{text[0].upper()}{text[1:]}." for text in self.mixed]
        lines += [f"Assumed: {text}." for text in self.assumed]
        if self.chance is not None and self.chance < LACK_OF_FIT:
            lines.append(
                f"These terms do not explain the board (chance {self.chance:.1g}): another path "
                "leaks, or a reading had not settled; the intervals are widened."
            )
        if not self.degrees_of_freedom:
            lines.append("No reading is left over to check the model: read one condition more.")
        if self.agreement:
            lines.append(f"{self.agreement.words}.")
        if self.kept:
            lines.append(f"Kept as session {self.kept}.")
        return "\n".join(lines)


class SittingView(_View):
    """One kept sitting in a trend."""

    session: str
    time: str
    rows: int
    resistor: str


class TrendView(_View):
    """One term over the sittings; numbers in `unit`, the slope in `unit` a month, ± 95 %."""

    name: str
    unit: str
    values: tuple[float, ...]
    uncertainties: tuple[float, ...]
    slope: float
    slope_uncertainty: float
    change: float
    change_uncertainty: float
    changed: bool
    words: str


class TrendResult(_View):
    """Kept sittings of one board and what changed between them."""

    board: str
    sittings: tuple[SittingView, ...]
    trends: tuple[TrendView, ...]
    chance: Ratio | None
    assumed: tuple[str, ...]

    def text(self) -> str:
        """Sittings with every term of each, then what changed."""
        lines = [f"{self.board or 'Board'}: {len(self.sittings)} sittings"]
        for place, sitting in enumerate(self.sittings):
            lines.append(f"{sitting.time[:10]}  {sitting.session}  ({sitting.rows} readings)")
            for t in self.trends:
                value = write(t.values[place], kind_of(t.name))
                reach = write(t.uncertainties[place], kind_of(t.name), digits=2)
                lines.append(f"    {t.name}: {value} ± {reach}")
        lines.append("From the first to the last, without what errs alike in all of them:")
        lines += [f"  {t.words}" for t in self.trends]
        lines.append(
            "CHANGED goes by the difference of first and last, and is the one to believe. The slope asks "
            "for a steady creep through all sittings: where they do not lie on a line, its ± grows and "
            "may span zero beside a CHANGED. Then the term stepped: look what happened in between."
        )
        lines.append(
            "± 95 %: of twenty terms that stay as they are one is said to have changed, by chance."
        )
        lines += [f"Assumed: {text}." for text in self.assumed]
        if self.chance is not None and self.chance < LACK_OF_FIT:
            lines.append(f"The terms do not explain these sittings (chance {self.chance:.1g}).")
        return "\n".join(lines)


def term_view(found: Found) -> TermView:
    """A found term with its outcome."""
    if found.value is None or found.standard_uncertainty is None:
        outcome = OUTCOMES[2]
    else:
        seen = abs(found.value) >= DETECTED * found.standard_uncertainty
        outcome = OUTCOMES[0 if seen else 1]
    return TermView(
        name=found.name,
        outcome=outcome,
        value=found.value,
        uncertainty=found.expanded,
        unit=DIMENSIONS[kind_of(found.name)].unit,
        words=found.words(),
    )


def trend_view(trend: Trend) -> TrendView:
    """A trend with its unit and words."""
    unit = DIMENSIONS[kind_of(trend.name)].unit
    return TrendView(**vars(trend), unit=unit, changed=trend.changed, words=trend.words())


def usual_terms(readings: Sequence[BoardReading], without: Sequence[str] = ()) -> tuple[str, ...]:
    """Every term but those left out, and the photocurrent only where light was varied."""
    lit = len({r.light for r in readings}) > 1
    return tuple(t for t in TERMS if t not in without and (lit or t != LIGHT))


def usual_condition(readings: Sequence[BoardReading]) -> BoardReading:
    """The condition a board mostly works under: darkest, coolest, widest rails, least signal."""
    return min(
        readings,
        key=lambda r: (r.light, r.temperature, r.lower_rail - r.upper_rail, abs(r.signal)),
    )


def condition_words(reading: BoardReading) -> str:
    """Signal, rails, temperature and light of a condition."""
    return (
        f"{write(reading.signal, 'voltage')} between {write(reading.lower_rail, 'voltage')} and "
        f"{write(reading.upper_rail, 'voltage')}, {write(reading.temperature, 'temperature')}, "
        f"{write(reading.light, 'illuminance')}"
    )


def net_of(separation: Separation, at: BoardReading) -> tuple[Found, str]:
    """All that flows into the node under a condition, and in words."""
    net = separation.net_current(at)
    return net, f"{net.words()} at {condition_words(at)}"


__all__ = [
    "BoardAgreement",
    "SeparationResult",
    "SittingView",
    "TermView",
    "TrendResult",
    "TrendView",
    "condition_words",
    "net_of",
    "term_view",
    "trend_view",
    "usual_condition",
    "usual_terms",
]
