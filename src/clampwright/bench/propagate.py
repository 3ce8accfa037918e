"""The uncertainty of one leakage: its inputs, which of them are shared, and the budget.

I = sgn·(R̄ − Z̄)/k_a·(1 + scale error)·(1 + gain error) + bias error. Scale and gain errors of an
instrument and the doubts of a zero are single objects shared by all results that use them, so a
tree calculator keeps their correlation.

The movement of the zero is often the largest doubt and the least known: two zeros are one difference,
whose Student factor is 12.7. Its share enters with the factor of its own degrees of freedom (Cochran)
because Welch–Satterthwaite falls to 86…91 % there; `benchmarks/intervals.py` counts what the intervals
then hold. Three zeros instead of two make the interval three times narrower where the zero wanders.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf, isnan, sqrt
from typing import Literal

from clampwright import uncertain
from clampwright.bench.grouping import Group
from clampwright.bench.history import YEAR
from clampwright.bench.instrument import THROUGH_THE_METER, Profile
from clampwright.bench.leakage import Component
from clampwright.bench.scatter import Scatter
from clampwright.bench.zeros import Wander, Zero
from clampwright.physics.constants import BUILT_IN_VOLTAGE

NEAR_ZERO = 0.1  # [V] below which a junction is taken as a resistance
DRIFT = "drift of zero"
READING_SCATTER, ZERO_SCATTER = "scatter of reading", "scatter of zero"
FIXTURE = "fixture leakage left over"
LONE_SCATTER = "scatter, not known"
GAIN, SCALE = "gain of the meter", "scale of the adapter"
PROPORTIONAL = (GAIN, SCALE)  # lines of what is proportional to the current and shared
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
class Observed:
    """One condition as it was read, with everything its budget is drawn from."""

    condition: Group
    zero: Zero
    leads: Zero | None  # open-lead zero beside a fixture zero
    profile: Profile
    scatter: Scatter
    soakage: float = 0.0  # [V] of the mean that may still be soakage
    light: float = 0.0  # [V] that light on a part thought dark may make
    calibration_age: float = 0.0  # [s]

    @property
    def count(self) -> float:
        """Effective number of readings."""
        return self.condition.effective_count


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
    independent_freedom: float  # degrees of freedom of that
    zero: float  # [A] part of it in common with other results of the same zeros
    scatter: tuple[float, float]  # [V] of reading less zero when nothing flows; its freedom
    systematic: float  # [V]
    drift: Wander


@dataclass
class Propagation:
    """Propagates results of one session; remembers the inputs they share."""

    _scales: dict[str, tuple[Doubt, Doubt]] = field(default_factory=dict)
    _zeros: dict[tuple[int, ...], tuple[Doubt, Doubt, Doubt]] = field(default_factory=dict)

    def leakage(self, seen: Observed) -> Propagated:
        """The leakage of one condition."""
        profile, condition = seen.profile, seen.condition
        scatter, drift, fixture = self._zero(seen)
        systematic = (fixture, *_meter(seen), *_one_sided(seen))
        reading = Doubt(_reading(seen), "A", False)
        in_volts = (reading, scatter, drift, *systematic)
        per_volt = profile.sign / profile.scale
        net = (condition.mean - seen.zero.value) * per_volt
        bias = Doubt(_bias(net, condition.reverse_voltage, profile), "B", False)
        gain, scale = self._scale(profile, seen.calibration_age)
        volts = sum((doubt.input for doubt in in_volts[1:]), start=reading.input)
        result = volts * per_volt * (1 + scale.input) * (1 + gain.input) + bias.input
        relative = sqrt(scale.size**2 + gain.size**2)
        spread = uncertain.standard_uncertainty(result)
        components = _budget(result, (*in_volts, bias, gain, scale))
        own = [c for c in components if c.name not in PROPORTIONAL]
        return Propagated(
            result=result,
            degrees_of_freedom=_freedom(components),
            components=components,
            relative=relative,
            independent=sqrt(max(spread**2 - (relative * net) ** 2, 0.0)),
            independent_freedom=_freedom(own),
            zero=_in_common(components),
            scatter=_difference(seen),
            systematic=sqrt(sum(d.size**2 for d in systematic)),
            drift=Wander(drift.size, uncertain.degrees_of_freedom(drift.input)),
        )

    def _zero(self, seen: Observed) -> tuple[Doubt, Doubt, Doubt]:
        """Scatter, drift and fixture residual of a zero, made once for all that use it.

        A zero whose scatter is not its own but that of this condition is made anew for each.
        """
        zero, leads = seen.zero, seen.leads
        own = not isnan(zero.spread)
        key = tuple(g.first for z in (zero, leads) if z for g in z.groups)
        key = key if own else (*key, -1 - seen.condition.first)
        if key not in self._zeros:
            size, freedom = zero.spread, max(1.0, zero.degrees_of_freedom)
            if not own:
                lone = seen.scatter.source == "single"  # then the reading's line holds both
                size, freedom = 0.0 if lone else seen.scatter.size, seen.scatter.degrees_of_freedom
            scatter = uncertain.measured(
                -zero.value, size / sqrt(zero.count), freedom, ZERO_SCATTER
            )
            left_over = abs(zero.value - leads.value) / 2 if leads else 0.0
            fixture = uncertain.rectangular(0.0, left_over, FIXTURE)
            self._zeros[key] = (
                Doubt(scatter, "A", True),
                Doubt(_drift(seen), "B", True),
                Doubt(fixture, "B", True),
            )
        return self._zeros[key]

    def _scale(self, profile: Profile, age: float) -> tuple[Doubt, Doubt]:
        """Gain error of the meter and scale error of the adapter, one object an instrument."""
        if profile.id not in self._scales:
            shape = (
                uncertain.normal if profile.tolerance_shape == "normal" else uncertain.rectangular
            )
            gain = uncertain.rectangular(0.0, profile.meter_gain, GAIN)
            tolerance = profile.tolerance + profile.scale_drift * age / YEAR
            scale = shape(0.0, tolerance, SCALE)
            self._scales[profile.id] = (Doubt(gain, "B", True), Doubt(scale, "B", True))
        return self._scales[profile.id]


def _drift(seen: Observed) -> uncertain.Uncertain:
    """Movement of the zero: as it was seen; for a single zero, as the adapter's sheet states it.

    Where that states none either, a second zero might have differed by the scatter of both alone:
    that difference, known as badly as one difference is.
    """
    zero, profile = seen.zero, seen.profile
    if zero.wander is not None:
        return uncertain.measured(0.0, zero.wander.size, zero.wander.degrees_of_freedom, DRIFT)
    if profile.offset_drift > 0:
        return uncertain.rectangular(0.0, profile.offset_drift * profile.bench_change, DRIFT)
    return uncertain.measured(0.0, seen.scatter.size * sqrt(2 / zero.count), 1.0, DRIFT)


def _freedom(components: Sequence[Component]) -> float:
    """Degrees of freedom of the result: the drift keeps its own Student factor."""
    others = [c for c in components if c.name != DRIFT]
    size = sqrt(sum(c.value**2 for c in others))
    spent = sum(c.value**4 / c.degrees_of_freedom for c in others)
    steady = (size, size**4 / spent if spent else inf)
    drift = [(c.value, c.degrees_of_freedom) for c in components if c.name == DRIFT]
    return uncertain.joined_freedom(steady, *drift)


def _in_common(components: Sequence[Component]) -> float:
    """What results between the same zeros share (A): their scatter, the fixture, half of the drift.

    Two readings at s < t of a walk pinned at both zeros (0 and 1) differ by (t − s)(1 − (t − s)) in
    variance, never more than one alone at the middle: correlation ½ is the worst there is.
    """
    shared = {ZERO_SCATTER: 1.0, FIXTURE: 1.0, DRIFT: 0.5}
    return sqrt(sum(shared.get(c.name, 0.0) * c.value**2 for c in components))


def _meter(seen: Observed) -> tuple[Doubt, Doubt, Doubt]:
    """Resolution (half a step), counts of the meter's specification, change of its bias current.

    Through a meter or shunt the bias looks like leakage; in an adapter, zeros before and after show
    how it moves, so there it counts only where the zero was taken once.
    """
    profile = seen.profile
    half = profile.resolution / 2
    counts = profile.meter_counts * profile.resolution
    counted = profile.method in THROUGH_THE_METER or seen.zero.drift is None
    bias = profile.bias_change * profile.scale if counted else 0.0
    return (
        Doubt(uncertain.rectangular(0.0, half, "resolution of the meter"), "B", False),
        Doubt(uncertain.rectangular(0.0, counts, "counts of the meter"), "B", False),
        Doubt(uncertain.rectangular(0.0, bias, "change of the bias current"), "B", False),
    )


def _one_sided(seen: Observed) -> tuple[Doubt, Doubt]:
    """Soakage and light that may be in the reading, between nothing and all of it.

    No correction is made for what may be nothing: the root mean square about the reading itself is
    width/√3 (JCGM 100:2008, F.2.4.5), so the interval reaches as far the other way.
    """
    soakage = uncertain.rectangular(0.0, abs(seen.soakage), "soakage left over")
    light = uncertain.rectangular(0.0, abs(seen.light), "light on the dark part")
    return Doubt(soakage, "B", False), Doubt(light, "B", False)


def _difference(seen: Observed) -> tuple[float, float]:
    """Scatter (V) of reading less zero when nothing flows, and its degrees of freedom."""
    reach = sqrt(1 / seen.count + 1 / seen.zero.count)
    return seen.scatter.size * reach, seen.scatter.degrees_of_freedom


def _reading(seen: Observed) -> uncertain.Uncertain:
    """Mean reading with s/√n; a single reading takes the scatter of zeros, or what is told of it."""
    condition, scatter = seen.condition, seen.scatter
    if scatter.source == "single":
        return uncertain.measured(condition.mean, *_difference(seen), LONE_SCATTER)
    size, freedom = condition.spread, max(1.0, seen.count - 1)
    if isnan(size):
        size, freedom = scatter.size, scatter.degrees_of_freedom
    return uncertain.measured(condition.mean, size / sqrt(seen.count), freedom, READING_SCATTER)


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


__all__ = ["Doubt", "Observed", "Propagated", "Propagation"]
