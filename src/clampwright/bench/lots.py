"""What a few measured parts say about a lot of any distribution: confidence and sample sizes.

The factor of a log-normal lot is in `parts.lots`.
"""

from __future__ import annotations

from math import ceil, log


def distribution_free_count(
    content: float = 0.95,
    confidence: float = 0.95,
    *,
    two_sided: bool = False,
    discarded: int = 0,
) -> int:
    """Parts to measure so that the largest (or smallest and largest) bounds `content` of the lot.

    discarded : how many of the largest values may be set aside (one-sided), default none
    Nothing is assumed about the distribution. Source: S. S. Wilks (1941), order statistics.
    """
    lost = discarded + (2 if two_sided else 1)
    count = lost
    if lost == 1:
        count = max(1, ceil(log(1 - confidence) / log(content) - 1e-9))
    while distribution_free_confidence(count, content, lost) < confidence:
        count += 1
    return count


def distribution_free_confidence(count: int, content: float = 0.95, lost: int = 1) -> float:
    """Confidence that n parts leave at least `content` of the lot inside.

    lost : 1 for the largest of n, 2 for smallest and largest or the second largest, and so on
    P(at least `lost` of n parts fall outside `content`), a binomial tail.
    """
    from clampwright.uncertain.special import bdtr

    return 1.0 - float(bdtr(lost - 1, count, 1 - content))


__all__ = [
    "distribution_free_confidence",
    "distribution_free_count",
]
