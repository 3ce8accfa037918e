"""How each topology is drawn, as plain data: what stands in the line, what hangs from it, where to.

Roles are those of the topology's own description; the drawing functions know symbols only.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Symbol = Literal["resistor", "fuse", "contact", "limiter", "capacitor", "tube", "box"]


@dataclass(frozen=True)
class Part:
    """One drawn part: its symbol, the role whose value stands beside it, and a short name."""

    symbol: Symbol
    role: str
    name: str


@dataclass(frozen=True)
class Picture:
    """One topology as a drawing.

    line     : parts from the connector to the clamp node
    hanging  : parts from the clamp node to ground; `tube` alone hangs from the connector
    clamps   : what is fitted at the clamp node
    far      : where an antiparallel pair or a stack ends
    follower : whether a follower of the pin drives the far end
    words    : where the clamps go, for who cannot see the drawing
    """

    line: tuple[Part, ...]
    clamps: Literal["none", "rails", "clamp rails", "pair", "stack"] = "none"
    far: Literal["", "ground", "guard", "other input", "middle"] = ""
    hanging: tuple[Part, ...] = ()
    tube: Part | None = None
    shield: bool = False
    follower: bool = False
    amplifier: Literal["plain", "other input", "virtual ground", "tolerant"] = "plain"
    words: str = ""

    @property
    def chip_clamps(self) -> bool:
        """Whether nothing clamps but the amplifier's own junctions at the pin."""
        drawn = self.clamps != "none" or self.far or self.line[0].symbol == "box"
        return self.amplifier == "plain" and not drawn


OUTER = Part("resistor", "R_outer", "outer resistor")
PLAIN = (OUTER,)
ON_RAILS = "a clamp to each supply rail"
TO_GUARD = "an antiparallel pair of clamps to a guard that follows the signal"

PICTURES: dict[str, Picture] = {
    "T1": Picture(PLAIN, words="no clamp but the chip's own junctions"),
    "T2": Picture(PLAIN, "rails", words=ON_RAILS),
    "T3": Picture(PLAIN, "clamp rails", words="a clamp to each of two clamp rails with shunts"),
    "T4": Picture(
        PLAIN, "pair", "other input", amplifier="other input",
        words="an antiparallel pair of clamps to the amplifier's other input",
    ),
    "T5": Picture(PLAIN, "pair", "guard", follower=True, words=TO_GUARD),
    "T6": Picture(PLAIN, "rails", words=ON_RAILS),
    "T7": Picture(
        (OUTER, Part("limiter", "R_limiter", "current limiter")), "rails",
        words=f"{ON_RAILS}, behind a current limiter",
    ),
    "T8": Picture(
        PLAIN, "rails", hanging=(Part("capacitor", "C_clamp", "capacitor"),),
        words=f"{ON_RAILS}, and a capacitor to ground",
    ),
    "T9": Picture(
        PLAIN, "pair", "middle",
        words="an antiparallel pair to a biased middle node, from there a suppressor to ground",
    ),
    "T10": Picture((Part("fuse", "R_fuse", "fuse"), OUTER), "rails",
                   words=f"{ON_RAILS}, behind a fuse"),
    "T11": Picture((Part("contact", "R_contact", "contact"), OUTER), "rails",
                   words=f"{ON_RAILS}, behind a relay contact"),
    "T12": Picture(
        PLAIN, "rails", tube=Part("tube", "tube insulation", "gas tube"),
        words=f"{ON_RAILS}, and a gas tube from the connector to ground",
    ),
    "T13": Picture(
        PLAIN, "pair", "ground", amplifier="virtual ground",
        words="an antiparallel pair of clamps from the summing node to ground",
    ),
    "T14": Picture(PLAIN, far="guard", shield=True, follower=True,
                   words="a shield that follows the signal"),
    "T16": Picture(
        PLAIN, "rails", hanging=(Part("resistor", "R_lower", "lower resistor"),),
        words=f"{ON_RAILS}, and the lower resistor of a divider to ground",
    ),
    "T17": Picture(PLAIN, "stack", "ground",
                   words="junctions in series each way to ground"),
    "T18": Picture(PLAIN, amplifier="tolerant", words="an amplifier with limiters on its chip"),
    "own": Picture((Part("box", "", "own network"),), words="a network of its own"),
}  # fmt: skip


def picture_of(topology: str) -> Picture:
    """The drawing of a topology; of a pair (T15), that of one leg."""
    return PICTURES["T2" if topology == "T15" else topology]


@dataclass(frozen=True)
class Stations:
    """x of what stands along the signal line, and y of the far ends, in drawing units of 36 pt."""

    source: float
    connector: float
    node: float
    pin: float
    end: float
    top: float = 2.9  # of the rails
    bottom: float = -2.4
    far: float = -2.7  # of a guard, a middle node, a ground under clamps
    hang: float = 1.3  # from the clamp node back to what hangs beside it

    @property
    def small(self) -> bool:
        """Whether there is room for names alone."""
        return self.end < WIDE.end


WIDE = Stations(0.55, 2.75, 6.6, 9.4, 12.6)  # 160 mm
SECOND_LEG = Stations(0.55, 2.75, 6.6, 9.4, 12.6, top=1.5, bottom=-1.5, far=-2.3)
SMALL = Stations(0.5, 2.0, 5.2, 7.1, 9.6, top=1.6, bottom=-1.6, far=-2.3, hang=1.5)
