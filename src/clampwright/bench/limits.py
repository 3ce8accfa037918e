"""Detection limit from repeated blanks, for a reading that is still being taken.

The limits of a leakage come with its reduction (`reduce`).
"""

from __future__ import annotations

from math import sqrt

from clampwright import uncertain
from clampwright.errors import InputError


def blank_detection_limit(spread: float, count: int, blanks: int, *, risk: float = 0.05) -> float:
    """Detection limit of the mean of `count` readings less the mean of `blanks` blank readings.

    spread : standard deviation of one blank reading, from the blanks (unit of the result)
    risk : of calling a blank present, and of missing a result that large
    L_D = 2·t(1 − risk, blanks − 1)·s·√(1/n + 1/n_0). Needs two blanks or more.
    Source: L. A. Currie, Anal. Chem. 40 (1968) 586.
    """
    if blanks < 2 or count < 1:
        raise InputError("limits need repeated blanks", expected="2 blanks and 1 reading or more")
    factor = uncertain.one_sided_factor(blanks - 1, 1 - risk)
    return 2 * factor * spread * sqrt(1 / count + 1 / blanks)


__all__ = ["blank_detection_limit"]
