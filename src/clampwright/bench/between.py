"""Is the difference between groups more than the scatter within them? One-way analysis of variance.

For lots of one kind read under one condition, or one part read in several sittings, in ln I.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, sqrt

import numpy as np

from clampwright.errors import InputError

DIFFERENT = 0.05  # [1] chance below which groups are called different


@dataclass(frozen=True)
class OneWay:
    """Sums of squares, their degrees of freedom, and what follows, in the unit of the values."""

    between_squares: float
    between_freedom: int
    within_squares: float
    within_freedom: int
    ratio: float  # F, of the mean squares
    chance: float  # that equal groups show an F as large
    between_spread: float  # standard deviation of group means beyond the scatter within
    within_spread: float  # standard deviation within groups

    @property
    def share(self) -> float:
        """Share of all variation that lies between groups (R²)."""
        return self.between_squares / (self.between_squares + self.within_squares)


def one_way(groups: Sequence[Sequence[float]]) -> OneWay:
    """Analysis of variance of two groups or more, with scatter within at least one of them.

    Deviations are taken from means and not by differences of squares, so that digits are kept. The
    component between groups is √((MS_between − MS_within)/n_0), n_0 = (N − Σn²/N)/(k − 1).
    Source: NIST/SEMATECH e-Handbook 7.4.3; checked against certified values.
    """
    from clampwright.uncertain.special import fdtrc

    sets = [np.asarray(g, float) for g in groups]
    counts = np.array([len(g) for g in sets])
    total, kinds = int(counts.sum()), len(sets)
    if kinds < 2 or counts.min() < 1 or total <= kinds:
        raise InputError(
            "groups cannot be compared", expected="two groups or more, one of them of several"
        )
    grand = float(np.concatenate(sets).mean())
    means = np.array([g.mean() for g in sets])
    between = float(counts @ (means - grand) ** 2)
    within = float(sum(((g - m) ** 2).sum() for g, m in zip(sets, means, strict=True)))
    mean_between, mean_within = between / (kinds - 1), within / (total - kinds)
    ratio = mean_between / mean_within if mean_within else float("inf")
    usual = (total - float(counts @ counts) / total) / (kinds - 1)
    return OneWay(
        between_squares=between,
        between_freedom=kinds - 1,
        within_squares=within,
        within_freedom=total - kinds,
        ratio=ratio,
        chance=float(fdtrc(kinds - 1, total - kinds, ratio)),
        between_spread=sqrt(max((mean_between - mean_within) / usual, 0.0)),
        within_spread=sqrt(mean_within),
    )


def one_way_words(found: OneWay, names: Sequence[str]) -> str:
    """One sentence on groups whose values are logarithms of leakage."""
    text = f"{', '.join(names)}: spread within ×{exp(found.within_spread):.2f}, between "
    text += (
        f"×{exp(found.between_spread):.2f} (F {found.ratio:.3g} for {found.between_freedom} and "
    )
    text += f"{found.within_freedom} degrees of freedom, chance {found.chance:.2g}): "
    return text + ("different lots" if found.chance < DIFFERENT else "no difference shown")


__all__ = ["OneWay", "one_way", "one_way_words"]
