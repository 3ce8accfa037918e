"""Places for labels on a chart: near what they name, over nothing else, with a leader line if moved far."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

EM = 0.57  # [1] mean width of a letter over the size of the type
DISTANCES = (12.0, 22.0, 34.0, 48.0, 66.0, 88.0, 114.0, 144.0)  # [px] tried one after the other
LEADER_FROM = 18.0  # [px] of distance; nearer labels need no line
DIRECTIONS = ((1, -0.6), (-1, -0.6), (1, 0.6), (-1, 0.6), (0, -1), (1, 0), (-1, 0), (0, 1))


@dataclass(frozen=True)
class Box:
    """A rectangle of the picture, px."""

    left: float
    top: float
    right: float
    bottom: float

    def shared(self, other: Box) -> float:
        """Area (px²) that both cover."""
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across * down if across > 0 and down > 0 else 0.0

    def within(self, other: Box) -> bool:
        """Whether it lies in `other` altogether."""
        return (
            self.left >= other.left and self.right <= other.right
            and self.top >= other.top and self.bottom <= other.bottom
        )  # fmt: skip

    def nearest(self, x: float, y: float) -> tuple[float, float]:
        """Its place next to a point."""
        return min(max(x, self.left), self.right), min(max(y, self.top), self.bottom)


def around(x: float, y: float, half: float) -> Box:
    """A square about a point."""
    return Box(x - half, y - half, x + half, y + half)


def along(path: Sequence[tuple[float, float]], half: float = 3.0) -> list[Box]:
    """Squares along a line, near enough to each other that no label slips between."""
    boxes = []
    for (x0, y0), (x1, y1) in pairwise(path):
        steps = max(1, math.ceil(math.hypot(x1 - x0, y1 - y0) / (2 * half)))
        boxes += [
            around(x0 + (x1 - x0) * n / steps, y0 + (y1 - y0) * n / steps, half)
            for n in range(steps + 1)
        ]
    return boxes


def free_place(
    at: tuple[float, float], words: str, size: float, taken: Iterable[Box], rooms: Sequence[Box]
) -> Box | None:
    """The nearest box for `words` about a point that covers nothing, in the first room that has one."""
    wide, tall = EM * size * len(words), 1.13 * size
    full = list(taken)
    for room, distance in product(rooms, DISTANCES):
        for across, down in DIRECTIONS:
            x, y = at[0] + across * distance, at[1] + down * distance
            left = x - wide / 2 if across == 0 else x - (wide if across < 0 else 0.0)
            box = Box(left, y - tall / 2, left + wide, y + tall / 2)
            if box.within(room) and not any(box.shared(other) for other in full):
                return box
    return None
