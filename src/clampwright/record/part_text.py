"""A part as text for the terminal: its wirings in one table, then law, evidence and doubts of each."""

from __future__ import annotations

from textwrap import wrap

from clampwright.record.part_rows import (
    FIGURE_HEADS,
    WIRING_HEADS,
    alike,
    figure_rows,
    known_as,
    law_rows,
    leakage_words,
    part_rows,
    rejection_groups,
    usable,
    warnings,
    wiring_row,
)
from clampwright.record.plain_text import finished, listed, pairs, table, wrapped
from clampwright.record.words import COLUMNS, SCOPE_LINE
from clampwright.verdict.part_view import PartResult, WiringView


def part_text(part: PartResult, *, colour: bool = False) -> str:
    """Wirings, law, what is known, what is assumed, figures kept apart and what is rejected.

    No line is longer than 100 columns. `colour` is for a terminal; a part carries no verdict, so
    there is nothing to colour yet.
    """
    views = usable(part)
    rows = [wiring_row(view) for view in views]
    blocks = [
        f"{part.title}\n" + wrapped(SCOPE_LINE),
        pairs("", part_rows(part)),
        table("Wirings that may serve as a clamp", WIRING_HEADS, rows)
        or "No wiring of this part may serve as a clamp.",
    ]
    for group in alike(views):
        blocks += _wiring_blocks(group)
    reasons = [f"{', '.join(names)}: {reason}" for reason, names in rejection_groups(part)]
    blocks.append(listed("Rejected", reasons))
    return finished(blocks, colour)


def _wiring_blocks(views: tuple[WiringView, ...]) -> list[str]:
    """Law and doubts of one wiring, or of several about which the same is known."""
    view = views[0]
    names = ", ".join(v.name for v in views)
    words = view.words if len(views) == 1 else f"{len(views)} wirings of which the same is known"
    return [
        f"{_rule(names)}{wrapped(words)}{wrapped(_leakage(view))}",
        pairs("Law", law_rows(view)),
        listed("Known from evidence", view.known),
        listed("Assumed in place of a measurement", view.assumed),
        table(
            "Figures and readings of the dark leakage (± 95 % of each reading, as reduced)",
            FIGURE_HEADS,
            figure_rows(view),
        ),
        listed("Cautions", warnings(views)),
    ]


def _rule(names: str) -> str:
    """The names of a wiring as a heading; a rule fills the line after a short one."""
    lines = wrap(names, COLUMNS)
    lines[-1] = f"{lines[-1]} ".ljust(COLUMNS, "─") if len(lines) == 1 else lines[-1]
    return "".join(f"{line}\n" for line in lines)


def _leakage(view: WiringView) -> str:
    return f"{WIRING_HEADS[5]}: {leakage_words(view)}, {known_as(view)}"


__all__ = ["part_text"]
