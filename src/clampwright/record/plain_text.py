"""Blocks of plain text, 100 columns wide: paragraphs, lists, pairs, tables with aligned decimal points.

Colour is a second sign only: it is added to verdict marks at the very end.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from textwrap import wrap
from unicodedata import category

from clampwright.record.tables import Row
from clampwright.record.words import COLUMNS, GATE_SHAPE, THIN_SPACE, VERDICT_SHAPE
from clampwright.verdict.results import Verdict

NAME_WIDTH = 26  # of name and value; a longer name goes on beneath
STYLES = {
    VERDICT_SHAPE[Verdict.PASS]: "bold blue",
    VERDICT_SHAPE[Verdict.FAIL]: "bold red",
    VERDICT_SHAPE[Verdict.UNDECIDED]: "bold yellow",
    VERDICT_SHAPE[Verdict.NOT_MEASURED]: "bold magenta",
    GATE_SHAPE: "bold yellow",
}
MARK = re.compile(f"[{''.join(STYLES)}] [A-Z]+( MEASURED| GATE| SHOWN)?")


def finished(blocks: Iterable[str], colour: bool) -> str:
    """Blocks an empty line apart, without control characters, marks coloured at the very end."""
    text = "\n\n".join(block.rstrip() for block in blocks if block.strip())
    plain = "".join(c for c in text if c == "\n" or category(c) not in ("Cc", "Cf")) + "\n"
    return MARK.sub(_painted, plain) if colour else plain


def _painted(found: re.Match[str]) -> str:
    from rich.color import ColorSystem
    from rich.style import Style

    style = Style.parse(STYLES[found[0][0]])
    return style.render(found[0], color_system=ColorSystem.STANDARD)


def wrapped(words: str, *, mark: str = "") -> str:
    """One paragraph, two columns in; `mark` stands before its first line."""
    lines = wrap(
        words, COLUMNS - 2, initial_indent="  " + mark, subsequent_indent="  " + " " * len(mark),
        break_on_hyphens=False,
    )  # fmt: skip
    return "".join(f"{line}\n" for line in lines)


def listed(title: str, items: Iterable[str]) -> str:
    """A title over a list of paragraphs; "" without items."""
    text = "".join(wrapped(item, mark="· ") for item in items)
    return f"{title}\n{text}" if text else ""


def pairs(title: str, rows: Iterable[Row]) -> str:
    """Names and values in two columns, each wrapped in its own."""
    rows = [(name, value) for name, value in rows]
    wide = min(max((len(name) for name, _ in rows), default=0), NAME_WIDTH)
    text = f"{title}\n" if title else ""
    for name, value in rows:
        names, values = wrap(name, wide), wrap(value, COLUMNS - wide - 4)
        for left, right in zip_longest(names, values, fillvalue=""):
            text += f"  {left:<{wide}}  {right}".rstrip() + "\n"
    return text


def table(title: str, heads: Row, rows: Sequence[Row], *, whole: int = 0) -> str:
    """Columns two spaces apart, numbers aligned at decimal points, the widest column wrapped.

    whole : how many of the first columns are never wrapped.
    """
    if not rows:
        return ""
    columns = [aligned([row[i] for row in rows]) for i in range(len(heads))]
    widths = [max(len(heads[i]), *map(len, columns[i])) for i in range(len(heads))]
    while sum(widths) + 2 * len(widths) > COLUMNS:
        widest = widths.index(max(widths[whole:]), whole)
        widths[widest] -= 1
    text = f"{title}\n" if title else ""
    lines = [heads, *zip(*columns, strict=True)]
    return text + "".join(_table_line(line, widths) for line in lines)


def _table_line(cells: Sequence[str], widths: Sequence[int]) -> str:
    folded = [
        [cell] if len(cell) <= width else wrap(cell, width, break_on_hyphens=False) or [""]
        for cell, width in zip(cells, widths, strict=True)
    ]
    text = ""
    for row in range(max(map(len, folded))):
        parts = [part[row] if row < len(part) else "" for part in folded]
        line = "".join(f"  {part:<{width}}" for part, width in zip(parts, widths, strict=True))
        text += line.rstrip() + "\n"
    return text


def aligned(cells: Sequence[str]) -> list[str]:
    """Pad texts that begin with a number so that their decimal points stand in one column."""
    points = [_point(cell) for cell in cells]
    furthest = max((p for p in points if p is not None), default=0)
    return [
        cell if point is None else " " * (furthest - point) + cell
        for cell, point in zip(cells, points, strict=True)
    ]


def _point(cell: str) -> int | None:
    """Where the decimal point of the leading number stands or would stand, if there is one."""
    start = len(cell) - len(cell.lstrip("+−-≤± "))
    end = start
    while end < len(cell) and (cell[end].isdigit() or _groups_digits(cell, end)):
        end += 1
    return end if end > start else None


def _groups_digits(cell: str, place: int) -> bool:
    """Whether a thin space stands between two groups of thousands."""
    return cell[place] == THIN_SPACE and cell[place + 1 : place + 2].isdigit()
