"""The point at which the plain solver linearises a clamp: its junction voltage, current and slope there.

The series resistance is taken out of the linear step in closed form, so no iteration runs inside
another. `lane_clamps` does the same in compiled lanes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from clampwright.physics.clamp import ClampState, current_and_slope, take
from clampwright.physics.terminal import between

Array = NDArray[np.float64]

OVERSHOOT = 4.0  # a clamp whose current exceeds its linear prediction this much is drawn back
BEYOND = 0.1  # to where it carries this share more than predicted: never to where a saturated
# junction has no slope and would be thrown out again
NEARLY = 1e-2  # relative accuracy of the current at which a clamp is linearised
MOST_SEARCHES = 100
HALVE_EVERY = 8  # a plain halving now and then bounds the number of searches


@dataclass(frozen=True)
class Point:
    """A clamp linearised: junction voltage (V), and current (A) and slope (S) of the law there."""

    junction: Array
    current: Array
    slope: Array

    def through(self, voltage: Array, law: ClampState) -> Array:
        """Current (A) that the straight line predicts at a terminal voltage (V)."""
        resistance = np.asarray(law.series_resistance)
        straight = self.current + self.slope * (voltage - self.junction)
        return np.asarray(straight / (1.0 + resistance * self.slope))

    def terminal_slope(self, law: ClampState) -> Array:
        """Slope (S) at the terminals."""
        return np.asarray(self.slope / (1.0 + np.asarray(law.series_resistance) * self.slope))

    def unless(self, keep: Array, other: Point) -> Point:
        """This point, but the other one in the cases that `keep` it."""
        both = zip(vars(other).values(), vars(self).values(), strict=True)
        return Point(*(np.where(keep, old, new) for old, new in both))

    def carried(self, voltage: Array, law: ClampState) -> Array:
        """Current (A) of a settled clamp at its terminal voltage (V), from the better known of the two:

        the law, or where that is very steep the drop over the series resistance.
        """
        resistance = np.asarray(law.series_resistance, float)
        drop = voltage - self.junction
        steep = resistance * self.slope * np.abs(self.junction) > np.maximum(
            np.abs(voltage), np.abs(self.junction)
        )
        over = drop / np.where(resistance > 0, resistance, 1.0)
        return np.where(steep, over, self.current)


def point_at(junction: Array, law: ClampState) -> Point:
    """The law at a junction voltage."""
    current, slope = current_and_slope(junction, law)
    return Point(junction, *(np.broadcast_to(x, junction.shape) for x in (current, slope)))


def is_bare(law: ClampState) -> bool:
    """Whether, in some case, a symmetric power law is all there is: it has no slope at 0 V."""
    if not np.any(law.symmetric_current):
        return False
    rest = np.add(law.diffusion_current, law.generation_current) + law.film_conductance
    return bool(
        np.any((rest + law.tunnelling_current == 0) & (np.asarray(law.symmetric_current) > 0))
    )


def next_point(voltage: Array, before: Point, law: ClampState) -> tuple[Point, Array]:
    """Where to linearise after a step to this terminal voltage, and how far it moves the junction (V).

    Where the law carries far more than the straight line foretold, the junction goes no further than
    to where the law carries what was foretold.
    """
    through = before.through(voltage, law)
    wanted = voltage - np.asarray(law.series_resistance) * through
    point = point_at(wanted, law)
    moved = np.abs(wanted - before.junction)
    known = np.abs(through) + np.abs(before.current)  # none: a bare power law at 0 V tells nothing
    hot = np.flatnonzero((np.abs(point.current) > OVERSHOOT * known) & (known > 0))
    if hot.size == 0:
        return point, moved
    some = take(law, hot)
    found = _carrying(through[hot], before.junction[hot], wanted[hot], some)
    drawn = [np.array(x) for x in (point.junction, point.current, point.slope)]
    for whole, part in zip(drawn, found, strict=True):
        whole[hot] = part
    return Point(*drawn), moved


def _carrying(
    foretold: Array, old: Array, new: Array, law: ClampState
) -> tuple[Array, Array, Array]:
    """Junction voltage between old and new where the law nearly carries `foretold`; current, slope.

    Newton in the logarithm of the current, kept inside a bracket that always holds the answer.
    """
    target = foretold + np.where(new > old, BEYOND, -BEYOND) * np.abs(foretold)
    low, high = np.minimum(old, new), np.maximum(old, new)
    x = np.clip(_first_guess(target, law), low, high)
    current, slope = current_and_slope(x, law)
    for count in range(MOST_SEARCHES):
        far = np.abs(current - target) > NEARLY * np.abs(target)
        if not far.any():
            break
        low, high = np.where(current < target, x, low), np.where(current < target, high, x)
        lit = np.where(x > 0, law.photocurrent, 0.0)
        with np.errstate(all="ignore"):
            ratio = (target + lit) / (current + lit)
            straight = x + np.log(ratio) * (current + lit) / slope
            following = np.where(ratio > 0, straight, x + (target - current) / slope)
        inside = (low < following) & (following < high) & (count % HALVE_EVERY != HALVE_EVERY - 1)
        following = np.where(far, np.where(inside, following, between(low, high)), x)
        if np.array_equal(following, x):
            break
        x = following
        current, slope = current_and_slope(x, law)
    return x, current, slope


def _first_guess(target: Array, law: ClampState) -> Array:
    """The smallest voltage at which one mechanism alone carries the current."""
    size, guess = np.abs(target), np.full(target.shape, np.inf)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = size / np.asarray(law.symmetric_current)
        power = law.symmetric_voltage * share ** (1.0 / np.asarray(law.symmetric_exponent))
        guess = np.fmin(guess, power)
        forward = guess
        for current, ideality in (
            (law.diffusion_current, law.diffusion_ideality),
            (law.generation_current, law.generation_ideality),
        ):
            volts = np.asarray(ideality) * law.thermal_voltage
            forward = np.fmin(forward, volts * np.log1p(size / np.asarray(current)))
        soft = law.tunnelling_width * np.log1p(size / np.asarray(law.tunnelling_current))
        reverse = np.fmin(np.fmin(guess, soft), law.breakdown_voltage)
    return np.asarray(np.where(target > 0, forward, -reverse))
