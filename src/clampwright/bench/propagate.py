"""The uncertainty of one leakage: its inputs, which of them are shared, and the budget.

I = sgn·(R̄ − Z̄)/k_a·(1 + scale error)·(1 + gain error) + bias error. Scale and gain errors of an
instrument and the doubts of a zero are single objects shared by all results that use them, so a
tree calculator keeps their correlation.

The movement of the zero is often the largest doubt and the least known: two zeros are one difference,
whose Student factor is 12.7. Its share enters with the factor of its own degrees of freedom (Cochran)
because Welch–Satterthwaite falls to 86…91 % there. Simulated coverage of the 95 % interval (scatter
1.1 µV, ten readings): 94…99 % however far the zero wanders, the more the less it does. Three zeros
instead of two make the interval three times narrower where the zero wanders.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf, isnan, sqrt
from typing import Literal

from clampwright import uncertain
from clampwright.bench.grouping import Group
from clampwright.bench.instrument import Profile
from clampwright.bench.leakage import Component
from clampwright.bench.zeros import Wander, Zero

NEAR_ZERO = 0.1  # [V] below which a junction is taken as a resistance
BUILT_IN_VOLTAGE = 0.7  # [V] usual for silicon, only to turn a bias error into a current
DRIFT = "drift of zero"
GRADING = 0.5  # [1] abrupt junction, same purpose


@dataclass(frozen=True)
class Doubt:
    """One input of the budget."""

    input: uncertain.Uncertain
    evaluation: Literal["A", "B"]
    shared: bool

    @property
    def size(self) -> float:
        """Its standard uncertainty, in its own unit."""
        return uncertain.standard_uncertainty(self.input)


@dataclass(frozen=True)
class Propagated:
    """One leakage (A) with its budget.

    `systematic` (V) is what a net reading of no current is uncertain by besides scatter and drift.
    """

    result: uncertain.Uncertain
    degrees_of_freedom: float
    components: tuple[Component, ...]
    relative: float  # [1] scale and gain, shared by the instrument
    independent: float  # [A] standard uncertainty without `relative`
    systematic: float  # [V]
    drift: Wander


@dataclass
class Propagation:
    """Propagates results of one session; remembers the inputs they share."""

    _scales: dict[str, tuple[Doubt, Doubt]] = field(default_factory=dict)
    _zeros: dict[tuple[int, ...], tuple[Doubt, Doubt, Doubt]] = field(default_factory=dict)

    def leakage(
        self, condition: Group, count: float, zero: Zero, leads: Zero | None, profile: Profile
    ) -> Propagated:
        """The leakage of one condition; `count` is the effective number of its readings."""
        scatter, drift, fixture = self._zero(zero, leads, profile)
        resolution, counts = _meter(profile)
        reading = Doubt(_reading(condition, zero, count), "A", False)
        in_volts = (reading, scatter, drift, fixture, resolution, counts)
        per_volt = profile.sign / profile.scale
        net = (condition.mean - zero.value) * per_volt
        bias = Doubt(_bias(net, condition.reverse_voltage, profile), "B", False)
        gain, scale = self._scale(profile)
        volts = sum((doubt.input for doubt in in_volts[1:]), start=reading.input)
        result = volts * per_volt * (1 + scale.input) * (1 + gain.input) + bias.input
        relative = sqrt(scale.size**2 + gain.size**2)
        spread = uncertain.standard_uncertainty(result)
        components = _budget(result, (*in_volts, bias, gain, scale))
        return Propagated(
            result=result,
            degrees_of_freedom=_freedom(components),
            components=components,
            relative=relative,
            independent=sqrt(max(spread**2 - (relative * net) ** 2, 0.0)),
            systematic=sqrt(sum(d.size**2 for d in (fixture, resolution, counts))),
            drift=Wander(drift.size, uncertain.degrees_of_freedom(drift.input)),
        )

    def _zero(self, zero: Zero, leads: Zero | None, profile: Profile) -> tuple[Doubt, Doubt, Doubt]:
        """Scatter, drift and fixture residual of a zero, made once for all that use it."""
        key = tuple(g.first for z in (zero, leads) if z for g in z.groups)
        if key not in self._zeros:
            spread = 0.0 if isnan(zero.spread) else zero.spread
            drift = _drift(zero, profile)
            left_over = abs(zero.value - leads.value) / 2 if leads else 0.0
            scatter = uncertain.measured(
                -zero.value,
                spread / sqrt(zero.count),
                max(1, zero.degrees_of_freedom),
                "scatter of zero",
            )
            self._zeros[key] = (
                Doubt(scatter, "A", True),
                Doubt(drift, "B", True),
                Doubt(
                    uncertain.rectangular(0.0, left_over, "fixture leakage left over"), "B", True
                ),
            )
        return self._zeros[key]

    def _scale(self, profile: Profile) -> tuple[Doubt, Doubt]:
        """Gain error of the meter and scale error of the adapter, one object an instrument."""
        if profile.id not in self._scales:
            shape = (
                uncertain.normal if profile.tolerance_shape == "normal" else uncertain.rectangular
            )
            gain = uncertain.rectangular(0.0, profile.meter_gain, "gain of the meter")
            scale = shape(0.0, profile.tolerance, "scale of the adapter")
            self._scales[profile.id] = (Doubt(gain, "B", True), Doubt(scale, "B", True))
        return self._scales[profile.id]


def _drift(zero: Zero, profile: Profile) -> uncertain.Uncertain:
    """Movement of the zero: as it was seen; for a single zero, as the adapter's sheet states it."""
    if zero.wander is None:
        stated = profile.offset_drift * profile.temperature_uncertainty
        return uncertain.rectangular(0.0, stated, DRIFT)
    return uncertain.measured(0.0, zero.wander.size, zero.wander.degrees_of_freedom, DRIFT)


def _freedom(components: tuple[Component, ...]) -> float:
    """Degrees of freedom of the result: the drift keeps its own Student factor."""
    others = [c for c in components if c.name != DRIFT]
    size = sqrt(sum(c.value**2 for c in others))
    spent = sum(c.value**4 / c.degrees_of_freedom for c in others)
    steady = (size, size**4 / spent if spent else inf)
    drift = [(c.value, c.degrees_of_freedom) for c in components if c.name == DRIFT]
    return uncertain.joined_freedom(steady, *drift)


def _meter(profile: Profile) -> tuple[Doubt, Doubt]:
    """Resolution (half a step) and the counts of the meter's specification."""
    half = profile.resolution / 2
    counts = profile.meter_counts * profile.resolution
    return (
        Doubt(uncertain.rectangular(0.0, half, "resolution of the meter"), "B", False),
        Doubt(uncertain.rectangular(0.0, counts, "counts of the meter"), "B", False),
    )


def _reading(condition: Group, zero: Zero, count: float) -> uncertain.Uncertain:
    """Mean reading with s/√n; a single reading borrows the scatter of the zero."""
    spread, freedom = condition.spread, max(1.0, count - 1)
    if isnan(spread):
        spread, freedom = zero.spread, max(1.0, zero.degrees_of_freedom)
    if isnan(spread):
        spread = 0.0
    return uncertain.measured(condition.mean, spread / sqrt(count), freedom, "scatter of reading")


def _bias(current: float, voltage: float, profile: Profile) -> uncertain.Uncertain:
    """Current by which bias tolerance and the offset voltage across the part may have changed it.

    dI/dV is I/V within `NEAR_ZERO` of 0 V, beyond it m·I/(|V| + V_bi) of an abrupt junction. At 0 V
    the slope is unknown and the part-fitted zero has to show the effect.
    """
    if abs(voltage) > NEAR_ZERO:
        slope = GRADING * current / (abs(voltage) + BUILT_IN_VOLTAGE)
    else:
        slope = current / voltage if voltage else 0.0
    half_width = sqrt(profile.bias_tolerance**2 + profile.offset_voltage**2)
    return uncertain.rectangular(0.0, abs(slope) * half_width, "bias voltage and burden")


def _budget(result: uncertain.Uncertain, doubts: tuple[Doubt, ...]) -> tuple[Component, ...]:
    kept = [doubt for doubt in doubts if doubt.size > 0]
    lines = uncertain.components(result, [doubt.input for doubt in kept])
    return tuple(
        Component(
            name=line.name,
            evaluation=doubt.evaluation,
            value=line.standard_uncertainty,
            degrees_of_freedom=line.degrees_of_freedom,
            shared=doubt.shared,
        )
        for line, doubt in zip(lines, kept, strict=True)
    )


__all__ = ["Doubt", "Propagated", "Propagation"]
